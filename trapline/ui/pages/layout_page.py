"""Lay out: the map of the round, the same places as a table, and what to warn of."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QPushButton,
    QSplitter,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.map_builder import build_map
from trapline.drawing.theme import Theme, set_role
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.map.live_gaps import LiveGaps
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.layout_deeds import LayoutDeeds
from trapline.ui.pages.page import Page
from trapline.ui.pages.warning_list import WarningList
from trapline.ui.session import Session
from trapline.ui.tables.place_table import PlaceTable

# Name, words and tip of the buttons over the map and under the table.
_BAR = (
    ("import", "Import places…", "Read GPX waypoints or a table (Ctrl+I)"),
    ("add", "Add on map", "Then click where each trap shall stand (Insert); Esc ends it"),
    ("several", "Add several…", "Along a line, by rope and bearing, or without position"),
    ("fair", "Draw fair order…", "Which bait hangs where (Ctrl+D)"),
    ("sheet", "Field sheet…", "The planned round to carry to the water (Ctrl+Shift+P)"),
    ("compare", "Compare the baits", "What the lifted traps show (Ctrl+4)"),
)
_ROWS = (
    ("up", "▲", "Earlier along the line (Alt+Up)"),
    ("down", "▼", "Later along the line (Alt+Down)"),
    ("new", "Add", "Add a place without a position (Insert, in the table)"),
    ("edit", "Edit…", "All there is to say about the place (F4)"),
    ("round", "In / out of round", "Fish the place in this round, or leave it out"),
    ("delete", "Delete", "Delete the selected places (Del)"),
)
_NEEDS_SELECTION = ("up", "down", "edit", "round", "delete")


class LayoutPage(Page):
    """Where the traps stand or will stand, and whether that is fair."""

    title = "Lay out"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.canvas = MapCanvas()
        self.table = PlaceTable(session)
        self.warnings = WarningList()
        self.empty = EmptyPage()
        self.deeds = LayoutDeeds(self)
        self._round_shown: str | None = None
        self._letters_pt: float | None = 0.0
        self._buttons: dict[str, QPushButton] = {}
        self._arrange()
        self._connect()

    # Page

    def refresh(self) -> None:
        """Draw the round anew; the view of the map stays unless another round is shown."""
        session = self.session
        checks = session.checks()
        if checks is None or session.round_id is None:
            self._buttons["add"].setChecked(False)
            self.empty.show_step(
                "No trip yet. A trip says on which water you fish, how far apart, and when.",
                "New trip…",
                "new_trip",
            )
            self.empty.button.setEnabled(not session.is_read_only)
            self._show(self.empty)
            return
        spacing, plumes = checks
        content = build_map(session.snapshot, session.round_id, spacing, plumes)
        self.canvas.set_content(content)
        self.canvas.live_gaps = LiveGaps(spacing)
        self.canvas.is_editable = not session.is_read_only
        if self._round_shown != session.round_id:
            self._round_shown = session.round_id
            self.canvas.fit()
        self.table.grid.is_read_only = session.is_read_only
        self.table.refresh()
        self.warnings.show_warnings(spacing.warnings + plumes.warnings, self._movable())
        self._show_buttons()
        self._show(self.work)
        self._on_place_selected(session.selection)

    def attention(self) -> int:
        """The gaps and lonely traps of the round."""
        checks = self.session.checks()
        if checks is None:
            return 0
        spacing, plumes = checks
        scents = sum(one.kind in ("different baits", "choice test") for one in plumes.warnings)
        return len(spacing.gaps) + len(spacing.lonely) + scents

    def leaving(self) -> None:
        """Stop adding places by clicks."""
        self._buttons["add"].setChecked(False)

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of the map."""
        super().set_theme(theme)
        self.canvas.set_theme(theme)
        self.table.cells.theme_name = theme.name
        if self._letters_pt != theme.window_font_pt:
            # The table shows its notes without scrolling; where people drew it wider, it stays.
            self._letters_pt = theme.window_font_pt
            self.splitter.setSizes([536, 616] if theme.window_font_pt else [610, 534])

    # Making

    def _arrange(self) -> None:
        bar = QHBoxLayout()
        bar.setContentsMargins(12, 8, 12, 6)
        bar.setSpacing(6)
        for name, text, tip in _BAR:
            bar.addWidget(self._button(name, text, tip))
        self._buttons["add"].setCheckable(True)
        bar.addStretch(1)
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(4, 0, 12, 8)
        rows = QHBoxLayout()
        rows.setSpacing(2)
        for name, text, tip in _ROWS:
            button = self._button(name, text, tip)
            set_role(button, "quiet")
            if not text.isascii():
                button.setAccessibleName(tip)
            rows.addWidget(button)
        rows.addStretch(1)
        column.addWidget(self.table, 3)
        column.addLayout(rows)
        column.addWidget(self.warnings, 2)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.addWidget(self.canvas)
        self.splitter.addWidget(side)
        self.splitter.setStretchFactor(0, 3)
        self.splitter.setStretchFactor(1, 2)
        self.splitter.setChildrenCollapsible(False)
        self.work = QWidget()
        layout = QVBoxLayout(self.work)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(bar)
        layout.addWidget(self.splitter, 1)
        self.over = QStackedLayout(self)
        self.over.addWidget(self.work)
        self.over.addWidget(self.empty)

    def _button(self, name: str, text: str, tip: str) -> QPushButton:
        button = self._buttons[name] = QPushButton(text)
        button.setToolTip(tip)
        button.setAutoDefault(False)
        return button

    def _connect(self) -> None:
        buttons, canvas, deeds = self._buttons, self.canvas, self.deeds
        for name, command in (
            ("import", "import_places"),
            ("several", "add_several"),
            ("fair", "fair_order"),
            ("sheet", "field_sheet"),
            ("compare", "page_4"),
            ("edit", "edit_place"),
        ):
            buttons[name].clicked.connect(lambda _=False, word=command: self.asked.emit(word))
        buttons["add"].setShortcut("Ins")
        buttons["add"].toggled.connect(self._on_add_toggled)
        buttons["up"].clicked.connect(lambda: self.table.move_selected(-1))
        buttons["down"].clicked.connect(lambda: self.table.move_selected(1))
        buttons["new"].clicked.connect(self.table.add_place)
        buttons["delete"].clicked.connect(self.table.delete_selected)
        buttons["round"].clicked.connect(deeds.turn_round)
        canvas.place_added.connect(deeds.add_place)
        canvas.dragged.connect(deeds.move_place)
        canvas.places_selected.connect(self.session.select)
        canvas.place_opened.connect(lambda _: self.asked.emit("edit_place"))
        canvas.delete_pressed.connect(self.table.delete_selected)
        self.table.places_selected.connect(self.session.select)
        self.session.place_selected.connect(self._on_place_selected)
        self.warnings.show_asked.connect(deeds.show)
        self.warnings.move_asked.connect(deeds.move_clear)
        self.empty.asked.connect(self.asked)

    def _show_buttons(self) -> None:
        """Make the next step the page's one default button, and grey what cannot be done."""
        sets = self.session.snapshot.sets(self.session.round_id or "")
        baited = bool(sets) and all(row.bait_id or row.planned_bait_id for row in sets)
        has_places, is_read_only = bool(self.table.grid.rows), self.session.is_read_only
        step = "sheet" if baited or is_read_only else "fair" if has_places else "import"
        is_home = bool(sets) and all(row.state == "lifted" for row in sets)
        step = "compare" if is_home else step
        self._buttons["compare"].setVisible(is_home)
        for name, _, _ in _BAR:
            self._buttons[name].setEnabled(name in ("sheet", "compare") or not is_read_only)
            is_step = name == step
            set_role(self._buttons[name], "primary" if is_step else "")
            self._buttons[name].setDefault(is_step)
        self._buttons["new"].setEnabled(not is_read_only)
        words = "No places yet. Import them, press “Add on map” and click, or add several."
        self.canvas.set_notice("" if has_places else words)

    def _movable(self) -> frozenset[str]:
        """The trap sets that are only planned: where a trap stood is not changed by a button."""
        if self.session.is_read_only:
            return frozenset()
        sets = self.session.snapshot.sets(self.session.round_id or "")
        return frozenset(row.id for row in sets if row.state == "planned")

    # Following

    def _on_add_toggled(self, is_adding: bool) -> None:
        self.canvas.set_adding(is_adding)
        if is_adding:
            self.session.informed.emit("Click where each trap shall stand. Esc ends it.")

    def _on_place_selected(self, place_ids: Sequence[str]) -> None:
        self.canvas.set_selected(tuple(place_ids))
        self.table.show_selection(place_ids)
        for name in _NEEDS_SELECTION:
            is_ready = len(place_ids) == 1 if name == "edit" else bool(place_ids)
            self._buttons[name].setEnabled(is_ready and not self.session.is_read_only)

    def _show(self, what: QWidget) -> None:
        """Show the work, or the next step while there is none; the focus goes along."""
        focus = QApplication.focusWidget()
        had_focus = focus is not None and self.isAncestorOf(focus)
        if self.over.currentWidget() is not what:
            self.over.setCurrentWidget(what)
            if had_focus:
                self._take_focus()

    def _take_focus(self) -> None:
        is_work = self.over.currentWidget() is self.work
        (self.table if is_work else self.empty.button).setFocus()

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._take_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self._buttons["add"].isChecked():
            self._buttons["add"].setChecked(False)
            return
        super().keyPressEvent(event)

"""Lay out: the map of the round, the same places as a table, and what to warn of."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSplitter,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.places import add_places, leave_out, move_place, next_label, take_in
from trapline.analyses.move_clear import clear_position
from trapline.analyses.spacing_check import Warning as SpacingWarning
from trapline.drawing.map_builder import build_map
from trapline.drawing.theme import Theme, set_role
from trapline.errors import InvalidValue
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.map.live_gaps import LiveGaps
from trapline.ui.pages.page import Page
from trapline.ui.pages.warning_list import WarningList
from trapline.ui.session import Session
from trapline.ui.tables.place_table import PlaceTable


class LayoutPage(Page):
    """Where the traps stand or will stand, and whether that is fair."""

    title = "Lay out"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.canvas = MapCanvas()
        self.table = PlaceTable(session)
        self.warnings = WarningList()
        self.hint = QLabel()
        self.hint.setTextFormat(Qt.TextFormat.PlainText)
        self.hint.setWordWrap(True)
        self.hint.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._round_shown: str | None = None
        self._buttons: dict[str, QPushButton] = {}
        self._arrange()
        self._connect()

    # Page

    def refresh(self) -> None:
        """Draw the round anew; the view of the map stays unless another round is shown."""
        session = self.session
        checks = session.checks()
        if checks is None or session.round_id is None:
            self.hint.setText(
                "No trip yet. A trip says on which water you fish, how far apart, and when."
            )
            self.over.setCurrentIndex(1)
            self._show_buttons(has_places=False)
            return
        spacing, plumes = checks
        content = build_map(session.snapshot, session.round_id, spacing, plumes)
        self.canvas.set_content(content)
        self.canvas.live_gaps = LiveGaps(spacing)
        if self._round_shown != session.round_id:
            self._round_shown = session.round_id
            self.canvas.fit()
        self.table.refresh()
        self.warnings.show_warnings(
            spacing.warnings + plumes.warnings, can_move=not self._is_read_only()
        )
        has_places = bool(self.table.grid.rows)
        self.over.setCurrentIndex(0)
        self._show_buttons(has_places=has_places)
        self.canvas.set_notice(
            ""
            if has_places
            else "No places yet. Import them, press “Add on map” and click, or add several."
        )
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

    # Making

    def _arrange(self) -> None:
        bar = QHBoxLayout()
        bar.setContentsMargins(8, 8, 8, 6)
        bar.setSpacing(6)
        for name, text, tip in (
            ("import", "Import places…", "Read GPX waypoints or a table (Ctrl+I)"),
            ("add", "Add on map", "Then click where each trap shall stand (Insert)"),
            ("several", "Add several…", "Along a line, by rope and bearing, or without position"),
            ("fair", "Draw fair order…", "Which bait hangs where (Ctrl+D)"),
            ("sheet", "Field sheet…", "The planned round to carry to the water"),
            ("new_trip", "New trip…", "Ctrl+T"),
        ):
            button = QPushButton(text)
            button.setToolTip(tip)
            button.setAutoDefault(False)
            self._buttons[name] = button
            bar.addWidget(button)
        self._buttons["add"].setCheckable(True)
        bar.addStretch(1)
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(4, 0, 8, 8)
        rows = QHBoxLayout()
        for name, text, tip in (
            ("up", "▲", "Earlier along the line (Alt+Up)"),
            ("down", "▼", "Later along the line (Alt+Down)"),
            ("edit", "Edit…", "All there is to say about the place (F4)"),
            ("round", "In / out of round", "Fish the place in this round, or leave it out"),
            ("delete", "Delete", "Delete the place (Del)"),
        ):
            button = QPushButton(text)
            button.setToolTip(tip)
            button.setAccessibleName(tip)
            button.setAutoDefault(False)
            set_role(button, "quiet")
            self._buttons[name] = button
            rows.addWidget(button)
        rows.addStretch(1)
        column.addWidget(self.table, 3)
        column.addLayout(rows)
        column.addWidget(self.warnings, 2)
        map_side = QWidget()
        self.over = QStackedLayout(map_side)
        self.over.addWidget(self.canvas)
        self.over.addWidget(self.hint)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.addWidget(map_side)
        self.splitter.addWidget(side)
        self.splitter.setStretchFactor(0, 3)
        self.splitter.setStretchFactor(1, 2)
        self.splitter.setSizes([640, 500])
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(bar)
        layout.addWidget(self.splitter, 1)

    def _connect(self) -> None:
        buttons, canvas = self._buttons, self.canvas
        for name, command in (
            ("import", "import_places"),
            ("several", "add_several"),
            ("fair", "fair_order"),
            ("sheet", "field_sheet"),
            ("new_trip", "new_trip"),
            ("edit", "edit_place"),
        ):
            buttons[name].clicked.connect(lambda _=False, word=command: self.asked.emit(word))
        buttons["add"].setShortcut("Ins")
        buttons["add"].toggled.connect(canvas.set_adding)
        buttons["up"].clicked.connect(lambda: self.table.move_selected(-1))
        buttons["down"].clicked.connect(lambda: self.table.move_selected(1))
        buttons["delete"].clicked.connect(self.table.delete_selected)
        buttons["round"].clicked.connect(self._turn_round)
        canvas.place_added.connect(self._on_canvas_place_added)
        canvas.dragged.connect(self._on_canvas_dragged)
        canvas.places_selected.connect(self.session.select)
        canvas.place_opened.connect(lambda _: self.asked.emit("edit_place"))
        canvas.delete_pressed.connect(self.table.delete_selected)
        self.table.places_selected.connect(self.session.select)
        self.session.place_selected.connect(self._on_place_selected)
        self.warnings.show_asked.connect(self._on_show_asked)
        self.warnings.move_asked.connect(self._on_move_asked)

    def _show_buttons(self, *, has_places: bool) -> None:
        """Make the next step the page's one default button, and grey what cannot be done."""
        has_round = self.session.round_id is not None
        sets = self.session.snapshot.sets(self.session.round_id or "") if has_round else ()
        baited = bool(sets) and all(row.planned_bait_id for row in sets)
        step = (
            "new_trip" if not has_round
            else "import" if not has_places
            else "sheet" if baited
            else "fair"
        )  # fmt: skip
        for name, button in self._buttons.items():
            if name in ("import", "add", "several", "fair", "sheet"):
                button.setEnabled(has_round and (name == "sheet" or not self._is_read_only()))
            if name in ("import", "fair", "sheet", "new_trip"):
                is_step = name == step
                set_role(button, "primary" if is_step else "")
                button.setDefault(is_step)
        self._buttons["new_trip"].setVisible(not has_round)

    def _is_read_only(self) -> bool:
        return self.session.project is None or self.session.project.read_only

    # Doing

    def _on_canvas_place_added(self, lon_deg: float, lat_deg: float) -> None:
        line = self.session.line
        if line is None:
            return
        label = next_label(self.session.snapshot, line.id)
        place = Place(label=label, lon_deg=lon_deg, lat_deg=lat_deg, fix="map")
        changes = self.session.do(add_places, line.id, [place], round_id=self.session.round_id)
        if changes is not None:
            self.session.select(tuple(changes.ids("place")))

    def _on_canvas_dragged(self, place_id: str, lon_deg: float, lat_deg: float) -> None:
        if self.session.do(move_place, place_id, lon_deg, lat_deg) is None:
            self.refresh()

    def _on_place_selected(self, place_ids: Sequence[str]) -> None:
        self.canvas.set_selected(tuple(place_ids))
        self.table.show_selection(place_ids)

    def _on_show_asked(self, set_ids: Sequence[str]) -> None:
        sets = [self.session.snapshot.get(TrapSet, set_id) for set_id in set_ids]
        ids = tuple(row.place_id for row in sets if row is not None and row.place_id)
        self.session.select(ids)
        self.canvas.show_items(ids)

    def _on_move_asked(self, set_id: str) -> None:
        position = clear_position(self.session.snapshot, set_id)
        trap_set = self.session.snapshot.need(TrapSet, set_id)
        if position is None:
            self.session.failed.emit(
                InvalidValue("There is no clear spot near by.", "", "Drag the trap yourself.")
            )
            return
        self.session.do(move_place, trap_set.place_id or "", *position)
        self._on_show_asked((set_id,))

    def _turn_round(self) -> None:
        """Leave the selected places out of the round, or take those in that are out."""
        rows = [self.table.grid.rows[n] for n in self.table.selected_rows()]
        outside = [row.place.id for row in rows if row.trap_set is None and not row.place.is_stake]
        if outside:
            self.session.do(take_in, self.session.round_id, outside)
        else:
            self.session.do(leave_out, [row.trap_set.id for row in rows if row.trap_set])

    def warning_texts(self) -> tuple[SpacingWarning, ...]:
        """The warnings of the round, gaps first."""
        checks = self.session.checks()
        return checks[0].warnings + checks[1].warnings if checks else ()

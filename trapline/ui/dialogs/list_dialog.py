"""The lists of the project: baits, traps, species, waters and lines, edited in tables."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QLineEdit,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.waters import set_shoreline
from trapline.drawing.theme import set_role
from trapline.errors import TraplineError
from trapline.model.bait import Bait
from trapline.model.water import Water
from trapline.ui.dialogs.card_dialog import plain_label, push_button, theme_of
from trapline.ui.dialogs.list_kinds import (
    BAITS,
    LINES,
    SPECIES,
    TRAPS,
    WATERS,
    ListKind,
    new_bait,
)
from trapline.ui.dialogs.list_panel import ListPanel, extra_button
from trapline.ui.dialogs.several_traps import SeveralTrapsDialog
from trapline.ui.session import Session

LISTS: dict[str, tuple[ListKind, ...]] = {
    "baits": (BAITS,),
    "traps": (TRAPS,),
    "species": (SPECIES,),
    "waters": (WATERS, LINES),
}
# What a trap for crayfish overnight may be assumed to reach, to begin with. Judgement, no source.
STARTING_REACHES = {"still_reach_m": 5.0, "down_reach_m": 10.0, "side_reach_m": 2.0}


class ListDialog(QDialog):
    """One list, or two on tabs. Everything is kept as it is typed; Undo takes it back."""

    def __init__(self, session: Session, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        theme = theme_of(parent)
        kinds = LISTS[name]
        self.setWindowTitle(" and ".join(kind.title.lower() for kind in kinds).capitalize())
        self.panels = [ListPanel(session, kind, theme) for kind in kinds]
        self.tabs = QTabWidget(self)
        self.tabs.setDocumentMode(True)
        self.tabs.setVisible(len(kinds) > 1)
        self.problem = plain_label(role="bad")
        self.problem.hide()
        self._given_up = ""
        layout = QVBoxLayout(self)
        layout.setContentsMargins(6, 6, 6, 12)
        layout.setSpacing(8)
        if len(kinds) == 1:
            layout.addWidget(self.panels[0], 1)
        else:
            for panel in self.panels:
                self.tabs.addTab(panel, panel.kind.title)
            layout.addWidget(self.tabs, 1)
        self.buttons = QDialogButtonBox()
        self.done_button = self.buttons.addButton("Done", QDialogButtonBox.ButtonRole.RejectRole)
        set_role(self.done_button, "primary")
        self.done_button.setDefault(True)
        self.buttons.rejected.connect(self.reject)
        foot = QVBoxLayout()
        foot.setContentsMargins(10, 0, 10, 0)
        foot.addWidget(self.problem)
        foot.addWidget(self.buttons)
        layout.addLayout(foot)
        for panel in self.panels:
            panel.failed.connect(self._on_failed)
            panel.settled.connect(self._on_settled)
            self._add_extras(panel)
        room = (self.screen() or QGuiApplication.primaryScreen()).availableGeometry().size() * 0.96
        width = self.fontMetrics().averageCharWidth() * 160
        hint = self.sizeHint().expandedTo(QSize(width, 4 * width // 7))
        self.resize(hint.boundedTo(room))

    @staticmethod
    def ask(session: Session, parent: QWidget | None, name: str) -> None:
        """Show a list until it is closed: "baits", "traps", "species" or "waters"."""
        dialog = ListDialog(session, name, parent)
        dialog.exec()
        dialog.deleteLater()

    # Buttons of their own

    def _add_extras(self, panel: ListPanel) -> None:
        if panel.kind is BAITS:
            self._add_for_baits(panel)
        elif panel.kind is TRAPS:
            several = extra_button(panel, "Add &several…")
            several.clicked.connect(lambda: SeveralTrapsDialog.ask(self.session, self))
        elif panel.kind is WATERS:
            self.shoreline_button = extra_button(panel, "&Clear the shoreline")
            self.shoreline_button.clicked.connect(lambda: self._clear_shoreline(panel))

    def _add_for_baits(self, panel: ListPanel) -> None:
        self.control_button = extra_button(panel, "“&No bait” (control)")
        self.control_button.setToolTip("A trap without bait: what comes without being drawn")
        self.control_button.clicked.connect(
            lambda: panel.add_rows(
                [new_bait(self.session.snapshot, "no bait", is_control=True)], "Add control"
            )
        )
        # A method, not a function: the session outlives the dialog and forgets its methods.
        self.session.changed.connect(self._on_session_changed)
        self._on_session_changed(None)
        card = next(card for heading, card in panel.cards.items() if heading.startswith("Reach"))
        values = ", ".join(f"{value:g}" for value in STARTING_REACHES.values())
        self.reaches_button = push_button(f"Start with {values} m (crayfish; judgement, no source)")
        self.reaches_button.clicked.connect(lambda: self._start_reaches(panel))
        card.body.insertWidget(card.body.count() - 2, self.reaches_button)

    def _on_session_changed(self, _: object) -> None:
        has_control = any(bait.is_control for bait in self.session.snapshot.all(Bait))
        self.control_button.setEnabled(not has_control)

    def _start_reaches(self, panel: ListPanel) -> None:
        """Fill the empty reaches with values to start from, because the user asked for them."""
        for form in panel.forms:
            for name, value in STARTING_REACHES.items():
                editor = form.editors.get(name)
                if isinstance(editor, QLineEdit) and not editor.text().strip():
                    form.show_values({name: value})
        panel.commit()

    def _clear_shoreline(self, panel: ListPanel) -> None:
        for row in panel.chosen():
            if isinstance(row, Water) and row.shoreline:
                self.session.do(set_shoreline, row.id, ())

    # Saying

    def _on_failed(self, problem: TraplineError) -> None:
        self.problem.setText(str(problem))
        self.problem.show()

    def _on_settled(self) -> None:
        self.problem.hide()
        self._given_up = ""

    # Qt overrides

    def reject(self) -> None:
        refused = [panel for panel in self.panels if not panel.commit()]
        if refused and self._given_up != self.problem.text():
            # Once more, and what cannot be kept is given up.
            self._given_up = self.problem.text()
            return
        super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(
            self.focusWidget(), QLineEdit
        ):
            return  # ends the typing in a field, not the dialog
        super().keyPressEvent(event)

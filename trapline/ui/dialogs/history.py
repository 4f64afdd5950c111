"""What was done: every step of the project, newest first, each to be looked at and put back."""

from PySide6.QtWidgets import (
    QAbstractItemView,
    QDialog,
    QDialogButtonBox,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.errors import TraplineError
from trapline.model.instants import computer_zone, local_text
from trapline.store.past_steps import changes_of
from trapline.store.project import Project, Step
from trapline.ui.dialogs.card_dialog import plain_label, theme_of
from trapline.ui.dialogs.step_words import words_of
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView

_STATES = {
    "done": "",
    "undone": "undone, can be redone",
    "dropped": "undone and given up",
    "closed": "stays",
}
_MOST_STEPS = 5000
_MOST_LINES = 300


class HistoryDialog(QDialog):
    """The steps, and below them what the chosen one did; copy them with Ctrl+C."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.theme = theme_of(parent)
        self.zone = session.trip.zone if session.trip else computer_zone()
        self.setWindowTitle("History")
        self.resize(760, 560)
        columns = [
            Column("Step", lambda step: str(step.step), is_number=True),
            Column("What", lambda step: step.label, stretch=True),
            Column("When", self._when),
            Column("By", lambda step: step.who),
            Column("State", lambda step: _STATES.get(step.state, step.state)),
        ]
        self.table = GridView(columns, "History", self)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.details = QPlainTextEdit()
        self.details.setReadOnly(True)
        self.details.setAccessibleName("What the step did")
        self.details.setTabChangesFocus(True)
        self.problem = plain_label(role="bad")
        self.problem.hide()
        note = plain_label(
            "Undo takes back the latest steps one by one. Any other step can be put back here, as"
            " long as nothing later changed the same values.",
            "note",
        )
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        close = buttons.button(QDialogButtonBox.StandardButton.Close)
        set_role(close, "primary")
        close.setDefault(True)
        self.back_button = buttons.addButton("&Put back", QDialogButtonBox.ButtonRole.ActionRole)
        self.back_button.setAutoDefault(False)
        self.back_button.clicked.connect(self._put_back)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.table, 3)
        layout.addWidget(self.details, 2)
        layout.addWidget(note)
        layout.addWidget(self.problem)
        layout.addWidget(buttons)
        self.table.selectionModel().selectionChanged.connect(self._show_details)
        self._refresh()

    @staticmethod
    def ask(session: Session, parent: QWidget | None) -> None:
        """Show the history until it is closed."""
        dialog = HistoryDialog(session, parent)
        dialog.exec()
        dialog.deleteLater()

    def _when(self, step: Step) -> str:
        return local_text(step.at_utc, self.zone)

    def _refresh(self) -> None:
        assert self.session.project is not None
        self.table.show_rows(self.session.project.history(_MOST_STEPS))
        self.table.select_rows([0])
        self._show_details()

    def _chosen(self) -> Step | None:
        rows = self.table.selected_rows()
        step = self.table.grid.rows[rows[0]] if rows else None
        return step if isinstance(step, Step) else None

    def _show_details(self, *_: object) -> None:
        step, project = self._chosen(), self.session.project
        self.problem.hide()
        is_back = step is not None and step.state == "done" and not self.session.is_read_only
        self.back_button.setEnabled(is_back)
        if step is None or project is None:
            self.details.clear()
            return
        try:
            lines = words_of(changes_of(project, step.step), self.session.snapshot, self.zone)
        except TraplineError as problem:
            lines = [problem.error]
        more = [f"and {len(lines) - _MOST_LINES} more"] if len(lines) > _MOST_LINES else []
        nothing = ["What it did is no longer kept."]
        self.details.setPlainText("\n".join(lines[:_MOST_LINES] + more or nothing))

    def _put_back(self) -> None:
        step = self._chosen()
        if step is None:
            return
        try:
            self.session.do_or_raise(Project.revert, step.step)
        except TraplineError as problem:
            self.problem.setText(str(problem))
            self.problem.show()
            return
        self._refresh()

"""What was done: every step of the project, newest first."""

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QVBoxLayout, QWidget

from trapline.model.instants import computer_zone, local_text
from trapline.store.project import Step
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView

_STATES = {
    "done": "",
    "undone": "undone, can be redone",
    "dropped": "undone and given up",
    "closed": "before a change of format",
}


class HistoryDialog(QDialog):
    """A list to read; copy it with Ctrl+C."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("History")
        self.resize(640, 440)
        zone = session.trip.zone if session.trip else computer_zone()

        def when(step: Step) -> str:
            return local_text(step.at_utc, zone)

        columns = [
            Column("Step", lambda step: str(step.step), is_number=True),
            Column("What", lambda step: step.label, stretch=True),
            Column("When", when),
            Column("By", lambda step: step.who),
            Column("State", lambda step: _STATES.get(step.state, step.state)),
        ]
        self.table = GridView(columns, "History", self)
        assert session.project is not None
        self.table.show_rows(session.project.history(5000))
        note = QLabel("Undo takes back the steps of this sitting first and asks before it goes on.")
        note.setWordWrap(True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.table, 1)
        layout.addWidget(note)
        layout.addWidget(buttons)

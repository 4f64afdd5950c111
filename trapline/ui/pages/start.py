"""What stands in the window while no project is open: the first step, and how to begin."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from trapline.drawing.theme import set_role
from trapline.ui.session import Session

_STEPS = (
    "Lay out: bring in places by GPX, CSV, typing or clicks on the map, and see the true gaps.",
    "Draw a fair order: which bait hangs where, rotated over the rounds.",
    "Set and lift: count each trap by one key, with escapes, by-catch and disturbed traps.",
    "Compare: did one bait really beat another, or was it luck?",
    "Summary: print the trip and plan the next one.",
)


class StartPage(QWidget):
    """Buttons for a new project, an example, or a project of before.

    Signals
    -------
    chosen : name of a menu command
    """

    chosen = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        card = QFrame()
        set_role(card, "card")
        card.setMaximumWidth(720)
        title = QLabel("A log for bait trials with traps")
        set_role(title, "title")
        inside = QVBoxLayout(card)
        inside.setContentsMargins(32, 28, 32, 28)
        inside.setSpacing(10)
        inside.addWidget(title)
        for number, text in enumerate(_STEPS, 1):
            line = QLabel(f"{number}.  {text}")
            line.setWordWrap(True)
            inside.addWidget(line)
        inside.addSpacing(10)
        buttons = QHBoxLayout()
        self.example_button = self._button("Open an example", "open_example", "primary")
        buttons.addWidget(self.example_button)
        buttons.addWidget(self._button("New project…", "new_project"))
        buttons.addWidget(self._button("Open project…", "open_project"))
        buttons.addStretch(1)
        inside.addLayout(buttons)
        note = QLabel(
            "Everything is saved as you go and can be undone. Nothing leaves this computer."
        )
        set_role(note, "note")
        note.setWordWrap(True)
        inside.addWidget(note)
        layout = QHBoxLayout(self)
        layout.addStretch(1)
        column = QVBoxLayout()
        column.addStretch(1)
        column.addWidget(card)
        column.addStretch(2)
        layout.addLayout(column, 6)
        layout.addStretch(1)

    def _button(self, text: str, name: str, role: str = "") -> QPushButton:
        button = QPushButton(text)
        button.setAutoDefault(False)
        if role:
            set_role(button, role)
            button.setDefault(True)
        button.clicked.connect(lambda: self.chosen.emit(name))
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return button

    def refresh(self) -> None:
        """Put the focus on the first step."""
        self.example_button.setFocus()

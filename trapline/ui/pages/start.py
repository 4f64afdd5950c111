"""What stands in the window while no project is open: the first step, and how to begin."""

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from trapline.drawing.theme import set_role
from trapline.ui.plain_text import plain_tip
from trapline.ui.session import Session

_STEPS = (
    "Lay out: bring in places by GPX, CSV, typing or clicks on the map, and see the true gaps.",
    "Draw a fair order: which bait hangs where, rotated over the rounds.",
    "Set and lift: count each trap by one key, with escapes, by-catch and disturbed traps.",
    "Compare: did one bait really beat another, or was it luck?",
    "Summary: print the trip and plan the next one.",
)
_MOST_RECENT = 3
_NAME_PX = 420


class StartPage(QWidget):
    """Buttons for a new project, an example, or a project of before.

    Signals
    -------
    chosen : name of a menu command
    recent_chosen : Path of a project of before
    """

    chosen = Signal(str)
    recent_chosen = Signal(object)

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
        self.recent = QVBoxLayout()
        self.recent.setSpacing(4)
        self.recent_buttons: list[QPushButton] = []
        inside.addLayout(self.recent)
        self.example_button = self._button("Open an example", "open_example")
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

    def _button(self, text: str, name: str) -> QPushButton:
        button = QPushButton(text)
        button.setAutoDefault(False)
        button.clicked.connect(lambda: self.chosen.emit(name))
        button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        return button

    def show_recent(self, paths: Sequence[Path]) -> None:
        """Offer the latest projects, and put the focus on the first step."""
        for old in self.recent_buttons:
            self.recent.removeWidget(old)
            old.deleteLater()
        there = [path for path in paths if path.is_file()][:_MOST_RECENT]
        self.recent_buttons = [self._recent_button(path) for path in there]
        first = (self.recent_buttons or [self.example_button])[0]
        for button in (self.example_button, *self.recent_buttons):
            is_first = button is first
            set_role(button, "primary" if is_first else "")
            button.setDefault(is_first)
        first.show()  # a button that has just been made takes no focus before it is shown
        first.setFocus()

    def _recent_button(self, path: Path) -> QPushButton:
        metrics = self.fontMetrics()
        name = metrics.elidedText(path.stem, Qt.TextElideMode.ElideMiddle, _NAME_PX)
        button = QPushButton(f"Go on with {name}".replace("&", "&&"))
        button.setAccessibleName(f"Go on with {path.stem}")
        button.setToolTip(plain_tip(str(path)))
        button.setAutoDefault(False)
        button.clicked.connect(lambda: self.recent_chosen.emit(path))
        self.recent.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        return button

"""What a page shows while there is nothing on it yet: one sentence and the next step."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from trapline.drawing.theme import set_role


class EmptyPage(QWidget):
    """Signals: `asked` (name of the menu command that is the next step)."""

    asked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._command = ""
        self.sentence = QLabel()
        self.sentence.setTextFormat(Qt.TextFormat.PlainText)
        self.sentence.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.sentence.setWordWrap(True)
        set_role(self.sentence, "title")
        self.button = QPushButton()
        self.button.setAutoDefault(False)
        set_role(self.button, "primary")
        self.button.setDefault(True)
        self.button.clicked.connect(lambda: self.asked.emit(self._command))
        layout = QVBoxLayout(self)
        layout.addStretch(2)
        # Two thirds of the page: a long line across all of it is hard to read.
        middle = QHBoxLayout()
        middle.addStretch(1)
        middle.addWidget(self.sentence, 4)
        middle.addStretch(1)
        layout.addLayout(middle)
        layout.addSpacing(10)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(3)

    def show_step(self, sentence: str, words: str, command: str) -> None:
        """Say what is missing and offer the menu command that makes it."""
        self.sentence.setText(sentence)
        self.button.setText(words)
        self._command = command

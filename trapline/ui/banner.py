"""One line under the page buttons that says what went wrong, or right, in plain words."""

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QWidget

from trapline.drawing.theme import set_role
from trapline.errors import TraplineError

# How each kind of message looks: frame, sign, and the sign's own look. Colour never stands alone.
_LOOKS = {
    "problem": ("notice", "▲", "bad"),
    "notice": ("strip", "●", "warning"),
    "news": ("strip", "✓", "good"),
}


class Banner(QFrame):
    """A message that stays until it is read (a problem) or goes by itself (good news)."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("banner")
        self.label = QLabel()
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setWordWrap(True)
        self.label.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.sign = QLabel()
        close = QToolButton()
        close.setText("×")
        close.setAccessibleName("Close the message")
        close.setAutoRaise(True)
        close.clicked.connect(self.hide)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 4, 6, 4)
        layout.addWidget(self.sign)
        layout.addSpacing(4)
        layout.addWidget(self.label, 1)
        layout.addWidget(close)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.hide)
        self.hide()

    def show_problem(self, problem: TraplineError) -> None:
        """Show what is wrong, where and what to do; it stays."""
        self._timer.stop()
        self._show(str(problem), "problem")

    def show_notice(self, text: str) -> None:
        """Show something to know while it is so; it stays."""
        self._timer.stop()
        self._show(text, "notice")

    def show_news(self, text: str) -> None:
        """Show one sentence for some seconds."""
        self._show(text, "news")
        self._timer.start(6000)

    def _show(self, text: str, kind: str) -> None:
        self.label.setText(text)
        frame, sign, role = _LOOKS[kind]
        self.sign.setText(sign)
        set_role(self, frame)
        set_role(self.sign, role)
        self.show()

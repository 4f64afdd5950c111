"""What the window says in plain words: a line over the pages for what went wrong, news above."""

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QSizePolicy, QToolButton, QWidget

from trapline.drawing.theme import set_role
from trapline.errors import TraplineError
from trapline.ui.plain_text import breakable, plain_tip

# How each kind of message looks: frame, sign, and the sign's own look. Colour never stands alone.
_LOOKS = {
    "problem": ("notice", "▲", "bad"),
    "notice": ("strip", "●", "warning"),
}


_NEWS_MS = 6000
_NEWS_PX = 760


class NewsLine(QLabel):
    """One sentence for some seconds, where nothing has to make room for it.

    Attributes
    ----------
    said : str
        The sentence whole, also when it is shown shortened or is gone again.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setContentsMargins(0, 0, 12, 0)
        set_role(self, "good")
        self.said = ""
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_NEWS_MS)
        self._timer.timeout.connect(self.clear)

    def show_news(self, text: str) -> None:
        """Show a sentence; what does not fit is in the tooltip."""
        self.said = text
        self.setAccessibleName(text)
        shown = self.fontMetrics().elidedText(text, Qt.TextElideMode.ElideMiddle, _NEWS_PX)
        self.setText(f"✓ {shown}")
        self.setToolTip(plain_tip(text) if shown != text else "")
        self.adjustSize()
        self._timer.start()

    def stop(self) -> None:
        """Forget the sentence."""
        self._timer.stop()
        self.clear()


class Banner(QFrame):
    """A message that stays: a problem until it is closed or something went well, or a notice."""

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
        self._kind = ""
        self.hide()

    def show_problem(self, problem: TraplineError) -> None:
        """Show what is wrong, where and what to do; it stays."""
        self._show(str(problem), "problem")

    def show_notice(self, text: str) -> None:
        """Show something to know while it is so; it stays."""
        self._show(text, "notice")

    def forget_problem(self) -> None:
        """Take away a problem, not a notice: something went well since."""
        if self._kind == "problem":
            self.hide()

    def _show(self, text: str, kind: str) -> None:
        self.label.setText(breakable(text))
        self.label.setAccessibleName(text)
        self._kind = kind
        frame, sign, role = _LOOKS[kind]
        self.sign.setText(sign)
        set_role(self, frame)
        set_role(self.sign, role)
        self.show()

"""A number as large as its place allows, to be read in sunlight at arm's length."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

_LEAST_PX = 28
_MOST_PX = 150


class Numeral(QLabel):
    """A label that paints its text bold and scaled to fit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("–", parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setMinimumSize(120, 64)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def letters_px(self) -> int:
        """The height in pixels of the letters that fit."""
        font = self.font()
        font.setBold(True)
        font.setPixelSize(100)
        width = max(QFontMetricsF(font).horizontalAdvance(self.text()), 1.0)
        fitting = min(self.height() * 0.9, self.width() * 0.95 * 100.0 / width)
        return round(max(_LEAST_PX, min(_MOST_PX, fitting)))

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        font = self.font()
        font.setBold(True)
        font.setPixelSize(self.letters_px())
        painter.setFont(font)
        painter.setPen(self.palette().windowText().color())
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())
        painter.end()

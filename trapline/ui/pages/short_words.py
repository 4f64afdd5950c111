"""Labels and buttons that shorten a long name instead of making the window wider."""

import html

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import (
    QLabel,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QWidget,
)

# The letters that are always left.
_LEAST_LETTERS = 8


class ShortLabel(QLabel):
    """A label of one line; what does not fit, at the end or elsewhere, is in the tooltip."""

    def __init__(
        self,
        parent: QWidget | None = None,
        cut: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
    ) -> None:
        super().__init__(parent)
        self._cut = cut
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)

    def shown(self) -> str:
        """What of the text fits."""
        width = self.contentsRect().width()
        return self.fontMetrics().elidedText(self.text(), self._cut, width)

    def _name_what_is_cut(self) -> None:
        text = self.text()
        self.setToolTip(f"<p>{html.escape(text)}</p>" if self.shown() != text else "")

    # Qt overrides

    def setText(self, text: str) -> None:
        super().setText(text)
        self._name_what_is_cut()

    def minimumSizeHint(self) -> QSize:
        least = self.fontMetrics().averageCharWidth() * _LEAST_LETTERS
        hint = super().minimumSizeHint()
        return QSize(min(least, hint.width()), hint.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._name_what_is_cut()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setFont(self.font())
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.contentsRect(), self.alignment(), self.shown())
        painter.end()


class ShortButton(QPushButton):
    """A button that leaves out the middle of long words; their end may be a number."""

    def _option(self) -> QStyleOptionButton:
        option = QStyleOptionButton()
        self.initStyleOption(option)
        return option

    def shown(self) -> str:
        """What of the words fits."""
        inside = self.style().subElementRect(
            QStyle.SubElement.SE_PushButtonContents, self._option(), self
        )
        return self.fontMetrics().elidedText(
            self.text(),
            Qt.TextElideMode.ElideMiddle,
            inside.width(),
            Qt.TextFlag.TextShowMnemonic.value,
        )

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        least = self.fontMetrics().averageCharWidth() * _LEAST_LETTERS + 16
        hint = super().minimumSizeHint()
        return QSize(min(least, hint.width()), hint.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        option = self._option()
        option.text = self.shown()
        painter = QStylePainter(self)
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        painter.end()

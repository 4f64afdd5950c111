"""A widget that shows a chart as a matplotlib figure, in the colours of the theme."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QSizePolicy, QWidget

from trapline.drawing.theme import LIGHT, Theme

if TYPE_CHECKING:
    # matplotlib takes a third of a second to import: only when there is a chart to paint.
    from matplotlib.figure import Figure

# The least heights in letters of usual size: axis and legend, and a row.
_USUAL_PT = 10.0
_AROUND_PX, _ROW_PX = 120, 26

MakeFigure = Callable[[Theme], "Figure"]


class ChartCanvas(QWidget):
    """Shows the figure that a function makes for a theme; its words are for screen readers."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._make: MakeFigure | None = None
        self._figure: Figure | None = None
        self._theme: Theme = LIGHT
        self._picture = QPixmap()
        self._n_rows = 2
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._take_room()
        self.setAccessibleName("Chart")

    def set_chart(self, make: MakeFigure | None, words: str, n_rows: int = 4) -> None:
        """Show another chart, or none; `words` say in a sentence what it shows."""
        self._make = make
        self._n_rows = max(n_rows, 1)
        self.setAccessibleDescription(words)
        self._take_room()
        self.updateGeometry()
        self._forget()

    def set_theme(self, theme: Theme) -> None:
        """Show the chart in another theme."""
        self._theme = theme
        self._take_room()
        self._forget()

    def _take_room(self) -> None:
        """Ask for what axis, legend and rows need at least in the letters of the theme."""
        letters = (self._theme.window_font_pt or _USUAL_PT) / _USUAL_PT
        self.setMinimumSize(260, round((_AROUND_PX + _ROW_PX * self._n_rows) * letters))

    def _forget(self) -> None:
        self._figure = None
        self._picture = QPixmap()
        self.update()

    def _painted(self, ratio: float) -> QPixmap:
        """Return the chart at the size of the widget, on a pixmap of its density."""
        picture = QPixmap(round(self.width() * ratio), round(self.height() * ratio))
        picture.setDevicePixelRatio(ratio)
        picture.fill(QColor(self._theme.panel))
        if self._make is not None:
            from trapline.drawing.figure_painter import paint_figure

            if self._figure is None:
                self._figure = self._make(self._theme)
            painter = QPainter(picture)
            paint_figure(painter, QRectF(0, 0, self.width(), self.height()), self._figure)
            painter.end()
        return picture

    # Qt overrides

    def sizeHint(self) -> QSize:
        return QSize(560, 120 + 52 * self._n_rows)

    def paintEvent(self, event: QPaintEvent) -> None:
        ratio = self.devicePixelRatioF()
        wanted = QSize(round(self.width() * ratio), round(self.height() * ratio))
        if self._picture.size() != wanted or self._picture.devicePixelRatio() != ratio:
            self._picture = self._painted(ratio)
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._picture)
        painter.end()

"""The map painted once, larger than the window, to be moved and stretched while the view moves."""

from dataclasses import replace
from typing import Final

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPainter, QPixmap

from trapline.drawing.map_painter import furniture_boxes, paint_ground_and_places
from trapline.drawing.map_sheet import Sheet
from trapline.drawing.map_view import MapView

# How far the view can move before the picture is painted anew.
MARGIN_PX: Final = 200
# So wide a strip along the edge of the window has no label across it.
EDGE_PX: Final = 2.0


class BasePicture:
    """A pixmap of the ground and the places, and the view it was painted for."""

    def __init__(self) -> None:
        self.is_fine = False
        self._pixmap = QPixmap()
        self._view = MapView()
        self._margin = 0

    def forget(self) -> None:
        """Make the next painting a new one."""
        self._pixmap = QPixmap()

    def target(self, rect: QRectF, view: MapView) -> QRectF:
        """Return where the pixmap lies in a window that shows `view`."""
        scale = self._view.metres_per_px / view.metres_per_px
        x, y = view.to_px(rect, self._view.east_m, self._view.north_m)
        ratio = self._pixmap.devicePixelRatio()
        size = self._pixmap.deviceIndependentSize() * scale
        left, top = x - size.width() / 2, y - size.height() / 2
        if scale == 1.0:
            # On whole pixels of the device it is copied, not resampled.
            left, top = round(left * ratio) / ratio, round(top * ratio) / ratio
        return QRectF(QPointF(left, top), size)

    def covers(self, rect: QRectF, view: MapView, pixel_ratio: float) -> bool:
        """Return whether the pixmap fills the window at this view and density."""
        if self._pixmap.isNull() or self._pixmap.devicePixelRatio() != pixel_ratio:
            return False
        # Half a pixel: the target was rounded to whole ones.
        return self.target(rect, view).adjusted(-0.5, -0.5, 0.5, 0.5).contains(rect)

    def is_at(self, view: MapView) -> bool:
        """Return whether the pixmap was painted at this scale."""
        return self._view.metres_per_px == view.metres_per_px

    def repaint(self, sheet: Sheet, pixel_ratio: float) -> None:
        """Paint the pixmap for a sheet whose rectangle is the window; its painter is not used."""
        # Small windows (a locator) need little room to move.
        margin = min(MARGIN_PX, round(sheet.rect.width() / 3))
        width = round((sheet.rect.width() + 2 * margin) * pixel_ratio)
        height = round((sheet.rect.height() + 2 * margin) * pixel_ratio)
        if self._pixmap.isNull() or (self._pixmap.width(), self._pixmap.height()) != (
            width,
            height,
        ):
            self._pixmap = QPixmap(width, height)
        self._pixmap.setDevicePixelRatio(pixel_ratio)
        self._pixmap.fill(QColor(sheet.theme.water))
        painter = QPainter(self._pixmap)
        whole = QRectF(QPointF(0, 0), self._pixmap.deviceIndependentSize())
        taken = [] if sheet.is_simple else _kept_free(sheet, margin)
        paint_ground_and_places(replace(sheet, painter=painter, rect=whole, taken=taken))
        painter.end()
        self._view, self._margin, self.is_fine = sheet.view, margin, not sheet.is_simple

    def blit(self, painter: QPainter, rect: QRectF, view: MapView) -> None:
        """Put the pixmap where it belongs at this view: moved, or stretched."""
        target = self.target(rect, view)
        if self.is_at(view):
            painter.drawPixmap(target.topLeft(), self._pixmap)
        else:
            painter.drawPixmap(target, self._pixmap, QRectF(self._pixmap.rect()))


def _kept_free(sheet: Sheet, margin: float) -> list[QRectF]:
    """Return where no label of a view at rest may lie: under the furniture, across the edge."""
    rect, line = sheet.rect, EDGE_PX
    boxes = [
        *furniture_boxes(sheet),
        QRectF(rect.left(), rect.top(), line, rect.height()),
        QRectF(rect.right() - line, rect.top(), line, rect.height()),
        QRectF(rect.left(), rect.top(), rect.width(), line),
        QRectF(rect.left(), rect.bottom() - line, rect.width(), line),
    ]
    return [box.translated(margin - rect.left(), margin - rect.top()) for box in boxes]

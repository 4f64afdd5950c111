"""Legend, arrows, scale and shelf painted once and stamped in every frame until they change."""

from dataclasses import replace

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPixmap

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_painter import furniture_boxes, paint_furniture
from trapline.drawing.map_sheet import Sheet

Key = tuple[object, ...]


class FurniturePicture:
    """Small pixmaps of the boxes that the furniture covers; the map between them is not blended."""

    def __init__(self) -> None:
        self._key: Key = ()
        self._content: MapContent | None = None
        self._pieces: list[tuple[QPointF, QPixmap]] = []

    def paint(self, sheet: Sheet, shelved: frozenset[int], hidden: int, pixel_ratio: float) -> None:
        """Paint the furniture, anew only when something in it differs."""
        rect, scale = sheet.rect, sheet.view.metres_per_px
        key = (rect.getRect(), scale, sheet.theme, shelved, hidden, pixel_ratio)
        if key != self._key or sheet.content is not self._content:
            self._key, self._content = key, sheet.content
            self._pieces = self._painted(sheet, shelved, hidden, pixel_ratio)
        for corner, pixmap in self._pieces:
            sheet.painter.drawPixmap(corner, pixmap)

    def _painted(
        self, sheet: Sheet, shelved: frozenset[int], hidden: int, pixel_ratio: float
    ) -> list[tuple[QPointF, QPixmap]]:
        pieces = []
        for box in furniture_boxes(sheet):
            # Whole pixels, with room for halos and the edges of lines.
            area = box.adjusted(-3, -3, 3, 3).intersected(sheet.rect).toAlignedRect()
            pixmap = QPixmap(area.size() * pixel_ratio)
            pixmap.setDevicePixelRatio(pixel_ratio)
            pixmap.fill(Qt.GlobalColor.transparent)
            painter = QPainter(pixmap)
            painter.translate(-area.topLeft())
            paint_furniture(replace(sheet, painter=painter, is_simple=False), shelved, hidden)
            painter.end()
            pieces.append((QPointF(area.topLeft()), pixmap))
        return pieces

"""What is painted over the base picture in every frame: the place being moved and its gaps."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor

from trapline.drawing.map_content import MarkStyle
from trapline.drawing.map_ground import paint_plume
from trapline.drawing.map_places import paint_gap, paint_pill, paint_ring
from trapline.drawing.map_sheet import Sheet
from trapline.drawing.marks import paint_mark
from trapline.ui.map.live_gaps import LiveGap
from trapline.units import length_text

# Asked with the id of the moved place and its lon_deg, lat_deg.
LiveGaps = Callable[[str, float, float], Sequence[LiveGap]]


@dataclass
class Drag:
    """A place on its way: from the map (`row`) or from the shelf (`shelf_row`)."""

    key: str
    row: int
    shelf_row: int
    east_m: float
    north_m: float
    grip_px: QPointF
    is_nudge: bool = False


def paint_drag(sheet: Sheet, drag: Drag, live_gaps: LiveGaps | None) -> None:
    """Paint the moved place with its reach, its legs of the line and its live gaps."""
    content, painter = sheet.content, sheet.painter
    spot = QPointF(*sheet.view.to_px(sheet.rect, drag.east_m, drag.north_m))
    style, label = _look(sheet, drag)
    if drag.row >= 0:
        _paint_reach(sheet, drag)
        _paint_legs(sheet, drag.row, spot)
    if live_gaps is not None:
        lon_deg, lat_deg = content.plane.to_earth(drag.east_m, drag.north_m)
        # The short ones last: on top.
        for gap in sorted(live_gaps(drag.key, lon_deg, lat_deg), key=lambda gap: gap.is_short):
            row = content.row(gap.place_id)
            if row is not None and row != drag.row:
                _paint_live_gap(sheet, spot, sheet.px(row), gap.distance_m, gap.is_short)
    radius = sheet.radius(drag.row)
    paint_mark(painter, spot.x(), spot.y(), radius, style, sheet.theme)
    paint_ring(sheet, spot, radius + 4.5)
    painter.setFont(sheet.font(bold=True))
    sheet.text_with_halo(spot.x() + radius + 8, spot.y() - radius, label, sheet.theme.map_text)


def _look(sheet: Sheet, drag: Drag) -> tuple[MarkStyle, str]:
    content = sheet.content
    if drag.row >= 0:
        return content.style(drag.row), content.labels[drag.row]
    place = content.unplaced[drag.shelf_row]
    return place.style, place.label


def _paint_reach(sheet: Sheet, drag: Drag) -> None:
    content, painter = sheet.content, sheet.painter
    painter.save()
    painter.setWorldTransform(sheet.view.transform(sheet.rect), True)
    painter.translate(
        drag.east_m - float(content.east_m[drag.row]),
        float(content.north_m[drag.row]) - drag.north_m,
    )
    for number in content.plumes_of.get(drag.row, []):
        paint_plume(sheet, number)
    painter.restore()


def _paint_legs(sheet: Sheet, row: int, spot: QPointF) -> None:
    sheet.painter.setPen(sheet.pen(sheet.theme.link, 1.0, Qt.PenStyle.DashLine))
    for link in sheet.content.links:
        at = (link == row).nonzero()[0]
        for beside in [*(at - 1), *(at + 1)]:
            if 0 <= beside < link.size:
                sheet.painter.drawLine(spot, sheet.px(int(link[beside])))


def _paint_live_gap(
    sheet: Sheet, spot: QPointF, other: QPointF, distance_m: float, is_short: bool
) -> None:
    theme, painter = sheet.theme, sheet.painter
    colour = theme.short_gap if is_short else theme.muted
    if is_short:
        paint_gap(sheet, spot, other, "short")
    else:
        painter.setPen(sheet.pen(theme.muted, 1.0))
        painter.drawLine(spot, other)
    font = sheet.font(bold=is_short, factor=0.95)
    text = length_text(distance_m, sheet.content.length_unit)
    metrics = sheet.metrics(font)
    width, height = metrics.horizontalAdvance(text) + 10, metrics.height() + 2
    middle, along = (spot + other) / 2, other - spot
    length = math.hypot(along.x(), along.y())
    if length < width + 4 * sheet.radius():
        # Beside a line that it would hide.
        across = QPointF(-along.y(), along.x()) / max(length, 1.0) if length else QPointF(0, 1)
        clear = (abs(across.x()) * width + abs(across.y()) * height) / 2 + sheet.radius() + 10
        middle += across * clear
    painter.setFont(font)
    box = QRectF(middle.x() - width / 2, middle.y() - height / 2, width, height)
    paint_pill(sheet, box, text, colour)


def paint_notice(sheet: Sheet, notice: str) -> None:
    """Paint a sentence on a card in the middle: what to do on an empty map."""
    painter, theme = sheet.painter, sheet.theme
    font = sheet.font(factor=1.2)
    room = sheet.rect.adjusted(40, 40, -40, -40)
    flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
    room.setWidth(min(room.width(), 420.0))
    room.moveCenter(sheet.rect.center())
    words = sheet.metrics(font).boundingRect(room, int(flags), notice)
    painter.setPen(sheet.pen(theme.border, 1.0 / theme.line_scale))
    painter.setBrush(QColor(theme.panel))
    painter.drawRoundedRect(words.adjusted(-20, -16, 20, 16), 9, 9)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setFont(font)
    painter.setPen(QColor(theme.text))
    painter.drawText(room, int(flags), notice)


def paint_focus(sheet: Sheet) -> None:
    """Paint the frame that says that the keys go to the map."""
    pen = sheet.pen(QColor(sheet.theme.accent), 2.0 / sheet.theme.line_scale)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    sheet.painter.setPen(pen)
    sheet.painter.setBrush(Qt.BrushStyle.NoBrush)
    sheet.painter.drawRect(sheet.rect.adjusted(1, 1, -1, -1))

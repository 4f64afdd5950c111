"""What stands over the map and does not move with it: scale bar, arrows, places without position.

The legend is in map_legend.py.
"""

import math
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainterPath

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_ground import grid_step
from trapline.drawing.map_sheet import Sheet
from trapline.drawing.marks import paint_mark
from trapline.drawing.scale import ScaleBar, length_label, scale_bar
from trapline.units import METRES

INSET_PX: Final = 14.0
SHELF_PX: Final = 62.0
WINDS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
NO_POSITION = "No position: drawn in order, no gap verdict"


def compass_word(bearing_deg: float) -> str:
    """Return the nearest of the sixteen winds.

    >>> compass_word(350.0), compass_word(112.0)
    ('N', 'ESE')
    """
    return WINDS[round(bearing_deg / 22.5) % 16]


def map_scale_bar(sheet: Sheet) -> ScaleBar:
    """Return the scale bar of this map."""
    longest = min(150.0 * sheet.unit, 0.3 * sheet.rect.width())
    return scale_bar(sheet.view.metres_per_px, longest, sheet.content.length_unit)


def shelf_rect(content: MapContent, rect: QRectF, unit: float = 1.0) -> QRectF:
    """Return the strip along the bottom for places without a position; empty when all have one."""
    if not content.unplaced:
        return QRectF(rect.left(), rect.bottom(), rect.width(), 0.0)
    height = min(SHELF_PX * unit, rect.height() / 2)
    return QRectF(rect.left(), rect.bottom() - height, rect.width(), height)


def shelf_spots(content: MapContent, rect: QRectF, unit: float = 1.0) -> list[QPointF]:
    """Return where the places without a position are drawn: evenly, in their order."""
    shelf = shelf_rect(content, rect, unit)
    n = len(content.unplaced)
    inner = shelf.width() - 4 * INSET_PX * unit
    step = min(62.0 * unit, inner / max(n - 1, 1))
    left = shelf.left() + 2 * INSET_PX * unit
    y = shelf.bottom() - 29 * unit
    return [QPointF(left + step * number, y) for number in range(n)]


def paint_shelf(sheet: Sheet, hidden: int = -1, selected: frozenset[int] = frozenset()) -> None:
    """Paint the places without a position along a plain line under the map."""
    content, painter, theme, unit = sheet.content, sheet.painter, sheet.theme, sheet.unit
    if not content.unplaced:
        return
    shelf = shelf_rect(content, sheet.rect, unit)
    painter.fillRect(shelf, QColor(theme.panel))
    painter.setPen(sheet.pen(theme.border, 1.0 / theme.line_scale))
    painter.drawLine(shelf.topLeft(), shelf.topRight())
    note_font = sheet.font(factor=0.92)
    painter.setFont(note_font)
    painter.setPen(QColor(theme.muted))
    note = QPointF(shelf.left() + INSET_PX * unit, shelf.top() + 14 * unit)
    painter.drawText(note, NO_POSITION)
    spots = shelf_spots(content, sheet.rect, unit)
    painter.setPen(sheet.pen(theme.link, 1.0, Qt.PenStyle.DashLine))
    painter.drawLine(spots[0], spots[-1])
    font = sheet.font()
    painter.setFont(font)
    metrics = sheet.metrics(font)
    step = spots[1].x() - spots[0].x() if len(spots) > 1 else sheet.rect.width()
    free_from = -math.inf
    for number, (spot, place) in enumerate(zip(spots, content.unplaced, strict=True)):
        if number == hidden:
            continue
        radius = min(8 * unit, max(step * 0.45, 2 * unit))
        paint_mark(painter, spot.x(), spot.y(), radius, place.style, theme, unit)
        if number in selected:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(sheet.pen(theme.ring, 2.2 / min(theme.line_scale, 1.4)))
            painter.drawEllipse(spot, radius + 4 * unit, radius + 4 * unit)
        width = metrics.horizontalAdvance(place.label)
        left = spot.x() - width / 2
        if left >= free_from:
            painter.setPen(QColor(theme.text))
            painter.drawText(QPointF(left, shelf.bottom() - 3 * unit), place.label)
            free_from = left + width + 4 * unit


def _grid_note(sheet: Sheet) -> str:
    unit = sheet.content.length_unit
    # The step went through metres: six digits make it round again.
    return f"grid {length_label(float(f'{grid_step(sheet) / METRES[unit]:.6g}'), unit)}"


def scale_box(sheet: Sheet, floor_px: float) -> QRectF:
    """Return what the scale bar and its words cover."""
    bar, unit, font = map_scale_bar(sheet), sheet.unit, sheet.font()
    words = float(sheet.widths([bar.text, _grid_note(sheet)], font).sum()) + 10 * unit
    height = sheet.metrics(font).height() + (INSET_PX + 14) * unit
    width = INSET_PX * unit + max(bar.length_px, words) + 4 * unit
    return QRectF(sheet.rect.left(), floor_px - height, width, height)


def paint_scale(sheet: Sheet, floor_px: float) -> None:
    """Paint the scale bar, and the step of the grid, at the lower left over `floor_px`."""
    bar, painter, theme, unit = map_scale_bar(sheet), sheet.painter, sheet.theme, sheet.unit
    font = sheet.font()
    metrics = sheet.metrics(font)
    left, bottom = sheet.rect.left() + INSET_PX * unit, floor_px - INSET_PX * unit
    painter.setFont(font)
    half = bar.length_px / 2
    ends = QLineF(left, bottom, left + bar.length_px, bottom)
    tick = 6 * unit
    # A light edge first, so that the bar reads on land and on dark shapes.
    for colour, width in ((theme.halo, 5.0), (theme.map_text, 2.0)):
        painter.setPen(sheet.pen(colour, width / theme.line_scale**0.5))
        painter.drawLine(ends)
        for x in (left, left + half, left + bar.length_px):
            painter.drawLine(QPointF(x, bottom - tick), QPointF(x, bottom))
    base = bottom - tick - 3 * unit - metrics.descent()
    sheet.text_with_halo(left, base, bar.text, theme.map_text)
    width = metrics.horizontalAdvance(bar.text)
    sheet.text_with_halo(left + width + 10 * unit, base, _grid_note(sheet), theme.muted)


def paint_north(sheet: Sheet) -> None:
    """Paint the north arrow at the upper right."""
    painter, theme, unit = sheet.painter, sheet.theme, sheet.unit
    x = sheet.rect.right() - (INSET_PX + 12) * unit
    top = sheet.rect.top() + INSET_PX * unit
    font = sheet.font(bold=True)
    metrics = sheet.metrics(font)
    painter.setFont(font)
    sheet.text_with_halo(
        x - metrics.horizontalAdvance("N") / 2, top + metrics.ascent(), "N", theme.map_text
    )
    tip = top + metrics.height() + 1 * unit
    for side, fill in ((-1, theme.map_text), (1, theme.mark_core)):
        blade = QPainterPath(QPointF(x, tip))
        blade.lineTo(x + side * 8 * unit, tip + 26 * unit)
        blade.lineTo(x, tip + 20 * unit)
        blade.closeSubpath()
        painter.setPen(sheet.pen(theme.map_text, 1.1 / theme.line_scale**0.5))
        painter.setBrush(QColor(fill))
        painter.drawPath(blade)


def current_text(content: MapContent) -> str:
    """Return what is written at the current's arrow: always where it flows towards."""
    speed, towards = content.current_m_s, content.current_to_deg
    if not speed or towards is None:
        return ""
    return f"current {speed:g} m/s towards {compass_word(towards)} ({towards:.0f}°)"


def current_box(sheet: Sheet) -> QRectF:
    """Return where the arrow and words of the current stand; empty without it, or room."""
    text, unit = current_text(sheet.content), sheet.unit
    if not text or sheet.is_compact:
        return QRectF()
    width = float(sheet.widths([text], sheet.font())[0])
    right, top = sheet.rect.right() - 48 * unit, sheet.rect.top() + 14 * unit
    return QRectF(right - width - 56 * unit, top, width + 56 * unit, 44 * unit)


def paint_current(sheet: Sheet) -> None:
    """Paint the arrow of the current, and which way it flows, left of the north arrow."""
    content, painter, theme, unit = sheet.content, sheet.painter, sheet.theme, sheet.unit
    box = current_box(sheet)
    if box.isEmpty() or content.current_to_deg is None:
        return
    middle = QPointF(box.right() - 24 * unit, box.center().y())
    painter.save()
    painter.translate(middle)
    painter.rotate(content.current_to_deg)
    for colour, thickness in ((theme.halo, 5.5), (theme.current, 2.6)):
        painter.setPen(sheet.pen(colour, thickness / theme.line_scale**0.5))
        painter.drawLine(QPointF(0, 17 * unit), QPointF(0, -17 * unit))
        head = [QPointF(-7 * unit, -8 * unit), QPointF(0, -17 * unit), QPointF(7 * unit, -8 * unit)]
        painter.drawPolyline(head)
    painter.restore()
    font = sheet.font()
    metrics = sheet.metrics(font)
    painter.setFont(font)
    baseline = middle.y() + (metrics.ascent() - metrics.descent()) / 2
    sheet.text_with_halo(box.left() + 2 * unit, baseline, current_text(content), theme.current)

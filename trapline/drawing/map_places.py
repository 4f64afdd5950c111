"""The layers of the places: gaps with their distances, marks, labels, rings."""

import math
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage

from trapline.drawing.labels import declutter
from trapline.drawing.map_content import GapLine
from trapline.drawing.map_sheet import FloatArray, IndexArray, Sheet
from trapline.drawing.marks import paint_mark

LABELS_UP_TO: Final = 4000
GAPS_IN_FULL: Final = 500
GAP_LINES: Final = {
    "short": Qt.PenStyle.SolidLine,
    "unsure": Qt.PenStyle.DashLine,
    "wide": Qt.PenStyle.DotLine,
}


def gap_colour(sheet: Sheet, kind: str) -> str:
    """Return the colour of a kind of gap."""
    theme = sheet.theme
    return {"unsure": theme.unsure_gap, "wide": theme.wide_gap}.get(kind, theme.short_gap)


def paint_gap(sheet: Sheet, start: QPointF, end: QPointF, kind: str) -> None:
    """Paint the line of one gap; where the marks hide it, a loop about both."""
    painter, colour = sheet.painter, gap_colour(sheet, kind)
    along = end - start
    length = math.hypot(along.x(), along.y())
    if kind == "short" and length < 4.5 * sheet.radius():
        reach = sheet.radius() + 6 * sheet.unit
        painter.save()
        painter.translate(start)
        painter.rotate(math.degrees(math.atan2(along.y(), along.x())))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(sheet.pen(colour, 1.8))
        loop = QRectF(-reach, -reach, length + 2 * reach, 2 * reach)
        painter.drawRoundedRect(loop, reach, reach)
        painter.restore()
        return
    if not sheet.is_simple:
        painter.setPen(sheet.pen(sheet.theme.halo, 4.0 / sheet.theme.line_scale))
        painter.drawLine(start, end)
    width = 2.2 if kind == "short" else 1.8
    painter.setPen(sheet.pen(colour, width, GAP_LINES.get(kind, Qt.PenStyle.SolidLine)))
    painter.drawLine(start, end)


def paint_gaps(sheet: Sheet) -> list[tuple[GapLine, QPointF, QPointF]]:
    """Paint the lines of the gaps in view; return them for their texts."""
    content, shown = sheet.content, []
    around = sheet.rect.adjusted(-2, -2, 2, 2)
    for gap in content.gaps:
        ends = (gap.first, gap.second)
        if sheet.hidden in ends or not content.is_drawable[list(ends)].all():
            continue
        start, end = sheet.px(gap.first), sheet.px(gap.second)
        # A gap between two places on one spot is a point: one pixel makes it a box.
        if around.intersects(QRectF(start, end).normalized().adjusted(-1, -1, 1, 1)):
            shown.append((gap, start, end))
    if len(shown) > GAPS_IN_FULL and not sheet.is_paper:
        shown = shown[:GAPS_IN_FULL]
    for gap, start, end in shown:
        paint_gap(sheet, start, end, gap.kind)
    return shown


def paint_marks(sheet: Sheet) -> None:
    """Paint the marks: stamped on the screen, as paths on paper, as dots where very many."""
    if sheet.are_dots:
        _paint_dots(sheet)
        return
    content, theme, painter = sheet.content, sheet.theme, sheet.painter
    plain = sheet.radius()
    has_sizes = bool(content.size_factors.size)
    rows = sheet.in_view.tolist()
    styles = content.style_of[sheet.in_view].tolist()
    for row, which, x, y in zip(
        rows, styles, sheet.spots[0].tolist(), sheet.spots[1].tolist(), strict=True
    ):
        radius = sheet.radius(row) if has_sizes else plain
        style = content.styles[which]
        if sheet.is_paper:
            paint_mark(painter, x, y, radius, style, theme, sheet.unit)
        else:
            # Halves of a pixel, so that sizes by catch do not fill the box of stamps.
            radius = round(radius * 2) / 2
            stamp = sheet.cache.stamps.stamp(style, radius, theme, sheet.pixel_ratio)
            half = stamp.width() / sheet.pixel_ratio / 2
            painter.drawPixmap(QPointF(x - half, y - half), stamp)


def _paint_dots(sheet: Sheet) -> None:
    """Paint very many places as squares with a dark edge, put into a picture by numpy."""
    ratio, rect, content = sheet.pixel_ratio, sheet.rect, sheet.content
    width, height = round(rect.width() * ratio), round(rect.height() * ratio)
    half = max(1, round(1.5 * ratio))
    edge = half + max(1, round(ratio * 0.6))
    x = np.rint((sheet.spots[0] - rect.left()) * ratio).astype(np.intp)
    y = np.rint((sheet.spots[1] - rect.top()) * ratio).astype(np.intp)
    inside = (x >= edge) & (y >= edge) & (x < width - edge) & (y < height - edge)
    x, y, styles = x[inside], y[inside], content.style_of[sheet.in_view][inside]
    # One dot a cell: the first row of the line stays.
    columns = width // half + 1
    owner = np.full(columns * (height // half + 1), -1, dtype=np.intp)
    cell = (y // half) * columns + x // half
    owner[cell[::-1]] = np.arange(cell.size)[::-1]
    kept = owner[owner >= 0]
    x, y, styles = x[kept], y[kept], styles[kept]
    theme = sheet.theme
    fills = [theme.mark_outline if theme.is_monochrome else row.colour for row in content.styles]
    fill = np.array([QColor(colour).rgba() for colour in fills], dtype=np.uint32)[styles]
    pixels = np.zeros((height, width), dtype=np.uint32)
    outline = np.uint32(QColor(theme.mark_outline).rgba())
    for dy in range(-edge, edge + 1):
        for dx in range(-edge, edge + 1):
            pixels[y + dy, x + dx] = outline
    for dy in range(-half, half):
        for dx in range(-half, half):
            pixels[y + dy, x + dx] = fill
    image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    sheet.painter.drawImage(rect.topLeft(), image)


def paint_texts(sheet: Sheet, gaps: list[tuple[GapLine, QPointF, QPointF]]) -> None:
    """Write the distances on the gaps and the labels beside the marks; none lies on another."""
    if sheet.in_view.size > LABELS_UP_TO and not sheet.is_paper:
        return
    taken = _gap_texts(sheet, gaps, _obstacles(sheet))
    rows = sheet.in_view
    if not rows.size:
        return
    font = sheet.font()
    texts = [sheet.content.labels[row] for row in rows.tolist()]
    metrics = sheet.metrics(font)
    widths = sheet.widths(texts, font)
    boxes = _label_boxes(sheet, rows, widths, metrics.height())
    chosen = _place(sheet, boxes, taken)
    sheet.painter.setFont(font)
    for at in np.flatnonzero(chosen >= 0).tolist():
        left, top = boxes[chosen[at], at, :2]
        sheet.text_with_halo(left, top + metrics.ascent(), texts[at], sheet.theme.map_text)


def _place(sheet: Sheet, boxes: FloatArray, taken: FloatArray) -> IndexArray:
    rect = sheet.rect
    corner = np.array([rect.left(), rect.top()] * 2)
    cell = (5.0 if sheet.in_view.size < SPARSE else 8.0) * sheet.unit
    return declutter(boxes - corner, taken - corner, rect.width(), rect.height(), cell)


SPARSE: Final = 400
# The outer one of the two rings about the current trap, beyond its mark.
CURRENT_RING_PX: Final = 11


def _obstacles(sheet: Sheet) -> FloatArray:
    """Return the boxes of the marks in view and of what else must stay readable."""
    x, y = sheet.spots
    reach = _radii(sheet, sheet.in_view) * 0.9 + _ring_px(sheet, sheet.in_view)
    marks = np.column_stack([x - reach, y - reach, x + reach, y + reach])
    others = [(box.left(), box.top(), box.right(), box.bottom()) for box in sheet.taken]
    return np.concatenate([marks, np.array(others, dtype=np.float64).reshape(-1, 4)])


def _radii(sheet: Sheet, rows: IndexArray) -> FloatArray:
    if not sheet.content.size_factors.size:
        return np.full(rows.size, sheet.radius())
    return np.array([sheet.radius(row) for row in rows.tolist()])


def _ring_px(sheet: Sheet, rows: IndexArray) -> FloatArray:
    """Return how far the rings of the current trap reach beyond its mark: no label under them."""
    return np.where(rows == sheet.current, (CURRENT_RING_PX + 3) * sheet.unit, 0.0)


def _label_boxes(sheet: Sheet, rows: IndexArray, widths: FloatArray, height: float) -> FloatArray:
    """Return boxes right, left, above and below of the marks, at their corners, farther out."""
    x, y = sheet.spots
    radii = _radii(sheet, rows)
    has_tick = np.array([style.state == "lifted" for style in sheet.content.styles])
    away = radii * np.where(has_tick[sheet.content.style_of[rows]], 1.55, 1.0) + 4 * sheet.unit
    away = np.maximum(away, radii + _ring_px(sheet, rows))
    near = 0.62 * away
    lefts_tops = (
        (x + away, y - height / 2),
        (x - away - widths, y - height / 2),
        (x - widths / 2, y - away - height),
        (x - widths / 2, y + away),
        (x + near, y - near - height),
        (x + near, y + near),
        (x - near - widths, y - near - height),
        (x - near - widths, y + near),
        # Farther out, for the few labels that a crowd would leave out.
        (x - widths / 2, y - 1.8 * away - height),
        (x - widths / 2, y + 1.8 * away),
        (x + 2 * away, y - height / 2),
        (x - 2 * away - widths, y - height / 2),
    )
    return np.stack(
        [np.column_stack([left, top, left + widths, top + height]) for left, top in lefts_tops]
    )


def _gap_texts(
    sheet: Sheet, gaps: list[tuple[GapLine, QPointF, QPointF]], taken: FloatArray
) -> FloatArray:
    """Write the distances; return the boxes taken, theirs included."""
    if not gaps:
        return taken
    font = sheet.font(bold=True, factor=0.95)
    height = sheet.metrics(font).height() + 2 * sheet.unit
    texts = [gap.text for gap, _, _ in gaps]
    widths = sheet.widths(texts, font) + 10 * sheet.unit
    ends = np.array([(a.x(), a.y(), b.x(), b.y()) for _, a, b in gaps])
    boxes = _gap_boxes(ends, widths, height, sheet.radius() + 8 * sheet.unit)
    chosen = _place(sheet, boxes, taken)
    placed = np.flatnonzero(chosen >= 0)
    sheet.painter.setFont(font)
    for at in placed.tolist():
        left, top, right, bottom = boxes[chosen[at], at].tolist()
        box = QRectF(left, top, right - left, bottom - top)
        if chosen[at] >= ON_THE_LINE:
            # Beside its line: a thin one leads there.
            sheet.painter.setPen(sheet.pen(gap_colour(sheet, gaps[at][0].kind), 0.8))
            sheet.painter.drawLine((gaps[at][1] + gaps[at][2]) / 2, box.center())
        paint_pill(sheet, box, texts[at], gap_colour(sheet, gaps[at][0].kind))
    return np.concatenate([taken, boxes[chosen[placed], placed]])


# Parts of the way along a gap where its text may stand, the best first.
ALONG: Final = (0.5, 0.38, 0.62)
ON_THE_LINE: Final = len(ALONG)


def _gap_boxes(ends: FloatArray, widths: FloatArray, height: float, beside: float) -> FloatArray:
    """Return boxes on the middle of each line, along it, and beside it where it is short."""
    start, end = ends[:, :2], ends[:, 2:]
    along = end - start
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
    across = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, np.newaxis]
    # How far a box must move aside to clear the line depends on the way the line runs.
    clear = (np.abs(across[:, 0]) * widths + np.abs(across[:, 1]) * height) / 2 + beside
    middles = [start + along * part for part in ALONG]
    middles += [
        start + along / 2 + across * (clear * side)[:, np.newaxis]
        for side in (1.0, -1.0, 1.6, -1.6, 2.6, -2.6)
    ]
    half = np.column_stack([widths / 2, np.full(widths.size, height / 2)])
    return np.stack([np.concatenate([middle - half, middle + half], axis=1) for middle in middles])


def paint_pill(sheet: Sheet, box: QRectF, text: str, colour: str) -> None:
    """Write text on a small rounded label with an edge of its colour."""
    painter = sheet.painter
    painter.setPen(sheet.pen(colour, 1.0 / sheet.theme.line_scale))
    painter.setBrush(QColor(sheet.theme.halo))
    painter.drawRoundedRect(box, box.height() / 2, box.height() / 2)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QColor(colour))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def paint_rings(sheet: Sheet) -> None:
    """Paint rings about the selected places, and a larger one about the current trap."""
    for row in sheet.selected:
        if sheet.content.is_drawable[row] and row != sheet.hidden:
            paint_ring(sheet, sheet.px(row), sheet.radius(row) + 4.5 * sheet.unit)
    if sheet.current >= 0 and sheet.content.is_drawable[sheet.current]:
        spot, radius = sheet.px(sheet.current), sheet.radius(sheet.current)
        paint_ring(sheet, spot, radius + 5 * sheet.unit)
        paint_ring(sheet, spot, radius + CURRENT_RING_PX * sheet.unit)


def paint_ring(sheet: Sheet, middle: QPointF, radius: float) -> None:
    """Paint one ring with a light edge on both sides."""
    painter = sheet.painter
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, width in ((sheet.theme.halo, 4.4), (sheet.theme.ring, 2.2)):
        painter.setPen(sheet.pen(colour, width / min(sheet.theme.line_scale, 1.4)))
        painter.drawEllipse(middle, radius, radius)

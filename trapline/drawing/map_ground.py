"""The layers under the places: water, land, grid, plumes and where they meet, the line."""

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath

from trapline.drawing.colour import mixed
from trapline.drawing.map_sheet import IndexArray, Sheet, ring_path
from trapline.drawing.scale import grid_step_m

GRID_PX = 70.0
HATCH_PX = 6.0
# Above so many in view shapes lose their edges, hatches are left out, and tiny plumes too.
PLUMES_IN_FULL = 400
HATCHES_IN_FULL = 200
LINKS_IN_FULL = 4000
# On black-and-white paper the outline of a reach tells the bait.
DASHES: tuple[list[float], ...] = (
    [],
    [6, 3],
    [2, 3],
    [8, 3, 2, 3],
    [12, 4],
    [1, 2],
    [4, 4, 1, 4],
    [10, 2, 2, 2, 2, 2],
)


def paint_ground(sheet: Sheet) -> None:
    """Paint the water, and land about it where a shoreline is known."""
    painter, theme = sheet.painter, sheet.theme
    rings = sheet.content.shorelines
    water = QPainterPath()
    for number, ring in enumerate(rings):
        water.addPath(sheet.cache.path("shore", number, ring))
    if water.isEmpty():
        painter.fillRect(sheet.rect, QColor(theme.water))
        return
    painter.fillRect(sheet.rect, QColor(theme.land))
    painter.save()
    painter.setWorldTransform(sheet.view.transform(sheet.rect), True)
    painter.fillPath(water, QColor(theme.water))
    if not sheet.is_simple and not theme.is_monochrome and theme.line_scale == 1:
        # The shallows: a soft band inside the shore.
        painter.save()
        painter.setClipPath(water, Qt.ClipOperation.IntersectClip)
        shallow = QColor(mixed(theme.water, theme.shore, 0.16))
        painter.strokePath(water, sheet.pen(shallow, 12, cosmetic=True))
        painter.restore()
    painter.strokePath(water, sheet.pen(theme.shore, 1.4, cosmetic=True))
    painter.restore()


def grid_step(sheet: Sheet) -> float:
    """Return the distance of the grid's lines in metres."""
    return grid_step_m(sheet.view.metres_per_px, GRID_PX * sheet.unit, sheet.content.length_unit)


def paint_grid(sheet: Sheet) -> None:
    """Paint lines at round metres east and north of the anchor."""
    step = grid_step(sheet)
    west, south, east, north = sheet.view.window(sheet.rect)
    rect = sheet.rect
    easts = np.arange(np.ceil(west / step), np.floor(east / step) + 1) * step
    norths = np.arange(np.ceil(south / step), np.floor(north / step) + 1) * step
    xs, _ = sheet.view.to_px(rect, easts, np.zeros_like(easts))
    _, ys = sheet.view.to_px(rect, np.zeros_like(norths), norths)
    lines = [QLineF(x, rect.top(), x, rect.bottom()) for x in xs.tolist()]
    lines += [QLineF(rect.left(), y, rect.right(), y) for y in ys.tolist()]
    painter = sheet.painter
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, sheet.is_paper)
    painter.setPen(sheet.pen(sheet.theme.grid, 1.0 / sheet.theme.line_scale))
    painter.drawLines(lines)
    painter.restore()


def _plumes_in_view(sheet: Sheet) -> IndexArray:
    boxes = sheet.content.plume_boxes
    west, south, east, north = sheet.view.window(sheet.rect)
    shown = (
        (boxes[:, 2] >= west) & (boxes[:, 0] <= east)
        & (boxes[:, 3] >= south) & (boxes[:, 1] <= north)
    )  # fmt: skip
    shown[sheet.content.plumes_of.get(sheet.hidden, [])] = False
    found = np.flatnonzero(shown)
    if found.size > PLUMES_IN_FULL and not sheet.is_paper:
        spans = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])[found]
        found = found[spans / sheet.view.metres_per_px > 3.0][: 4 * PLUMES_IN_FULL]
    return found


def paint_plumes(sheet: Sheet) -> None:
    """Paint the assumed reaches, thin enough to see through, then hatch where baits meet."""
    shown = _plumes_in_view(sheet)
    if not shown.size:
        return
    painter = sheet.painter
    painter.save()
    painter.setWorldTransform(sheet.view.transform(sheet.rect), True)
    for number in shown.tolist():
        paint_plume(sheet, number, has_edge=shown.size <= PLUMES_IN_FULL or sheet.is_paper)
    if not sheet.is_simple:
        _paint_hatches(sheet, shown)
    painter.restore()


def paint_plume(sheet: Sheet, number: int, *, has_edge: bool = True) -> None:
    """Paint one reach with the painter set to metres."""
    plume = sheet.content.plumes[number]
    theme, painter = sheet.theme, sheet.painter
    style = sheet.content.style(plume.owner)
    path = sheet.cache.path("plume", number, plume.outline)
    edge = QColor(theme.mark_outline if theme.is_monochrome else style.colour)
    if theme.is_dark:
        # Dark baits on dark water: mixed with the colour of outlines their reaches show.
        edge = QColor(mixed(style.colour, theme.mark_outline, 0.35))
    fill = QColor(edge)
    fill.setAlpha(theme.plume_alpha)
    edge.setAlpha(theme.plume_line_alpha)
    painter.setBrush(fill if theme.plume_alpha else Qt.BrushStyle.NoBrush)
    if not has_edge:
        painter.setPen(Qt.PenStyle.NoPen)
    else:
        pen = sheet.pen(edge, 1.1, cosmetic=True)
        if theme.is_monochrome:
            baits = list(dict.fromkeys(row.bait for row in sheet.content.styles))
            dashes = DASHES[baits.index(style.bait) % len(DASHES)]
            if dashes:
                pen.setDashPattern(dashes)
        painter.setPen(pen)
    painter.drawPath(path)


def _paint_hatches(sheet: Sheet, shown: IndexArray) -> None:
    """Hatch the water that plumes of different baits share, once however many share it."""
    meetings = sheet.content.meetings.reshape(-1, 2)
    pairs = np.flatnonzero(np.isin(meetings, shown).all(axis=1))
    if pairs.size > HATCHES_IN_FULL and not sheet.is_paper:
        return
    together = QPainterPath()
    together.setFillRule(Qt.FillRule.WindingFill)
    for number in pairs.tolist():
        together.addPath(_shared(sheet, number, *meetings[number].tolist()))
    if together.isEmpty():
        return
    painter, to_px = sheet.painter, sheet.view.transform(sheet.rect)
    painter.save()
    painter.setClipPath(together, Qt.ClipOperation.IntersectClip)
    painter.setWorldTransform(to_px.inverted()[0], True)
    paint_hatch(sheet, to_px.mapRect(together.boundingRect()).intersected(sheet.rect))
    painter.restore()


def _shared(sheet: Sheet, number: int, first: int, second: int) -> QPainterPath:
    """Return the water that two plumes share, in metres, every ring of it the same way round."""
    kept = sheet.cache.paths.get(("meeting", number))
    if kept is None:
        plumes = sheet.content.plumes
        one = sheet.cache.path("plume", first, plumes[first].outline)
        two = sheet.cache.path("plume", second, plumes[second].outline)
        kept = QPainterPath()
        for ring in one.intersected(two).toSubpathPolygons():
            points = np.array([(ring.at(n).x(), -ring.at(n).y()) for n in range(ring.size())])
            # Shoelace: where two rings lie on each other, opposite ways round would make a hole.
            x, y = points.T
            turn = float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
            kept.addPath(ring_path(points if turn > 0 else points[::-1]))
        sheet.cache.paths["meeting", number] = kept
    return kept


def paint_hatch(sheet: Sheet, box: QRectF) -> None:
    """Paint slanting lines over a box of pixels, in step with those of every other box."""
    if box.isEmpty():
        return
    step = HATCH_PX * sheet.unit * sheet.theme.line_scale**0.5
    # Lines x + y = k · step, so that two boxes side by side continue each other.
    first = np.ceil((box.left() + box.top()) / step)
    last = np.floor((box.right() + box.bottom()) / step)
    lines = []
    for total in (np.arange(first, last + 1) * step).tolist():
        left = max(box.left(), total - box.bottom())
        right = min(box.right(), total - box.top())
        lines.append(QLineF(left, total - left, right, total - right))
    sheet.painter.setPen(sheet.pen(sheet.theme.hatch, 0.9 / sheet.theme.line_scale))
    sheet.painter.drawLines(lines)


def paint_links(sheet: Sheet) -> None:
    """Paint each line from place to place in its order."""
    content = sheet.content
    west, south, east, north = sheet.view.window(sheet.rect)
    sheet.painter.setPen(sheet.pen(sheet.theme.link, 1.0, Qt.PenStyle.DashLine))
    for link in content.links:
        rows = link[content.is_drawable[link]]
        if rows.size < 2:
            continue
        x, y = content.east_m[rows], content.north_m[rows]
        lows_e, highs_e = np.minimum(x[:-1], x[1:]), np.maximum(x[:-1], x[1:])
        lows_n, highs_n = np.minimum(y[:-1], y[1:]), np.maximum(y[:-1], y[1:])
        crosses = (highs_e >= west) & (lows_e <= east) & (highs_n >= south) & (lows_n <= north)
        # The legs to a place on its way are painted with it.
        crosses &= (rows[:-1] != sheet.hidden) & (rows[1:] != sheet.hidden)
        legs = np.flatnonzero(crosses)
        if legs.size > LINKS_IN_FULL and not sheet.is_paper:
            continue
        xs, ys = sheet.view.to_px(sheet.rect, x, y)
        sheet.painter.drawLines(
            [
                QLineF(QPointF(xs[leg], ys[leg]), QPointF(xs[leg + 1], ys[leg + 1]))
                for leg in legs.tolist()
            ]
        )

"""Paint a map on any device: screen, picture, printer, PDF.

`paint_map` paints everything; the canvas paints the ground and the furniture apart, since
one moves with the mouse and the other stays. Layers are in map_ground.py, map_places.py,
map_furniture.py and map_legend.py.
"""

from collections.abc import Iterable

from PySide6.QtCore import QMarginsF, QRectF, Qt
from PySide6.QtGui import QPainter

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_furniture import (
    current_box,
    paint_current,
    paint_north,
    paint_scale,
    paint_shelf,
    scale_box,
    shelf_rect,
)
from trapline.drawing.map_ground import paint_grid, paint_ground, paint_links, paint_plumes
from trapline.drawing.map_legend import legend_box, legend_rows, note_box, paint_legend
from trapline.drawing.map_places import paint_gaps, paint_marks, paint_rings, paint_texts
from trapline.drawing.map_sheet import PaintCache, Sheet
from trapline.drawing.map_view import MapView, fit_content
from trapline.drawing.marks import RADIUS_PX
from trapline.drawing.theme import Theme


def paint_map(
    painter: QPainter,
    rect: QRectF,
    view: MapView | None,
    content: MapContent,
    theme: Theme,
    *,
    simple: bool = False,
    paper: bool = False,
    selected: Iterable[str] = (),
    current: str = "",
    cache: PaintCache | None = None,
) -> None:
    """Paint a whole map into a rectangle; see `paint_ground_and_places` and `paint_furniture`.

    Parameters
    ----------
    painter : QPainter
        Active, on any device, in any state: what is set here is put back.
    rect : QRectF
        In the painter's units; nothing is painted outside it.
    view : MapView or None
        Metres per unit of the painter; None shows everything.
    simple : bool
        While moving: no antialiasing, no halos, no hatches.
    paper : bool
        Paths in place of stamps, and sizes by the resolution of the device.
    selected, current : ids of places or trap sets
        Ringed once, and twice.
    """
    sheet = Sheet(
        painter, rect, view or MapView(), content, theme, cache or PaintCache(), simple, paper,
        selected=rows_of(content, selected), current=_row(content, current),
    )  # fmt: skip
    if view is None:
        sheet.view = fitted_view(sheet)
    shelved = {content.unplaced_row(key) for key in selected}
    sheet.taken = furniture_boxes(sheet)
    paint_ground_and_places(sheet)
    paint_furniture(sheet, frozenset(row for row in shelved if row is not None))


def paint_ground_and_places(sheet: Sheet) -> None:
    """Paint what moves with the view."""
    painter = sheet.painter
    sheet.cache.about(sheet.content)
    painter.save()
    painter.setClipRect(sheet.rect, Qt.ClipOperation.IntersectClip)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not sheet.is_simple)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing, True)
    paint_ground(sheet)
    paint_grid(sheet)
    paint_plumes(sheet)
    paint_links(sheet)
    gaps = paint_gaps(sheet)
    paint_marks(sheet)
    paint_texts(sheet, gaps)
    paint_rings(sheet)
    painter.restore()


def paint_furniture(sheet: Sheet, shelved: frozenset[int] = frozenset(), hidden: int = -1) -> None:
    """Paint what stays in place over the map."""
    painter, rect = sheet.painter, sheet.rect
    painter.save()
    painter.setClipRect(rect, Qt.ClipOperation.IntersectClip)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    paint_shelf(sheet, hidden, shelved)
    paint_scale(sheet, shelf_rect(sheet.content, rect, sheet.unit).top())
    paint_north(sheet)
    paint_current(sheet)
    paint_legend(sheet)
    if sheet.is_paper:
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(sheet.pen(sheet.theme.shore, 1.0))
        painter.drawRect(rect)
    painter.restore()


def furniture_boxes(sheet: Sheet) -> list[QRectF]:
    """Return the boxes that the furniture covers, so that labels keep out of them."""
    unit, rect = sheet.unit, sheet.rect
    shelf = shelf_rect(sheet.content, rect, unit)
    boxes = [
        shelf,
        scale_box(sheet, shelf.top()),
        _north_box(sheet),
    ]
    boxes += [legend_box(sheet, legend_rows(sheet.content)), note_box(sheet), current_box(sheet)]
    return [box for box in boxes if not box.isEmpty()]


def fitted_view(sheet: Sheet) -> MapView:
    """Return the view that shows all places and plumes clear of the furniture."""
    unit, rect, content = sheet.unit, sheet.rect, sheet.content
    if sheet.is_compact:
        edge = 32 * unit
        low = 44 * unit + shelf_rect(content, rect, unit).height()
        inset = QMarginsF(edge, edge, edge, low)
        view, north = fit_content(content, rect, inset), _north_box(sheet)
        if not _covers_a_place(sheet, view, north):
            return view
        # Beside the north arrow: a mark under it would be the wrong trap's.
        inset.setRight(north.width() + 24 * unit)
        room = rect.marginsRemoved(inset)
        return fit_content(content, rect, inset) if min(room.width(), room.height()) > 60 else view
    inset = QMarginsF(
        40 * unit, 66 * unit, 60 * unit, 56 * unit + shelf_rect(content, rect, unit).height()
    )
    legend = legend_box(sheet, legend_rows(content))
    view = fit_content(content, rect, inset)
    if legend.isEmpty() or not _covers_a_place(sheet, view, legend):
        return view
    # Beside the legend or below it, whichever shows the places larger.
    beside, below = QMarginsF(inset), QMarginsF(inset)
    beside.setLeft(legend.right() - rect.left() + 24 * unit)
    below.setTop(legend.bottom() - rect.top() + 24 * unit)
    views = [fit_content(content, rect, one) for one in (beside, below)]
    return min(views, key=lambda one: one.metres_per_px)


def _north_box(sheet: Sheet) -> QRectF:
    """Return the corner that the north arrow takes."""
    unit, rect = sheet.unit, sheet.rect
    return QRectF(rect.right() - 44 * unit, rect.top(), 44 * unit, 72 * unit)


def _covers_a_place(sheet: Sheet, view: MapView, box: QRectF) -> bool:
    x, y = view.to_px(sheet.rect, sheet.content.east_m, sheet.content.north_m)
    edge = 2.5 * RADIUS_PX * sheet.unit
    box = box.adjusted(-edge, -edge, edge, edge)
    inside = (x > box.left()) & (x < box.right()) & (y > box.top()) & (y < box.bottom())
    return bool(inside.any())


def rows_of(content: MapContent, keys: Iterable[str]) -> frozenset[int]:
    """Return the rows of places or trap sets that have a position."""
    return frozenset(row for key in keys if (row := content.row(key)) is not None)


def _row(content: MapContent, key: str) -> int:
    row = content.row(key)
    return -1 if row is None else row

"""The state of a map on the screen and how it is put there; the widget is in canvas.py."""

import html
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from PySide6.QtCore import QMarginsF, QPointF, QRectF
from PySide6.QtGui import QPainter, QPixmap

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_furniture import shelf_rect, shelf_spots
from trapline.drawing.map_painter import fitted_view, rows_of
from trapline.drawing.map_sheet import PaintCache, Sheet
from trapline.drawing.map_view import MapView, fitted
from trapline.drawing.theme import LIGHT, Theme
from trapline.ui.map.base_picture import BasePicture
from trapline.ui.map.furniture_picture import FurniturePicture
from trapline.ui.map.overlay import Drag, LiveGaps, paint_drag, paint_focus, paint_notice
from trapline.units import length_text

HIT_PX: Final = 12.0
# A locator is small: so are its marks.
LOCATOR_MARKS: Final = 0.75


@dataclass(frozen=True, slots=True)
class Hit:
    """A place under the mouse: its id, its row on the map or its number on the shelf, its spot."""

    key: str
    row: int
    shelf_row: int
    spot: QPointF


class MapPicture:
    """Content, theme, view and selection; paints them and finds what lies under a point."""

    def __init__(self, rect_of: Callable[[], QRectF]) -> None:
        self._rect_of = rect_of
        self.content = MapContent()
        self.notice = ""
        self.theme: Theme = LIGHT
        self.view = MapView()
        self.selected: frozenset[str] = frozenset()
        self.current = ""
        self.drag: Drag | None = None
        self.is_moving = False
        self.is_locator = False
        # Whether the view is still the one that shows everything.
        self.is_fitted = True
        self._base = BasePicture()
        self._furniture = FurniturePicture()
        self._cache = PaintCache()

    @property
    def rect(self) -> QRectF:
        """The rectangle of the map in its widget."""
        return self._rect_of()

    def forget(self) -> None:
        """Make the next frame paint everything anew."""
        self._base.forget()

    def set_content(self, content: MapContent) -> None:
        """Show other content in the same view; the first that has anything is fitted."""
        before, self.content = self.content, content
        if self.is_locator:
            self.content = content.without_checks()
        known = (content.place_id(key) for key in self.selected)
        self.selected = frozenset(key for key in known if key is not None)
        self.forget()
        if before.extent() is None:
            self.fit()
        elif before.plane != content.plane:
            earth = before.plane.to_earth(self.view.east_m, self.view.north_m)
            east_m, north_m = content.plane.to_plane(*earth)
            self.view = replace(self.view, east_m=east_m, north_m=north_m)

    def fit(self) -> None:
        """Show everything."""
        pixmap = QPixmap(1, 1)
        painter = QPainter(pixmap)
        self.view = fitted_view(self._sheet(painter))
        painter.end()
        self.is_fitted = True

    def show_rows(self, keys: Iterable[str]) -> None:
        """Bring places into view: moved if they fit at this scale, else zoomed out to them."""
        rows = rows_of(self.content, keys)
        extent = self.content.extent(rows) if rows else None
        if extent is None:
            return
        rect = self.rect
        edge = min(90.0, rect.width() / 4, rect.height() / 4)
        shelf = shelf_rect(self.content, rect).height()
        inset = QMarginsF(edge, edge, edge, edge + shelf)
        close = fitted(extent, rect, inset)
        # Farther out only as far as needed; closer in until two in question can be told apart.
        span = max(extent[2] - extent[0], extent[3] - extent[1])
        nearest = max(close.metres_per_px, span / 240.0)
        scale = self.view.metres_per_px
        if close.metres_per_px > scale:
            scale = close.metres_per_px
        elif span > 0 and span / scale < 60.0:
            scale = nearest
        self.view = MapView(
            (extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2 - shelf / 2 * scale, scale
        )
        self.is_fitted = False

    def paint(
        self,
        painter: QPainter,
        pixel_ratio: float,
        *,
        live_gaps: LiveGaps | None = None,
        has_focus: bool = False,
    ) -> None:
        """Paint one frame; the base picture is made anew only where it must be."""
        sheet, rect = self._sheet(painter), self.rect
        covers = self._base.covers(rect, self.view, pixel_ratio)
        is_ready = self.is_moving or (self._base.is_fine and self._base.is_at(self.view))
        if not covers or not is_ready:
            self._base.repaint(sheet, pixel_ratio)
        self._base.blit(painter, rect, self.view)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.drag is not None:
            painter.save()
            painter.setClipRect(rect)
            paint_drag(replace(sheet, is_simple=False), self.drag, live_gaps)
            painter.restore()
        rows = (self.content.unplaced_row(key) for key in self.selected)
        shelved = frozenset(row for row in rows if row is not None)
        hidden = self.drag.shelf_row if self.drag else -1
        self._furniture.paint(sheet, shelved, hidden, pixel_ratio)
        if self.notice:
            paint_notice(sheet, self.notice)
        if has_focus:
            paint_focus(sheet)

    def _sheet(self, painter: QPainter) -> Sheet:
        row = self.content.row(self.current)
        return Sheet(
            painter,
            self.rect,
            self.view,
            self.content,
            self.theme,
            self._cache,
            is_simple=self.is_moving,
            hidden=self.drag.row if self.drag else -1,
            selected=rows_of(self.content, self.selected),
            current=-1 if row is None else row,
            mark_scale=LOCATOR_MARKS if self.is_locator else 1.0,
        )

    def hit(self, at: QPointF) -> Hit | None:
        """Return the nearest place within reach of a point."""
        content, rect = self.content, self.rect
        if shelf_rect(content, rect).contains(at):
            for number, spot in enumerate(shelf_spots(content, rect)):
                if (spot - at).manhattanLength() <= 1.5 * HIT_PX:
                    return Hit(content.unplaced[number].id, -1, number, spot)
            return None
        row = self.view.row_at(content, rect, at, HIT_PX)
        return None if row is None else Hit(content.ids[row], row, -1, self._spot(row))

    def _spot(self, row: int) -> QPointF:
        east_m, north_m = float(self.content.east_m[row]), float(self.content.north_m[row])
        return QPointF(*self.view.to_px(self.rect, east_m, north_m))

    def is_in_sight(self, key: str) -> bool:
        """Return whether a place with a position lies inside the window, clear of its edge."""
        row = self.content.row(key)
        inner = self.rect.adjusted(24, 24, -24, -24)
        return row is not None and inner.contains(self._spot(row))

    def words_of(self, key: str) -> str:
        """Return the same for a place by its id; nothing for one that is not here."""
        row, shelf_row = self.content.row(key), self.content.unplaced_row(key)
        if row is None and shelf_row is None:
            return ""
        at = (-1, shelf_row or 0) if row is None else (row, -1)
        return self.words(Hit(key, *at, QPointF()))

    def words(self, hit: Hit) -> str:
        """Return what is told of a place: label, bait and state, nearest neighbour."""
        content = self.content
        if hit.row < 0:
            place = content.unplaced[hit.shelf_row]
            told = [place.label, place.style.bait, "no position"]
            return "\n".join(filter(None, told))
        style = content.style(hit.row)
        told = [content.labels[hit.row], f"{style.bait} ({style.state})" if style.bait else ""]
        if style.state == "stake":
            told.append("stake: measured from, not fished")
        else:
            nearest = content.nearest(hit.row)
            if nearest is not None:
                metres = length_text(nearest[1], content.length_unit)
                told.append(f"nearest: {content.labels[nearest[0]]}, {metres}")
        return "\n".join(filter(None, told))

    def is_over_shelf(self, at: QPointF) -> bool:
        """Return whether a point lies over the places without a position."""
        return shelf_rect(self.content, self.rect).contains(at)


def tooltip(text: str) -> str:
    """Return text for a tooltip that shows it as it is: Qt would take some of it for HTML."""
    return f"<p style='white-space:pre'>{html.escape(text)}</p>"

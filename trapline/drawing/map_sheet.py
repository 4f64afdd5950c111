"""What every layer of the map needs to paint: painter, rectangle, view, content, theme, sizes."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QGuiApplication,
    QPainter,
    QPainterPath,
    QPen,
)

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_view import MapView
from trapline.drawing.marks import RADIUS_PX, MarkStamps
from trapline.drawing.theme import Theme

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]

# In view at once; above these the drawing gets simpler. Chosen so that a redraw while moving
# stays under a frame of 60 Hz or close to it.
SMALL_MARKS_OVER: Final = 600
DOTS_OVER: Final = 3000
# A map narrower than this has no legend.
COMPACT_PX: Final = 420.0


@dataclass
class PaintCache:
    """What can be kept from one painting to the next: stamps, paths of plumes, text widths."""

    stamps: MarkStamps = field(default_factory=MarkStamps)
    paths: dict[tuple[str, int], QPainterPath] = field(default_factory=dict)
    widths: dict[tuple[str, float], float] = field(default_factory=dict)
    _content: MapContent | None = None

    def about(self, content: MapContent) -> None:
        """Forget the paths of another content."""
        if content is not self._content:
            self.paths.clear()
            self._content = content

    def path(self, kind: str, number: int, ring: FloatArray) -> QPainterPath:
        """Return a ring as a closed path in metres, y down."""
        key = (kind, number)
        if key not in self.paths:
            self.paths[key] = ring_path(ring)
        return self.paths[key]


def ring_path(ring: FloatArray) -> QPainterPath:
    """Return a ring of east and north as a closed path with y down; points that are NaN left out.

    Examples
    --------
    >>> ring_path(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0]])).boundingRect().top()
    -1.0
    """
    path = QPainterPath()
    points = ring[np.isfinite(ring).all(axis=1)].tolist()
    if len(points) < 3:
        return path
    path.moveTo(points[0][0], -points[0][1])
    for east_m, north_m in points[1:]:
        path.lineTo(east_m, -north_m)
    path.closeSubpath()
    return path


@dataclass
class Sheet:
    """One painting of a map. Lengths of pens and marks are in `unit`, a thin line's thickness."""

    painter: QPainter
    rect: QRectF
    view: MapView
    content: MapContent
    theme: Theme
    cache: PaintCache
    is_simple: bool = False
    is_paper: bool = False
    hidden: int = -1
    selected: frozenset[int] = frozenset()
    current: int = -1
    mark_scale: float = 1.0
    taken: list[QRectF] = field(default_factory=list)

    @cached_property
    def unit(self) -> float:
        """A 96th of an inch on paper; a logical pixel on the screen, whatever its density."""
        return self.painter.device().logicalDpiX() / 96.0 if self.is_paper else 1.0

    @property
    def is_compact(self) -> bool:
        """Whether there is no room for words over the map, as in a locator."""
        return self.rect.width() < COMPACT_PX * self.unit

    @cached_property
    def pixel_ratio(self) -> float:
        """Device pixels in a logical one."""
        return 1.0 if self.is_paper else self.painter.device().devicePixelRatioF()

    @cached_property
    def in_view(self) -> IndexArray:
        """The rows that are to be drawn, the hidden one left out."""
        west, south, east, north = self.view.window(self.rect, 24 * self.unit)
        content = self.content
        # NaN compares false and stays out.
        shown = (
            (content.east_m >= west)
            & (content.east_m <= east)
            & (content.north_m >= south)
            & (content.north_m <= north)
        )
        if 0 <= self.hidden < shown.size:
            shown[self.hidden] = False
        return np.flatnonzero(shown)

    @cached_property
    def spots(self) -> tuple[FloatArray, FloatArray]:
        """Where the rows in view are drawn: x and y."""
        rows = self.in_view
        return self.view.to_px(self.rect, self.content.east_m[rows], self.content.north_m[rows])

    def px(self, row: int) -> QPointF:
        """Where one row is drawn."""
        east_m, north_m = float(self.content.east_m[row]), float(self.content.north_m[row])
        return QPointF(*self.view.to_px(self.rect, east_m, north_m))

    @property
    def are_dots(self) -> bool:
        """Whether so many places are in view that they are drawn as dots."""
        return self.in_view.size > DOTS_OVER and not self.is_paper

    def radius(self, row: int = -1) -> float:
        """How large a mark is drawn."""
        size = RADIUS_PX * self.mark_scale * self.unit * (1.2 if self.theme.line_scale > 1 else 1.0)
        if self.in_view.size > SMALL_MARKS_OVER:
            size *= 0.65
        if row >= 0 and self.content.size_factors.size:
            factor = float(self.content.size_factors[row])
            # Twice the factor is twice the area; a NaN or 0 must still be found on the map.
            size *= min(max(factor, 0.2), 9.0) ** 0.5 if factor > 0 else 0.2**0.5
        return size

    def pen(
        self,
        colour: str | QColor,
        width: float = 1.0,
        style: Qt.PenStyle = Qt.PenStyle.SolidLine,
        *,
        cosmetic: bool = False,
    ) -> QPen:
        """Return a pen; `cosmetic` where the painter is set to metres."""
        thickness = width * self.unit * self.theme.line_scale
        pen = QPen(QColor(colour), thickness, style)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        if cosmetic:
            pen.setCosmetic(True)
            pen.setWidthF(thickness * self.pixel_ratio)
        return pen

    def font(self, *, bold: bool = False, factor: float = 1.0) -> QFont:
        """Return the map's font for this device."""
        font = QFont(QGuiApplication.font())
        font.setPointSizeF(self.theme.map_font_pt * factor)
        font.setBold(bold)
        if self.is_paper:
            # Joined letters come out of a PDF as one odd sign when its text is searched.
            font.setFeature(QFont.Tag("liga"), 0)
        return font

    def metrics(self, font: QFont) -> QFontMetricsF:
        """Return how large text comes out on this device."""
        return QFontMetricsF(font, self.painter.device())

    def widths(self, texts: Sequence[str], font: QFont) -> FloatArray:
        """Return the widths of texts, measured once each."""
        metrics, known = self.metrics(font), self.cache.widths
        size = metrics.height() * (1.001 if font.bold() else 1.0)
        found = np.empty(len(texts))
        for at, text in enumerate(texts):
            width = known.get((text, size))
            if width is None:
                width = known[(text, size)] = metrics.horizontalAdvance(text)
            found[at] = width
        return found

    def text_with_halo(self, x_px: float, baseline_px: float, text: str, colour: str) -> None:
        """Write text that stays readable on whatever lies below it."""
        painter = self.painter
        if self.is_paper:
            path = QPainterPath()
            path.addText(QPointF(x_px, baseline_px), painter.font(), text)
            painter.strokePath(path, QPen(QColor(self.theme.halo), 2.4 * self.unit))
        elif not self.is_simple:
            painter.setPen(QColor(self.theme.halo))
            for dx, dy in ((-1.2, 0.0), (1.2, 0.0), (0.0, -1.2), (0.0, 1.2)):
                painter.drawText(QPointF(x_px + dx, baseline_px + dy), text)
        painter.setPen(QColor(colour))
        painter.drawText(QPointF(x_px, baseline_px), text)

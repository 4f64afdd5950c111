"""Marks of places: one shape a bait, one filling a state, so that colour is never alone.

planned: hollow; set: filled; lifted: filled, with a tick; lost: crossed out; stake: a post.
"""

import math
from functools import cache
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPixmap, QTransform

from trapline.drawing.map_content import MarkStyle
from trapline.drawing.theme import Theme

RADIUS_PX: Final = 8.0
STATE_WORDS: Final = {
    "planned": "planned", "set": "set", "lifted": "lifted", "lost": "lost", "stake": "stake",
}  # fmt: skip


def _around(n: int, reach: float, odd_reach: float) -> list[tuple[float, float]]:
    """Return n corners about (0, 0), the first on top, every other one at its own reach."""
    reaches = [odd_reach if corner % 2 else reach for corner in range(n)]
    angles = [2 * math.pi * corner / n for corner in range(n)]
    return [(r * math.sin(a), -r * math.cos(a)) for r, a in zip(reaches, angles, strict=True)]


def _polygon(corners: list[tuple[float, float]]) -> QPainterPath:
    path = QPainterPath(QPointF(*corners[0]))
    for corner in corners[1:]:
        path.lineTo(QPointF(*corner))
    path.closeSubpath()
    return path


@cache
def _outline(mark: str) -> QPainterPath:
    """Return the shape of a mark, of about the area of the unit circle."""
    path = QPainterPath()
    if mark == "square":
        path.addRect(QRectF(-0.88, -0.88, 1.76, 1.76))
    elif mark == "triangle":
        path = _polygon([(0.0, -1.22), (1.12, 0.78), (-1.12, 0.78)])
    elif mark == "diamond":
        path = _polygon([(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)])
    elif mark == "star":
        path = _polygon(_around(10, 1.32, 0.69))
    elif mark == "cross":
        a, b = 0.42, 1.12
        path = _polygon(
            [(-a, -b), (a, -b), (a, -a), (b, -a), (b, a), (a, a),
             (a, b), (-a, b), (-a, a), (-b, a), (-b, -a), (-a, -a)]
        )  # fmt: skip
    elif mark == "pentagon":
        path = _polygon(_around(5, 1.12, 1.12))
    else:
        path.addEllipse(QPointF(0.0, 0.0), 1.0, 1.0)
    return path


def _scaled(path: QPainterPath, factor: float, dy: float = 0.0) -> QPainterPath:
    return QTransform(factor, 0.0, 0.0, factor, 0.0, dy).map(path)


def paint_mark(
    painter: QPainter,
    x_px: float,
    y_px: float,
    radius_px: float,
    style: MarkStyle,
    theme: Theme,
    unit: float = 1.0,
) -> None:
    """Paint one mark as paths; `unit` is the thickness of a thin line on the device."""
    painter.save()
    painter.translate(x_px, y_px)
    outline = QPen(QColor(theme.mark_outline), 1.2 * unit * min(theme.line_scale, 1.6))
    outline.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    colour = QColor(theme.mark_outline if theme.is_monochrome else style.colour)
    painter.setPen(outline)
    if style.state == "stake":
        _paint_stake(painter, radius_px, theme, outline)
    else:
        _paint_bait(painter, radius_px, style, theme, colour)
    painter.restore()


def _paint_bait(
    painter: QPainter, radius_px: float, style: MarkStyle, theme: Theme, colour: QColor
) -> None:
    core = QColor(theme.mark_core)
    shape = _scaled(_outline(style.mark), radius_px)
    is_hollow = style.state in ("planned", "lost")
    if style.mark == "ring":
        # A disc within a ring, so that a planned circle is not taken for it.
        painter.setBrush(core)
        painter.drawPath(shape)
        inner = _scaled(shape, 0.6)
        painter.setBrush(colour)
        painter.drawPath(inner)
        if is_hollow:
            painter.setBrush(core)
            painter.drawPath(_scaled(inner, 0.55))
    else:
        painter.setBrush(colour)
        painter.drawPath(shape)
        if is_hollow:
            painter.setBrush(core)
            # The core of a triangle sits on its centroid, which lies under the middle.
            painter.drawPath(_scaled(shape, 0.48, 0.06 * radius_px * (style.mark == "triangle")))
    if style.state == "lifted":
        _paint_tick(painter, radius_px, theme)
    elif style.state == "lost":
        _paint_strokes(painter, radius_px, theme, theme.short_gap, _LOST)


_TICK: Final = ((-0.55, 0.02), (-0.12, 0.48), (0.66, -0.5))
_LOST: Final = (((-1.2, -1.2), (1.2, 1.2)), ((-1.2, 1.2), (1.2, -1.2)))


def _paint_tick(painter: QPainter, radius_px: float, theme: Theme) -> None:
    """Paint a tick on a small disc at the upper right, clear of the shape of the bait."""
    middle = QPointF(0.82 * radius_px, -0.82 * radius_px)
    reach = 0.72 * radius_px
    painter.setBrush(QColor(theme.mark_core))
    painter.drawEllipse(middle, reach, reach)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    pen = QPen(QColor(theme.mark_outline), 0.26 * radius_px)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.drawPolyline([middle + QPointF(x, y) * reach for x, y in _TICK])


def _paint_strokes(
    painter: QPainter,
    radius_px: float,
    theme: Theme,
    colour: str,
    strokes: tuple[tuple[tuple[float, float], tuple[float, float]], ...],
) -> None:
    for width, shade in ((0.52, theme.mark_core), (0.28, colour)):
        pen = QPen(QColor(shade), width * radius_px)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        for start, end in strokes:
            painter.drawLine(QPointF(*start) * radius_px, QPointF(*end) * radius_px)


def _paint_stake(painter: QPainter, radius_px: float, theme: Theme, outline: QPen) -> None:
    """Paint a post with a small flag: a place to measure from, where nothing fishes."""
    r = radius_px
    post = QPen(outline.color(), 0.3 * r)
    post.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(post)
    painter.drawLine(QPointF(0, 0), QPointF(0, -2.0 * r))
    painter.setPen(outline)
    painter.setBrush(QColor(theme.mark_core))
    painter.drawPath(_polygon([(0, -2.0 * r), (1.3 * r, -1.55 * r), (0, -1.1 * r)]))
    painter.setBrush(outline.color())
    painter.drawEllipse(QPointF(0, 0), 0.38 * r, 0.38 * r)


class MarkStamps:
    """Marks painted once and stamped many times: for the screen only, paper gets paths."""

    def __init__(self) -> None:
        self._stamps: dict[tuple[MarkStyle, float, str, float], QPixmap] = {}

    def stamp(self, style: MarkStyle, radius_px: float, theme: Theme, ratio: float) -> QPixmap:
        """Return the picture of a mark, its place in the middle; `ratio` is device px a px."""
        key = (style, radius_px, theme.name, ratio)
        found = self._stamps.get(key)
        if found is None:
            if len(self._stamps) > 2000:  # sizes that came by while zooming are not kept for ever
                self._stamps.clear()
            found = self._stamps[key] = self._painted(style, radius_px, theme, ratio)
        return found

    def _painted(self, style: MarkStyle, radius_px: float, theme: Theme, ratio: float) -> QPixmap:
        # Room for the tick, the flag of a stake and the pen.
        side = 2 * math.ceil(radius_px * 2.3 + 3)
        picture = QPixmap(round(side * ratio), round(side * ratio))
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_mark(painter, side / 2, side / 2, radius_px, style, theme)
        painter.end()
        return picture

"""Paint a matplotlib figure with a QPainter: vectors on paper, clipped right, text as text.

matplotlib is imported at once, so import this module only where a chart is painted.
Mathematical text, hatches and gradients are not painted: our charts have none.
"""

import math
from collections.abc import Sequence
from typing import Any, Final, cast

import numpy as np
from matplotlib.backend_bases import FigureCanvasBase, GraphicsContextBase, RendererBase
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Transform
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QGuiApplication,
    QImage,
    QPainter,
    QPainterPath,
    QPdfWriter,
    QPen,
    QTransform,
)

POINTS_PER_INCH: Final = 72.0
CAPS: Final = {
    "butt": Qt.PenCapStyle.FlatCap,
    "round": Qt.PenCapStyle.RoundCap,
    "projecting": Qt.PenCapStyle.SquareCap,
}
JOINS: Final = {
    "miter": Qt.PenJoinStyle.MiterJoin,
    "round": Qt.PenJoinStyle.RoundJoin,
    "bevel": Qt.PenJoinStyle.BevelJoin,
}
GENERIC_FAMILIES: Final = {"sans-serif", "serif", "monospace", "cursive", "fantasy"}


def paint_figure(painter: QPainter, rect: QRectF, figure: Figure) -> None:
    """Paint a figure into a rectangle of any device; its font sizes are points there.

    The figure takes the size of the rectangle and the resolution of the device.
    """
    dpi = float(painter.device().logicalDpiX())
    figure.set_dpi(dpi)
    figure.set_size_inches(rect.width() / dpi, rect.height() / dpi)
    renderer = PainterRenderer(painter, rect.width(), rect.height(), dpi)
    _PaintedCanvas(figure, renderer)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(rect, Qt.ClipOperation.IntersectClip)
    painter.translate(rect.topLeft())
    figure.draw(renderer)
    painter.restore()


class _PaintedCanvas(FigureCanvasBase):
    """What a figure asks for a renderer when it lays itself out."""

    def __init__(self, figure: Figure, renderer: "PainterRenderer") -> None:
        super().__init__(figure)
        self._renderer = renderer

    def get_renderer(self) -> "PainterRenderer":
        return self._renderer


class PainterRenderer(RendererBase):
    """matplotlib's drawing calls as calls of a QPainter; y grows upward there and down here."""

    def __init__(self, painter: QPainter, width: float, height: float, dpi: float) -> None:
        super().__init__()
        self._painter = painter
        self._size = (width, height)
        self._dpi = dpi

    # What matplotlib asks

    def get_canvas_width_height(self) -> tuple[float, float]:
        return self._size

    def points_to_pixels(self, points: Any) -> Any:
        return points * self._dpi / POINTS_PER_INCH

    def flipy(self) -> bool:
        return True

    def option_image_nocomposite(self) -> bool:
        return True

    def get_text_width_height_descent(
        self, s: str, prop: FontProperties, ismath: Any
    ) -> tuple[float, float, float]:
        metrics = QFontMetricsF(self._font(prop), self._painter.device())
        width = metrics.horizontalAdvance(_plain(s, ismath))
        return width, metrics.ascent() + metrics.descent(), metrics.descent()

    # What matplotlib has drawn

    def draw_path(
        self,
        gc: GraphicsContextBase,
        path: Path,
        transform: Transform,
        rgbFace: Any = None,
    ) -> None:
        made = self._path(path, transform)
        painter = self._painter
        painter.save()
        self._clip(gc)
        if rgbFace is not None:
            forced = gc.get_alpha() if gc.get_forced_alpha() else None
            painter.fillPath(made, _colour(rgbFace, forced))
        pen = self._pen(gc)
        if pen is not None:
            painter.strokePath(made, pen)
        painter.restore()

    def draw_image(
        self, gc: GraphicsContextBase, x: float, y: float, im: Any, transform: Any = None
    ) -> None:
        pixels = np.ascontiguousarray(im[::-1])
        height, width = pixels.shape[:2]
        image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGBA8888)
        painter = self._painter
        painter.save()
        self._clip(gc)
        if transform is None:
            painter.drawImage(QPointF(x, self._size[1] - y - height), image)
        else:
            a, b, c, d, e, f = transform.frozen().to_values()
            scale = QTransform(a / width, -b / width, -c / height, d / height, 0.0, 0.0)
            painter.translate(x + e, self._size[1] - y - f)
            painter.setTransform(scale, True)
            painter.drawImage(QPointF(0.0, -height), image)
        painter.restore()

    def draw_text(
        self,
        gc: GraphicsContextBase,
        x: float,
        y: float,
        s: str,
        prop: FontProperties,
        angle: float,
        ismath: Any = False,
        mtext: Any = None,
    ) -> None:
        painter = self._painter
        painter.save()
        self._clip(gc)
        painter.translate(x, y)
        painter.rotate(-angle)
        painter.setFont(self._font(prop))
        painter.setPen(_colour(gc.get_rgb()))
        painter.drawText(QPointF(0.0, 0.0), _plain(s, ismath))
        painter.restore()

    # Into Qt's terms

    def _path(self, path: Path, transform: Transform) -> QPainterPath:
        to_device = Affine2D().scale(1.0, -1.0).translate(0.0, self._size[1])
        made = QPainterPath()
        for points, code in path.iter_segments(transform + to_device, remove_nans=True):
            spots = [QPointF(x, y) for x, y in np.reshape(points, (-1, 2)).tolist()]
            if code == Path.MOVETO:
                made.moveTo(spots[0])
            elif code == Path.LINETO:
                made.lineTo(spots[0])
            elif code == Path.CURVE3:
                made.quadTo(spots[0], spots[1])
            elif code == Path.CURVE4:
                made.cubicTo(spots[0], spots[1], spots[2])
            elif code == Path.CLOSEPOLY:
                made.closeSubpath()
        return made

    def _clip(self, gc: GraphicsContextBase) -> None:
        box = gc.get_clip_rectangle()
        if box is not None:
            x, y, width, height = box.bounds
            rect = QRectF(x, self._size[1] - y - height, width, height)
            self._painter.setClipRect(rect, Qt.ClipOperation.IntersectClip)
        outline, transform = gc.get_clip_path()
        if outline is not None and transform is not None:
            # The stubs say TransformedPath, of which this is the path.
            made = self._path(cast("Path", outline), transform)
            self._painter.setClipPath(made, Qt.ClipOperation.IntersectClip)

    def _pen(self, gc: GraphicsContextBase) -> QPen | None:
        width = self.points_to_pixels(gc.get_linewidth())
        colour = _colour(gc.get_rgb())
        if width <= 0 or colour.alpha() == 0:
            return None
        pen = QPen(colour, width)
        pen.setCapStyle(CAPS[str(gc.get_capstyle())])
        pen.setJoinStyle(JOINS[str(gc.get_joinstyle())])
        offset, dashes = gc.get_dashes()
        if dashes is not None:
            # matplotlib gives points, Qt wants widths of the pen.
            pen.setDashPattern((self.points_to_pixels(np.asarray(dashes)) / width).tolist())
            pen.setDashOffset(self.points_to_pixels(offset) / width)
        return pen

    def _font(self, prop: FontProperties) -> QFont:
        families = [name for name in prop.get_family() if name not in GENERIC_FAMILIES]
        font = QFont(QGuiApplication.font())
        if families:
            font.setFamilies(families)
        device_dpi = self._painter.device().logicalDpiX()
        font.setPointSizeF(prop.get_size_in_points() * self._dpi / device_dpi)
        weight = prop.get_weight()
        is_bold = weight in ("bold", "semibold", "heavy", "black") or (
            isinstance(weight, int) and weight >= 600
        )
        font.setBold(is_bold)
        font.setItalic(prop.get_style() in ("italic", "oblique"))
        if isinstance(self._painter.device(), QPdfWriter):
            # Joined letters are not found when the text of a PDF is searched.
            font.setFeature(QFont.Tag("liga"), 0)
        return font


def _plain(text: str, ismath: Any) -> str:
    """Return text without the signs of mathematical text, which is not painted."""
    return text.replace("$", "") if ismath else text


def _colour(rgba: Sequence[float], alpha: float | None = None) -> QColor:
    parts = [float(part) for part in rgba]
    opacity = alpha if alpha is not None else parts[3] if len(parts) > 3 else 1.0
    if not all(math.isfinite(part) for part in (*parts, opacity)):
        return QColor(0, 0, 0, 0)
    return QColor.fromRgbF(parts[0], parts[1], parts[2], opacity)

"""Which part of the plane a map shows: its middle and metres per pixel, north always up."""

import math
from dataclasses import dataclass, replace
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QMarginsF, QPointF, QRectF
from PySide6.QtGui import QTransform

from trapline.drawing.map_content import MapContent

FloatArray = NDArray[np.float64]

# Closer than a centimetre a pixel means nothing for a trap; 500 m covers a large lake's shore.
FINEST_M_PER_PX: Final = 0.005
COARSEST_M_PER_PX: Final = 500.0
# A lone place is shown amid some 200 m of water, since nothing else says how close to look.
LONE_SPAN_M: Final = 200.0


@dataclass(frozen=True, slots=True)
class MapView:
    """The place in the middle of the rectangle, and the scale; a pixel is a painter's unit."""

    east_m: float = 0.0
    north_m: float = 0.0
    metres_per_px: float = 0.25

    @overload
    def to_px(self, rect: QRectF, east_m: float, north_m: float) -> tuple[float, float]: ...
    @overload
    def to_px(
        self, rect: QRectF, east_m: FloatArray, north_m: FloatArray
    ) -> tuple[FloatArray, FloatArray]: ...
    def to_px(
        self, rect: QRectF, east_m: float | FloatArray, north_m: float | FloatArray
    ) -> tuple[float | FloatArray, float | FloatArray]:
        """Return x and y in a painter's units."""
        centre = rect.center()
        x = centre.x() + (east_m - self.east_m) / self.metres_per_px
        y = centre.y() - (north_m - self.north_m) / self.metres_per_px
        return x, y

    def to_plane(self, rect: QRectF, x_px: float, y_px: float) -> tuple[float, float]:
        """Return east and north in metres."""
        centre = rect.center()
        return (
            self.east_m + (x_px - centre.x()) * self.metres_per_px,
            self.north_m - (y_px - centre.y()) * self.metres_per_px,
        )

    def row_at(
        self, content: MapContent, rect: QRectF, at: QPointF, within_px: float
    ) -> int | None:
        """Return the row of the place drawn nearest to a point, or None within reach of none."""
        if not content.ids:
            return None
        x, y = self.to_px(rect, content.east_m, content.north_m)
        squared = np.where(content.is_drawable, (x - at.x()) ** 2 + (y - at.y()) ** 2, np.inf)
        row = int(np.argmin(squared))
        return row if squared[row] <= within_px**2 else None

    def window(self, rect: QRectF, margin_px: float = 0.0) -> tuple[float, float, float, float]:
        """Return west, south, east, north in metres of what the rectangle shows."""
        half_e = (rect.width() / 2 + margin_px) * self.metres_per_px
        half_n = (rect.height() / 2 + margin_px) * self.metres_per_px
        return (
            self.east_m - half_e,
            self.north_m - half_n,
            self.east_m + half_e,
            (self.north_m + half_n),
        )

    def transform(self, rect: QRectF) -> QTransform:
        """Return the way from (east, -north) in metres to a painter's units."""
        scale, centre = 1.0 / self.metres_per_px, rect.center()
        return QTransform(
            scale, 0.0, 0.0, scale,
            centre.x() - self.east_m * scale, centre.y() + self.north_m * scale,
        )  # fmt: skip

    def panned(self, dx_px: float, dy_px: float) -> "MapView":
        """Return the view after its picture moved by some pixels."""
        return replace(
            self,
            east_m=self.east_m - dx_px * self.metres_per_px,
            north_m=self.north_m + dy_px * self.metres_per_px,
        )

    def zoomed(self, factor: float, rect: QRectF, about: QPointF) -> "MapView":
        """Return the view closer by a factor, with the place under `about` where it was."""
        east_m, north_m = self.to_plane(rect, about.x(), about.y())
        scale = min(max(self.metres_per_px / factor, FINEST_M_PER_PX), COARSEST_M_PER_PX)
        ratio = scale / self.metres_per_px
        return MapView(
            east_m + (self.east_m - east_m) * ratio,
            north_m + (self.north_m - north_m) * ratio,
            scale,
        )


def fitted(
    extent: tuple[float, float, float, float] | None, rect: QRectF, inset: QMarginsF
) -> MapView:
    """Return the view that shows west, south, east, north (metres) in a rectangle less an inset."""
    if extent is None:
        return MapView(0.0, 0.0, LONE_SPAN_M / max(rect.width(), 1.0))
    west, south, east, north = extent
    inner = rect.marginsRemoved(inset)
    if inner.width() < 40 or inner.height() < 40:
        inner = rect
    scale = max((east - west) / max(inner.width(), 1.0), (north - south) / max(inner.height(), 1.0))
    if not scale > 0:
        scale = LONE_SPAN_M / max(inner.width(), 1.0)
    scale = min(max(scale, FINEST_M_PER_PX), COARSEST_M_PER_PX)
    if not math.isfinite(scale):
        return MapView()
    # The middle of what is shown lies in the middle of the inner rectangle, not of the whole.
    shift = inner.center() - rect.center()
    return MapView(
        (west + east) / 2 - shift.x() * scale, (south + north) / 2 + shift.y() * scale, scale
    )


def fit_content(content: MapContent, rect: QRectF, inset: QMarginsF) -> MapView:
    """Return the view that shows all places and plumes, or the shoreline where there are none."""
    return fitted(content.extent(), rect, inset)

"""An invented lake with twelve traps, and pictures to paint it into."""

import os
from collections.abc import Callable
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.drawing.map_content import GapLine, MapContent, MarkStyle, PlumeShape, Unplaced
from trapline.drawing.map_painter import paint_map
from trapline.drawing.theme import LIGHT

BAITS = (
    ("Fish heads", "#0072B2", "circle"),
    ("Fish paste", "#E69F00", "square"),
    ("Corn", "#009E73", "triangle"),
    ("No bait", "#F0E442", "diamond"),
)
REACHES_M = (22.0, 16.0, 9.0, 0.0)


def _circle(east_m: float, north_m: float, radius_m: float) -> np.ndarray:
    angles = np.linspace(0.0, 2 * np.pi, 48, endpoint=False)
    return np.column_stack(
        [east_m + radius_m * np.cos(angles), north_m + radius_m * np.sin(angles)]
    )


def make_lake(**changes: Any) -> MapContent:
    """Twelve traps along the south shore of a lake near 7.1 E 46.2 N, three without position."""
    n = 12
    angles = np.linspace(2.6, 5.4, n)
    east_m, north_m = 150 * np.cos(angles), 80 * np.sin(angles)
    east_m[5], north_m[5] = east_m[4] + 7.0, north_m[4] - 3.0
    which = [0, 1, 2, 3, 2, 0, 1, 3, 0, 2, 1, 0]
    plumes = tuple(
        PlumeShape(row, _circle(east_m[row], north_m[row], REACHES_M[bait]))
        for row, bait in enumerate(which)
        if REACHES_M[bait]
    )
    shore = _circle(0.0, 0.0, 1.0) * [175.0, 100.0]
    fields: dict[str, Any] = {
        "anchor_lon_deg": 7.1,
        "anchor_lat_deg": 46.2,
        "ids": tuple(f"place-{row}" for row in range(n)),
        "set_ids": tuple(f"set-{row}" for row in range(n)),
        "labels": tuple(f"T{row + 1}" for row in range(n)),
        "east_m": east_m,
        "north_m": north_m,
        "styles": tuple(MarkStyle(*bait, "set") for bait in BAITS),
        "style_of": np.array(which),
        "plumes": plumes,
        "meetings": np.array([[0, 1], [1, 2]]),
        "gaps": (GapLine(4, 5, "7.62 m"), GapLine(10, 11, "31.1 m", "wide")),
        "links": (np.arange(n),),
        "shorelines": (shore,),
        "current_m_s": 0.06,
        "current_to_deg": 112.0,
        "unplaced": tuple(
            Unplaced(f"loose-{k}", f"L{k}", MarkStyle(*BAITS[k], "planned"), f"loose-set-{k}")
            for k in range(3)
        ),
    }
    fields.update(changes)
    return MapContent(**fields)


def make_many(n: int, seed: int = 3) -> MapContent:
    """n places about 12 m apart, four baits, a plume each, in one long line."""
    rng = np.random.default_rng(seed)
    side = int(np.ceil(np.sqrt(n)))
    grid = np.indices((side, side)).reshape(2, -1)[:, :n] * 12.0
    east_m, north_m = grid + rng.uniform(-3, 3, grid.shape)
    which = rng.integers(0, 4, n)
    unit = _circle(0.0, 0.0, 5.0)
    spots = np.column_stack([east_m, north_m])
    return MapContent(
        anchor_lon_deg=7.1,
        anchor_lat_deg=46.2,
        ids=tuple(map(str, range(n))),
        labels=tuple(f"T{row}" for row in range(n)),
        east_m=east_m,
        north_m=north_m,
        styles=tuple(MarkStyle(*bait, "set") for bait in BAITS),
        style_of=which,
        plumes=tuple(PlumeShape(row, unit + spots[row]) for row in range(n)),
        links=(np.arange(n),),
    )


@pytest.fixture
def lake() -> MapContent:
    return make_lake()


@pytest.fixture
def lake_with() -> Callable[..., MapContent]:
    return make_lake


@pytest.fixture
def many_places() -> Callable[..., MapContent]:
    return make_many


@pytest.fixture
def picture(qapp: Any) -> Callable[..., QImage]:
    """Paint a map into a picture of 1000 × 650; returns the picture."""

    def paint(content: MapContent, theme: Any = LIGHT, *, view: Any = None, size: Any = (1000, 650),
              ratio: float = 1.0, **choices: Any) -> QImage:  # fmt: skip
        image = QImage(
            round(size[0] * ratio),
            round(size[1] * ratio),
            QImage.Format.Format_ARGB32_Premultiplied,
        )
        image.setDevicePixelRatio(ratio)
        image.fill(QColor("#ff00ff"))
        painter = QPainter(image)
        paint_map(painter, QRectF(0, 0, *size), view, content, theme, **choices)
        painter.end()
        return image

    return paint

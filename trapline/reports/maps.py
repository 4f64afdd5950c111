"""Maps in a report: the whole line, and its stretches where the whole is too crowded to read."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from PySide6.QtCore import QMarginsF, QRectF
from PySide6.QtGui import QPainter

from trapline.drawing.map_content import IndexArray, MapContent
from trapline.drawing.map_painter import paint_map
from trapline.drawing.map_view import fitted
from trapline.drawing.theme import Theme
from trapline.reports.blocks import paragraph, picture, space
from trapline.reports.letters import CAPTION
from trapline.reports.page import Piece, mm

LEAST_MM: Final = 78.0
MOST_MM: Final = 150.0
# Closer than this on paper, marks and labels of neighbours run into each other.
CROWDED_MM: Final = 8.0
STRETCH: Final = 16
# Four of them on a page of Letter.
STRETCH_MM: Final = 55.0
# The share of the width that places get beside the legend.
INNER_SHARE: Final = 0.66


def map_pieces(
    content: MapContent, theme: Theme, width: float, room: float, *, fills_page: bool = False
) -> Iterator[Piece]:
    """Yield the map of the whole line, then its stretches where that is too crowded.

    Parameters
    ----------
    fills_page : bool
        Take all that the page has left, else as much as the places need.
    """
    wanted = _wanted(content, np.arange(len(content.ids)), 0.8 * width, room)
    height = room if fills_page else wanted

    def paint(painter: QPainter, rect: QRectF) -> None:
        paint_map(painter, rect, None, content, theme, paper=True)

    yield picture(paint, max(height, mm(LEAST_MM)), mm(LEAST_MM))
    if not is_crowded(content, 0.8 * width, 0.8 * wanted):
        return
    for rows in stretches(content):
        words = f"{content.labels[rows[0]]} to {content.labels[rows[-1]]}"
        yield space(2.5)
        yield from paragraph(words, width, CAPTION, keeps_with_next=True)
        yield _stretch(content, theme, rows, width, room)


def is_crowded(content: MapContent, width: float, height: float) -> bool:
    """Return whether neighbours run into each other when all places share one map."""
    extent = content.extent(_fished(content))
    if extent is None:
        return False
    west, south, east, north = extent
    metres_per_unit = max((east - west) / width, (north - south) / height)
    rows = _fished(content)
    legs_m = np.hypot(np.diff(content.east_m[rows]), np.diff(content.north_m[rows]))
    if len(rows) <= STRETCH or not legs_m.size or metres_per_unit <= 0:
        return False
    return bool(np.median(legs_m) / metres_per_unit < mm(CROWDED_MM))


def stretches(content: MapContent) -> list[Sequence[int]]:
    """Return the places in parts along the line, about equally many in each."""
    rows = _fished(content)
    n_parts = -(-len(rows) // STRETCH)
    return [part.tolist() for part in np.array_split(np.array(rows), n_parts)]


def _fished(content: MapContent) -> list[int]:
    """Return the rows of places with a position, stakes apart, in the order of the line."""
    return [
        row
        for row in range(len(content.ids))
        if content.is_drawable[row] and content.style(row).state != "stake"
    ]


def _stretch(
    content: MapContent, theme: Theme, rows: Sequence[int], width: float, room: float
) -> Piece:
    def paint(painter: QPainter, rect: QRectF) -> None:
        wide, high = rect.width(), rect.height()
        # The legend stands at the left, scale and shelf at the foot.
        inset = QMarginsF((0.93 - INNER_SHARE) * wide, 0.16 * high, 0.07 * wide, 0.22 * high)
        view = fitted(content.extent(rows), rect, inset)
        paint_map(painter, rect, view, content, theme, paper=True)

    height = _wanted(content, np.array(rows), INNER_SHARE * width, room)
    return picture(paint, max(height, mm(STRETCH_MM)))


def _wanted(content: MapContent, rows: IndexArray, inner: float, room: float) -> float:
    """Return the height that places need when they fill a width."""
    extent = content.extent(rows.tolist()) if len(rows) else content.extent()
    west, south, east, north = extent or (0.0, 0.0, 1.0, 1.0)
    shape = (north - south) / max(east - west, 1e-9)
    return min(inner * shape + mm(40.0), mm(MOST_MM), 0.7 * room)

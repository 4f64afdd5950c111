"""What a map shows, without Qt: places in plane metres, plumes, gaps, line, shoreline.

Made by map_builder.py from the model; painted by map_painter.py.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from trapline.errors import InvalidValue
from trapline.science.geodesy import LocalPlane

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]

STATES: Final = ("planned", "set", "lifted", "lost", "stake")
GAP_KINDS: Final = ("short", "unsure", "wide")


@dataclass(frozen=True, slots=True)
class MarkStyle:
    """How a place is drawn: the colour and shape of its bait, and how far its trap has come."""

    bait: str = ""
    colour: str = "#000000"
    mark: str = "circle"
    state: str = "planned"


@dataclass(frozen=True, eq=False, slots=True)
class PlumeShape:
    """The assumed reach about one place: a ring of shape (k, 2), east and north in metres."""

    owner: int
    outline: FloatArray
    meets_other_bait: bool = False


@dataclass(frozen=True, slots=True)
class GapLine:
    """A gap to warn of, between two places by index; `text` is written on it."""

    first: int
    second: int
    text: str
    kind: str = "short"


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A place without a position: drawn in its order beside the map, never with a gap."""

    id: str
    label: str
    style: MarkStyle
    set_id: str = ""


def _no_numbers() -> FloatArray:
    return np.empty(0, dtype=np.float64)


def _no_indices() -> IndexArray:
    return np.empty(0, dtype=np.intp)


@dataclass(frozen=True, eq=False, kw_only=True)
class MapContent:
    """Everything that a map shows. Rows of the n placed places go together by index.

    Attributes
    ----------
    anchor_lon_deg, anchor_lat_deg : float
        The place where the plane of the metres touches the earth.
    east_m, north_m : ndarray of float, shape (n,)
        From the anchor. A row that is NaN is not drawn and not found.
    ids, set_ids, labels : tuple of str, length n
        The place, the trap set that stands there in this round ("" for none), the label.
    styles, style_of : tuple of MarkStyle; ndarray of int, shape (n,)
        The different looks, and which of them each row has.
    size_factors : ndarray of float, shape (n,)
        1 for the usual size of a mark; empty when all have it.
    meetings : ndarray of int, shape (k, 2)
        Pairs of `plumes` of different baits that share water: hatched where they do.
    links : tuple of ndarray of int
        Each the rows of one line in its order.
    shorelines : tuple of ndarray, shape (k, 2)
        Rings, east and north in metres; the first holds the water, others are islands in it.
    current_m_s, current_to_deg : float or None
        Where the water flows *towards*, clockwise from north.
    """

    anchor_lon_deg: float = 0.0
    anchor_lat_deg: float = 0.0
    ids: tuple[str, ...] = ()
    set_ids: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    east_m: FloatArray = field(default_factory=_no_numbers)
    north_m: FloatArray = field(default_factory=_no_numbers)
    styles: tuple[MarkStyle, ...] = ()
    style_of: IndexArray = field(default_factory=_no_indices)
    size_factors: FloatArray = field(default_factory=_no_numbers)
    plumes: tuple[PlumeShape, ...] = ()
    meetings: IndexArray = field(default_factory=_no_indices)
    gaps: tuple[GapLine, ...] = ()
    links: tuple[IndexArray, ...] = ()
    shorelines: tuple[FloatArray, ...] = ()
    current_m_s: float | None = None
    current_to_deg: float | None = None
    unplaced: tuple[Unplaced, ...] = ()
    length_unit: str = "m"

    def __post_init__(self) -> None:
        n = len(self.ids)
        sizes = {len(self.labels), self.east_m.size, self.north_m.size, self.style_of.size}
        if sizes != {n} or self.size_factors.size not in (0, n) or len(self.set_ids) not in (0, n):
            raise InvalidValue(
                f"A map of {n} places was given columns of other lengths.",
                "map",
                "Give one value of each for every place.",
            )

    def without_checks(self) -> "MapContent":
        """Return the places alone, without reaches and gaps: a map to find one's way by."""
        return replace(self, plumes=(), gaps=(), meetings=_no_indices())

    @property
    def plane(self) -> LocalPlane:
        """The plane of the metres, to go to degrees and back."""
        return LocalPlane(self.anchor_lon_deg, self.anchor_lat_deg)

    @cached_property
    def is_drawable(self) -> NDArray[np.bool_]:
        """Which rows have a position that can be drawn."""
        return np.isfinite(self.east_m) & np.isfinite(self.north_m)

    @cached_property
    def plume_boxes(self) -> FloatArray:
        """West, south, east, north of every plume in metres, shape (p, 4)."""
        boxes = [(*p.outline.min(axis=0), *p.outline.max(axis=0)) for p in self.plumes]
        return np.array(boxes, dtype=np.float64).reshape(-1, 4)

    @cached_property
    def plumes_of(self) -> dict[int, list[int]]:
        """The plumes by the row that owns them."""
        found: dict[int, list[int]] = {}
        for number, plume in enumerate(self.plumes):
            found.setdefault(plume.owner, []).append(number)
        return found

    @cached_property
    def _rows(self) -> dict[str, int]:
        rows = {key: row for row, key in enumerate(self.set_ids) if key}
        rows.update({key: row for row, key in enumerate(self.ids)})
        return rows

    def row(self, key: str) -> int | None:
        """The row of a place, found by its own id or by the id of the trap set there."""
        return self._rows.get(key)

    def unplaced_row(self, key: str) -> int | None:
        """The number of a place without a position, by either id."""
        for number, spot in enumerate(self.unplaced):
            if key in (spot.id, spot.set_id) and key:
                return number
        return None

    def place_id(self, key: str) -> str | None:
        """The id of the place that a place id or a set id means, or None."""
        row = self.row(key)
        if row is not None:
            return self.ids[row]
        number = self.unplaced_row(key)
        return None if number is None else self.unplaced[number].id

    def style(self, row: int) -> MarkStyle:
        """The look of a row."""
        return self.styles[int(self.style_of[row])]

    def extent(self, rows: Iterable[int] | None = None) -> tuple[float, float, float, float] | None:
        """West, south, east, north in metres of some rows, or of all with plumes; None of none."""
        chosen = np.arange(len(self.ids)) if rows is None else np.fromiter(rows, np.intp)
        chosen = chosen[self.is_drawable[chosen]]
        points = [np.column_stack([self.east_m[chosen], self.north_m[chosen]])]
        if rows is None:
            points += [self.plume_boxes[:, :2], self.plume_boxes[:, 2:]]
            if not chosen.size:
                points += list(self.shorelines)
        together = np.concatenate(points)
        together = together[np.isfinite(together).all(axis=1)]
        if not len(together):
            return None
        (west, south), (east, north) = together.min(axis=0), together.max(axis=0)
        return float(west), float(south), float(east), float(north)

    def nearest(self, row: int) -> tuple[int, float] | None:
        """The nearest other row (stakes apart) and its distance by the geodesic, in metres."""
        from trapline.science.geodesy import geodesic_distance

        squared = (self.east_m - self.east_m[row]) ** 2 + (self.north_m - self.north_m[row]) ** 2
        fished = np.array([style.state != "stake" for style in self.styles])[self.style_of]
        squared = np.where(self.is_drawable & fished, squared, np.inf)
        squared[row] = np.inf
        other = int(np.argmin(squared))
        if not np.isfinite(squared[other]):
            return None
        pair = [row, other]
        lon_deg, lat_deg = self.plane.to_earth(self.east_m[pair], self.north_m[pair])
        return other, float(geodesic_distance(lon_deg[0], lat_deg[0], lon_deg[1], lat_deg[1]))

"""Which positions of a plain list stand too close, and which too far from all others?"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from trapline.errors import InvalidValue
from trapline.science.spacing import most_pairs, nearest_neighbours, pairs_closer_than
from trapline.units import length_text

# More fill the memory of a small computer, and nobody reads them.
MOST_PAIRS: Final = 2_000_000


@dataclass(frozen=True, slots=True)
class ClosePair:
    """Two positions closer than the minimum; `a` stands earlier in the list."""

    a: str
    b: str
    distance_m: float


@dataclass(frozen=True, slots=True)
class LonelyPosition:
    """A position farther from its nearest neighbour than the maximum."""

    id: str
    nearest: str
    distance_m: float


@dataclass(frozen=True)
class PositionGaps:
    """The gaps of a list of positions: the closest pair first, the lonely in order of the list."""

    pairs: tuple[ClosePair, ...]
    lonely: tuple[LonelyPosition, ...]
    n_positions: int

    @property
    def found_something(self) -> bool:
        """Whether a gap is too short or a position too far from all others."""
        return bool(self.pairs or self.lonely)

    def as_dict(self) -> dict[str, Any]:
        """Return the gaps as the command line prints them."""
        return {
            "pairs": [{"a": row.a, "b": row.b, "distance_m": row.distance_m} for row in self.pairs],
            "lonely": [
                {"id": row.id, "nearest": row.nearest, "distance_m": row.distance_m}
                for row in self.lonely
            ],
            "n_positions": self.n_positions,
        }


def gaps_of_positions(
    ids: Sequence[str],
    lon_deg: ArrayLike,
    lat_deg: ArrayLike,
    min_gap_m: float,
    max_gap_m: float | None = None,
) -> PositionGaps:
    """Return the pairs and the lonely ones of a list of positions, with distances in metres.

    Parameters
    ----------
    ids : sequence of str, length n
        What each position is called; not compared.
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.
    min_gap_m : float
        Metres, 0 or more. Closer is strictly less.
    max_gap_m : float, optional
        Metres, 0 or more. Lonely is strictly more; a position alone is not.

    Returns
    -------
    PositionGaps
        Pairs by distance, then by their rows in the list.

    Raises
    ------
    InvalidValue
        A position that is missing (NaN) or not on earth (names its index), or such a minimum;
        more than `MOST_PAIRS` pairs.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> found = gaps_of_positions(["a", "b", "c"], [7.0, 7.0001, 7.001], [45.0] * 3, 10.0, 60.0)
    >>> [(row.a, row.b, round(row.distance_m, 3)) for row in found.pairs]
    [('a', 'b', 7.885)]
    >>> [(row.id, row.nearest, round(row.distance_m, 3)) for row in found.lonely]
    [('c', 'b', 70.962)]
    """
    _check_number(most_pairs(lon_deg, lat_deg, min_gap_m), min_gap_m)
    close = pairs_closer_than(lon_deg, lat_deg, min_gap_m)
    pairs = tuple(
        ClosePair(ids[a], ids[b], metres)
        for a, b, metres in zip(
            close.first.tolist(), close.second.tolist(), close.distance_m.tolist(), strict=True
        )
    )
    lonely: tuple[LonelyPosition, ...] = ()
    if max_gap_m is not None:
        index, distance_m = nearest_neighbours(lon_deg, lat_deg)
        # A position without any other has no nearest neighbour to be far from.
        lonely = tuple(
            LonelyPosition(ids[row], ids[index[row]], float(distance_m[row]))
            for row in np.flatnonzero((index >= 0) & (distance_m > max_gap_m)).tolist()
        )
    return PositionGaps(pairs, lonely, len(ids))


def _check_number(n_pairs: int, min_gap_m: float) -> None:
    if n_pairs > MOST_PAIRS:
        raise InvalidValue(
            f"About {n_pairs:,} pairs are closer than {length_text(min_gap_m)}; at most"
            f" {MOST_PAIRS:,} are listed.",
            "minimum gap",
            "Give a shorter one, or check that the positions are not all the same.",
        )

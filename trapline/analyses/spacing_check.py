"""Are the traps of a round far enough apart, and close enough to sample the same ground?"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Round, Trip
from trapline.units import length_text

FloatArray = NDArray[np.float64]

# Assumed error of a handheld fix where none was recorded: about 5 m, from memory.
GPS_ACCURACY_M = 5.0


@dataclass(frozen=True, slots=True)
class Standing:
    """One trap set of the round where it stands or will stand; NaN without a position."""

    set_id: str
    place_id: str
    label: str
    trap: str
    bait_id: str | None
    lon_deg: float
    lat_deg: float
    fix: str
    accuracy_m: float | None


@dataclass(frozen=True, slots=True)
class Gap:
    """Two traps closer than the minimum; `first` stands earlier in the line."""

    first: Standing
    second: Standing
    distance_m: float


@dataclass(frozen=True, slots=True)
class Lonely:
    """A trap farther from its nearest neighbour than the maximum; one alone is not."""

    trap: Standing
    nearest: Standing
    distance_m: float


@dataclass(frozen=True, slots=True)
class Leg:
    """From one place to the next along the line."""

    first: Standing
    second: Standing
    bearing_deg: float
    distance_m: float


@dataclass(frozen=True, slots=True)
class Warning:
    """One sentence to act on; `set_ids` are what *Show* shows. `kind` sorts and marks it."""

    kind: str
    text: str
    set_ids: tuple[str, ...]


@dataclass(frozen=True)
class SpacingCheck:
    """The gaps of one round.

    Attributes
    ----------
    standings : tuple of Standing
        The traps with a position, in the order of the line.
    unplaced : tuple of Standing
        Those without one: they get no verdict.
    nearest : dict of set id to (Standing, metres)
        The nearest neighbour of each.
    """

    min_gap_m: float | None
    max_gap_m: float | None
    standings: tuple[Standing, ...]
    unplaced: tuple[Standing, ...]
    gaps: tuple[Gap, ...]
    lonely: tuple[Lonely, ...]
    legs: tuple[Leg, ...]
    nearest: dict[str, tuple[Standing, float]]
    warnings: tuple[Warning, ...]

    @property
    def found_something(self) -> bool:
        """Whether a gap is too short or a trap too far away."""
        return bool(self.gaps or self.lonely)

    def as_dict(self) -> dict[str, Any]:
        """Return the gaps as the command line prints them."""
        return {
            "pairs": [
                {"a": gap.first.label, "b": gap.second.label, "distance_m": gap.distance_m}
                for gap in self.gaps
            ],
            "lonely": [
                {
                    "id": row.trap.label,
                    "nearest": row.nearest.label,
                    "distance_m": row.distance_m,
                }
                for row in self.lonely
            ],
            "n_positions": len(self.standings),
        }


def standings_of(snapshot: Snapshot, round_id: str) -> tuple[Standing, ...]:
    """Return the trap sets of a round in the order of the line, NaN where one has no position."""
    found = []
    for row in snapshot.sets(round_id):
        place = snapshot.get(Place, row.place_id)
        position = snapshot.position(row) or (math.nan, math.nan)
        bait = snapshot.bait_of(row)
        found.append(
            Standing(
                set_id=row.id,
                place_id=row.place_id or "",
                label=place.label if place else "",
                trap=snapshot.trap_label(row),
                bait_id=bait.id if bait else None,
                lon_deg=position[0],
                lat_deg=position[1],
                fix=place.fix if place else "",
                accuracy_m=place.accuracy_m if place else None,
            )
        )
    return tuple(found)


def check_spacing(snapshot: Snapshot, round_id: str) -> SpacingCheck:
    """Return the gaps, the lonely traps and the legs of a round under its trip's own limits.

    Parameters
    ----------
    snapshot : Snapshot
        The project, or the project with one place moved.
    round_id : str
        The round: traps of other rounds are not compared with.

    Returns
    -------
    SpacingCheck
        Distances in metres on WGS 84; closer is strictly less, farther strictly more.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55 (through pyproj's Geod).
    """
    fished = snapshot.need(Round, round_id)
    trip = snapshot.get(Trip, fished.trip_id)
    return check_standings(
        standings_of(snapshot, round_id),
        trip.min_gap_m if trip else None,
        trip.max_gap_m if trip else None,
    )


def check_standings(
    standings: tuple[Standing, ...], min_gap_m: float | None, max_gap_m: float | None
) -> SpacingCheck:
    """Return the same check for standings that are already at hand, in metres."""
    from trapline.science.spacing import legs, nearest_neighbours, pairs_closer_than

    placed = tuple(row for row in standings if not math.isnan(row.lon_deg))
    lon_deg = np.array([row.lon_deg for row in placed], dtype=np.float64)
    lat_deg = np.array([row.lat_deg for row in placed], dtype=np.float64)
    gaps: tuple[Gap, ...] = ()
    if min_gap_m is not None and len(placed) > 1:
        pairs = pairs_closer_than(lon_deg, lat_deg, min_gap_m)
        gaps = tuple(
            Gap(placed[int(a)], placed[int(b)], float(d))
            for a, b, d in zip(pairs.first, pairs.second, pairs.distance_m, strict=True)
        )
    nearest: dict[str, tuple[Standing, float]] = {}
    along: tuple[Leg, ...] = ()
    if len(placed) > 1:
        index, distance_m = nearest_neighbours(lon_deg, lat_deg)
        nearest = {
            row.set_id: (placed[int(other)], float(metres))
            for row, other, metres in zip(placed, index, distance_m, strict=True)
        }
        bearing_deg, leg_m = legs(lon_deg, lat_deg)
        along = tuple(
            Leg(first, second, float(bearing), float(metres))
            for first, second, bearing, metres in zip(
                placed[:-1], placed[1:], bearing_deg, leg_m, strict=True
            )
        )
    lonely = _lonely(placed, nearest, max_gap_m)
    return SpacingCheck(
        min_gap_m=min_gap_m,
        max_gap_m=max_gap_m,
        standings=placed,
        unplaced=tuple(row for row in standings if math.isnan(row.lon_deg)),
        gaps=gaps,
        lonely=lonely,
        legs=along,
        nearest=nearest,
        warnings=_warnings(gaps, lonely, along, min_gap_m, max_gap_m),
    )


def _lonely(
    placed: tuple[Standing, ...],
    nearest: dict[str, tuple[Standing, float]],
    max_gap_m: float | None,
) -> tuple[Lonely, ...]:
    if max_gap_m is None or len(placed) < 2:
        return ()
    return tuple(
        Lonely(row, *nearest[row.set_id]) for row in placed if nearest[row.set_id][1] > max_gap_m
    )


def _warnings(
    gaps: tuple[Gap, ...],
    lonely: tuple[Lonely, ...],
    along: tuple[Leg, ...],
    min_gap_m: float | None,
    max_gap_m: float | None,
) -> tuple[Warning, ...]:
    found = []
    for gap in gaps:
        there, limit = apart_texts(gap.distance_m, min_gap_m or 0.0)
        text = f"{gap.first.label} and {gap.second.label} are {there} apart, under your {limit}."
        found.append(Warning("gap", text, (gap.first.set_id, gap.second.set_id)))
    for row in lonely:
        there, limit = apart_texts(row.distance_m, max_gap_m or 0.0)
        text = (
            f"{row.trap.label} is {there} from its nearest neighbour {row.nearest.label}, over"
            f" your {limit}: not the same ground any more."
        )
        found.append(Warning("lonely", text, (row.trap.set_id, row.nearest.set_id)))
    unsure = [leg for leg in along if _within_gps_error(leg)]
    if unsure:
        found.append(
            Warning(
                "accuracy",
                f"{len(unsure)} of {len(along)} gaps along the line are smaller than a GPS can"
                " tell: measure them with a rope.",
                tuple(dict.fromkeys(i for leg in unsure for i in (leg.first.set_id,
                                                                  leg.second.set_id))),
            )
        )  # fmt: skip
    return tuple(found)


def apart_texts(distance_m: float, limit_m: float) -> tuple[str, str]:
    """Return a distance and its limit as texts in metres that differ when the numbers do."""
    shown, limit = length_text(distance_m), length_text(limit_m)
    digits = 2
    while shown == limit and distance_m != limit_m and digits < 9:
        digits += 1
        shown, limit = f"{distance_m:.{digits}f} m", f"{limit_m:.{digits}f} m"
    return shown, limit


def _within_gps_error(leg: Leg) -> bool:
    """Whether a leg between two fixes is no longer than their error radii put together."""
    if leg.first.fix != "GPS" or leg.second.fix != "GPS":
        return False
    errors = [row.accuracy_m or GPS_ACCURACY_M for row in (leg.first, leg.second)]
    return leg.distance_m < math.hypot(*errors)

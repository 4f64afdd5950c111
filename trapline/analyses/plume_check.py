"""Where may the scents of a round meet? A risk map of assumptions, never a measurement."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trapline.analyses.spacing_check import Standing, Warning, standings_of
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

FloatArray = NDArray[np.float64]

CHOICE_TEST = (
    "All scents meet: this is a choice test, which bait is taken first when all can be smelt."
)


@dataclass(frozen=True, slots=True)
class Plume:
    """The assumed reach of one bait about its trap: a closed outline in degrees.

    `outline` is one ring of shape (n, 2), columns lon_deg and lat_deg;
    none where the bait reaches nowhere or nothing is assumed.
    """

    standing: Standing
    outline: FloatArray
    meets_other_bait: bool


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two plumes that share water. `word` is "may overlap" or "overlaps"."""

    first: Standing
    second: Standing
    same_bait: bool
    shared_m2: float
    word: str


@dataclass(frozen=True)
class PlumeCheck:
    """The assumed plumes of one round, which of them meet, and what to say of it."""

    plumes: tuple[Plume, ...]
    meetings: tuple[Meeting, ...]
    all_meet: bool
    assumptions: str
    warnings: tuple[Warning, ...]


def check_plumes(snapshot: Snapshot, round_id: str) -> PlumeCheck:
    """Return the assumed plumes of a round and which of them meet, areas in m².

    Parameters
    ----------
    snapshot : Snapshot
        The project, or the project with one place moved.
    round_id : str
        The round: its current decides between circles and plumes.

    Returns
    -------
    PlumeCheck
        Traps without a position or without an assumed reach have no plume.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Shapes: `trapline.science.plume`; the reaches are the user's assumptions.
    """
    fished = snapshot.need(Round, round_id)
    trip = snapshot.get(Trip, fished.trip_id)
    water = snapshot.water_of(trip) if trip else None
    standings = tuple(
        row for row in standings_of(snapshot, round_id) if not math.isnan(row.lon_deg)
    )
    if not standings:
        return PlumeCheck((), (), False, _assumptions(water, fished), ())
    rings, meetings, everything = _shapes(snapshot, standings, fished, water)
    other = {i for pair in meetings if not pair.same_bait for i in _ids(pair)}
    plumes = tuple(
        Plume(row, ring, row.set_id in other)
        for row, ring in zip(standings, rings, strict=True)
        if len(ring)
    )
    return PlumeCheck(
        plumes,
        meetings,
        everything and any(not pair.same_bait for pair in meetings),
        _assumptions(water, fished),
        _warnings(snapshot, standings, meetings, everything),
    )


def _ids(pair: Meeting) -> tuple[str, str]:
    return pair.first.set_id, pair.second.set_id


def _shapes(
    snapshot: Snapshot, standings: tuple[Standing, ...], fished: Round, water: Water | None
) -> tuple[list[FloatArray], tuple[Meeting, ...], bool]:
    """Return each outline in degrees, the pairs that meet, and whether all scents do."""
    from trapline.science.geodesy import LocalPlane, centre_of
    from trapline.science.mixing import MIXING
    from trapline.science.overlap import all_meet, overlap_word
    from trapline.science.plume import (
        meeting_plumes,
        plume_areas,
        plume_outline,
        plume_points,
        plume_polygons,
    )

    lon_deg = np.array([row.lon_deg for row in standings])
    lat_deg = np.array([row.lat_deg for row in standings])
    plane = LocalPlane(*centre_of(lon_deg, lat_deg))
    east_m, north_m = plane.to_plane(lon_deg, lat_deg)
    speed = fished.current_m_s if fished.has_current else None
    shapes = {}
    for bait_id in {row.bait_id for row in standings}:
        bait = snapshot.get(Bait, bait_id)
        shapes[bait_id] = plume_outline(
            (bait.still_reach_m if bait else None) or 0.0,
            (bait.down_reach_m if bait else None) or 0.0,
            (bait.side_reach_m if bait else None) or 0.0,
            mixing_m2_s=MIXING[water.shore if water else "lake shore"].mixing_m2_s,
            current_m_s=speed,
            current_to_deg=fished.current_to_deg if speed else None,
        )
    polygons = plume_polygons(east_m, north_m, [shapes[row.bait_id] for row in standings])
    pairs = meeting_plumes(polygons)
    areas = plume_areas(polygons)
    meetings = tuple(
        Meeting(
            standings[int(a)],
            standings[int(b)],
            standings[int(a)].bait_id == standings[int(b)].bait_id,
            float(shared),
            overlap_word(min(1.0, float(shared / min(areas[a], areas[b])))),
        )
        for a, b, shared in zip(pairs.first, pairs.second, pairs.shared_area_m2, strict=True)
    )
    rings = []
    for polygon in polygons:
        points = plume_points(polygon)
        if len(points):
            points = np.column_stack(plane.to_earth(points[:, 0], points[:, 1]))
        rings.append(points)
    # Traps without a scent of their own (no bait) cannot smell of anything: judge the others.
    scented = np.flatnonzero(areas > 0)
    number = {int(row): n for n, row in enumerate(scented)}
    everything = len(scented) > 1 and all_meet(
        len(scented),
        [number[int(i)] for i in pairs.first],
        [number[int(i)] for i in pairs.second],
    )
    return rings, meetings, everything


def _assumptions(water: Water | None, fished: Round) -> str:
    if not fished.has_current:
        return "Assumed reach in still water, set by you for each bait: a risk map."
    shore = water.shore if water else "lake shore"
    return (
        f"Assumed reach down-current and sideways, set by you for each bait; current"
        f" {fished.current_m_s:g} m/s towards {fished.current_to_deg:.0f}°; mixing assumed for"
        f" {shore}: a risk map."
    )


def _warnings(
    snapshot: Snapshot,
    standings: tuple[Standing, ...],
    meetings: tuple[Meeting, ...],
    everything: bool,
) -> tuple[Warning, ...]:
    if everything:
        everyone = tuple(row.set_id for row in standings)
        n_baits = len({one.bait_id for pair in meetings for one in (pair.first, pair.second)})
        if n_baits > 1:
            return (Warning("choice test", CHOICE_TEST, everyone),)
        return (Warning("same bait", "All scents meet; they are of one bait only.", everyone),)
    names = {bait.id: bait.name for bait in snapshot.all(Bait)}
    found = []
    for pair in sorted(meetings, key=lambda row: (row.same_bait, -row.shared_m2)):
        first = names.get(pair.first.bait_id or "", "bait not chosen")
        second = names.get(pair.second.bait_id or "", "bait not chosen")
        if pair.same_bait:
            kind, baits = "same bait", f"both {first}"
        else:
            kind, baits = "different baits", f"{first} and {second}"
        verb = "overlap" if pair.word == "overlaps" else "may overlap"
        found.append(
            Warning(
                kind,
                f"The scents of {pair.first.label} and {pair.second.label} {verb} ({baits}).",
                _ids(pair),
            )
        )
    return tuple(found)

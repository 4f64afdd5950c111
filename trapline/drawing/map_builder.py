"""From the model to what a map shows: one round with its checks, or a line not yet fished."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from trapline.analyses.plume_check import PlumeCheck
from trapline.analyses.spacing_check import SpacingCheck
from trapline.drawing.map_content import (
    FloatArray,
    GapLine,
    IndexArray,
    MapContent,
    MarkStyle,
    PlumeShape,
    Unplaced,
)
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.science.geodesy import LocalPlane, centre_of
from trapline.units import length_text

# A place whose bait is not chosen: grey, outside the eight colours of the baits.
NO_BAIT_COLOUR = "#8a9296"


@dataclass(frozen=True, slots=True)
class _Spot:
    """A place with what stands there in this round."""

    place: Place
    trap_set: TrapSet | None
    position: tuple[float, float] | None
    style: MarkStyle

    @property
    def set_id(self) -> str:
        return self.trap_set.id if self.trap_set else ""

    @property
    def unplaced(self) -> Unplaced:
        return Unplaced(self.place.id, self.place.label, self.style, self.set_id)


Placed = tuple[_Spot, tuple[float, float]]


def build_map(
    snapshot: Snapshot,
    round_id: str | None,
    spacing: SpacingCheck | None = None,
    plumes: PlumeCheck | None = None,
    plane: LocalPlane | None = None,
    *,
    line_id: str | None = None,
    size_factors: Mapping[str, float] | None = None,
    length_unit: str = "m",
) -> MapContent:
    """Return what the map of a round shows; without a round, the places of a line.

    Parameters
    ----------
    spacing, plumes : the checks of the same round, or None
        Gaps and reaches are drawn as they found them; nothing is judged here.
    plane : LocalPlane or None
        Give that of the map before (`MapContent.plane`) so that the picture does not shift
        when a place moves; else the middle of the places.
    line_id : str or None
        The line to show; else the trip's own, else every line of its water.
    size_factors : mapping of place id to factor, or None
        Twice the factor is twice the area of a mark.
    """
    fished = snapshot.get(Round, round_id)
    trip = snapshot.get(Trip, fished.trip_id) if fished else None
    lines = _line_ids(snapshot, trip, line_id)
    spots = _spots(snapshot, fished, lines)
    placed = [(spot, spot.position) for spot in spots if spot.position]
    lon_deg, lat_deg = np.array([position for _, position in placed]).reshape(-1, 2).T
    shoreline = _shoreline(snapshot, trip, lines)
    plane = plane or _plane(lon_deg, lat_deg, shoreline)
    east_m, north_m = plane.to_plane(lon_deg, lat_deg)
    styles = list(dict.fromkeys(spot.style for spot, _ in placed))
    number = {style: at for at, style in enumerate(styles)}
    rows = {spot.set_id: at for at, (spot, _) in enumerate(placed) if spot.set_id}
    shapes, meetings = _plumes(plumes, rows, plane)
    current = fished if fished and fished.has_current else None
    return MapContent(
        anchor_lon_deg=plane.lon_deg,
        anchor_lat_deg=plane.lat_deg,
        ids=tuple(spot.place.id for spot, _ in placed),
        set_ids=tuple(spot.set_id for spot, _ in placed),
        labels=tuple(spot.place.label for spot, _ in placed),
        east_m=east_m,
        north_m=north_m,
        styles=tuple(styles),
        style_of=np.array([number[spot.style] for spot, _ in placed], dtype=np.intp),
        size_factors=_sizes(placed, size_factors or {}),
        plumes=shapes,
        meetings=meetings,
        gaps=_gaps(spacing, rows, length_unit),
        links=_links(placed),
        shorelines=(np.column_stack(plane.to_plane(*shoreline.T)),) if len(shoreline) else (),
        current_m_s=current.current_m_s if current else None,
        current_to_deg=current.current_to_deg if current else None,
        unplaced=tuple(spot.unplaced for spot in spots if spot.position is None),
        length_unit=length_unit,
    )


def _line_ids(snapshot: Snapshot, trip: Trip | None, line_id: str | None) -> list[str]:
    if line_id or (trip and trip.line_id):
        return [line_id or (trip.line_id if trip else None) or ""]
    return [line.id for line in snapshot.lines(trip.water_id if trip else None)]


def _shoreline(snapshot: Snapshot, trip: Trip | None, lines: list[str]) -> FloatArray:
    """Return the ring of the water, shape (k, 2) in degrees; (0, 2) where it is not known."""
    line = snapshot.get(Line, lines[0]) if lines else None
    water_id = (trip.water_id if trip else None) or (line.water_id if line else None)
    water = snapshot.get(Water, water_id)
    ring = np.array(water.shoreline if water else (), dtype=np.float64).reshape(-1, 2)
    return ring if len(ring) > 2 else ring[:0]


def _spots(snapshot: Snapshot, fished: Round | None, lines: list[str]) -> list[_Spot]:
    """Return the places of the lines and of the round's trap sets, in the order of the line."""
    places = {place.id: place for line in lines for place in snapshot.places(line, stakes=True)}
    at_place: dict[str, TrapSet] = {}
    for row in snapshot.sets(fished.id) if fished else ():
        place = snapshot.get(Place, row.place_id)
        if place is None:
            continue
        places.setdefault(place.id, place)
        # Set again at the same place in one round: what stands there now is shown.
        before = at_place.get(place.id)
        if before is None or (row.set_utc or "") >= (before.set_utc or ""):
            at_place[place.id] = row
    return [_spot(snapshot, place, at_place.get(place.id)) for place in places.values()]


def _spot(snapshot: Snapshot, place: Place, trap_set: TrapSet | None) -> _Spot:
    own = None
    if place.lon_deg is not None and place.lat_deg is not None:
        own = (place.lon_deg, place.lat_deg)
    if place.is_stake:
        return _Spot(place, None, own, MarkStyle("", NO_BAIT_COLOUR, "circle", "stake"))
    if trap_set is None:
        return _Spot(place, None, own, MarkStyle("", NO_BAIT_COLOUR))
    state = "lost" if trap_set.condition == "lost" else trap_set.state
    bait = snapshot.bait_of(trap_set)
    if bait is None:
        style = MarkStyle("", NO_BAIT_COLOUR, "circle", state)
    else:
        style = MarkStyle(bait.name, bait.colour, bait.mark, state)
    return _Spot(place, trap_set, snapshot.position(trap_set), style)


def _plane(lon_deg: FloatArray, lat_deg: FloatArray, shoreline: FloatArray) -> LocalPlane:
    if lon_deg.size:
        return LocalPlane(*centre_of(lon_deg, lat_deg))
    if len(shoreline):
        return LocalPlane(*centre_of(shoreline[:, 0], shoreline[:, 1]))
    return LocalPlane(0.0, 0.0)


def _sizes(placed: list[Placed], factors: Mapping[str, float]) -> FloatArray:
    """Return the factor of each place, 1 for one that is not named; none where none is."""
    found = [factors.get(spot.place.id, 1.0) for spot, _ in placed] if factors else []
    return np.array(found, dtype=np.float64)


def _links(placed: list[Placed]) -> tuple[IndexArray, ...]:
    by_line: dict[str, list[int]] = {}
    for row, (spot, _) in enumerate(placed):
        if not spot.place.is_stake:
            by_line.setdefault(spot.place.line_id or "", []).append(row)
    return tuple(np.array(rows, dtype=np.intp) for rows in by_line.values() if len(rows) > 1)


def _gaps(
    spacing: SpacingCheck | None, rows: Mapping[str, int], length_unit: str
) -> tuple[GapLine, ...]:
    if spacing is None:
        return ()
    told = [(gap.first, gap.second, gap.distance_m, "short") for gap in spacing.gaps]
    seen = set()
    for lonely in spacing.lonely:
        if lonely.nearest is None or lonely.distance_m is None:
            continue
        pair = frozenset((lonely.trap.set_id, lonely.nearest.set_id))
        if pair not in seen:  # two that are each other's nearest are one line
            told.append((lonely.trap, lonely.nearest, lonely.distance_m, "wide"))
            seen.add(pair)
    return tuple(
        GapLine(rows[first.set_id], rows[second.set_id], length_text(distance_m, length_unit), kind)
        for first, second, distance_m, kind in told
        if first.set_id in rows and second.set_id in rows
    )


def _plumes(
    plumes: PlumeCheck | None, rows: Mapping[str, int], plane: LocalPlane
) -> tuple[tuple[PlumeShape, ...], IndexArray]:
    none = np.empty((0, 2), dtype=np.intp)
    known = [row for row in plumes.plumes if row.standing.set_id in rows] if plumes else []
    if plumes is None or not known:
        return (), none
    points = np.concatenate([row.outline for row in known])
    in_plane = np.column_stack(plane.to_plane(points[:, 0], points[:, 1]))
    ends = np.cumsum([len(row.outline) for row in known])[:-1]
    shapes = tuple(
        PlumeShape(rows[row.standing.set_id], ring, row.meets_other_bait)
        for row, ring in zip(known, np.split(in_plane, ends), strict=True)
    )
    number = {row.standing.set_id: at for at, row in enumerate(known)}
    pairs = [
        (number[pair.first.set_id], number[pair.second.set_id])
        for pair in plumes.meetings
        if not pair.same_bait and pair.first.set_id in number and pair.second.set_id in number
    ]
    return shapes, np.array(pairs, dtype=np.intp).reshape(-1, 2)

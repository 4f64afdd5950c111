"""Where could a trap stand instead, so that its gaps are long enough?"""

import numpy as np
from numpy.typing import NDArray

from trapline.analyses.spacing_check import standings_of
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet

# A millimetre more than asked for, so that the new gap is not "strictly less" by rounding.
MARGIN_M = 0.001
N_BEARINGS = 72
STEPS_A_GAP = 50
N_STEPS = 10 * STEPS_A_GAP
# More than the plane is off, over ten gaps, for any gap that a line of traps can have.
PLANE_ERROR = 1e-4

FloatArray = NDArray[np.float64]


def clear_position(snapshot: Snapshot, set_id: str) -> tuple[float, float] | None:
    """Return the nearest (lon_deg, lat_deg) at which a trap keeps the minimum gap to all others.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    set_id : str
        The trap set to move; only the traps of its round count.

    Returns
    -------
    tuple of float or None
        Its own position when it is clear already; None without a position or a
        minimum, or when nothing within ten minimum gaps is clear.

    Notes
    -----
    Looks along 72 bearings at growing distances: within a fiftieth of the minimum
    gap of the shortest way out. A trap inside the shoreline of its water stays inside.

    Raises
    ------
    InvalidValue
        There is no such trap set.

    Examples
    --------
    >>> from trapline.model.line import Place
    >>> from trapline.model.trip import Round, Trip
    >>> places = [Place(id=p, label=p, lon_deg=0.0, lat_deg=lat) for p, lat in
    ...           (("near", 0.0), ("moved", 0.00001))]
    >>> sets = [TrapSet(id=p.id, round_id="r", place_id=p.id) for p in places]
    >>> rows = [Trip(id="t", name="T", min_gap_m=10.0), Round(id="r", trip_id="t"), *places, *sets]
    >>> spot = clear_position(Snapshot({}).with_rows(rows), "moved")
    >>> from trapline.science.geodesy import geodesic_distance
    >>> f"now {geodesic_distance(0.0, 0.0, *spot):.1f} m from the other one"
    'now 10.0 m from the other one'
    """
    moved = snapshot.need(TrapSet, set_id)
    trip = snapshot.trip_of(moved)
    position = snapshot.position(moved)
    if position is None or trip is None or not trip.min_gap_m:
        return None
    others = np.array(
        [
            (row.lon_deg, row.lat_deg)
            for row in standings_of(snapshot, moved.round_id or "")
            if row.set_id != set_id and not np.isnan(row.lon_deg)
        ]
    ).reshape(-1, 2)
    water = snapshot.water_of(trip)
    ring = np.array(water.shoreline if water else (), dtype=np.float64).reshape(-1, 2)
    if not _inside(np.array([position[0]]), np.array([position[1]]), ring)[0]:
        ring = ring[:0]
    return _search(position, others, trip.min_gap_m, ring)


def _search(
    position: tuple[float, float],
    others: FloatArray,
    min_gap_m: float,
    ring: FloatArray,
) -> tuple[float, float] | None:
    """Return the nearest spot clear of the others, inside the ring if there is one."""
    from trapline.science.geodesy import LocalPlane

    # Looked for in the plane about the trap, where distances are true to a few millionths;
    # the verdict on what is found is geodesic.
    east_m, north_m = LocalPlane(*position).to_plane(others[:, 0], others[:, 1])
    in_reach = np.hypot(east_m, north_m) <= (N_STEPS / STEPS_A_GAP + 1) * min_gap_m + 1.0
    east_m, north_m, others = east_m[in_reach], north_m[in_reach], others[in_reach]
    if not len(others):
        return position
    bearings = np.linspace(0.0, 360.0, N_BEARINGS, endpoint=False)
    for step in range(N_STEPS + 1):
        distance_m = step * min_gap_m / STEPS_A_GAP
        looked_at = bearings if step else bearings[:1]
        east = distance_m * np.sin(np.radians(looked_at))[:, np.newaxis]
        north = distance_m * np.cos(np.radians(looked_at))[:, np.newaxis]
        squares = (east - east_m) ** 2 + (north - north_m) ** 2
        perhaps = looked_at[squares.min(axis=1) >= (min_gap_m * (1 - PLANE_ERROR)) ** 2]
        found = _clear_at(position, others, perhaps, distance_m, min_gap_m, ring)
        if found is not None:
            return found if step else position
    return None


def _inside(lon_deg: FloatArray, lat_deg: FloatArray, ring: FloatArray) -> NDArray[np.bool_]:
    """Whether positions lie inside a closed ring: the crossings of a ray to the east are odd.

    Haines (1994), Point in polygon strategies, Graphics Gems IV, section I.4.
    """
    if not len(ring):
        return np.zeros(len(lon_deg), dtype=bool)
    first, second = ring, np.roll(ring, -1, axis=0)
    lon, lat = lon_deg[:, np.newaxis], lat_deg[:, np.newaxis]
    spans = (first[:, 1] > lat) != (second[:, 1] > lat)
    rise = np.where(first[:, 1] == second[:, 1], 1.0, second[:, 1] - first[:, 1])
    crossing = first[:, 0] + (lat - first[:, 1]) * (second[:, 0] - first[:, 0]) / rise
    odd: NDArray[np.bool_] = (spans & (lon < crossing)).sum(axis=1) % 2 == 1
    return odd


def _clear_at(
    position: tuple[float, float],
    others: FloatArray,
    bearing_deg: FloatArray,
    distance_m: float,
    min_gap_m: float,
    ring: FloatArray,
) -> tuple[float, float] | None:
    """Return the spot along some bearings that is clear by geodesics, or None."""
    from trapline.science.geodesy import destination, geodesic_distance

    count = len(bearing_deg)
    if not count:
        return None
    lon_deg, lat_deg = destination(
        np.full(count, position[0]),
        np.full(count, position[1]),
        bearing_deg,
        np.full(count, distance_m),
    )
    gaps_m = geodesic_distance(
        np.repeat(lon_deg, len(others)),
        np.repeat(lat_deg, len(others)),
        np.tile(others[:, 0], count),
        np.tile(others[:, 1], count),
    ).reshape(count, len(others))
    is_clear = (gaps_m >= min_gap_m + MARGIN_M).all(axis=1)
    clear = np.flatnonzero(is_clear & _inside(lon_deg, lat_deg, ring) if len(ring) else is_clear)
    if not clear.size:
        return None
    # Of several the one that stays nearest to its old neighbours: the same ground.
    best = clear[np.argmin(gaps_m[clear].min(axis=1))]
    return float(lon_deg[best]), float(lat_deg[best])

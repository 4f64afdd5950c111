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
    gap of the shortest way out.

    Raises
    ------
    InvalidValue
        There is no such trap set.
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
    if not len(others):
        return position
    for step in range(N_STEPS + 1):
        found = _clear_at(position, others, step * trip.min_gap_m / STEPS_A_GAP, trip.min_gap_m)
        if found is not None:
            return found if step else position
    return None


def _clear_at(
    position: tuple[float, float],
    others: NDArray[np.float64],
    distance_m: float,
    min_gap_m: float,
) -> tuple[float, float] | None:
    """Return a clear spot at a distance from a position, or None."""
    from trapline.science.geodesy import destination, geodesic_distance

    count = N_BEARINGS if distance_m else 1
    lon_deg, lat_deg = destination(
        np.full(count, position[0]),
        np.full(count, position[1]),
        np.linspace(0.0, 360.0, N_BEARINGS, endpoint=False)[:count],
        np.full(count, distance_m),
    )
    gaps_m = geodesic_distance(
        np.repeat(lon_deg, len(others)),
        np.repeat(lat_deg, len(others)),
        np.tile(others[:, 0], count),
        np.tile(others[:, 1], count),
    ).reshape(count, len(others))
    clear = np.flatnonzero((gaps_m >= min_gap_m + MARGIN_M).all(axis=1))
    if not clear.size:
        return None
    # Of several the one that stays nearest to its old neighbours: the same ground.
    best = clear[np.argmin(gaps_m[clear].min(axis=1))]
    return float(lon_deg[best]), float(lat_deg[best])

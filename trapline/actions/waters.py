"""Waters: what is special to them beside the editing of a list."""

from collections.abc import Sequence

from trapline.errors import InvalidValue
from trapline.model.changes import Changes
from trapline.model.water import Water
from trapline.store.project import Project
from trapline.store.transaction import Change

# Beyond this a shore is only slower to draw and not truer: a GPS track of a day's walk.
MOST_SHORE_POINTS = 20_000


def set_shoreline(
    project: Project, water_id: str, points: Sequence[tuple[float, float]]
) -> Changes:
    """Take a ring of (lon_deg, lat_deg) as the shoreline of a water; none of them clears it.

    Raises
    ------
    InvalidValue
        Fewer than three different points enclose no water.
    """
    with project.change("Set shoreline" if points else "Clear shoreline") as change:
        write_shoreline(change, water_id, points)
    return project.last_changes


def write_shoreline(change: Change, water_id: str, points: Sequence[tuple[float, float]]) -> None:
    """Write the shoreline of a water inside an open change: a track closes itself."""
    ring = _ring(points)
    if points and len(set(ring)) < 3:
        raise InvalidValue(
            f"A shoreline of {len(set(ring))} different points encloses no water.",
            "Shoreline",
            "Use a track that goes round the water.",
        )
    change.update(change.snapshot.need(Water, water_id).with_(shoreline=ring))


def _ring(points: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Return points without repetitions, thinned evenly where there are too many, and closed."""
    kept = [point for n, point in enumerate(points) if n == 0 or point != points[n - 1]]
    step = -(-len(kept) // MOST_SHORE_POINTS) or 1
    kept = kept[::step]
    if kept and kept[0] != kept[-1]:
        kept.append(kept[0])
    return tuple(kept)

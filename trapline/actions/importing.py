"""Taking over places that were read from a file: one step, whatever their number."""

from collections.abc import Sequence

from trapline.actions.places import append_places
from trapline.actions.waters import write_shoreline
from trapline.errors import InvalidValue
from trapline.exchange.found import FoundPlace, FoundPlaces, Track
from trapline.model.changes import Changes
from trapline.model.line import Line, Place
from trapline.store.project import Project


def fix_of(found: FoundPlaces) -> str:
    """Return how the places of a file were fixed: GPX comes from a receiver."""
    return "GPS" if found.format.startswith("GPX") else "typed"


def import_places(
    project: Project,
    line_id: str,
    round_id: str | None,
    found: Sequence[FoundPlace],
    *,
    fix: str = "GPS",
    shoreline: Track | None = None,
) -> Changes:
    """Add found places to the end of a line under their own names, in one step.

    Parameters
    ----------
    round_id : str or None
        The round in which each of them gets a planned trap set.
    found : sequence of FoundPlace
        As the preview leaves them: without those to skip, renamed where that was chosen.
    fix : str
        How those with a position were fixed, see :func:`fix_of`.
    shoreline : Track, optional
        The track that becomes the shoreline of the line's water.

    Raises
    ------
    InvalidValue
        A name is taken (nothing is ever overwritten), or there is nothing to import.
    """
    if not found and shoreline is None:
        raise InvalidValue(
            "There is no place to import.", "Import", "Choose a file with places that are new."
        )
    with project.change(_label(found, shoreline)) as change:
        line = change.snapshot.need(Line, line_id)
        append_places(change, line_id, [_place(one, fix) for one in found], round_id)
        if shoreline is not None:
            points = list(zip(shoreline.lon_deg, shoreline.lat_deg, strict=True))
            write_shoreline(change, line.water_id or "", points)
    return project.last_changes


def _label(found: Sequence[FoundPlace], shoreline: Track | None) -> str:
    places = f"{len(found)} place{'' if len(found) == 1 else 's'}"
    if shoreline is None:
        return f"Import {places}"
    return f"Import {places} and the shoreline" if found else "Import the shoreline"


def _place(found: FoundPlace, fix: str) -> Place:
    return Place(
        label=found.label,
        lon_deg=found.lon_deg,
        lat_deg=found.lat_deg,
        fix="not fixed" if found.lon_deg is None else fix,
        depth_m=found.depth_m,
        notes=found.note,
    )

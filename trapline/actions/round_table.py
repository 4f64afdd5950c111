"""What is typed or pasted into the table of a round: places, baits and traps in one step."""

from collections.abc import Mapping
from typing import Any

from trapline.actions.fair_order import choose_baits, choose_traps
from trapline.actions.places import write_places
from trapline.model.changes import Changes
from trapline.store.project import Project


def edit_round(
    project: Project,
    label: str,
    *,
    places: Mapping[str, Mapping[str, Any]] | None = None,
    baits: Mapping[str, str | None] | None = None,
    traps: Mapping[str, str | None] | None = None,
) -> Changes:
    """Change cells of a round in one step called `label`, all of them or none.

    Parameters
    ----------
    places : mapping of place id to fields
        What :func:`trapline.actions.places.edit_place` takes.
    baits, traps : mapping of trap set id to bait or trap id

    Raises
    ------
    InvalidValue
        Two places would have one name, or a value cannot be.
    Conflict
        A trap is set already, or would stand at two places.
    """
    with project.change(label) as change:
        write_places(change, places or {})
        choose_baits(change, baits or {})
        choose_traps(change, traps or {})
    return project.last_changes

"""Adding, editing and deleting rows of the lists: traps, baits, species, waters, lines.

What is special to a noun (moving a place, drawing a layout) has its own file.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Any, TypeVar

from trapline.errors import Conflict, InvalidValue
from trapline.model.bait import Bait
from trapline.model.changes import Changes
from trapline.model.fields import Noun, field_meta
from trapline.model.nouns import NOUNS
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Trip
from trapline.store.project import Project
from trapline.store.transaction import Change

N = TypeVar("N", bound=Noun)

# The field that names a row to a person, and within what it must be unlike all others.
NAMED_BY: dict[str, tuple[str, str | None]] = {
    "water": ("name", None),
    "line": ("name", "water_id"),
    "place": ("label", "line_id"),
    "trap": ("number", None),
    "bait": ("name", None),
    "species": ("name", None),
    "trip": ("name", None),
}


def name_of(row: Noun) -> str:
    """Return how a person calls a row; its noun where it has no name."""
    named = NAMED_BY.get(row.table)
    if named is None:
        number = getattr(row, "number", None)
        return f"{row.noun} {number}" if number is not None else row.noun
    return str(getattr(row, named[0]))


def plain_name(text: str) -> str:
    """Return a name as names are compared: a comparison of baits takes spaces for spaces too."""
    return " ".join(text.split()).casefold()


def refuse_double(snapshot: Snapshot, row: Noun) -> None:
    """Refuse a name that another row of the same list has already.

    Raises
    ------
    InvalidValue
        Names the field and the value.
    """
    if row.table not in NAMED_BY:
        return
    field, within = NAMED_BY[row.table]
    name = plain_name(name_of(row))
    for other in snapshot.all(type(row)):
        if other.id == row.id or plain_name(name_of(other)) != name:
            continue
        if within is None or getattr(other, within) == getattr(row, within):
            raise InvalidValue(
                f"There is already a {row.noun} called '{name_of(row)}'.",
                str(field_meta(type(row), field)["label"]),
                "Choose another name.",
            )


def add(project: Project, *rows: Noun, label: str = "") -> Changes:
    """Add rows to the lists in one step."""
    with project.change(label or f"Add {rows[0].noun}") as change:
        for row in rows:
            refuse_double(change.snapshot, row)
            change.insert(row)
    return project.last_changes


def edit(
    project: Project, noun: type[N], key: str | Iterable[str], step: str = "", /, **values: Any
) -> Changes:
    """Change fields of one row, or of several rows alike, in one step called `step`."""
    keys = (key,) if isinstance(key, str) else tuple(key)
    with project.change(step or f"Edit {noun.noun}") as change:
        for one in keys:
            row = change.snapshot.need(noun, one).with_(**values)
            refuse_double(change.snapshot, row)
            change.update(row)
    return project.last_changes


def write(project: Project, rows: Sequence[Noun], label: str) -> Changes:
    """Write whole rows in one step: those that are there are changed, the others added.

    Raises
    ------
    InvalidValue
        A name would be used twice; nothing was changed.
    """
    with project.change(label) as change:
        _write(change, rows)
    return project.last_changes


def _write(change: Change, rows: Sequence[Noun]) -> None:
    for row in rows:
        if change.snapshot.get(type(row), row.id) is None:
            change.insert(row)
        else:
            change.update(row)
    # Only now: a pasted column may swap two names.
    for row in rows:
        refuse_double(change.snapshot, row)


def delete(project: Project, noun: type[N], keys: Iterable[str], label: str = "") -> Changes:
    """Delete rows that nothing refers to.

    Raises
    ------
    Conflict
        Something refers to one of them; says what and how often.
    """
    gone = set(keys)
    with project.change(label or f"Delete {noun.noun}") as change:
        for key in sorted(gone):
            row = change.snapshot.need(noun, key)
            refuse_in_use(change.snapshot, row, gone)
            change.delete(row)
    return project.last_changes


def refuse_in_use(snapshot: Snapshot, row: Noun, going: set[str]) -> None:
    """Refuse to delete what other rows refer to, unless they are going as well."""
    for noun in NOUNS:
        links = [
            item.name for item in dataclasses.fields(noun) if item.metadata.get("noun") == row.table
        ]
        users = [
            other
            for other in snapshot.all(noun)
            if other.id not in going and any(getattr(other, link) == row.id for link in links)
        ]
        if users:
            use = f"{len(users)} {noun.noun}{'s use' if len(users) > 1 else ' uses'}"
            raise Conflict(
                f"{row.noun.capitalize()} '{name_of(row)}' cannot be deleted: {use} it.",
                name_of(row),
                f"Change or delete the {noun.noun} first.",
            )
    _refuse_drawn(snapshot, row)


def _refuse_drawn(snapshot: Snapshot, row: Noun) -> None:
    """Refuse to delete a bait that a fair order deals out, if only in a round not made yet."""
    if not isinstance(row, Bait):
        return
    for trip in snapshot.all(Trip):
        # The keys stand in the text as they are: a draw that cannot be read needs no reading here.
        if f'"{row.id}"' in trip.layout_draw:
            raise Conflict(
                f"Bait '{row.name}' cannot be deleted: the fair order of '{trip.name}' deals it"
                " out.",
                row.name,
                "Draw that order again without it first.",
            )

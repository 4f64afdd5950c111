"""Which rows of a project point at nothing, so that no page shows them whole?"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import fields
from typing import Final

from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE, NOUNS
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip

# What is seen nowhere without the row that it belongs to.
_BELONGS: Final = ((Round, "trip_id"), (TrapSet, "round_id"), (Catch, "trap_set_id"))


def loose_rows(snapshot: Snapshot) -> tuple[str, ...]:
    """Return one sentence for each kind of row that points at nothing, and for doubled rounds.

    The program keeps such rows out; other programs that write to the file may not.

    Parameters
    ----------
    snapshot : Snapshot
        The project.

    References
    ----------
    None: what the tables of the project promise each other.

    Examples
    --------
    >>> loose_rows(Snapshot({}))
    ()
    """
    found = Counter(_pointing_nowhere(snapshot))
    numbers = Counter((row.trip_id, row.number) for row in snapshot.all(Round))
    for (trip_id, number), n in numbers.items():
        trip = snapshot.get(Trip, trip_id)
        if n > 1 and trip is not None:
            found[f"round {number} of the trip '{trip.name}' has the number of another"] += n - 1
    return tuple(f"{n} × {words}." for words, n in found.items())


def _pointing_nowhere(snapshot: Snapshot) -> Iterator[str]:
    for noun in NOUNS:
        for row in snapshot.all(noun):
            yield from _dangling(snapshot, row)
            for owned, name in _BELONGS:
                if isinstance(row, owned) and getattr(row, name) is None:
                    yield f"a {noun.noun} that belongs to nothing"


def _dangling(snapshot: Snapshot, row: Noun) -> Iterator[str]:
    for one in fields(row):
        key = getattr(row, one.name)
        if one.metadata["kind"] != "link" or key is None:
            continue
        if snapshot.get(BY_TABLE[one.metadata["noun"]], key) is None:
            yield f"a {row.noun} whose {one.metadata['label'].lower()} is not there"

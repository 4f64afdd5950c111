"""Whether a count looks mistyped: asked about once, never refused."""

from collections.abc import Sequence
from statistics import median
from typing import Final

from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trapset import TrapSet

TIMES_MEDIAN: Final = 10
LEAST_COUNTED: Final = 5


def is_improbable(
    snapshot: Snapshot, set_id: str, count: int, species_id: str | None = None
) -> str:
    """Return one sentence when a count is ten times the trip's median or more, else "".

    Parameters
    ----------
    set_id : str
        The trap set; it does not count towards the median itself.
    count : int
        Animals of all fates, 0 or more.
    species_id : str, optional
        Without it the trip's target species.

    Notes
    -----
    The median is over the lifted and counted traps of the trip, at least five, of the
    same species, all fates; a trap without an entry of a by-catch species had none. A
    median under 1 is taken as 1, so that a second by-catch in a trip is not asked about.

    References
    ----------
    Ten times and five traps: our judgement, no source.

    Examples
    --------
    >>> is_improbable(Snapshot({}), "nowhere", 3)
    ''
    """
    row = snapshot.get(TrapSet, set_id)
    trip = snapshot.trip_of(row) if row else None
    if trip is None:
        return ""
    species = snapshot.get(Species, species_id or trip.target_species_id)
    species = species or next(iter(snapshot.species("target")), None)
    if species is None:
        return ""
    catches = snapshot.catches_by_set
    counts = [
        sum(one.count or 0 for one in catches.get(other.id, ()) if one.species_id == species.id)
        for _, other in snapshot.sets_of_trip(trip.id)
        if other.counted and other.state == "lifted" and other.id != set_id
    ]
    if len(counts) < LEAST_COUNTED:
        return ""
    usual = median(counts)
    if count < TIMES_MEDIAN * max(usual, 1):
        return ""
    return (
        f"{count} {species.name} is {TIMES_MEDIAN} times what a trap of this trip usually holds"
        f" ({usual:g}, over {len(counts)} counted traps), or more."
    )


def improbable_among(counts: Sequence[int | None]) -> list[int]:
    """Return the indices of the counts that are ten times the median of the others or more.

    Parameters
    ----------
    counts : sequence of int or None, length n
        One a trap, 0 or more; None was not counted.

    References
    ----------
    Ten times and five traps: our judgement, no source.

    Examples
    --------
    >>> improbable_among([3, 2, 4, None, 3, 3, 33])
    [6]
    """
    found = []
    for n, count in enumerate(counts):
        others = [one for at, one in enumerate(counts) if at != n and one is not None]
        if count is None or len(others) < LEAST_COUNTED:
            continue
        if count >= TIMES_MEDIAN * max(median(others), 1):
            found.append(n)
    return found

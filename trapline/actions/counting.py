"""Counting what comes up in one trap: by taps, each its own step, or typed."""

from collections.abc import Mapping

from trapline.actions.setting import called
from trapline.errors import Conflict, InvalidValue
from trapline.model.catch import Catch
from trapline.model.changes import Changes
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trapset import TrapSet
from trapline.store.project import Project
from trapline.store.transaction import Change

# Species id and fate: what a count is of.
Key = tuple[str, str]


def target_of(snapshot: Snapshot, row: TrapSet) -> Species | None:
    """Return the species that the trip counts, else the first target species of the list."""
    trip = snapshot.trip_of(row)
    chosen = snapshot.get(Species, trip.target_species_id) if trip else None
    return chosen or next(iter(snapshot.species("target")), None)


def counts_of(snapshot: Snapshot, set_id: str) -> dict[Key, int]:
    """Return what was counted in a trap set by species and fate; what is blank is not in it."""
    found: dict[Key, int] = {}
    for row in snapshot.catches(set_id):
        if row.count is not None:
            key = (row.species_id or "", row.fate)
            found[key] = found.get(key, 0) + row.count
    return found


def has_entry(snapshot: Snapshot, set_id: str, species_id: str) -> bool:
    """Whether anything was written down of a species: a count, a weight or measures."""
    return any(row.species_id == species_id for row in snapshot.catches(set_id))


def tap(project: Project, set_id: str, species_id: str, fate: str = "kept", by: int = 1) -> Changes:
    """Count one more, or with −1 take one back.

    Raises
    ------
    InvalidValue
        There is none to take back.
    Conflict
        The trap is not set, or it was lost.
    """
    name = _species_name(project.snapshot(), species_id, fate)
    with project.change(f"Count 1 {name}" if by > 0 else f"Take back 1 {name}") as change:
        now = counts_of(change.snapshot, set_id).get((species_id, fate), 0)
        if now + by < 0:
            raise InvalidValue(f"No {name} is counted yet.", "Count", "There is none to take back.")
        # A tap undone by a tap leaves no trace; a typed 0 is data and stays.
        count = now + by if now + by > 0 or _is_data(change.snapshot, set_id, species_id) else None
        write_count(change, set_id, species_id, fate, count)
    return project.last_changes


def _is_data(snapshot: Snapshot, set_id: str, species_id: str) -> bool:
    """Whether a 0 of this species is to stay: the last entry of a target that was counted."""
    row = snapshot.need(TrapSet, set_id)
    target = target_of(snapshot, row)
    return row.counted and target is not None and target.id == species_id


def type_count(
    project: Project, set_id: str, species_id: str, fate: str, count: int | None
) -> Changes:
    """Write down a count as typed; None makes it blank again, which is not 0.

    Raises
    ------
    InvalidValue
        The count is negative.
    Conflict
        The trap is not set, or it was lost.
    """
    name = _species_name(project.snapshot(), species_id, fate)
    label = f"Clear the count of {name}" if count is None else f"Count {count} {name}"
    with project.change(label) as change:
        write_count(change, set_id, species_id, fate, count)
    return project.last_changes


def _species_name(snapshot: Snapshot, species_id: str, fate: str) -> str:
    name = snapshot.need(Species, species_id).name
    return name if fate == "kept" else f"{name} ({fate})"


def write_counts(change: Change, set_id: str, counts: Mapping[Key, int | None]) -> None:
    """Write several counts of one trap set inside an open change."""
    for (species_id, fate), count in counts.items():
        write_count(change, set_id, species_id, fate, count)


def write_count(change: Change, set_id: str, species_id: str, fate: str, count: int | None) -> None:
    """Make the count of a species and fate what it should be, inside an open change.

    Where the trap was lifted already, a count of the target makes it counted, and
    blanking the last one makes it not counted.
    """
    snapshot = change.snapshot
    row = snapshot.need(TrapSet, set_id)
    snapshot.need(Species, species_id)
    _refuse_no_catch(snapshot, row)
    same = [
        one
        for one in snapshot.catches(set_id)
        if one.species_id == species_id and one.fate == fate and one.count is not None
    ]
    if count is not None and same:
        change.update(same.pop(0).with_(count=count))
    elif count is not None:
        change.insert(Catch(trap_set_id=set_id, species_id=species_id, fate=fate, count=count))
    for one in same:
        if one.weight_kg is None and one.measure_n is None:
            change.delete(one)
        else:  # another program wrote both in one row: what was weighed stays
            change.update(one.with_(count=None))
    if row.state == "lifted":
        _follow(change, set_id, species_id)


def _refuse_no_catch(snapshot: Snapshot, row: TrapSet) -> None:
    if row.state == "planned":
        raise Conflict(
            f"{called(snapshot, row).capitalize()} is not set yet.",
            snapshot.place_label(row),
            "Set it first.",
        )
    if row.condition == "lost":
        raise Conflict(
            f"{called(snapshot, row).capitalize()} was lost: there is nothing to count.",
            snapshot.place_label(row),
            "Correct the condition first.",
        )


def _follow(change: Change, set_id: str, species_id: str) -> None:
    """Let "counted" of a lifted trap follow the entries of its target."""
    row = change.snapshot.need(TrapSet, set_id)
    target = target_of(change.snapshot, row)
    if target is None or target.id != species_id or row.condition == "robbed":
        return
    counted = has_entry(change.snapshot, set_id, species_id)
    if counted != row.counted:
        change.update(row.with_(counted=counted))


def write_zero(change: Change, set_id: str) -> None:
    """Write an explicit 0 for the target of a counted trap in which nothing of it was found.

    Raises
    ------
    Conflict
        Nobody said which species is counted.
    """
    row = change.snapshot.need(TrapSet, set_id)
    target = target_of(change.snapshot, row)
    if target is None:
        raise Conflict(
            "There is no species to count yet.", "Species", "Add the one you count to the species."
        )
    if not has_entry(change.snapshot, set_id, target.id):
        change.insert(Catch(trap_set_id=set_id, species_id=target.id, count=0))


def refuse_counts_of_target(change: Change, set_id: str, why: str) -> None:
    """Refuse that counts of the target stand where there is none; a written 0 is taken away.

    Raises
    ------
    InvalidValue
        Some were counted; `why` says why there should be none.
    """
    snapshot = change.snapshot
    target = target_of(snapshot, snapshot.need(TrapSet, set_id))
    entries = [
        row
        for row in snapshot.catches(set_id)
        if target is not None and row.species_id == target.id
    ]
    counted = sum(row.count or 0 for row in entries)
    if counted or any(row.count is None for row in entries):
        raise InvalidValue(
            f"{counted or 'Some'} {target.name if target else ''} were written down; {why}.",
            "Counted",
            "Take the counts back first, or leave it counted.",
        )
    for row in entries:
        change.delete(row)


def type_amount(
    project: Project,
    set_id: str,
    species_id: str,
    fate: str = "kept",
    *,
    weight_kg: float | None = None,
    measure_n: float | None = None,
    measure_name: str = "",
) -> Changes:
    """Write down a weight, or a number of buckets or the like, beside or instead of a count.

    With neither, what was written down of that kind goes.
    """
    with project.change("Write down a weight or measure") as change:
        snapshot = change.snapshot
        row = snapshot.need(TrapSet, set_id)
        _refuse_no_catch(snapshot, row)
        for one in snapshot.catches(set_id):
            if one.species_id == species_id and one.fate == fate and one.count is None:
                change.delete(one)
        if weight_kg is not None or measure_n is not None:
            change.insert(
                Catch(
                    trap_set_id=set_id,
                    species_id=snapshot.need(Species, species_id).id,
                    fate=fate,
                    weight_kg=weight_kg,
                    measure_n=measure_n,
                    measure_name=measure_name,
                )
            )
        if row.state == "lifted":
            _follow(change, set_id, species_id)
    return project.last_changes

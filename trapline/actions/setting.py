"""Setting: traps go into the water, and what was really done beside what was planned."""

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from enum import Enum
from typing import Any, Final

from trapline.errors import Conflict, InvalidValue
from trapline.model.bait import Bait
from trapline.model.changes import Changes
from trapline.model.instants import hours_between, local_text, moment, utc_text
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import MOST_SOAK_H, TrapSet
from trapline.store.project import Project
from trapline.store.transaction import Change


class Keep(Enum):
    """What stands for "leave it as it is" where None means "not known"."""

    KEEP = "keep"


KEEP: Final = Keep.KEEP


def called(snapshot: Snapshot, row: TrapSet) -> str:
    """Return how a person calls a trap set: ``trap 7``, or ``trap at P3`` without a number."""
    number = snapshot.trap_label(row)
    return f"trap {number}" if number else f"trap at {snapshot.place_label(row)}"


def set_traps(
    project: Project, set_ids: Sequence[str], at_utc: str | None, by: str = ""
) -> Changes:
    """Set planned traps at one moment; None is a time that nobody noted.

    Raises
    ------
    Conflict
        A trap is set already, or still stands somewhere else.
    """
    return _set(project, dict.fromkeys(set_ids, at_utc), by, correct=False)


def set_in_sequence(
    project: Project, set_ids: Sequence[str], first_utc: str, every_min: float, by: str = ""
) -> Changes:
    """Set planned traps one after the other: the first one at a moment, the rest every n minutes.

    Raises
    ------
    InvalidValue
        The minutes are negative.
    """
    return _set(project, times_in_sequence(set_ids, first_utc, every_min), by, correct=False)


def times_in_sequence(set_ids: Sequence[str], first_utc: str, every_min: float) -> dict[str, str]:
    """Return the set times of one throw by trap set id."""
    if not 0 <= every_min <= 24 * 60:
        raise InvalidValue(
            f"{every_min:g} minutes from trap to trap cannot be.",
            "Every",
            "Type minutes from 0 to 1440.",
        )
    first, step = moment(first_utc), dt.timedelta(minutes=every_min)
    return {set_id: utc_text(first + n * step) for n, set_id in enumerate(set_ids)}


def set_at_times(project: Project, times: Mapping[str, str | None], by: str = "") -> Changes:
    """Set planned traps, each at its own moment: trap set id to instant (a typed column).

    Traps that are set already only get the other time.
    """
    return _set(project, times, by, correct=True)


def _set(project: Project, times: Mapping[str, str | None], by: str, *, correct: bool) -> Changes:
    with project.change(_label(project.snapshot(), "Set", times)) as change:
        for set_id, at_utc in times.items():
            row = change.snapshot.need(TrapSet, set_id)
            if row.state == "planned":
                put_in_water(change, row, at_utc, by)
            elif correct and row.state == "set":
                change.update(at_other_time(row, at_utc))
            else:
                raise Conflict(
                    f"{called(change.snapshot, row).capitalize()} is {row.state} already.",
                    change.snapshot.place_label(row),
                    "Type another set time in its cell to correct it.",
                )
        refuse_two_waters(change.snapshot, times)
    return project.last_changes


def _label(snapshot: Snapshot, verb: str, set_ids: Collection[str]) -> str:
    rows = [row for set_id in set_ids if (row := snapshot.get(TrapSet, set_id)) is not None]
    return f"{verb} {called(snapshot, rows[0])}" if len(rows) == 1 else f"{verb} {len(rows)} traps"


def put_in_water(
    change: Change,
    row: TrapSet,
    at_utc: str | None,
    by: str,
    *,
    bait_action: str = "fresh",
    hung_utc: str | None = None,
    continues_id: str | None = None,
    position: tuple[float, float] | None = None,
) -> TrapSet:
    """Set one planned trap inside an open change: at its place's position unless one is given."""
    snapshot = change.snapshot
    trap = snapshot.get(Trap, row.trap_id)
    if trap is not None and trap.state in ("lost", "retired"):
        raise Conflict(
            f"Trap {trap.number} is recorded as {trap.state}.",
            snapshot.place_label(row),
            "Say first that it was found." if trap.state == "lost" else "Choose another trap.",
        )
    if trap is not None and trap.state == "found":
        change.update(trap.with_(state="in service"))
    lon_deg, lat_deg = position or _position_of(snapshot, row.place_id)
    is_new_bait = bait_action != "left as it was"
    return change.update(
        row.with_(
            state="set",
            set_utc=at_utc,
            set_by=by,
            lon_deg=lon_deg,
            lat_deg=lat_deg,
            bait_id=row.bait_id or row.planned_bait_id,
            bait_action=bait_action,
            bait_hung_utc=at_utc if is_new_bait else hung_utc,
            continues_id=continues_id,
        )
    )


def _position_of(
    snapshot: Snapshot, place_id: str | None
) -> tuple[float, float] | tuple[None, None]:
    place = snapshot.get(Place, place_id)
    if place is None or place.lon_deg is None or place.lat_deg is None:
        return None, None
    return place.lon_deg, place.lat_deg


def refuse_no_soak(
    snapshot: Snapshot, row: TrapSet, set_utc: str | None, lift_utc: str | None
) -> None:
    """Refuse a lift that is not after its setting, or years after it, by the trip's clock."""
    if set_utc is None or lift_utc is None or 0 < hours_between(set_utc, lift_utc) <= MOST_SOAK_H:
        return
    trip = snapshot.trip_of(row)
    zone = trip.zone if trip else "UTC"
    is_late = lift_utc > set_utc
    raise InvalidValue(
        f"The lift at {local_text(lift_utc, zone)} is {'years' if is_late else 'not'} after the"
        f" setting at {local_text(set_utc, zone)}.",
        "Lifted",
        "Correct the year." if is_late else "Type a later lift or an earlier set time.",
    )


def refuse_two_waters(snapshot: Snapshot, set_ids: Iterable[str]) -> None:
    """Refuse that a trap stands at two places at once.

    Raises
    ------
    Conflict
        It is still in the water somewhere else.
    InvalidValue
        Two of its soaks overlap in time.
    """
    touched: dict[str, list[TrapSet]] = {}
    for set_id in set_ids:
        row = snapshot.get(TrapSet, set_id)
        if row is not None and row.state != "planned":
            for key in _keys_of_trap(row):
                touched.setdefault(key, []).append(row)
    for other in snapshot.all(TrapSet) if touched else ():
        if other.state == "planned":
            continue
        same = {row.id: row for key in _keys_of_trap(other) for row in touched.get(key, ())}
        for row in same.values():
            if row.id != other.id:
                _refuse_overlap(snapshot, row, other)


def _keys_of_trap(row: TrapSet) -> Iterator[str]:
    """Yield what two sets of one trap share: its number, or that one goes on from the other."""
    if row.trap_id:
        yield row.trap_id
    yield row.id
    if row.continues_id:
        yield row.continues_id


def _refuse_overlap(snapshot: Snapshot, row: TrapSet, other: TrapSet) -> None:
    name, where = called(snapshot, row).capitalize(), snapshot.place_label(other)
    if row.is_in_water and other.is_in_water:
        raise Conflict(
            f"{name} still stands in the water at '{where}'.",
            snapshot.place_label(row),
            "Lift it there first, or choose another trap.",
        )
    first, second = sorted((row, other), key=lambda one: one.set_utc or "")
    if first.set_utc is None or second.set_utc is None:
        return
    if first.is_in_water:
        raise Conflict(
            f"{name} stands at '{snapshot.place_label(first)}' since before that.",
            snapshot.place_label(row),
            "Lift it there first, or type another time.",
        )
    if first.lift_utc is not None and second.set_utc < first.lift_utc:
        trip = snapshot.trip_of(row)
        zone = trip.zone if trip else "UTC"
        raise InvalidValue(
            f"{name} cannot have been set at '{snapshot.place_label(second)}' at"
            f" {local_text(second.set_utc, zone)}: it was at '{snapshot.place_label(first)}' until"
            f" {local_text(first.lift_utc, zone)}.",
            "Set" if row is second else "Lifted",
            "Type another time.",
        )


def record_really_done(
    project: Project,
    set_id: str,
    *,
    bait_id: str | Keep | None = KEEP,
    place_id: str | Keep | None = KEEP,
    trap_id: str | Keep | None = KEEP,
    set_utc: str | Keep | None = KEEP,
    swap: bool = False,
    by: str = "",
) -> Changes:
    """Record in one step what differed from the plan: bait, place, trap, set time.

    A time given to a planned trap sets it. With `swap`, what the round has already at
    that place, or that trap, takes what this one had.

    Raises
    ------
    Conflict
        Another trap of the round is at that place, or the trap at another place, and
        `swap` was not asked for.
    """
    with project.change("Record what was really done") as change:
        snapshot = change.snapshot
        row = snapshot.need(TrapSet, set_id)
        touched = [set_id]
        if not isinstance(bait_id, Keep):
            if bait_id is not None:
                snapshot.need(Bait, bait_id)
            row = change.update(row.with_(bait_id=bait_id))
        if not isinstance(place_id, Keep) and place_id != row.place_id:
            touched += _stand_at(change, row, place_id, swap=swap)
            row = change.snapshot.need(TrapSet, set_id)
        if not isinstance(trap_id, Keep) and trap_id != row.trap_id:
            touched += _is_trap(change, row, trap_id, swap=swap)
            row = change.snapshot.need(TrapSet, set_id)
        if not isinstance(set_utc, Keep):
            if row.state == "planned":
                put_in_water(change, row, set_utc, by)
            else:
                refuse_no_soak(change.snapshot, row, set_utc, row.lift_utc)
                change.update(at_other_time(row, set_utc))
        refuse_two_waters(change.snapshot, touched)
    return project.last_changes


def at_other_time(row: TrapSet, set_utc: str | None) -> TrapSet:
    """Return a set trap with another set time; bait hung at the setting was hung then too."""
    hung = row.bait_hung_utc if row.bait_action == "left as it was" else set_utc
    return row.with_(set_utc=set_utc, bait_hung_utc=hung)


def _stand_at(change: Change, row: TrapSet, place_id: str | None, *, swap: bool) -> list[str]:
    """Move a trap set to another place; return the ids of others that moved along."""
    snapshot = change.snapshot
    place = snapshot.need(Place, place_id)
    moved = []
    for other in snapshot.sets(row.round_id or ""):
        if other.place_id != place_id or other.id == row.id:
            continue
        if not swap:
            raise Conflict(
                f"{called(snapshot, other).capitalize()} is recorded at '{place.label}'.",
                "Place",
                "Say that the two changed places, or correct that one first.",
            )
        change.update(other.with_(**_place_values(snapshot, other, row.place_id)))
        moved.append(other.id)
    change.update(row.with_(**_place_values(snapshot, row, place_id)))
    return moved


def refuse_other_trap(snapshot: Snapshot, row: TrapSet) -> None:
    """Refuse another trap for a trap set that says which trap was lost."""
    if row.condition == "lost":
        raise Conflict(
            f"{called(snapshot, row).capitalize()} is recorded as lost here.",
            snapshot.place_label(row),
            "Correct the condition first, then the trap.",
        )


def _is_trap(change: Change, row: TrapSet, trap_id: str | None, *, swap: bool) -> list[str]:
    """Give a trap set another trap; return the ids of others that changed along."""
    snapshot = change.snapshot
    refuse_other_trap(snapshot, row)
    moved = []
    for other in snapshot.sets(row.round_id or ""):
        if trap_id is None or other.trap_id != trap_id or other.id == row.id:
            continue
        if not swap:
            raise Conflict(
                f"{called(snapshot, other).capitalize()} is recorded at"
                f" '{snapshot.place_label(other)}'.",
                "Trap",
                "Say that the two were mixed up, or correct that one first.",
            )
        refuse_other_trap(snapshot, other)
        change.update(other.with_(trap_id=row.trap_id))
        moved.append(other.id)
    if trap_id is not None:
        snapshot.need(Trap, trap_id)
    change.update(row.with_(trap_id=trap_id))
    return moved


def _place_values(snapshot: Snapshot, row: TrapSet, place_id: str | None) -> dict[str, Any]:
    lon_deg, lat_deg = (None, None) if row.state == "planned" else _position_of(snapshot, place_id)
    return {"place_id": place_id, "lon_deg": lon_deg, "lat_deg": lat_deg}


def who_is_at(snapshot: Snapshot, set_id: str, place_id: str) -> TrapSet | None:
    """Return the other trap set that the round has at a place, or None when it is free."""
    row = snapshot.need(TrapSet, set_id)
    found = (
        other
        for other in snapshot.sets(row.round_id or "")
        if other.place_id == place_id and other.id != set_id
    )
    return next(found, None)


def unset(project: Project, set_ids: Sequence[str]) -> Changes:
    """Take set traps back to planned: it never happened.

    Raises
    ------
    Conflict
        A trap was lifted or counted already, or is only planned.
    """
    label = _label(project.snapshot(), "Take back the setting of", set_ids)
    with project.change(label) as change:
        for set_id in set_ids:
            row = change.snapshot.need(TrapSet, set_id)
            name = called(change.snapshot, row).capitalize()
            if row.state != "set":
                raise Conflict(f"{name} is {row.state}, not set.", "", "Choose traps that are set.")
            if change.snapshot.catches(set_id):
                raise Conflict(
                    f"{name} has a count already.", "", "Take the count back first, on Lift."
                )
            before = change.snapshot.get(TrapSet, row.continues_id)
            if before is not None:
                change.update(before.with_(afterwards="", moved_to_place_id=None))
            change.update(_as_planned(row))
        for set_id in set_ids:
            row = change.snapshot.need(TrapSet, set_id)
            there = who_is_at(change.snapshot, set_id, row.planned_place_id or "")
            if there is None:
                change.update(row.with_(place_id=row.planned_place_id or row.place_id))
            elif there.id in set_ids and there.planned_place_id == row.place_id:  # they swapped
                change.update(row.with_(place_id=there.place_id))
                change.update(there.with_(place_id=row.place_id))
    return project.last_changes


def _as_planned(row: TrapSet) -> TrapSet:
    return row.with_(
        state="planned",
        set_utc=None,
        set_by="",
        lon_deg=None,
        lat_deg=None,
        bait_id=row.planned_bait_id or row.bait_id,
        bait_action="fresh",
        bait_hung_utc=None,
        continues_id=None,
        condition="",
    )

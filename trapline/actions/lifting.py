"""Lifting: what came up, in what condition, and what happened to the trap."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from trapline.actions.counting import Key, refuse_counts_of_target, write_counts, write_zero
from trapline.actions.setting import at_other_time, called, refuse_no_soak, refuse_two_waters
from trapline.actions.setting_again import put_again
from trapline.errors import Conflict, InvalidValue
from trapline.model.changes import Changes
from trapline.model.instants import local_text
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.store.project import Project
from trapline.store.transaction import Change

# No valid count: such a trap is listed and never enters a comparison.
UNCOUNTABLE: Final = ("robbed", "lost")
CORRECTABLE: Final = frozenset({
    "set_utc", "set_by", "bait_id", "bait_action", "bait_hung_utc", "lift_utc", "lifted_by",
    "condition", "disturbed_utc", "bait_left", "counted", "fraction_counted", "notes",
})  # fmt: skip


def lift_trap(
    project: Project,
    set_id: str,
    lift_utc: str | None,
    condition: str = "fished",
    bait_left: str = "",
    counted: bool = True,
    fraction_counted: float = 1.0,
    notes: str | None = None,
    disturbed_utc: str | None = None,
    by: str = "",
    *,
    counts: Mapping[Key, int | None] | None = None,
    then: str = "",
    to_place_id: str | None = None,
    bait_action: str = "fresh",
    after_round_id: str | None = None,
) -> Changes:
    """Lift one trap in one step, with what was just counted and with what comes after.

    A counted trap in which nothing of the target was written down gets an explicit 0.
    A robbed or lost trap has no valid count; a lost one marks the trap itself as lost.

    Parameters
    ----------
    counts : mapping of (species id, fate) to int, optional
        Written first; None clears one.
    then : {"", "out of the water", "set again", "moved"}
        What comes after; empty while nobody has said.
    bait_action, after_round_id :
        As in :func:`trapline.actions.setting_again.set_again`.

    Raises
    ------
    Conflict
        The trap is not in the water.
    InvalidValue
        The lift is not after the set, or counts contradict "not counted".
    """
    name = called(project.snapshot(), project.snapshot().need(TrapSet, set_id))
    words = {"set again": f"Lift {name} and set it again", "moved": f"Lift and move {name}"}
    with project.change(words.get(then, f"Lift {name}")) as change:
        row = _in_water(change.snapshot, set_id)
        refuse_no_soak(change.snapshot, row, row.set_utc, lift_utc)
        write_counts(change, set_id, counts or {})
        lifted = row.with_(
            state="lifted", lift_utc=lift_utc, condition=condition, bait_left=bait_left,
            counted=counted and condition not in UNCOUNTABLE,
            fraction_counted=fraction_counted,
            notes=row.notes if notes is None else notes,
            disturbed_utc=disturbed_utc if condition == "disturbed" else None,
            lifted_by=by, afterwards=then if then == "out of the water" else "",
        )  # fmt: skip
        _write_lifted(change, row, lifted)
        if then in ("set again", "moved"):
            put_again(
                change, [set_id], None, bait_action, by=by, after_round_id=after_round_id,
                to_place_id=to_place_id if then == "moved" else None,
            )  # fmt: skip
    return project.last_changes


def _in_water(snapshot: Snapshot, set_id: str) -> TrapSet:
    row = snapshot.need(TrapSet, set_id)
    if row.state != "set":
        todo = "Correct its lift instead." if row.state == "lifted" else "Set it first."
        raise Conflict(
            f"{called(snapshot, row).capitalize()} is {row.state}, not in the water.",
            snapshot.place_label(row),
            todo,
        )
    return row


def _write_lifted(change: Change, old: TrapSet, new: TrapSet) -> None:
    """Write a lifted trap set with what follows from its condition, as it was and as it is."""
    if new.condition in ("", "not lifted"):
        raise InvalidValue(
            f"A lifted trap cannot be '{new.condition or 'without a condition'}'.",
            "Condition",
            "Choose fished, disturbed, robbed or lost.",
        )
    if new.condition == "lost":
        if new.afterwards in ("set again", "moved"):
            raise Conflict("The trap was set again after this lift.", "", "Correct that first.")
        if any(row.count or row.count is None for row in change.snapshot.catches(new.id)):
            raise InvalidValue(
                "Something was counted in this trap; a lost trap holds nothing to count.",
                "Condition",
                "Take the counts back, or choose another condition.",
            )
        new = _lose(change, new) if old.condition != "lost" else new
    elif old.condition == "lost":
        _back_in_service(change, old)
    change.update(new)
    if new.counted:
        write_zero(change, new.id)
    elif new.condition != "robbed":
        why = "a lost trap has none" if new.condition == "lost" else "'not counted' has none"
        refuse_counts_of_target(change, new.id, why)
    refuse_two_waters(change.snapshot, [new.id])


def _lose(change: Change, row: TrapSet) -> TrapSet:
    """Mark the trap of a trap set as lost; one without a number gets a line in the list of gear.

    A trap that was set again later is not lost any more, whatever happened to it here.
    """
    snapshot = change.snapshot
    note = _lost_note(snapshot, row)
    trap = snapshot.get(Trap, row.trap_id)
    if trap is None:
        number = number_of_lost(snapshot, snapshot.place_label(row))
        trap = change.insert(Trap(number=number, state="lost", state_note=note))
        return row.with_(trap_id=trap.id)
    if not any(_is_later(other, row) for other in snapshot.all(TrapSet)):
        old_note = f"\n{trap.state_note}" if trap.state_note else ""
        change.update(trap.with_(state="lost", state_note=note + old_note))
    return row


def _lost_note(snapshot: Snapshot, row: TrapSet) -> str:
    trip, place = snapshot.trip_of(row), snapshot.place_label(row)
    zone = trip.zone if trip else "UTC"
    since = f", set {local_text(row.set_utc, zone)}" if row.set_utc else ""
    when = f", missed {local_text(row.lift_utc, zone)}" if row.lift_utc else ""
    return f"Lost at {place}{since}{when}" + (f" ({trip.name})" if trip else "")


def _is_later(other: TrapSet, row: TrapSet) -> bool:
    """Whether a trap set is one of the same trap that came after another."""
    if other.trap_id != row.trap_id or other.id == row.id or other.state == "planned":
        return False
    return other.is_in_water or (other.set_utc or "") > (row.set_utc or "")


def number_of_lost(snapshot: Snapshot, place: str) -> str:
    """Return the number under which a lost trap without one of its own is listed."""
    numbers = {one.number.casefold() for one in snapshot.all(Trap)}
    number, n = f"lost at {place}", 1
    while number.casefold() in numbers:
        n += 1
        number = f"lost at {place} ({n})"
    return number


def _back_in_service(change: Change, row: TrapSet) -> None:
    """Take back that the trap of a trap set was lost, with the line that said so.

    A trap that was lost again later stays lost.
    """
    snapshot = change.snapshot
    trap = snapshot.get(Trap, row.trap_id)
    if trap is None or trap.state != "lost":
        return
    lines = trap.state_note.split("\n")
    note = _lost_note(snapshot, row)
    later = any(one.condition == "lost" and _is_later(one, row) for one in snapshot.all(TrapSet))
    if note in lines:
        lines.remove(note)
    elif not later:
        del lines[0]
    state = "lost" if later else "in service"
    change.update(trap.with_(state=state, state_note="\n".join(lines)))


def look_and_leave(
    project: Project, set_id: str, at_utc: str, by: str = "", note: str = ""
) -> Changes:
    """Note that a trap was looked at and left: it stays set, and no soak ends."""
    name = called(project.snapshot(), project.snapshot().need(TrapSet, set_id))
    with project.change(f"Look at {name} and leave it") as change:
        row = _in_water(change.snapshot, set_id)
        trip = change.snapshot.trip_of(row)
        when = local_text(at_utc, trip.zone if trip else "UTC")
        line = f"Looked at {when}{f' by {by}' if by else ''} and left."
        text = "\n".join(part for part in (row.notes, f"{line} {note}".strip()) if part)
        change.update(row.with_(condition="not lifted", notes=text))
    return project.last_changes


def correct_lift(project: Project, set_id: str, **values: Any) -> Changes:
    """Correct what was written down of a lifted trap; counts are corrected by counting anew.

    Parameters
    ----------
    values :
        Fields of the trap set out of `CORRECTABLE`.

    Raises
    ------
    Conflict
        The trap is not lifted.
    InvalidValue
        The values contradict each other or what was counted.
    """
    unknown = set(values) - CORRECTABLE
    if unknown:
        raise InvalidValue(
            f"{', '.join(sorted(unknown))} cannot be corrected here.",
            "Lift",
            "Correct the times, the condition, the bait or the notes.",
        )
    name = called(project.snapshot(), project.snapshot().need(TrapSet, set_id))
    with project.change(f"Correct the lift of {name}") as change:
        old = change.snapshot.need(TrapSet, set_id)
        if old.state != "lifted":
            raise Conflict(f"{name.capitalize()} is not lifted.", "", "Lift it first.")
        times = (values.get(name, getattr(old, name)) for name in ("set_utc", "lift_utc"))
        refuse_no_soak(change.snapshot, old, *times)
        if values.get("condition", "disturbed") != "disturbed":
            values = {**values, "disturbed_utc": None}
        new = old.with_(**values)
        if "set_utc" in values and "bait_hung_utc" not in values:
            new = at_other_time(new, new.set_utc)
        if new.condition in UNCOUNTABLE:
            new = new.with_(counted=False)
        _write_lifted(change, old, new)
    return project.last_changes


def not_lifted_after_all(project: Project, set_id: str) -> Changes:
    """Put a lifted trap back into the water: it was not lifted. Its counts stay.

    Raises
    ------
    Conflict
        It is not lifted, or was set again since.
    """
    name = called(project.snapshot(), project.snapshot().need(TrapSet, set_id))
    with project.change(f"Take back the lift of {name}") as change:
        old = change.snapshot.need(TrapSet, set_id)
        if old.state != "lifted":
            raise Conflict(f"{name.capitalize()} is not lifted.", "", "Choose a lifted trap.")
        if old.afterwards in ("set again", "moved"):
            raise Conflict(
                f"{name.capitalize()} was set again since.", "", "Take that setting back first."
            )
        if old.condition == "lost":
            _back_in_service(change, old)
        change.update(
            old.with_(
                state="set", lift_utc=None, lifted_by="", condition="", disturbed_utc=None,
                bait_left="", counted=False, fraction_counted=1.0, afterwards="",
            )
        )  # fmt: skip
        refuse_two_waters(change.snapshot, [set_id])
    return project.last_changes


def lift_and_set_again_all(
    project: Project,
    set_ids: Sequence[str],
    at_utc: str,
    bait_action: str = "fresh",
    *,
    by: str = "",
    after_round_id: str | None = None,
) -> Changes:
    """Set traps again in one step: those lifted already, and the rest lifted without a count.

    A trap that nobody counted is "not counted" and never a 0.
    """
    with project.change(f"Lift the rest uncounted and set {len(set_ids)} traps again") as change:
        for set_id in set_ids:
            row = change.snapshot.need(TrapSet, set_id)
            if row.state == "set":
                refuse_no_soak(change.snapshot, row, row.set_utc, at_utc)
                lifted = row.with_(
                    state="lifted", lift_utc=at_utc, condition="fished", lifted_by=by, counted=False
                )
                _write_lifted(change, row, lifted)
        put_again(change, set_ids, None, bait_action, by=by, after_round_id=after_round_id)
    return project.last_changes

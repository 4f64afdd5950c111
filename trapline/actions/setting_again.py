"""What comes after a lift: out of the water, set again here, or moved to another place."""

from collections.abc import Sequence

from trapline.actions.setting import called, put_in_water, refuse_two_waters
from trapline.actions.trips import plan_next_round
from trapline.errors import Conflict, InvalidValue
from trapline.model.changes import Changes
from trapline.model.instants import local_text
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import BAIT_ACTIONS, TrapSet
from trapline.model.trip import Round, Trip
from trapline.store.project import Project
from trapline.store.transaction import Change


def is_waiting(row: TrapSet) -> bool:
    """Whether a trap is lifted and nobody has said yet what came after."""
    return row.state == "lifted" and row.afterwards == "" and row.condition != "lost"


def waiting(snapshot: Snapshot, round_id: str) -> list[TrapSet]:
    """Return the trap sets of a round that wait for what comes after, along the line."""
    return [row for row in snapshot.sets(round_id) if is_waiting(row)]


def set_again(
    project: Project,
    set_ids: Sequence[str],
    at_utc: str | None = None,
    bait_action: str = "fresh",
    *,
    by: str = "",
    after_round_id: str | None = None,
) -> Changes:
    """Set lifted traps again where they stood, in the next round, which is made when missing.

    Fresh bait is that of the plan; bait topped up or left as it was stays the same.

    Parameters
    ----------
    at_utc : str, optional
        The moment of setting; without it each at its own lift, as a pot that is
        baited on the rail goes back at once.
    bait_action : {"fresh", "topped up", "left as it was"}
    after_round_id : str, optional
        The next round is the one after this; without it after the round of each trap.

    Raises
    ------
    Conflict
        A trap is not lifted, was lost, or the next round has another one there.
    """
    label = _label(project.snapshot(), "Set", set_ids, "again")
    with project.change(label) as change:
        put_again(change, set_ids, at_utc, bait_action, by=by, after_round_id=after_round_id)
    return project.last_changes


def move_on(
    project: Project,
    set_id: str,
    place_id: str,
    at_utc: str | None = None,
    bait_action: str = "fresh",
    *,
    by: str = "",
    after_round_id: str | None = None,
) -> Changes:
    """Set a lifted trap at another place, in the next round.

    Raises
    ------
    Conflict
        The next round has a trap in the water there.
    """
    label = _label(project.snapshot(), "Move", [set_id], "")
    with project.change(label) as change:
        put_again(
            change, [set_id], at_utc, bait_action,
            by=by, after_round_id=after_round_id, to_place_id=place_id,
        )  # fmt: skip
    return project.last_changes


def take_out(project: Project, set_ids: Sequence[str]) -> Changes:
    """Say that lifted traps stay out of the water."""
    label = _label(project.snapshot(), "Take", set_ids, "out of the water")
    with project.change(label) as change:
        for set_id in set_ids:
            row = _needed(change.snapshot, set_id)
            change.update(row.with_(afterwards="out of the water"))
    return project.last_changes


def _label(snapshot: Snapshot, verb: str, set_ids: Sequence[str], rest: str) -> str:
    row = snapshot.get(TrapSet, set_ids[0]) if len(set_ids) == 1 else None
    what = called(snapshot, row) if row else f"{len(set_ids)} traps"
    return f"{verb} {what} {rest}".strip()


def _needed(snapshot: Snapshot, set_id: str) -> TrapSet:
    """Return a trap set that waits for what comes after its lift."""
    row = snapshot.need(TrapSet, set_id)
    name, place = called(snapshot, row).capitalize(), snapshot.place_label(row)
    if row.state != "lifted":
        raise Conflict(f"{name} is not lifted.", place, "Lift it first.")
    if row.condition == "lost":
        raise Conflict(f"{name} was lost.", place, "Say that it was found first.")
    if row.afterwards:
        raise Conflict(f"{name} is already {row.afterwards}.", place, "Undo that first.")
    return row


def put_again(
    change: Change,
    set_ids: Sequence[str],
    at_utc: str | None,
    bait_action: str,
    *,
    by: str = "",
    after_round_id: str | None = None,
    to_place_id: str | None = None,
) -> None:
    """Set lifted traps again inside an open change; see :func:`set_again` and :func:`move_on`."""
    if bait_action not in BAIT_ACTIONS:
        raise InvalidValue(
            f"Bait: '{bait_action}' is not known.",
            "Bait",
            f"Use one of: {', '.join(BAIT_ACTIONS)}.",
        )
    new_ids = []
    for set_id in set_ids:
        old = _needed(change.snapshot, set_id)
        at = at_utc or old.lift_utc
        _refuse_before_lift(change.snapshot, old, at)
        after = change.snapshot.need(Round, after_round_id or old.round_id)
        fished = _round_after(change, after, at)
        place_id = to_place_id or old.place_id
        row = _row_of_next_round(change, fished, old, place_id, is_moved=to_place_id is not None)
        is_fresh = bait_action == "fresh"
        planned_id = (row.bait_id or row.planned_bait_id) if is_fresh else None
        bait_id = planned_id or old.bait_id
        row = change.update(
            row.with_(trap_id=old.trap_id or row.trap_id, place_id=place_id, bait_id=bait_id)
        )
        put_in_water(
            change, row, at, by or old.lifted_by,
            bait_action=bait_action,
            hung_utc=old.bait_hung_utc or old.set_utc,
            continues_id=old.id,
            position=_stood_at(old, place_id),
        )  # fmt: skip
        change.update(
            old.with_(
                afterwards="moved" if to_place_id else "set again", moved_to_place_id=to_place_id
            )
        )
        new_ids.append(row.id)
    refuse_two_waters(change.snapshot, new_ids)


def _stood_at(old: TrapSet, place_id: str | None) -> tuple[float, float] | None:
    """Return where a trap really stood, when it goes back to the same place."""
    if place_id != old.place_id or old.lon_deg is None or old.lat_deg is None:
        return None
    return old.lon_deg, old.lat_deg


def _refuse_before_lift(snapshot: Snapshot, old: TrapSet, at_utc: str | None) -> None:
    if at_utc is None or old.lift_utc is None or at_utc >= old.lift_utc:
        return
    trip = snapshot.trip_of(old)
    zone = trip.zone if trip else "UTC"
    raise InvalidValue(
        f"{called(snapshot, old).capitalize()} was lifted at {local_text(old.lift_utc, zone)},"
        f" after {local_text(at_utc, zone)}.",
        "Set again",
        "Type a later time.",
    )


def _round_after(change: Change, after: Round, at_utc: str | None) -> Round:
    """Return the round after a round, planned anew when it was the last."""
    trip = change.snapshot.need(Trip, after.trip_id)
    for fished in change.snapshot.rounds(trip.id):
        if fished.number > after.number:
            return fished
    day = local_text(at_utc, trip.zone, "%Y-%m-%d") or None
    return plan_next_round(change, trip.id, day)


def _row_of_next_round(
    change: Change, fished: Round, old: TrapSet, place_id: str | None, *, is_moved: bool
) -> TrapSet:
    """Return the planned row of a round that a trap goes into at a place.

    The plan of a place (its bait) stays with the place: where the round meant this trap
    for another place, the two traps change their rows.
    """
    snapshot = change.snapshot
    place = snapshot.need(Place, place_id)
    rows = snapshot.sets(fished.id)
    here = next((row for row in rows if row.place_id == place_id), None)
    if here is not None and here.state != "planned":
        raise Conflict(
            f"Round {fished.number} has {called(snapshot, here)} at '{place.label}' already.",
            place.label,
            "Choose another place, or correct that one first.",
        )
    planned = [row for row in rows if row.state == "planned"]
    mine = next((row for row in planned if old.trap_id and row.trap_id == old.trap_id), None)
    if here is not None:
        if mine is not None and mine.id != here.id:
            change.update(mine.with_(trap_id=here.trap_id))
        return here
    if mine is None:
        spots = (old.place_id, old.planned_place_id)
        mine = next((row for row in planned if row.place_id in spots), None)
    if mine is None:
        return change.insert(
            TrapSet(
                round_id=fished.id,
                planned_place_id=place_id,
                place_id=place_id,
                planned_bait_id=old.planned_bait_id,
            )
        )
    return mine.with_(planned_place_id=place_id, block=None) if is_moved else mine

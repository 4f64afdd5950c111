"""What the Lift page says about the whole of the round."""

from collections.abc import Sequence

from trapline.actions.counting import target_of
from trapline.analyses.gear_ledger import gear_ledger, in_water_sentence, lost_sentence
from trapline.analyses.lift_order import Stop
from trapline.model.instants import local_text, now_utc
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trapset import TrapSet
from trapline.ui.session import Session


def species_in_order(snapshot: Snapshot, row: TrapSet | None) -> list[Species]:
    """Return the species to count: the target first, then the other targets, then by-catch."""
    target = target_of(snapshot, row) if row else None
    others = [one for one in snapshot.all(Species) if target is None or one.id != target.id]
    others.sort(key=lambda one: one.role != "target")
    return ([target] if target else []) + others


def progress_words(stops: Sequence[Stop]) -> str:
    """Return how far the round has come."""
    lifted = sum(stop.trap_set.state == "lifted" for stop in stops)
    in_water = sum(stop.trap_set.is_in_water for stop in stops)
    return f"{lifted} of {len(stops)} lifted  ·  {in_water} in the water"


def elsewhere_words(snapshot: Snapshot, stops: Sequence[Stop]) -> str:
    """Return what stands in the water and is not on the way, and what was lost."""
    here = {stop.id for stop in stops}
    ledger = gear_ledger(snapshot)
    elsewhere = [one for one in ledger.in_water if one.set_id not in here]
    parts = (in_water_sentence(elsewhere, with_trip=True, most=2), lost_sentence(ledger.lost))
    return "  ".join(part for part in parts if part)


def next_step(session: Session, stops: Sequence[Stop]) -> tuple[str, str, str]:
    """Return why there is nothing to lift, the words of the next step, and its command."""
    if session.trip is None:
        return "There is no trip yet.", "New trip…", "new_trip"
    if not stops:
        return "The line of this round has no places yet.", "Lay out the line", "page_1"
    return "No trap of this round is set yet.", "Set the traps", "page_2"


def zone_of(session: Session) -> str:
    """Return the zone of the trip's clock."""
    return session.trip.zone if session.trip else "UTC"


def usual_day(stops: Sequence[Stop], zone: str) -> str:
    """Return the local date that a bare lift time belongs to: that of the last lift, else today."""
    lifts = [stop.trap_set.lift_utc for stop in stops if stop.trap_set.lift_utc]
    return local_text(max(lifts, default=now_utc()), zone, "%Y-%m-%d")

"""What is left open in a project: gear in the water, traps not counted, gaps too short."""

from collections.abc import Iterable
from dataclasses import dataclass

from trapline.analyses.gear_ledger import gear_ledger, in_water_sentence, lost_sentence
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import check_spacing
from trapline.analyses.trip_lifts import TripLift, rounds_in_order, trip_lifts
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Trip


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """One thing left open: `kind` sorts it, `n` counts it, `text` says it in one sentence."""

    kind: str
    n: int
    text: str


def open_ends(snapshot: Snapshot, trip_ids: Iterable[str] | None = None) -> tuple[OpenEnd, ...]:
    """Return what is left open, gear first.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    trip_ids : iterable of str, optional
        Only these trips; without it all, and lost gear of no trip as well.

    Raises
    ------
    InvalidValue
        There is no such trip.

    References
    ----------
    Common practice, no source: gear is accounted for first, then counts, then gaps.

    Examples
    --------
    >>> open_ends(Snapshot({}))
    ()
    """
    chosen = (
        [trip.id for trip in reversed(snapshot.trips())] if trip_ids is None else list(trip_ids)
    )
    for trip_id in chosen:
        snapshot.need(Trip, trip_id)
    ledger = gear_ledger(snapshot)
    standing = [row for row in ledger.in_water if row.trip_id in chosen]
    lost = [row for row in ledger.lost if trip_ids is None or row.trip_id in chosen]
    found = [
        OpenEnd("in water", len(standing), in_water_sentence(standing, with_trip=len(chosen) > 1)),
        OpenEnd("lost", len(lost), lost_sentence(lost)),
    ]
    for trip_id in chosen:
        found += _of_trip(snapshot, trip_id, with_trip=len(chosen) > 1)
    return tuple(one for one in found if one.n)


def _of_trip(snapshot: Snapshot, trip_id: str, *, with_trip: bool) -> list[OpenEnd]:
    name = f"{snapshot.need(Trip, trip_id).name}: " if with_trip else ""
    lifts = trip_lifts(snapshot, rounds_in_order(snapshot, [trip_id]))
    return [
        _end("not counted", name, "lifted and not counted", filter(_is_uncounted, lifts)),
        _end("no time", name, "lifted without a time of setting or lifting",
             (one for one in lifts if one.trap_set.state == "lifted" and one.soak_h is None
              and one.condition in ("fished", "disturbed"))),
        _end("no bait", name, "set without a bait written down",
             (one for one in lifts if one.condition != "planned" and one.bait is None)),
        *_warnings(snapshot, trip_id, name),
    ]  # fmt: skip


def _is_uncounted(lift: TripLift) -> bool:
    """Whether somebody could still say what was in the trap."""
    return lift.condition in ("fished", "disturbed") and not (
        lift.trap_set.counted and (lift.caught is not None or lift.weight_kg is not None
                                   or bool(lift.measures))
    )  # fmt: skip


def _end(kind: str, name: str, words: str, lifts: Iterable[TripLift]) -> OpenEnd:
    found = [f"{one.place} (round {one.round.number})" for one in lifts]
    named = ", ".join(found[:6]) + (f" and {len(found) - 6} more" if len(found) > 6 else "")
    verb = "trap was" if len(found) == 1 else "traps were"
    return OpenEnd(kind, len(found), f"{name}{len(found)} {verb} {words}: {named}.")


def _warnings(snapshot: Snapshot, trip_id: str, name: str) -> list[OpenEnd]:
    """Return the gaps of the last round: earlier ones cannot be mended any more."""
    rounds = snapshot.rounds(trip_id)
    if not rounds:
        return []
    spacing = check_spacing(snapshot, rounds[-1].id)
    scents = check_plumes(snapshot, rounds[-1].id).warnings
    found = [("gap", one.text) for one in spacing.warnings if one.kind in ("gap", "lonely")]
    found += [
        ("scent", one.text) for one in scents if one.kind in ("different baits", "choice test")
    ]
    return [OpenEnd(kind, 1, f"{name}{text}") for kind, text in found]

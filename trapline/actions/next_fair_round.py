"""The next round with a fair draw that goes on from the rounds fished, in one step."""

from trapline.actions.fair_order import (
    extended_draw,
    open_rounds,
    propose_fair_order,
    write_draw,
)
from trapline.actions.places import where_next
from trapline.actions.trips import plan_next_round
from trapline.errors import Conflict
from trapline.model.bait import Bait
from trapline.model.changes import Changes
from trapline.model.kept_draw import KeptDraw
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.store.project import Project


def propose_fair_round(snapshot: Snapshot, trip_id: str, seed: int | None = None) -> KeptDraw:
    """Return the draw by which the round to come is baited; nothing is written.

    A draw that the trip has goes on; else one is made for the baits of the round set last and
    the places of the round to come, which counts the rounds fished as they were baited.

    Raises
    ------
    Conflict
        The round to come has fewer than two places.
    InvalidValue
        The last round had fewer than two baits, or another program wrote a draw that is none.
    """
    trip = snapshot.need(Trip, trip_id)
    n_rounds = _n_rounds(snapshot, trip_id)
    draw = extended_draw(snapshot, trip, n_rounds)
    if draw is not None:
        return draw
    rounds, still_open = snapshot.rounds(trip_id), open_rounds(snapshot, trip_id)
    fished = rounds[: len(rounds) - len(still_open)]
    hung = [row.bait_id for row in snapshot.sets((fished or rounds)[-1].id) if row.bait_id]
    bait_ids = tuple(dict.fromkeys(hung))
    controls = {bait.id for bait in snapshot.all(Bait) if bait.is_control}
    return propose_fair_order(
        snapshot if still_open else _with_next_round(snapshot, rounds[-1]),
        trip_id,
        bait_ids,
        kind="whole line",
        n_rounds=max(n_rounds, len(bait_ids)),  # so that every bait can come to every place
        at_most={bait_id: hung.count(bait_id) for bait_id in bait_ids if bait_id in controls},
        seed=seed,
    )


def plan_fair_round(project: Project, trip_id: str, kept: KeptDraw) -> Changes:
    """Plan the next round by a draw as it was proposed; one not set yet is baited by it.

    Raises
    ------
    Conflict
        Since the draw was made, a round was added.
    """
    with project.change("Plan the next round") as change:
        trip = change.snapshot.need(Trip, trip_id)
        if len(kept.rounds) < _n_rounds(change.snapshot, trip_id):
            raise Conflict("The rounds changed since the draw.", trip.name, "Plan it again.")
        are_open = bool(open_rounds(change.snapshot, trip_id))
        write_draw(change, trip, kept)
        if not are_open:
            plan_next_round(change, trip_id)
    return project.last_changes


def _n_rounds(snapshot: Snapshot, trip_id: str) -> int:
    """Return the number of rounds with the one to come."""
    return len(snapshot.rounds(trip_id)) + (0 if open_rounds(snapshot, trip_id) else 1)


def _with_next_round(snapshot: Snapshot, last: Round) -> Snapshot:
    """Return the project as it will be with one more round, its places along the line."""
    to_come = Round(trip_id=last.trip_id, number=last.number + 1)
    ids = {place_id for _, place_id in where_next(snapshot.sets(last.id)) if place_id}
    places = sorted(
        (snapshot.need(Place, place_id) for place_id in ids),
        key=lambda place: (place.line_id or "", place.ordinal, place.id),
    )
    sets = [
        TrapSet(round_id=to_come.id, planned_place_id=place.id, place_id=place.id)
        for place in places
    ]
    return snapshot.with_rows([to_come, *sets])

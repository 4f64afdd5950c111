"""Which bait goes where: a fair draw, kept with the trip because its test redraws from it."""

import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import replace

from trapline.actions.places import where_next
from trapline.actions.setting import refuse_other_trap, refuse_two_waters
from trapline.errors import Conflict, InvalidValue
from trapline.model.bait import Bait
from trapline.model.changes import Changes
from trapline.model.kept_draw import KeptDraw, block_of, kept_draw, planned_baits
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.store.project import Project
from trapline.store.transaction import Change


def new_seed() -> int:
    """Return a fresh seed for a draw, small enough to be read out and typed in."""
    return secrets.randbelow(1_000_000)


def propose_fair_order(
    snapshot: Snapshot,
    trip_id: str,
    bait_ids: Sequence[str],
    *,
    kind: str = "blocks",
    n_rounds: int | None = None,
    at_most: Mapping[str, int] | None = None,
    seed: int | None = None,
    even_succession: bool = True,
) -> KeptDraw:
    """Return a draw of which bait hangs at which place; the same seed gives the same draw.

    Nothing is written: it is what :func:`draw_fair_order` would do.

    Parameters
    ----------
    bait_ids : sequence of str
        The baits to compare, a control among them when there is one.
    kind : {"blocks", "whole line"}
        Each bait once in every stretch along the line, or balanced over the line only.
    n_rounds : int, optional
        The rounds planned; those that exist at least.
    at_most : mapping of bait id to int, optional
        The most places that a bait gets in one round (a control: 1).
    even_succession : bool
        Whether those layouts are preferred in which baits follow each other evenly on their
        places, as long as that leaves a test over the layouts.

    Raises
    ------
    Conflict
        No round is left to plan, or the round has no places.
    InvalidValue
        Fewer than two baits, or limits that leave places empty.
    """
    if len(set(bait_ids)) < 2:
        raise InvalidValue(
            "A comparison needs at least two baits.", "Baits", "Tick another bait, or add one."
        )
    for bait_id in bait_ids:
        snapshot.need(Bait, bait_id)
    trip = snapshot.need(Trip, trip_id)
    rounds = snapshot.rounds(trip_id)
    place_ids = _places_to_plan(snapshot, trip)
    still_open = open_rounds(snapshot, trip_id)
    fished = [row for row in rounds if row not in still_open]
    done = _rounds_as_fished(snapshot, fished, bait_ids, place_ids)
    wanted = max(n_rounds or 0, len(rounds))
    kept = _draw(
        tuple(bait_ids), place_ids, kind, wanted, at_most or {}, seed, done,
        even_succession=even_succession,
    )  # fmt: skip
    return _after_earlier(trip, kept)


def _after_earlier(trip: Trip, kept: KeptDraw) -> KeptDraw:
    """Return a draw that knows which of the rounds it goes on from were dealt by one before it."""
    try:
        earlier = kept_draw(trip)
    except InvalidValue:  # another program wrote it: what it dealt is not known
        earlier = None
    if earlier is None:
        return kept
    n_by_hand = earlier.n_given - earlier.n_dealt_before
    return replace(kept, n_dealt_before=max(0, kept.n_given - n_by_hand))


def _places_to_plan(snapshot: Snapshot, trip: Trip) -> tuple[str, ...]:
    """Return the places of the first round that is not set yet, along the line."""
    still_open = open_rounds(snapshot, trip.id)
    if not still_open:
        raise Conflict("Every round is set already.", trip.name, "Start the next round first.")
    place_ids = tuple(row.place_id or "" for row in snapshot.sets(still_open[0].id))
    if len(place_ids) < 2:
        raise Conflict("The round has fewer than two places.", trip.name, "Add places first.")
    return place_ids


def open_rounds(snapshot: Snapshot, trip_id: str) -> list[Round]:
    """Return the rounds of a trip after the last one in which a trap was set."""
    found: list[Round] = []
    for row in reversed(snapshot.rounds(trip_id)):
        if any(one.state != "planned" for one in snapshot.sets(row.id)):
            break
        found.insert(0, row)
    return found


def draw_fair_order(
    project: Project,
    trip_id: str,
    bait_ids: Sequence[str],
    *,
    kind: str = "blocks",
    n_rounds: int | None = None,
    at_most: Mapping[str, int] | None = None,
    seed: int | None = None,
    even_succession: bool = True,
) -> Changes:
    """Draw which bait hangs at which place, and write it into the rounds not yet set.

    Takes and refuses what :func:`propose_fair_order` does.
    """
    kept = propose_fair_order(
        project.snapshot(), trip_id, bait_ids,
        kind=kind, n_rounds=n_rounds, at_most=at_most, seed=seed,
        even_succession=even_succession,
    )  # fmt: skip
    return use_draw(project, trip_id, kept)


def use_draw(project: Project, trip_id: str, kept: KeptDraw) -> Changes:
    """Write a draw as it was proposed into the rounds not yet set.

    Raises
    ------
    Conflict
        The round to plan has other places by now, or none is left.
    """
    with project.change("Draw fair order") as change:
        trip = change.snapshot.need(Trip, trip_id)
        if _places_to_plan(change.snapshot, trip) != kept.place_ids:
            raise Conflict("The places changed since the draw.", trip.name, "Draw again.")
        write_draw(change, trip, kept)
    return project.last_changes


def write_draw(change: Change, trip: Trip, kept: KeptDraw) -> None:
    """Keep a draw with its trip inside an open change, and bait the rounds not yet set by it."""
    rounds = change.snapshot.rounds(trip.id)
    for fished in open_rounds(change.snapshot, trip.id):
        baits = planned_baits(kept, rounds.index(fished) + 1)
        for row in change.snapshot.sets(fished.id):
            place_id = row.place_id or ""
            bait_id = baits.get(place_id)
            if bait_id:
                block = block_of(kept, place_id)
                change.update(row.with_(planned_bait_id=bait_id, bait_id=bait_id, block=block))
    change.update(
        trip.with_(
            layout_scheme=kept.scheme["kind"], layout_seed=kept.seed, layout_draw=kept.as_json()
        )
    )


def _rounds_as_fished(
    snapshot: Snapshot,
    rounds: Sequence[Round],
    bait_ids: Sequence[str],
    place_ids: Sequence[str],
) -> tuple[tuple[int, ...], ...]:
    """Return what really hung where, −1 where none of the baits did."""
    found = []
    for fished in rounds:
        sets = (row for row in snapshot.sets(fished.id) if row.state != "planned")
        at = {row.place_id: row.bait_id for row in sets}
        hung = [at.get(place_id) for place_id in place_ids]
        found.append(tuple(bait_ids.index(b) if b in bait_ids else -1 for b in hung))
    return tuple(found)


def _draw(
    bait_ids: tuple[str, ...],
    place_ids: tuple[str, ...],
    kind: str,
    n_rounds: int,
    at_most: Mapping[str, int],
    seed: int | None,
    done: tuple[tuple[int, ...], ...],
    before: tuple[tuple[int, ...], ...] = (),
    *,
    even_succession: bool,
) -> KeptDraw:
    """Return a draw whose first rounds are those already fished, after those of `before`."""
    from trapline.science.layout import Scheme, draw_layout, next_round
    from trapline.science.succession_choice import with_even_succession

    limits = tuple(at_most.get(bait_id) for bait_id in bait_ids)
    scheme = Scheme.from_dict(
        {
            "n_places": len(place_ids),
            "n_baits": len(bait_ids),
            "n_rounds": len(before) + n_rounds,
            "kind": kind,
            "rotated": True,
            "at_most": limits if any(limit is not None for limit in limits) else (),
        }
    )
    seed = new_seed() if seed is None else seed
    given = [*before, *done]
    if even_succession:
        scheme = with_even_succession(scheme, given)
    drawn = next_round(scheme, given, seed) if given else draw_layout(scheme, seed)
    return KeptDraw(
        scheme=drawn.scheme.as_dict(),
        seed=seed,
        bait_ids=bait_ids,
        place_ids=place_ids,
        rounds=tuple(tuple(row) for row in drawn.rounds[len(before) :].tolist()),
        before=before,
        notes=drawn.notes,
        n_given=len(done),
    )


def notes_in_words(snapshot: Snapshot, kept: KeptDraw) -> tuple[str, ...]:
    """Return the notes of a draw with the names of baits and places instead of their numbers."""

    def bait(match: re.Match[str]) -> str:
        row = snapshot.get(Bait, _at(kept.bait_ids, match))
        return f"'{row.name}'" if row else match[0]

    def place(match: re.Match[str]) -> str:
        row = snapshot.get(Place, _at(kept.place_ids, match))
        return f"'{row.label}'" if row else match[0]

    texts = (re.sub(r"\b[Bb]ait (\d+)", bait, note) for note in kept.notes)
    return tuple(re.sub(r"\bplace (\d+)", place, text) for text in texts)


def _at(ids: Sequence[str], match: re.Match[str]) -> str | None:
    number = int(match[1])
    return ids[number - 1] if 1 <= number <= len(ids) else None


def extended_draw(snapshot: Snapshot, trip: Trip, nth: int) -> KeptDraw | None:
    """Return the trip's draw with at least n rounds; None without a draw.

    The rounds already fished count as they were really baited.
    """
    kept = kept_draw(trip)
    if kept is None or nth <= len(kept.rounds):
        return kept
    rounds = snapshot.rounds(trip.id)
    done = _rounds_as_fished(snapshot, rounds, kept.bait_ids, kept.place_ids)
    limits = kept.scheme["at_most"] or [None] * len(kept.bait_ids)
    at_most = {b: n for b, n in zip(kept.bait_ids, limits, strict=True) if n is not None}
    longer = _draw(
        kept.bait_ids, kept.place_ids, kept.scheme["kind"], nth, at_most, kept.seed,
        done, kept.before, even_succession=_is_even(kept),
    )  # fmt: skip
    return _after_earlier(trip, longer)


def draw_going_on(snapshot: Snapshot, trip: Trip, seed: int | None = None) -> KeptDraw | None:
    """Return a draw for a new trip on the same places that goes on from a trip's rounds.

    Where that trip had no draw, its last round says which baits and how many of a control.
    """
    rounds = snapshot.rounds(trip.id)
    if not rounds:
        return None
    kept = kept_draw(trip)
    sets = snapshot.sets(rounds[-1].id)
    place_ids = _along_the_line(snapshot, sets)
    if kept is not None and set(kept.place_ids) == set(place_ids):
        bait_ids, kind, evenly = kept.bait_ids, kept.scheme["kind"], _is_even(kept)
        limits = kept.scheme["at_most"] or [None] * len(bait_ids)
        at_most = {b: n for b, n in zip(bait_ids, limits, strict=True) if n is not None}
    else:
        hung = [row.bait_id or row.planned_bait_id for row in sets]
        bait_ids = tuple(dict.fromkeys(bait_id for bait_id in hung if bait_id))
        kind, evenly = "whole line", True
        controls = [b for b in bait_ids if (bait := snapshot.get(Bait, b)) and bait.is_control]
        at_most = {bait_id: hung.count(bait_id) for bait_id in controls}
    if len(bait_ids) < 2:
        return None
    # A rotation that was left incomplete goes on; after a whole one everything is open again.
    fished = rounds[: len(rounds) - len(open_rounds(snapshot, trip.id))]
    n_left_over = len(fished) % len(bait_ids)
    going_on = fished[len(fished) - n_left_over :]
    before = _rounds_as_fished(snapshot, going_on, bait_ids, place_ids)
    return _draw(
        bait_ids, place_ids, kind, len(rounds), at_most, seed, (), before, even_succession=evenly
    )


def _is_even(kept: KeptDraw) -> bool:
    """Return whether a draw was to prefer even successions; old ones do not say so."""
    return bool(kept.scheme.get("even_succession", False))


def _along_the_line(snapshot: Snapshot, sets: Sequence[TrapSet]) -> tuple[str, ...]:
    """Return the places that the traps of a round go to next, wherever they really stood."""
    places = {snapshot.need(Place, place_id) for _, place_id in where_next(sets)}
    in_order = sorted(places, key=lambda place: (place.line_id or "", place.ordinal, place.id))
    return tuple(place.id for place in in_order)


def choose_baits(change: Change, baits: Mapping[str, str | None]) -> None:
    """Choose the baits of trap sets by hand inside an open change; their draw is forgotten."""
    for set_id, bait_id in baits.items():
        if bait_id is not None:
            change.snapshot.need(Bait, bait_id)
        _assign(change, set_id, bait_id)


def _assign(change: Change, set_id: str, bait_id: str | None) -> None:
    row = change.snapshot.need(TrapSet, set_id)
    if row.state != "planned":
        raise Conflict(
            f"The trap at '{change.snapshot.place_label(row)}' is set already.",
            "Bait",
            "Say on the Set page what really hung in it.",
        )
    if row.planned_bait_id == bait_id and row.bait_id == bait_id:
        return
    change.update(row.with_(planned_bait_id=bait_id, bait_id=bait_id, block=None))
    trip = change.snapshot.trip_of(row)
    if trip is not None and trip.layout_draw:
        change.update(trip.with_(layout_scheme="none", layout_seed=None, layout_draw=""))


def assign_traps(project: Project, traps: Mapping[str, str | None]) -> Changes:
    """Choose which trap goes where: set id to trap id.

    Raises
    ------
    Conflict
        A trap would stand at two places of one round.
    """
    with project.change("Assign trap" if len(traps) == 1 else "Assign traps") as change:
        choose_traps(change, traps)
    return project.last_changes


def choose_traps(change: Change, traps: Mapping[str, str | None]) -> None:
    """Write the traps of trap sets inside an open change; they may be exchanged.

    Raises
    ------
    Conflict
        A trap would stand at two places, or it was lost there.
    InvalidValue
        Two of its soaks would overlap in time.
    """
    for set_id, trap_id in traps.items():
        row = change.snapshot.need(TrapSet, set_id)
        if row.trap_id != trap_id:
            refuse_other_trap(change.snapshot, row)
            change.update(row.with_(trap_id=trap_id))
    snapshot = change.snapshot
    # Each round is looked through once: a column of traps may be long.
    at: dict[tuple[str, str], TrapSet] = {}
    for round_id in dict.fromkeys(snapshot.need(TrapSet, key).round_id or "" for key in traps):
        for row in snapshot.sets(round_id):
            # Those that were not touched come first in the message: they were there before.
            if row.trap_id and (row.id not in traps or (round_id, row.trap_id) not in at):
                at[round_id, row.trap_id] = row
    for set_id, trap_id in traps.items():
        if trap_id is None:
            continue
        there = at[snapshot.need(TrapSet, set_id).round_id or "", trap_id]
        if there.id != set_id:
            number = snapshot.need(Trap, trap_id).number
            raise Conflict(
                f"Trap {number} stands at '{snapshot.place_label(there)}' already.",
                "Trap",
                "Choose another trap, or take it away there first.",
            )
    refuse_two_waters(snapshot, traps)

"""Trips and rounds: starting, repeating, going on to the next round."""

import datetime as dt
from typing import Any

from trapline.actions.editing import refuse_double
from trapline.actions.fair_order import draw_going_on, extended_draw
from trapline.actions.places import plan_set, where_next
from trapline.errors import Conflict
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.kept_draw import KeptDraw, block_of, planned_baits
from trapline.model.line import DEFAULT_MAX_GAP_M, DEFAULT_MIN_GAP_M, Line
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project
from trapline.store.transaction import Change


def default_gaps(kind_of_line: str) -> tuple[float, float]:
    """Return the minimum and maximum gap in metres that a kind of line starts with."""
    return DEFAULT_MIN_GAP_M[kind_of_line], DEFAULT_MAX_GAP_M[kind_of_line]


def start_trip(
    project: Project,
    trip: Trip,
    *,
    water: Water,
    line: Line,
    first_round: Round | None = None,
    extra: tuple[Noun, ...] = (),
) -> Changes:
    """Start a trip with its first round, on a water and a line that may be new or edited.

    Every place that the line has already gets a planned trap set. Limits that the
    trip leaves open are those of the kind of line.
    """
    with project.change("New trip") as change:
        for row in (water, *extra):
            _write(change, row)
        line = line.with_(water_id=water.id)
        _write(change, line)
        trip = with_gaps(trip.with_(water_id=water.id, line_id=line.id), line.kind)
        refuse_double(change.snapshot, trip)
        change.insert(trip)
        first = (first_round or Round()).with_(trip_id=trip.id, number=1)
        if first.set_on is None:
            first = first.with_(set_on=trip.started_on)
        change.insert(first)
        for place in change.snapshot.places(line.id):
            plan_set(change, first.id, place.id)
    return project.last_changes


def _write(change: Change, row: Noun) -> None:
    """Write a row that may be new, or be there already and have been changed."""
    refuse_double(change.snapshot, row)
    if change.snapshot.get(type(row), row.id) is None:
        change.insert(row)
    else:
        change.update(row)


def edit_trip(
    project: Project,
    trip_id: str,
    trip_values: dict[str, Any],
    *,
    round_id: str | None = None,
    round_values: dict[str, Any] | None = None,
    water_values: dict[str, Any] | None = None,
    line_values: dict[str, Any] | None = None,
    extra: tuple[Noun, ...] = (),
) -> Changes:
    """Change a trip, and with it one of its rounds, its water and its line, in one step.

    `extra` are rows that the trip refers to and that may be new, such as a species. Limits
    that the trip leaves open are those of the kind of line, as at its start.
    """
    with project.change("Edit trip") as change:
        for row in extra:
            _write(change, row)
        trip = change.snapshot.need(Trip, trip_id).with_(**trip_values)
        if water_values:
            _write(change, change.snapshot.need(Water, trip.water_id).with_(**water_values))
        if line_values:
            _write(change, change.snapshot.need(Line, trip.line_id).with_(**line_values))
        line = change.snapshot.get(Line, trip.line_id)
        _write(change, with_gaps(trip, line.kind if line else "set apart"))
        if round_id and round_values:
            change.update(change.snapshot.need(Round, round_id).with_(**round_values))
    return project.last_changes


def with_gaps(trip: Trip, kind_of_line: str) -> Trip:
    """Return a trip whose open limits are those of the kind of line, fitted to a typed one."""
    low, high = default_gaps(kind_of_line)
    min_gap_m, max_gap_m = trip.min_gap_m, trip.max_gap_m
    if min_gap_m is None:
        min_gap_m = low if max_gap_m is None else min(low, max_gap_m)
    if max_gap_m is None:
        max_gap_m = high if high > min_gap_m else min_gap_m * high / low
    return trip.with_(min_gap_m=min_gap_m, max_gap_m=max_gap_m)


def next_round(project: Project, trip_id: str, *, set_on: str | None = None) -> Changes:
    """Plan the next round: the same traps at the same places, with the baits of the plan.

    Without a fair draw the baits stay as they were, to be changed by hand. Traps of the last
    round may still stand in the water: they are lifted and set again one after the other.

    Raises
    ------
    Conflict
        The last round is still only planned.
    """
    with project.change("Next round") as change:
        last = change.snapshot.round_numbered(trip_id, None)
        sets = change.snapshot.sets(last.id)
        if not sets or all(row.state == "planned" for row in sets):
            raise Conflict(
                f"Round {last.number} is not set yet.", f"Round {last.number}", "Set it first."
            )
        plan_next_round(change, trip_id, set_on)
    return project.last_changes


def plan_next_round(change: Change, trip_id: str, set_on: str | None = None) -> Round:
    """Plan the round after the last one inside an open change, as :func:`next_round` does."""
    snapshot = change.snapshot
    trip = snapshot.need(Trip, trip_id)
    last = snapshot.round_numbered(trip_id, None)
    number = last.number + 1
    new = Round(
        trip_id=trip_id,
        number=number,
        set_on=set_on or _day_after(last.set_on),
        crew=last.crew,
        boat=last.boat,
        current_m_s=last.current_m_s,
        current_to_deg=last.current_to_deg,
        lift_from=last.lift_from,
    )
    change.insert(new)
    nth = len(snapshot.rounds(trip_id)) + 1
    draw = extended_draw(snapshot, trip, nth)
    if draw is not None and draw.as_json() != trip.layout_draw:
        change.update(trip.with_(layout_draw=draw.as_json()))
    baits = planned_baits(draw, nth) if draw else {}
    for row, place_id in where_next(snapshot.sets(last.id)):
        bait_id = baits.get(place_id or "", row.bait_id or row.planned_bait_id)
        change.insert(
            TrapSet(
                round_id=new.id,
                trap_id=None if row.condition == "lost" else row.trap_id,
                planned_place_id=place_id,
                place_id=place_id,
                planned_bait_id=bait_id,
                bait_id=bait_id,
                block=_block(draw, row, place_id),
            )
        )
    return new


def _block(draw: KeptDraw | None, row: TrapSet, place_id: str | None) -> int | None:
    """Return the stretch of the line within which a place was drawn for: not that of a trap."""
    if draw is not None:
        return block_of(draw, place_id or "")
    return None if row.moved_to_place_id else row.block


def _day_after(day: str | None) -> str | None:
    return (dt.date.fromisoformat(day) + dt.timedelta(days=1)).isoformat() if day else None


def new_trip_from(
    project: Project,
    trip_id: str,
    name: str,
    *,
    started_on: str | None = None,
    seed: int | None = None,
) -> Changes:
    """Start a trip like an earlier one: the same places and traps, the baits rotated."""
    with project.change("New trip from this one") as change:
        snapshot = change.snapshot
        old = snapshot.need(Trip, trip_id)
        last = snapshot.round_numbered(trip_id, None)
        draw = draw_going_on(snapshot, old, seed)
        trip = Trip(
            name=name,
            water_id=old.water_id,
            line_id=old.line_id,
            started_on=started_on,
            purpose=old.purpose,
            zone=old.zone,
            min_gap_m=old.min_gap_m,
            max_gap_m=old.max_gap_m,
            reference_bait_id=old.reference_bait_id,
            target_species_id=old.target_species_id,
            winner_threshold=old.winner_threshold,
            layout_scheme=draw.scheme["kind"] if draw else "none",
            layout_seed=draw.seed if draw else None,
            layout_draw=draw.as_json() if draw else "",
        )
        refuse_double(snapshot, trip)
        change.insert(trip)
        first = Round(trip_id=trip.id, number=1, set_on=started_on, crew=last.crew, boat=last.boat)
        change.insert(first)
        baits = planned_baits(draw, 1) if draw else {}
        for row, place_id in where_next(snapshot.sets(last.id)):
            bait_id = baits.get(place_id or "", row.bait_id or row.planned_bait_id)
            change.insert(
                TrapSet(
                    round_id=first.id,
                    trap_id=None if row.condition == "lost" else row.trap_id,
                    planned_place_id=place_id,
                    place_id=place_id,
                    planned_bait_id=bait_id,
                    bait_id=bait_id,
                    block=block_of(draw, place_id or "") if draw else None,
                )
            )
    return project.last_changes


def delete_round(project: Project, round_id: str) -> Changes:
    """Delete the last round of a trip while it is only planned.

    Raises
    ------
    Conflict
        A trap was set, or it is not the last round, or the only one.
    """
    with project.change("Delete round") as change:
        snapshot = change.snapshot
        fished = snapshot.need(Round, round_id)
        rounds = snapshot.rounds(fished.trip_id or "")
        if rounds[-1].id != round_id or len(rounds) == 1:
            raise Conflict(
                "Only the last of several rounds can be deleted.",
                f"Round {fished.number}",
                "Delete the later rounds first, or the trip.",
            )
        _delete_sets(change, round_id)
        change.delete(fished)
    return project.last_changes


def delete_trip(project: Project, trip_id: str) -> Changes:
    """Delete a trip of which nothing was set yet.

    Raises
    ------
    Conflict
        A trap was set on it: records of the water are not thrown away.
    """
    with project.change("Delete trip") as change:
        snapshot = change.snapshot
        trip = snapshot.need(Trip, trip_id)
        for fished in snapshot.rounds(trip_id):
            _delete_sets(change, fished.id)
            change.delete(fished)
        change.delete(trip)
    return project.last_changes


def _delete_sets(change: Change, round_id: str) -> None:
    for row in change.snapshot.sets(round_id):
        if row.state != "planned":
            raise Conflict(
                f"A trap was set at '{change.snapshot.place_label(row)}'; its record would be"
                " lost.",
                "",
                "Undo the setting first if it never happened.",
            )
        change.delete(row)

"""Trips and rounds: started, edited, repeated, deleted; every step undone and redone."""

import pytest

from tests.actions.bench import Bench, assign_baits
from trapline.actions.fair_order import assign_traps
from trapline.actions.places import add_places
from trapline.actions.trips import (
    default_gaps,
    delete_round,
    delete_trip,
    edit_trip,
    new_trip_from,
    next_round,
    start_trip,
)
from trapline.errors import Conflict
from trapline.model.line import LINE_KINDS, Line, Place
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip
from trapline.model.water import Water


def baited(bench: Bench) -> None:
    """Hang a bait at every place and give every place a trap."""
    sets, traps = bench.snapshot.sets(bench.round_id), bench.snapshot.all(Trap)
    assign_baits(bench.project, {row.id: bench.bait_ids()[n % 4] for n, row in enumerate(sets)})
    assign_traps(bench.project, {row.id: trap.id for row, trap in zip(sets, traps, strict=False)})


def test_a_trip_starts_on_a_new_water_with_a_new_species_in_one_step(bench: Bench) -> None:
    water, line = Water(name="Upper pond"), Line(kind="shore line")
    crab = Species(name="Shore crab")
    trip = Trip(name="Second", started_on="2026-08-01", target_species_id=crab.id)
    bench.does(start_trip, trip, water=water, line=line, extra=(crab,))
    written = bench.snapshot.need(Trip, trip.id)
    assert bench.snapshot.water_of(written) == water
    assert written.line_id == line.id
    (first,) = bench.snapshot.rounds(trip.id)
    assert (first.number, first.set_on) == (1, "2026-08-01")


def test_a_trip_on_a_line_that_is_there_fishes_its_places(bench: Bench) -> None:
    water = bench.snapshot.need(Water, bench.water_id)
    line = bench.snapshot.need(Line, bench.line_id)
    trip = Trip(name="Second")
    first = Round(current_m_s=0.2, current_to_deg=225.0)
    bench.does(start_trip, trip, water=water, line=line, first_round=first)
    (fished,) = bench.snapshot.rounds(trip.id)
    assert fished.has_current
    assert len(bench.snapshot.sets(fished.id)) == 7
    assert len(bench.snapshot.all(Water)) == 1


# Common practice, no source: 1.5 m (5 ft) thrown from the shore, 10 m for crayfish traps set
# apart, 30 m for crab pots.
@pytest.mark.parametrize(
    ("kind", "min_gap_m"),
    [("shore line", 1.5), ("set apart", 10.0), ("crab pots", 30.0), ("string", 30.0)],
)
def test_open_limits_are_those_of_the_kind_of_line(
    bench: Bench, kind: str, min_gap_m: float
) -> None:
    water, line = Water(name="Upper pond"), Line(kind=kind)
    trip = Trip(name="Second")
    start_trip(bench.project, trip, water=water, line=line)
    written = bench.snapshot.need(Trip, trip.id)
    assert (written.min_gap_m, written.max_gap_m) == (min_gap_m, default_gaps(kind)[1])


@pytest.mark.parametrize(
    ("typed", "wanted"),
    [
        ((4.0, None), (4.0, 50.0)),
        ((0.0, 7.0), (0.0, 7.0)),
        ((60.0, None), (60.0, 300.0)),  # the default maximum would lie under the minimum
        ((None, 6.0), (6.0, 6.0)),  # the default minimum would lie over the maximum
    ],
)
def test_typed_limits_stay_and_the_open_ones_fit_them(
    bench: Bench, typed: tuple[float | None, float | None], wanted: tuple[float, float]
) -> None:
    water, line = Water(name="Upper pond"), Line(kind="set apart")
    trip = Trip(name="Second", min_gap_m=typed[0], max_gap_m=typed[1])
    start_trip(bench.project, trip, water=water, line=line)
    written = bench.snapshot.need(Trip, trip.id)
    assert (written.min_gap_m, written.max_gap_m) == wanted


def test_every_kind_of_line_has_its_limits() -> None:
    for kind in LINE_KINDS:
        low, high = default_gaps(kind)
        assert 0 < low < high


@pytest.mark.parametrize(
    ("trip", "water"),
    [(Trip(name="first"), Water(name="New")), (Trip(name="Second"), Water(name="MILL pond"))],
)
def test_doubled_names_are_refused_with_all_that_came_with_them(
    bench: Bench, trip: Trip, water: Water
) -> None:
    bench.refuses(start_trip, trip, water=water, line=Line(), extra=(Species(name="Perch"),))


def test_trip_round_water_and_line_are_edited_in_one_step(bench: Bench) -> None:
    perch = Species(name="Perch")
    bench.does(
        edit_trip, bench.trip_id,
        {"notes": "Rain", "target_species_id": perch.id, "min_gap_m": None, "max_gap_m": None},
        round_id=bench.round_id,
        round_values={"current_m_s": 0.3, "current_to_deg": 90.0, "crew": "two"},
        water_values={"kind": "flowing"},
        line_values={"kind": "string"},
        extra=(perch,),
    )  # fmt: skip
    trip = bench.trip()
    assert (trip.notes, trip.min_gap_m) == ("Rain", 30.0)
    assert bench.round().current_to_deg == 90.0
    assert bench.snapshot.need(Water, bench.water_id).kind == "flowing"
    assert bench.snapshot.need(Line, bench.line_id).kind == "string"


@pytest.mark.parametrize(
    ("trip_values", "others"),
    [
        ({"min_gap_m": 60.0, "max_gap_m": 50.0}, {}),
        ({"zone": "Nowhere/Land"}, {}),
        ({"name": ""}, {}),
        ({}, {"round_values": {"current_m_s": -1.0}}),
        ({}, {"water_values": {"name": ""}}),
        ({}, {"line_values": {"kind": "raft"}}),
        ({"notes": "x"}, {"extra": (Water(name="Mill pond"),)}),
    ],
)
def test_an_edit_that_cannot_be_changes_nothing(
    bench: Bench, trip_values: dict[str, object], others: dict[str, object]
) -> None:
    bench.refuses(edit_trip, bench.trip_id, trip_values, round_id=bench.round_id, **others)


def test_two_trips_may_not_get_one_name(bench: Bench) -> None:
    new_trip_from(bench.project, bench.trip_id, "Second")
    bench.refuses(edit_trip, bench.trip_id, {"name": "second"})


def test_the_next_round_has_the_same_traps_at_the_same_places(bench: Bench) -> None:
    baited(bench)
    bench.set_all()
    bench.does(next_round, bench.trip_id)
    new = bench.round(2)
    old_sets, new_sets = bench.snapshot.sets(bench.round_id), bench.snapshot.sets(new.id)
    assert new.set_on == "2026-07-02"
    assert [row.state for row in new_sets] == ["planned"] * 7
    for name in ("place_id", "trap_id", "planned_bait_id"):
        assert [getattr(row, name) for row in new_sets] == [getattr(row, name) for row in old_sets]


def test_the_next_round_keeps_crew_boat_and_current(bench: Bench) -> None:
    kept = {"crew": "two", "boat": "dinghy", "current_m_s": 0.1, "current_to_deg": 45.0,
            "lift_from": "last place"}  # fmt: skip
    edit_trip(bench.project, bench.trip_id, {}, round_id=bench.round_id, round_values=kept)
    bench.set_all()
    next_round(bench.project, bench.trip_id, set_on="2026-07-09")
    new = bench.round(2)
    assert {name: getattr(new, name) for name in kept} == kept
    assert new.set_on == "2026-07-09"


def test_a_lost_trap_is_not_planned_again_and_a_moved_one_goes_on_where_it_is(
    bench: Bench,
) -> None:
    baited(bench)
    bench.set_all()
    spare = Place(label="Spare", lon_deg=10.01, lat_deg=60.0, fix="GPS")
    add_places(bench.project, bench.line_id, [spare])
    with bench.project.change("Lift") as change:
        first, second = change.snapshot.sets(bench.round_id)[:2]
        change.update(first.with_(state="lifted", condition="lost"))
        change.update(second.with_(state="lifted", afterwards="moved", moved_to_place_id=spare.id))
    next_round(bench.project, bench.trip_id)
    sets = {bench.snapshot.place_label(row): row for row in bench.snapshot.sets(bench.round(2).id)}
    assert sets["P1"].trap_id is None
    assert "P2" not in sets
    assert sets["Spare"].trap_id == second.trap_id


def test_a_round_that_is_only_planned_has_no_next_one(bench: Bench) -> None:
    assert isinstance(bench.refuses(next_round, bench.trip_id), Conflict)
    bench.refuses(next_round, "no such trip")


def test_a_new_trip_from_an_old_one_has_its_places_traps_and_limits(bench: Bench) -> None:
    baited(bench)
    bench.set_all()
    edit_trip(bench.project, bench.trip_id, {"min_gap_m": 7.0, "purpose": "trial"})
    bench.does(new_trip_from, bench.trip_id, "Second", started_on="2026-08-01")
    trip = bench.snapshot.trips()[0]
    assert (trip.name, trip.min_gap_m, trip.purpose) == ("Second", 7.0, "trial")
    (first,) = bench.snapshot.rounds(trip.id)
    assert first.set_on == "2026-08-01"
    sets = bench.snapshot.sets(first.id)
    old = bench.snapshot.sets(bench.round_id)
    assert [row.place_id for row in sets] == [row.place_id for row in old]
    assert [row.trap_id for row in sets] == [row.trap_id for row in old]
    assert {row.state for row in sets} == {"planned"}


def test_a_new_trip_needs_a_name_of_its_own_and_an_old_trip(bench: Bench) -> None:
    bench.refuses(new_trip_from, bench.trip_id, "first")
    bench.refuses(new_trip_from, bench.trip_id, "")
    bench.refuses(new_trip_from, "no such trip", "Second")


def test_the_last_round_is_deleted_while_it_is_planned(bench: Bench) -> None:
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    bench.does(delete_round, bench.round(2).id)
    assert len(bench.snapshot.rounds(bench.trip_id)) == 1


def test_a_round_with_a_trap_in_the_water_or_a_later_round_stays(bench: Bench) -> None:
    bench.refuses(delete_round, bench.round_id)
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    bench.refuses(delete_round, bench.round_id)
    bench.set_all(bench.round(2).id)
    bench.refuses(delete_round, bench.round(2).id)
    bench.refuses(delete_round, "no such round")


def test_a_trip_that_was_only_planned_is_deleted_and_its_line_stays(bench: Bench) -> None:
    bench.does(delete_trip, bench.trip_id)
    assert bench.snapshot.trips() == ()
    assert len(bench.snapshot.places(bench.line_id)) == 7


def test_a_trip_that_was_fished_stays(bench: Bench) -> None:
    bench.set_all()
    problem = bench.refuses(delete_trip, bench.trip_id)
    assert "P1" in problem.error
    bench.refuses(delete_trip, "no such trip")

"""Counting: taps one by one, typed counts, and a 0 that is not a blank."""

import pytest

from tests.actions.bench import Bench
from tests.actions.wet_bench import NEXT_MORNING, WetBench
from trapline.actions.counting import counts_of, tap, target_of, type_amount, type_count
from trapline.actions.lifting import lift_trap
from trapline.errors import InvalidValue
from trapline.model.catch import Catch
from trapline.model.species import Species
from trapline.model.trip import Trip

ESCAPED = "dropped back at the lift"


@pytest.fixture
def wet(bench: Bench) -> WetBench:
    wet = WetBench(bench)
    wet.set_all()
    return wet


def test_each_tap_is_a_step_of_its_own_named_after_the_species(wet: WetBench) -> None:
    key = wet.row(1).id
    for n in (1, 2, 3):
        assert wet.bench.does(tap, key, wet.target.id).label == "Count 1 crayfish"
        assert wet.catches(1) == [(wet.target.id, "kept", n)]
    wet.project.undo()
    assert wet.catches(1) == [(wet.target.id, "kept", 2)]


def test_one_taken_back_is_a_step_and_leaves_no_0_that_nobody_counted(wet: WetBench) -> None:
    key = wet.row(1).id
    tap(wet.project, key, wet.target.id)
    changes = wet.bench.does(tap, key, wet.target.id, "kept", -1)
    assert changes.label == "Take back 1 crayfish"
    assert wet.catches(1) == []
    problem = wet.bench.refuses(tap, key, wet.target.id, "kept", -1)
    assert "No crayfish is counted yet" in problem.error


def test_fates_are_counted_apart(wet: WetBench) -> None:
    key = wet.row(1).id
    tap(wet.project, key, wet.target.id)
    changes = wet.bench.does(tap, key, wet.target.id, ESCAPED)
    tap(wet.project, key, wet.perch.id, "put back")
    assert changes.label == f"Count 1 crayfish ({ESCAPED})"
    assert counts_of(wet.bench.snapshot, key) == {
        (wet.target.id, "kept"): 1, (wet.target.id, ESCAPED): 1, (wet.perch.id, "put back"): 1,
    }  # fmt: skip


def test_a_typed_count_replaces_and_a_blank_is_not_a_0(wet: WetBench) -> None:
    key = wet.row(1).id
    tap(wet.project, key, wet.target.id)
    wet.bench.does(type_count, key, wet.target.id, "kept", 12)
    assert wet.catches(1) == [(wet.target.id, "kept", 12)]
    wet.bench.does(type_count, key, wet.target.id, "kept", 0)
    assert wet.catches(1) == [(wet.target.id, "kept", 0)]
    wet.bench.does(type_count, key, wet.target.id, "kept", None)
    assert wet.catches(1) == []


@pytest.mark.parametrize("count", [-1, 1_000_001])
def test_counts_that_cannot_be_are_refused(wet: WetBench, count: int) -> None:
    wet.bench.refuses(type_count, wet.row(1).id, wet.target.id, "kept", count)


def test_nothing_is_counted_in_a_trap_that_is_not_set_or_was_lost(wet: WetBench) -> None:
    from trapline.actions.trips import next_round

    next_round(wet.project, wet.bench.trip_id)
    assert "not set yet" in wet.bench.refuses(tap, wet.row(1, 2).id, wet.target.id).error
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, "lost")
    assert "was lost" in wet.bench.refuses(tap, wet.row(1).id, wet.target.id).error


def test_counts_corrected_after_the_lift_decide_whether_it_was_counted(wet: WetBench) -> None:
    key = wet.row(1).id
    lift_trap(wet.project, key, NEXT_MORNING, counted=False)
    assert (wet.row(1).counted, wet.catches(1)) == (False, [])
    wet.bench.does(tap, key, wet.perch.id)
    assert not wet.row(1).counted
    wet.bench.does(tap, key, wet.target.id)
    assert wet.row(1).counted
    wet.bench.does(tap, key, wet.target.id, "kept", -1)
    assert (wet.row(1).counted, (wet.target.id, "kept", 0) in wet.catches(1)) == (True, True)
    wet.bench.does(type_count, key, wet.target.id, "kept", None)
    assert not wet.row(1).counted


def test_a_weight_or_buckets_stand_for_a_count_and_no_0_is_added(wet: WetBench) -> None:
    key = wet.row(1).id
    wet.bench.does(type_amount, key, wet.target.id, measure_n=2.5, measure_name="bucket")
    lift_trap(wet.project, key, NEXT_MORNING)
    assert wet.row(1).counted
    assert wet.catches(1) == [(wet.target.id, "kept", None)]
    wet.bench.does(type_amount, key, wet.target.id, weight_kg=1.2)
    assert [row.weight_kg for row in wet.bench.snapshot.catches(key)] == [1.2]
    wet.bench.does(type_amount, key, wet.target.id)
    assert (wet.row(1).counted, wet.catches(1)) == (False, [])


def test_a_weight_in_the_same_row_stays_when_its_count_goes(wet: WetBench) -> None:
    row = Catch(trap_set_id=wet.row(1).id, species_id=wet.perch.id, count=3, weight_kg=0.4)
    with wet.project.change("As another program may write it") as change:
        change.insert(row)
    wet.bench.does(type_count, wet.row(1).id, wet.perch.id, "kept", None)
    assert wet.bench.snapshot.get(Catch, row.id) == row.with_(count=None)


def test_the_species_counted_is_the_trips_else_the_first_target(wet: WetBench) -> None:
    from trapline.actions.editing import add, edit

    crab = Species(name="crab")
    add(wet.project, crab)
    row = wet.row(1)
    assert target_of(wet.bench.snapshot, row) == wet.target
    edit(wet.project, Trip, wet.bench.trip_id, target_species_id=crab.id)
    assert target_of(wet.bench.snapshot, row) == crab
    edit(wet.project, Trip, wet.bench.trip_id, target_species_id=None)
    assert target_of(wet.bench.snapshot, row) == wet.target


def test_a_negative_tap_says_what_to_do(wet: WetBench) -> None:
    with pytest.raises(InvalidValue) as caught:
        tap(wet.project, wet.row(1).id, wet.perch.id, by=-1)
    assert caught.value.what_to_do

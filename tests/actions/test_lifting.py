"""Lifting: 0, not counted and lost stay three things; nothing left in the water is forgotten."""

from typing import Any

import pytest

from tests.actions.bench import Bench
from tests.actions.wet_bench import FIRST, NEXT_MORNING, WetBench
from trapline.actions.counting import tap
from trapline.actions.editing import edit
from trapline.actions.fair_order import assign_traps
from trapline.actions.gear import report_found
from trapline.actions.lifting import (
    correct_lift,
    lift_trap,
    look_and_leave,
    not_lifted_after_all,
)
from trapline.actions.setting import record_really_done, set_traps, unset
from trapline.actions.setting_again import set_again
from trapline.actions.trips import next_round
from trapline.errors import Conflict, InvalidValue
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip


@pytest.fixture
def wet(bench: Bench) -> WetBench:
    wet = WetBench(bench)
    wet.set_all()
    return wet


def test_a_counted_empty_trap_keeps_an_explicit_0(wet: WetBench) -> None:
    changes = wet.bench.does(
        lift_trap, wet.row(1).id, NEXT_MORNING, "fished", "half", notes="clear water", by="Ada"
    )
    row = wet.row(1)
    assert changes.label == "Lift trap 1"
    assert wet.catches(1) == [(wet.target.id, "kept", 0)]
    assert (row.state, row.lift_utc, row.condition) == ("lifted", NEXT_MORNING, "fished")
    assert (row.counted, row.bait_left, row.lifted_by, row.notes) == (
        True, "half", "Ada", "clear water",
    )  # fmt: skip


def test_zero_not_counted_and_lost_are_three_things(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    wet.bench.does(lift_trap, wet.row(2).id, NEXT_MORNING, counted=False)
    wet.bench.does(lift_trap, wet.row(3).id, NEXT_MORNING, "lost")
    found = [(row.counted, row.condition, row.state) for row in map(wet.row, (1, 2, 3))]
    assert found == [
        (True, "fished", "lifted"), (False, "fished", "lifted"), (False, "lost", "lifted"),
    ]  # fmt: skip
    assert [len(wet.catches(at)) for at in (1, 2, 3)] == [1, 0, 0]


def test_where_only_bycatch_was_counted_the_target_gets_its_0(wet: WetBench) -> None:
    tap(wet.project, wet.row(1).id, wet.perch.id, "put back")
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert (wet.target.id, "kept", 0) in wet.catches(1)
    assert (wet.perch.id, "put back", 1) in wet.catches(1)


def test_animals_put_back_need_no_0_beside_them(wet: WetBench) -> None:
    tap(wet.project, wet.row(1).id, wet.target.id, "undersize back")
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert wet.catches(1) == [(wet.target.id, "undersize back", 1)]


def test_a_count_typed_with_the_lift_is_one_step_with_it(wet: WetBench) -> None:
    counts = {(wet.target.id, "kept"): 7, (wet.perch.id, "put back"): 2}
    wet.bench.does(lift_trap, wet.row(1).id, NEXT_MORNING, counts=counts)
    assert sorted(wet.catches(1), key=str) == sorted(
        [(wet.target.id, "kept", 7), (wet.perch.id, "put back", 2)], key=str
    )


def test_not_counted_beside_a_count_is_refused_and_a_typed_0_gives_way(wet: WetBench) -> None:
    key = wet.row(1).id
    tap(wet.project, key, wet.target.id)
    problem = wet.bench.refuses(lift_trap, key, NEXT_MORNING, counted=False)
    assert "1 crayfish were written down" in problem.error
    wet.project.undo()
    counts = {(wet.target.id, "kept"): 0}
    lift_trap(wet.project, key, NEXT_MORNING, counted=False, counts=counts)
    assert wet.catches(1) == []


def test_a_robbed_trap_has_no_valid_count_but_keeps_what_was_seen(wet: WetBench) -> None:
    tap(wet.project, wet.row(1).id, wet.target.id)
    wet.bench.does(lift_trap, wet.row(1).id, NEXT_MORNING, "robbed")
    assert not wet.row(1).counted
    assert wet.catches(1) == [(wet.target.id, "kept", 1)]
    wet.bench.does(lift_trap, wet.row(2).id, NEXT_MORNING, "robbed")
    assert (wet.row(2).counted, wet.catches(2)) == (False, [])


def test_a_lost_trap_is_marked_with_where_and_when(wet: WetBench) -> None:
    wet.bench.does(lift_trap, wet.row(3).id, NEXT_MORNING, "lost")
    trap = wet.trap(3)
    assert trap.state == "lost"
    assert trap.state_note == "Lost at P3, set 2026-07-01 18:04, missed 2026-07-02 07:30 (First)"


def lost_found_and_set_again(wet: WetBench) -> None:
    """Lose trap 1 in the first round, find it, and set it in the second."""
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, "lost")
    report_found(wet.project, wet.trap(1).id, "in the reeds")
    next_round(wet.project, wet.bench.trip_id)
    assign_traps(wet.project, {wet.row(1, 2).id: wet.trap(1).id})
    set_traps(wet.project, [wet.row(1, 2).id], "2026-07-02T16:00:00Z")


def test_a_trap_that_was_lost_again_stays_lost_when_the_first_time_is_corrected(
    wet: WetBench,
) -> None:
    lost_found_and_set_again(wet)
    lift_trap(wet.project, wet.row(1, 2).id, "2026-07-03T05:30:00Z", "lost")
    correct_lift(wet.project, wet.row(1).id, condition="fished")
    assert wet.trap(1).state == "lost"
    lines = wet.trap(1).state_note.split("\n")
    assert lines[0].startswith("Lost at P1, set 2026-07-02 18:00")
    assert lines[1:] == ["Found: in the reeds"]
    not_lifted_after_all(wet.project, wet.row(1, 2).id)
    assert (wet.trap(1).state, wet.trap(1).state_note) == ("in service", "Found: in the reeds")


def test_a_trap_that_was_set_later_is_not_lost_because_it_once_was(wet: WetBench) -> None:
    lost_found_and_set_again(wet)
    correct_lift(wet.project, wet.row(1).id, condition="fished", counted=True)
    assert wet.trap(1).state == "in service"
    wet.bench.does(correct_lift, wet.row(1).id, condition="lost")
    assert (wet.row(1).condition, wet.trap(1).state) == ("lost", "in service")
    lift_trap(wet.project, wet.row(1, 2).id, "2026-07-03T05:30:00Z")
    correct_lift(wet.project, wet.row(1).id, condition="fished", counted=True)
    correct_lift(wet.project, wet.row(1).id, condition="lost")
    assert wet.trap(1).state == "in service"


def test_a_lost_trap_without_a_number_gets_a_line_in_the_list_of_gear(wet: WetBench) -> None:
    edit(wet.project, TrapSet, wet.row(3).id, trap_id=None)
    wet.bench.does(lift_trap, wet.row(3).id, NEXT_MORNING, "lost")
    lost = [row for row in wet.bench.snapshot.all(Trap) if row.state == "lost"]
    assert [row.number for row in lost] == ["lost at P3"]
    assert wet.row(3).trap_id == lost[0].id


def test_a_lost_trap_holds_nothing_to_count(wet: WetBench) -> None:
    tap(wet.project, wet.row(1).id, wet.perch.id)
    problem = wet.bench.refuses(lift_trap, wet.row(1).id, NEXT_MORNING, "lost")
    assert "holds nothing to count" in problem.error


@pytest.mark.parametrize("disturbed_utc", [None, "2026-07-02T01:00:00Z"])
def test_a_disturbed_trap_keeps_when_it_happened_if_anyone_knows(
    wet: WetBench, disturbed_utc: str | None
) -> None:
    wet.bench.does(lift_trap, wet.row(1).id, NEXT_MORNING, "disturbed", disturbed_utc=disturbed_utc)
    assert (wet.row(1).condition, wet.row(1).disturbed_utc) == ("disturbed", disturbed_utc)
    assert wet.row(1).counted


@pytest.mark.parametrize(
    "values",
    [
        {"lift_utc": FIRST},
        {"lift_utc": "2026-07-01T15:59:59Z"},
        {"lift_utc": NEXT_MORNING, "condition": "not lifted"},
        {"lift_utc": NEXT_MORNING, "condition": ""},
        {"lift_utc": NEXT_MORNING, "condition": "eaten"},
        {"lift_utc": NEXT_MORNING, "fraction_counted": 0.0},
        {
            "lift_utc": NEXT_MORNING,
            "condition": "disturbed",
            "disturbed_utc": "2026-07-01T12:00:00Z",
        },
        {
            "lift_utc": NEXT_MORNING,
            "condition": "disturbed",
            "disturbed_utc": "2026-07-02T12:00:00Z",
        },
    ],
)
def test_lifts_that_cannot_be_are_refused(wet: WetBench, values: dict[str, Any]) -> None:
    assert isinstance(wet.bench.refuses(lift_trap, wet.row(1).id, **values), InvalidValue)


def test_only_what_stands_in_the_water_is_lifted(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert "is lifted" in wet.bench.refuses(lift_trap, wet.row(1).id, NEXT_MORNING).error
    unset(wet.project, [wet.row(2).id])
    assert "is planned" in wet.bench.refuses(lift_trap, wet.row(2).id, NEXT_MORNING).error


def test_without_a_species_nothing_can_be_counted(wet: WetBench) -> None:
    edit(wet.project, Trip, wet.bench.trip_id, target_species_id=None)
    with wet.project.change("Delete species") as change:
        for row in change.snapshot.all(Species):
            change.delete(row)
    problem = wet.bench.refuses(lift_trap, wet.row(1).id, NEXT_MORNING)
    assert "no species to count" in problem.error
    wet.bench.does(lift_trap, wet.row(1).id, NEXT_MORNING, counted=False)


def test_looked_and_left_is_a_note_and_ends_no_soak(wet: WetBench) -> None:
    wet.bench.does(look_and_leave, wet.row(1).id, NEXT_MORNING, "Ada", "otter about")
    row = wet.row(1)
    assert row.is_in_water
    assert (row.condition, row.lift_utc) == ("not lifted", None)
    assert row.notes == "Looked at 2026-07-02 07:30 by Ada and left. otter about"
    wet.bench.does(lift_trap, row.id, "2026-07-02T16:00:00Z")
    assert wet.row(1).condition == "fished"
    assert "Looked at" in wet.row(1).notes


def test_old_values_are_corrected_and_the_history_keeps_them(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    later = "2026-07-02T06:00:00Z"
    changes = wet.bench.does(correct_lift, wet.row(1).id, lift_utc=later, bait_left="none")
    assert changes.label == "Correct the lift of trap 1"
    assert (wet.row(1).lift_utc, wet.row(1).bait_left) == (later, "none")
    assert wet.catches(1) == [(wet.target.id, "kept", 0)]
    problem = wet.bench.refuses(correct_lift, wet.row(1).id, lift_utc="2026-07-01T12:00:00Z")
    assert "is not after the setting" in problem.error
    assert "state" in wet.bench.refuses(correct_lift, wet.row(1).id, state="set").error


def test_a_correction_between_the_three_things_keeps_them_apart(wet: WetBench) -> None:
    key = wet.row(1).id
    lift_trap(wet.project, key, NEXT_MORNING)
    wet.bench.does(correct_lift, key, counted=False)
    assert (wet.row(1).counted, wet.catches(1)) == (False, [])
    wet.bench.does(correct_lift, key, counted=True)
    assert (wet.row(1).counted, wet.catches(1)) == (True, [(wet.target.id, "kept", 0)])
    wet.bench.does(correct_lift, key, condition="lost")
    assert (wet.row(1).counted, wet.catches(1), wet.trap(1).state) == (False, [], "lost")
    wet.bench.does(correct_lift, key, condition="fished")
    assert (wet.row(1).counted, wet.trap(1).state, wet.trap(1).state_note) == (
        False, "in service", "",
    )  # fmt: skip


def test_a_disturbance_corrected_away_takes_its_time_along(wet: WetBench) -> None:
    key, when = wet.row(1).id, "2026-07-02T01:00:00Z"
    lift_trap(wet.project, key, NEXT_MORNING, "disturbed", disturbed_utc=when)
    wet.bench.does(correct_lift, key, condition="fished")
    assert wet.row(1).disturbed_utc is None


def test_a_lift_that_never_happened_puts_the_trap_back_with_its_counts(wet: WetBench) -> None:
    key = wet.row(1).id
    before = wet.row(1)
    lift_trap(wet.project, key, NEXT_MORNING, counts={(wet.target.id, "kept"): 4})
    wet.bench.does(not_lifted_after_all, key)
    assert wet.row(1) == before
    assert wet.catches(1) == [(wet.target.id, "kept", 4)]
    lift_trap(wet.project, wet.row(2).id, NEXT_MORNING, "lost")
    wet.bench.does(not_lifted_after_all, wet.row(2).id)
    assert (wet.row(2).state, wet.trap(2).state) == ("set", "in service")


def test_a_lift_is_not_taken_back_once_the_trap_was_set_again(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    problem = wet.bench.refuses(not_lifted_after_all, wet.row(1).id)
    assert isinstance(problem, Conflict)
    assert "set again since" in problem.error
    problem = wet.bench.refuses(correct_lift, wet.row(1).id, condition="lost")
    assert "set again after this lift" in problem.error


def test_a_trap_without_a_number_does_not_stand_in_two_soaks_either(wet: WetBench) -> None:
    with wet.project.change("No number") as change:
        change.update(wet.row(1).with_(trap_id=None))
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    late = "2026-07-02T12:00:00Z"
    problem = wet.bench.refuses(correct_lift, wet.row(1).id, lift_utc=late)
    assert "cannot have been set" in problem.error
    wet.bench.refuses(record_really_done, wet.row(1, 2).id, set_utc="2026-07-02T05:00:00Z")
    wet.bench.does(record_really_done, wet.row(1, 2).id, set_utc=late)
    wet.bench.does(correct_lift, wet.row(1).id, lift_utc=late)


def test_bait_hung_at_the_setting_was_hung_when_that_is_corrected_to(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    early = "2026-07-01T15:00:00Z"
    wet.bench.does(correct_lift, wet.row(1).id, set_utc=early)
    assert (wet.row(1).set_utc, wet.row(1).bait_hung_utc) == (early, early)


def test_a_lift_years_after_the_setting_is_refused(wet: WetBench) -> None:
    problem = wet.bench.refuses(lift_trap, wet.row(1).id, "2062-07-02T05:30:00Z")
    assert (problem.where, problem.what_to_do) == ("Lifted", "Correct the year.")
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    wet.bench.refuses(correct_lift, wet.row(1).id, set_utc="2006-07-01T16:00:00Z")


def test_a_lift_typed_after_the_next_setting_is_refused(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    late = "2026-07-02T12:00:00Z"
    assert (
        "cannot have been set"
        in wet.bench.refuses(correct_lift, wet.row(1).id, lift_utc=late).error
    )

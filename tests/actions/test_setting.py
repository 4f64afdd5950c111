"""Setting: into the water, really done beside planned, and never at two places at once."""

import pytest

from tests.actions.bench import Bench
from tests.actions.wet_bench import FIRST, NEXT_MORNING, WetBench
from trapline.actions.editing import edit
from trapline.actions.gear import report_found, retire_trap
from trapline.actions.lifting import lift_trap
from trapline.actions.places import clear_position
from trapline.actions.setting import (
    record_really_done,
    set_at_times,
    set_in_sequence,
    set_traps,
    unset,
)
from trapline.actions.trips import next_round
from trapline.errors import Conflict, InvalidValue
from trapline.model.line import Place
from trapline.model.trapset import TrapSet


@pytest.fixture
def wet(bench: Bench) -> WetBench:
    return WetBench(bench)


def test_a_set_trap_keeps_where_when_by_whom_and_on_which_bait_it_was_set(wet: WetBench) -> None:
    planned = wet.row(3)
    changes = wet.bench.does(set_traps, [planned.id], FIRST, "Ada")
    row, place = wet.row(3), wet.bench.place("P3")
    assert changes.label == "Set trap 3"
    assert (row.state, row.set_utc, row.set_by) == ("set", FIRST, "Ada")
    assert (row.lon_deg, row.lat_deg) == (place.lon_deg, place.lat_deg)
    assert (row.bait_id, row.bait_hung_utc) == (planned.planned_bait_id, FIRST)
    assert row.is_in_water


def test_the_position_set_at_stays_when_the_place_is_corrected_later(wet: WetBench) -> None:
    set_traps(wet.project, [wet.row(1).id], FIRST)
    stood = wet.row(1).lon_deg, wet.row(1).lat_deg
    edit(wet.project, Place, wet.bench.place("P1").id, lon_deg=11.0, lat_deg=61.0)
    assert (wet.row(1).lon_deg, wet.row(1).lat_deg) == stood


def test_a_place_without_a_position_is_set_without_one(wet: WetBench) -> None:
    clear_position(wet.project, [wet.bench.place("P1").id])
    set_traps(wet.project, [wet.row(1).id], FIRST)
    assert (wet.row(1).state, wet.row(1).lon_deg) == ("set", None)


def test_a_time_that_nobody_noted_is_not_known_and_the_trap_is_in_the_water(wet: WetBench) -> None:
    wet.bench.does(set_traps, [wet.row(1).id], None)
    assert wet.row(1).is_in_water
    assert wet.row(1).set_utc is None


def test_one_throw_sets_the_rest_every_n_minutes_in_one_step(wet: WetBench) -> None:
    changes = wet.bench.does(set_in_sequence, wet.ids(), FIRST, 2.5)
    assert changes.label == "Set 7 traps"
    assert [wet.row(at).set_utc for at in (1, 2, 3, 7)] == [
        "2026-07-01T16:00:00Z", "2026-07-01T16:02:30Z", "2026-07-01T16:05:00Z",
        "2026-07-01T16:15:00Z",
    ]  # fmt: skip


def test_one_throw_goes_over_midnight_and_a_clock_change(wet: WetBench) -> None:
    # Oslo put its clocks back at 01:00 UTC on 2026-10-25 (IANA time zone database, Europe/Oslo).
    set_in_sequence(wet.project, wet.ids()[:3], "2026-10-25T00:30:00Z", 30)
    assert [wet.row(at).set_utc for at in (1, 2, 3)] == [
        "2026-10-25T00:30:00Z", "2026-10-25T01:00:00Z", "2026-10-25T01:30:00Z",
    ]  # fmt: skip


@pytest.mark.parametrize("minutes", [-1, 1441, float("nan")])
def test_minutes_that_cannot_be_are_refused(wet: WetBench, minutes: float) -> None:
    assert "minutes" in wet.bench.refuses(set_in_sequence, wet.ids(), FIRST, minutes).error


def test_a_trap_that_is_set_is_not_set_again_by_the_same_key(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:1], FIRST)
    problem = wet.bench.refuses(set_traps, wet.ids()[:2], NEXT_MORNING)
    assert "Trap 1 is set already" in problem.error


def test_a_typed_column_of_times_sets_planned_traps_and_corrects_set_ones(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:1], FIRST)
    later = "2026-07-01T17:00:00Z"
    wet.bench.does(set_at_times, dict.fromkeys(wet.ids()[:2], later))
    assert [wet.row(at).set_utc for at in (1, 2)] == [later, later]
    assert wet.row(1).bait_hung_utc == later


def test_another_bait_and_place_than_planned_are_one_step_beside_the_plan(wet: WetBench) -> None:
    corn, spare = wet.bench.bait_id("maize cake"), wet.bench.place("P4").id
    set_traps(wet.project, [wet.row(3).id], FIRST)
    with wet.project.change("Leave out") as change:
        change.delete(wet.row(4))
    planned = wet.row(3)
    later = "2026-07-01T16:10:00Z"
    wet.bench.does(record_really_done, planned.id, bait_id=corn, place_id=spare, set_utc=later)
    row = wet.bench.snapshot.need(TrapSet, planned.id)
    assert (row.planned_bait_id, row.planned_place_id) == (
        planned.planned_bait_id, planned.planned_place_id,
    )  # fmt: skip
    assert (row.bait_id, row.place_id, row.set_utc) == (corn, spare, later)
    assert row.lon_deg == wet.bench.place("P4").lon_deg


def test_another_bait_alone_leaves_a_planned_trap_planned(wet: WetBench) -> None:
    corn = wet.bench.bait_id("maize cake")
    wet.bench.does(record_really_done, wet.row(2).id, bait_id=corn)
    assert (wet.row(2).state, wet.row(2).bait_id) == ("planned", corn)
    set_traps(wet.project, [wet.row(2).id], FIRST)
    assert wet.row(2).bait_id == corn


def test_a_time_given_to_a_planned_trap_sets_it(wet: WetBench) -> None:
    wet.bench.does(record_really_done, wet.row(2).id, set_utc=FIRST)
    assert wet.row(2).is_in_water


def test_two_traps_that_changed_places_are_swapped_only_when_asked(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:2], FIRST)
    first, second = wet.row(1), wet.row(2)
    problem = wet.bench.refuses(record_really_done, first.id, place_id=second.place_id)
    assert "Trap 2 is recorded at 'P2'" in problem.error
    wet.bench.does(record_really_done, first.id, place_id=second.place_id, swap=True)
    snapshot = wet.bench.snapshot
    now_first, now_second = snapshot.need(TrapSet, first.id), snapshot.need(TrapSet, second.id)
    assert (now_first.place_id, now_second.place_id) == (second.place_id, first.place_id)
    assert (now_first.lon_deg, now_second.lon_deg) == (second.lon_deg, first.lon_deg)
    assert now_first.planned_place_id == first.planned_place_id


def test_two_traps_that_were_mixed_up_change_their_numbers_only_when_asked(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:2], FIRST)
    first, second = wet.row(1), wet.row(2)
    problem = wet.bench.refuses(record_really_done, first.id, trap_id=second.trap_id)
    assert "Trap 2 is recorded at 'P2'" in problem.error
    wet.bench.does(record_really_done, first.id, trap_id=second.trap_id, swap=True)
    assert [wet.row(at).trap_id for at in (1, 2)] == [second.trap_id, first.trap_id]
    spare = wet.trap(9).id
    wet.bench.does(record_really_done, first.id, trap_id=spare)
    assert wet.row(1).trap_id == spare


def test_a_correction_of_the_set_time_moves_the_bait_along_with_it(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:1], FIRST)
    wet.bench.does(record_really_done, wet.row(1).id, set_utc=None)
    assert (wet.row(1).set_utc, wet.row(1).bait_hung_utc) == (None, None)


def test_a_set_time_after_the_lift_is_refused(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:1], FIRST)
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    problem = wet.bench.refuses(record_really_done, wet.row(1).id, set_utc="2026-07-03T00:00:00Z")
    assert "is not after the setting" in problem.error


def test_a_setting_that_never_happened_leaves_the_plan(wet: WetBench) -> None:
    planned = wet.row(1), wet.row(2)
    set_traps(wet.project, wet.ids()[:2], FIRST, "Ada")
    record_really_done(wet.project, wet.row(1).id, bait_id=wet.bench.bait_id("no bait"))
    wet.bench.does(unset, wet.ids()[:2])
    assert (wet.row(1), wet.row(2)) == planned


def test_what_was_counted_or_lifted_is_not_unset(wet: WetBench) -> None:
    set_traps(wet.project, wet.ids()[:1], FIRST)
    assert "planned, not set" in wet.bench.refuses(unset, [wet.row(2).id]).error
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert "lifted, not set" in wet.bench.refuses(unset, [wet.row(1).id]).error


def test_two_traps_that_changed_places_are_planned_for_their_own_again(wet: WetBench) -> None:
    before = [wet.row(at) for at in (1, 2, 3)]
    set_traps(wet.project, wet.ids()[:3], FIRST)
    record_really_done(wet.project, before[0].id, place_id=before[1].place_id, swap=True)
    wet.bench.does(unset, [row.id for row in before])
    assert [wet.row(at) for at in (1, 2, 3)] == before
    # Round three places: what stands at the place of the first stays, and so do the others.
    set_traps(wet.project, wet.ids()[:3], FIRST)
    record_really_done(wet.project, before[0].id, place_id=before[1].place_id, swap=True)
    record_really_done(wet.project, before[1].id, place_id=before[2].place_id, swap=True)
    unset(wet.project, [before[0].id, before[1].id])
    at = {row.id: row.place_id for row in wet.bench.snapshot.sets(wet.bench.round_id)}
    assert len(set(at.values())) == len(at)
    assert at[before[2].id] == before[0].place_id


def test_a_trap_in_the_water_is_not_set_in_the_next_round_too(wet: WetBench) -> None:
    wet.set_all()
    next_round(wet.project, wet.bench.trip_id)
    problem = wet.bench.refuses(set_traps, [wet.row(1, 2).id], NEXT_MORNING)
    assert isinstance(problem, Conflict)
    assert "Trap 1 still stands in the water at 'P1'" in problem.error


def test_two_soaks_of_one_trap_never_overlap(wet: WetBench) -> None:
    wet.set_all()
    next_round(wet.project, wet.bench.trip_id)
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    problem = wet.bench.refuses(set_traps, [wet.row(1, 2).id], "2026-07-02T05:29:00Z")
    assert isinstance(problem, InvalidValue)
    assert "until 2026-07-02 07:30" in problem.error
    wet.bench.does(set_traps, [wet.row(1, 2).id], NEXT_MORNING)


def test_lost_and_retired_traps_are_not_set_and_a_found_one_is_back_in_service(
    wet: WetBench,
) -> None:
    wet.set_all()
    next_round(wet.project, wet.bench.trip_id)
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, "lost")
    lift_trap(wet.project, wet.row(2).id, NEXT_MORNING)
    with wet.project.change("Plan") as change:
        change.update(wet.row(1, 2).with_(trap_id=wet.trap(1).id))
    assert "recorded as lost" in wet.bench.refuses(set_traps, [wet.row(1, 2).id], None).error
    wet.bench.does(report_found, wet.trap(1).id, "washed ashore, empty")
    assert wet.trap(1).state_note.startswith("Found: washed ashore, empty\nLost at P1")
    wet.bench.does(set_traps, [wet.row(1, 2).id], "2026-07-02T18:00:00Z")
    assert wet.trap(1).state == "in service"
    wet.bench.does(retire_trap, wet.trap(2).id)
    assert "recorded as retired" in wet.bench.refuses(set_traps, [wet.row(2, 2).id], None).error


def test_a_trap_in_the_water_is_not_retired(wet: WetBench) -> None:
    wet.set_all()
    assert "in the water" in wet.bench.refuses(retire_trap, wet.trap(1).id).error

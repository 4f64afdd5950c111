"""After the lift: set again as it was, moved, out of the water; forty pots in a few steps."""

import json

import pytest

from tests.actions.bench import Bench
from tests.actions.wet_bench import NEXT_MORNING, WetBench
from trapline.actions.editing import add
from trapline.actions.fair_order import KeptDraw
from trapline.actions.lifting import lift_and_set_again_all, lift_trap
from trapline.actions.places import add_places, leave_out
from trapline.actions.setting import record_really_done, set_traps, unset
from trapline.actions.setting_again import move_on, set_again, take_out, waiting
from trapline.actions.trips import new_trip_from, next_round
from trapline.errors import Conflict
from trapline.model.line import Place
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip

NOON = "2026-07-02T10:00:00Z"


@pytest.fixture
def wet(bench: Bench) -> WetBench:
    wet = WetBench(bench)
    wet.set_all()
    return wet


def keep_a_draw(wet: WetBench) -> None:
    """Give the trip a draw by hand: liver and corn in turn, turned round in round 2."""
    places = tuple(row.place_id or "" for row in map(wet.row, range(1, 8)))
    draw = KeptDraw(
        scheme={"kind": "whole line", "at_most": ()},
        seed=1,
        bait_ids=tuple(wet.bench.bait_ids()[:2]),
        place_ids=places,
        rounds=((0, 1, 0, 1, 0, 1, 0), (1, 0, 1, 0, 1, 0, 1)),
    )
    assert json.loads(draw.as_json())["seed"] == 1
    with wet.project.change("Draw") as change:
        change.update(wet.bench.trip().with_(layout_draw=draw.as_json()))


def test_set_again_makes_the_next_round_with_the_trap_in_the_water(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, by="Ada")
    changes = wet.bench.does(set_again, [wet.row(1).id])
    old, new = wet.row(1), wet.row(1, 2)
    assert changes.label == "Set trap 1 again"
    assert wet.bench.round(2).set_on == "2026-07-02"
    assert (new.state, new.set_utc, new.set_by, new.continues_id) == (
        "set", NEXT_MORNING, "Ada", old.id,
    )  # fmt: skip
    assert (new.trap_id, new.place_id, new.bait_id) == (old.trap_id, old.place_id, old.bait_id)
    assert (new.lon_deg, new.lat_deg) == (old.lon_deg, old.lat_deg)
    assert (new.bait_action, new.bait_hung_utc) == ("fresh", NEXT_MORNING)
    assert old.afterwards == "set again"
    assert [wet.row(at, 2).state for at in (2, 7)] == ["planned", "planned"]


def test_the_second_trap_goes_into_the_round_that_is_there(wet: WetBench) -> None:
    for at in (1, 2):
        lift_trap(wet.project, wet.row(at).id, NEXT_MORNING)
        set_again(wet.project, [wet.row(at).id], NOON)
    assert len(wet.bench.snapshot.rounds(wet.bench.trip_id)) == 2
    assert [wet.row(at, 2).set_utc for at in (1, 2)] == [NOON, NOON]


def test_no_two_traps_are_planned_at_one_place_after_one_was_moved_there(wet: WetBench) -> None:
    spare = Place(label="P8")
    add_places(wet.project, wet.bench.line_id, [spare])
    one, two, three, *_ = wet.ids()
    record_really_done(wet.project, three, place_id=spare.id)
    for set_id in wet.ids():
        lift_trap(wet.project, set_id, NEXT_MORNING)
    set_again(wet.project, [three])
    move_on(wet.project, two, wet.bench.place("P3").id)
    set_again(wet.project, [one])
    next_round(wet.project, wet.bench.trip_id)
    third = wet.bench.snapshot.sets(wet.bench.round(3).id)
    assert [wet.bench.snapshot.place_label(row) for row in third].count("P3") == 1
    assert len({row.place_id for row in third}) == len(third)
    new_trip_from(wet.project, wet.bench.trip_id, "Second", started_on="2026-08-01")
    trip = wet.bench.snapshot.trips()[0]
    again = wet.bench.snapshot.sets(wet.bench.snapshot.rounds(trip.id)[0].id)
    assert len({row.place_id for row in again}) == len(again) == len(third)


def test_fresh_bait_is_what_was_said_of_the_next_round_before(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    lift_trap(wet.project, wet.row(2).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(2).id])
    other = wet.bench.bait_id("maize cake")
    record_really_done(wet.project, wet.row(1, 2).id, bait_id=other)
    wet.bench.does(set_again, [wet.row(1).id])
    assert wet.row(1, 2).bait_id == other


def test_a_trap_that_is_moved_leaves_its_stretch_of_the_line(wet: WetBench) -> None:
    with wet.project.change("Blocks") as change:
        for at in range(1, 8):
            change.update(wet.row(at).with_(block=(at + 1) // 2))
    spare = Place(label="P8")
    add_places(wet.project, wet.bench.line_id, [spare])
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, then="moved", to_place_id=spare.id)
    blocks = {wet.bench.snapshot.place_label(row): row.block
              for row in wet.bench.snapshot.sets(wet.bench.round(2).id)}  # fmt: skip
    assert (blocks["P8"], blocks["P2"], blocks["P7"]) == (None, 1, 4)


def test_fresh_bait_is_that_of_the_draw_and_old_bait_stays_what_it_was(wet: WetBench) -> None:
    keep_a_draw(wet)
    liver, corn = wet.bench.bait_ids()[:2]
    for at in (1, 2, 3):
        lift_trap(wet.project, wet.row(at).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    wet.bench.does(set_again, [wet.row(2).id], NOON, "topped up")
    wet.bench.does(set_again, [wet.row(3).id], NOON, "left as it was")
    assert [wet.row(at, 2).planned_bait_id for at in (1, 2, 3)] == [corn, liver, corn]
    assert [wet.row(at, 2).bait_id for at in (1, 2, 3)] == [corn, corn, liver]
    assert [wet.row(at, 2).bait_action for at in (1, 2, 3)] == [
        "fresh", "topped up", "left as it was",
    ]  # fmt: skip
    assert [wet.row(at, 2).bait_hung_utc for at in (1, 2, 3)] == [
        NEXT_MORNING, NOON, wet.row(3).bait_hung_utc,
    ]  # fmt: skip


def test_bait_left_for_two_soaks_hangs_since_the_first(wet: WetBench) -> None:
    hung = wet.row(1).bait_hung_utc
    for number, when in ((1, "2026-07-02T06:00:00Z"), (2, "2026-07-03T06:00:00Z")):
        lift_trap(wet.project, wet.row(1, number).id, when)
        set_again(wet.project, [wet.row(1, number).id], bait_action="left as it was")
    assert wet.row(1, 3).bait_hung_utc == hung == wet.row(1).set_utc


def test_a_displaced_trap_goes_back_to_where_it_really_stood(wet: WetBench) -> None:
    first, second = wet.row(1), wet.row(2)
    record_really_done(wet.project, first.id, place_id=second.place_id, swap=True)
    lift_trap(wet.project, first.id, NEXT_MORNING)
    set_again(wet.project, [first.id])
    here = [row for row in wet.bench.snapshot.sets(wet.bench.round(2).id) if row.state == "set"]
    assert [(row.trap_id, row.place_id) for row in here] == [(first.trap_id, second.place_id)]
    traps = [row.trap_id for row in wet.bench.snapshot.sets(wet.bench.round(2).id)]
    assert sorted(map(str, traps)) == sorted(str(row.trap_id) for row in map(wet.row, range(1, 8)))


def test_what_waits_is_set_again_by_one_step_and_what_was_lost_is_not(wet: WetBench) -> None:
    for at in (1, 2, 3, 4):
        lift_trap(wet.project, wet.row(at).id, f"2026-07-02T05:{30 + at}:00Z")
    lift_trap(wet.project, wet.row(5).id, NEXT_MORNING, "lost")
    take_out(wet.project, [wet.row(4).id])
    left = [row.id for row in waiting(wet.bench.snapshot, wet.bench.round_id)]
    assert left == wet.ids()[:3]
    changes = wet.bench.does(set_again, left)
    assert changes.label == "Set 3 traps again"
    assert [wet.row(at, 2).set_utc for at in (1, 2, 3)] == [
        wet.row(at).lift_utc for at in (1, 2, 3)
    ]
    assert [wet.row(at, 2).state for at in (4, 5, 6)] == ["planned"] * 3
    assert wet.row(5, 2).trap_id is None
    assert [wet.row(at).is_in_water for at in (6, 7)] == [True, True]


def test_lifting_and_setting_again_is_one_step(wet: WetBench) -> None:
    counts = {(wet.target.id, "kept"): 3}
    changes = wet.bench.does(
        lift_trap, wet.row(1).id, NEXT_MORNING, counts=counts, then="set again",
        bait_action="topped up", by="Ada",
    )  # fmt: skip
    assert changes.label == "Lift trap 1 and set it again"
    assert wet.catches(1) == [(wet.target.id, "kept", 3)]
    assert (wet.row(1, 2).state, wet.row(1, 2).bait_action) == ("set", "topped up")


def test_the_rest_lifted_uncounted_and_set_again_is_never_a_0(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    wet.bench.does(lift_and_set_again_all, wet.ids(), NOON)
    assert [wet.row(at).counted for at in (1, 2, 7)] == [True, False, False]
    assert [len(wet.catches(at)) for at in (1, 2, 7)] == [1, 0, 0]
    assert [wet.row(at, 2).set_utc for at in (1, 2, 7)] == [NEXT_MORNING, NOON, NOON]


def test_the_rest_is_not_lifted_uncounted_where_something_was_counted(wet: WetBench) -> None:
    from trapline.actions.counting import tap

    tap(wet.project, wet.row(2).id, wet.target.id)
    problem = wet.bench.refuses(lift_and_set_again_all, wet.ids(), NOON)
    assert "written down" in problem.error


def test_a_trap_moved_stands_at_the_other_place_in_the_next_round(wet: WetBench) -> None:
    add_places(wet.project, wet.bench.line_id, [Place(label="P9", lon_deg=10.5, lat_deg=60.0)])
    there = wet.bench.place("P9").id
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert wet.bench.does(move_on, wet.row(1).id, there).label == "Move trap 1"
    assert (wet.row(1).afterwards, wet.row(1).moved_to_place_id) == ("moved", there)
    new = wet.row(7, 2)
    assert (new.place_id, new.lon_deg, new.state) == (there, 10.5, "set")
    assert new.trap_id == wet.row(1).trap_id
    assert len(wet.ids(2)) == 7
    next_round(wet.project, wet.bench.trip_id)
    assert wet.row(7, 3).planned_place_id == there


def test_a_move_after_the_next_round_was_planned_takes_its_row_along(wet: WetBench) -> None:
    add_places(wet.project, wet.bench.line_id, [Place(label="P9", lon_deg=10.5, lat_deg=60.0)])
    there = wet.bench.place("P9").id
    next_round(wet.project, wet.bench.trip_id)
    wet.bench.does(lift_trap, wet.row(1).id, NEXT_MORNING, then="moved", to_place_id=there)
    new = wet.row(7, 2)
    assert (new.planned_place_id, new.trap_id) == (there, wet.row(1).trap_id)
    assert len(wet.ids(2)) == 7


def test_a_place_that_is_taken_in_the_next_round_is_refused(wet: WetBench) -> None:
    for at in (1, 2):
        lift_trap(wet.project, wet.row(at).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(2).id])
    problem = wet.bench.refuses(move_on, wet.row(1).id, wet.bench.place("P2").id)
    assert "Round 2 has trap 2 at 'P2' already" in problem.error


def test_a_place_left_out_of_the_next_round_is_taken_in_again(wet: WetBench) -> None:
    next_round(wet.project, wet.bench.trip_id)
    leave_out(wet.project, [wet.row(1, 2).id])
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    assert (wet.row(1, 2).state, wet.row(1, 2).trap_id) == ("set", wet.row(1).trap_id)


def test_only_lifted_traps_that_are_there_are_set_again_and_once(wet: WetBench) -> None:
    assert "is not lifted" in wet.bench.refuses(set_again, [wet.row(1).id]).error
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING, "lost")
    assert "was lost" in wet.bench.refuses(set_again, [wet.row(1).id]).error
    lift_trap(wet.project, wet.row(2).id, NEXT_MORNING)
    early = "2026-07-02T05:29:00Z"
    assert (
        "was lifted at 2026-07-02 07:30"
        in wet.bench.refuses(set_again, [wet.row(2).id], early).error
    )
    assert "Bait" in wet.bench.refuses(set_again, [wet.row(2).id], NOON, "stale").error
    set_again(wet.project, [wet.row(2).id])
    assert "already set again" in wet.bench.refuses(set_again, [wet.row(2).id]).error
    assert "already set again" in wet.bench.refuses(take_out, [wet.row(2).id]).error


def test_one_that_cannot_be_set_again_leaves_all_as_they_were(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    assert isinstance(wet.bench.refuses(set_again, wet.ids()[:2]), Conflict)
    assert len(wet.bench.snapshot.rounds(wet.bench.trip_id)) == 1


def test_a_setting_taken_back_lets_the_lifted_trap_wait_again(wet: WetBench) -> None:
    lift_trap(wet.project, wet.row(1).id, NEXT_MORNING)
    set_again(wet.project, [wet.row(1).id])
    wet.bench.does(unset, [wet.row(1, 2).id])
    assert [row.id for row in waiting(wet.bench.snapshot, wet.bench.round_id)] == [wet.row(1).id]
    assert wet.row(1, 2).continues_id is None


def test_a_trap_that_stayed_in_the_rain_is_lifted_a_day_later_into_the_round_after(
    wet: WetBench,
) -> None:
    for at in range(1, 7):
        lift_trap(wet.project, wet.row(at).id, NEXT_MORNING)
    set_again(wet.project, wet.ids()[:6])
    next_day = "2026-07-03T06:00:00Z"
    lift_trap(wet.project, wet.row(1, 2).id, next_day)
    set_again(wet.project, [wet.row(1, 2).id])
    lift_trap(wet.project, wet.row(7).id, next_day)
    wet.bench.does(set_again, [wet.row(7).id], after_round_id=wet.bench.round(2).id)
    assert (wet.row(7, 2).state, wet.row(7, 3).state) == ("planned", "set")


def test_forty_pots_for_a_week_are_one_step_a_pot_and_one_for_all(bench: Bench) -> None:
    wet = WetBench(bench)
    places = [Place(label=f"Q{n}", lon_deg=10.1 + n * 1e-3, lat_deg=60.0) for n in range(33)]
    add_places(wet.project, bench.line_id, places, round_id=bench.round_id)
    pots = [Trap(number=f"pot {n}") for n in range(33)]
    add(wet.project, *pots)
    with wet.project.change("Number") as change:
        for row, pot in zip(change.snapshot.sets(bench.round_id)[7:], pots, strict=True):
            change.update(row.with_(trap_id=pot.id))
    set_traps(wet.project, wet.ids(), "2026-07-01T16:00:00Z")
    steps = len(wet.project.history())
    for number in range(1, 8):
        for n, key in enumerate(wet.ids(number)):
            when = f"2026-07-{number + 1:02d}T06:{n:02d}:00Z"
            lift_trap(wet.project, key, when, counts={(wet.target.id, "kept"): n % 5})
        if number < 7:
            set_again(wet.project, wet.ids(number))
        else:
            take_out(wet.project, wet.ids(number))
    assert len(wet.project.history()) - steps == 7 * 41
    snapshot = bench.snapshot
    assert len(snapshot.rounds(bench.trip_id)) == 7
    sets = [row for _, row in snapshot.sets_of_trip(bench.trip_id)]
    assert len(sets) == 280
    assert not any(row.is_in_water for row in sets)
    assert sum(row.continues_id is not None for row in sets) == 240
    assert snapshot.need(TrapSet, wet.ids(7)[39]).set_utc == "2026-07-07T06:39:00Z"
    assert snapshot.need(Trip, bench.trip_id)

"""Fair orders: drawn, kept with the trip, going on over rounds and trips; and choosing by hand."""

from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.actions.bench import Bench, assign_bait, assign_baits
from trapline.actions.editing import edit
from trapline.actions.fair_order import (
    assign_traps,
    draw_fair_order,
    notes_in_words,
    open_rounds,
    propose_fair_order,
    use_draw,
)
from trapline.actions.lifting import lift_trap
from trapline.actions.places import leave_out
from trapline.actions.setting import record_really_done
from trapline.actions.trips import new_trip_from, next_round
from trapline.errors import Conflict, InvalidValue
from trapline.model.bait import Bait
from trapline.model.kept_draw import KeptDraw, kept_draw, planned_baits
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip


def kept(bench: Bench, trip: Trip | None = None) -> KeptDraw:
    draw = kept_draw(trip or bench.trip())
    assert draw is not None
    return draw


def test_a_draw_baits_the_round_and_stays_with_the_trip(bench: Bench) -> None:
    bench.does(draw_fair_order, bench.trip_id, bench.bait_ids(), n_rounds=4, seed=7)
    draw, trip = kept(bench), bench.trip()
    assert (trip.layout_scheme, trip.layout_seed) == ("blocks", 7)
    assert (draw.seed, len(draw.rounds), draw.scheme["n_rounds"]) == (7, 4, 4)
    hung = [bench.bait_id(name) for name in bench.hung()]
    assert hung == [draw.bait_ids[bait] for bait in draw.rounds[0]]


def test_baits_are_drawn_in_blocks_along_the_line(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), seed=1)
    hung = bench.hung()
    assert sorted(hung[:4]) == sorted(["liver", "corn", "maize cake", "no bait"])
    assert len(set(hung[4:])) == 3
    assert [row.block for row in bench.snapshot.sets(bench.round_id)] == [1, 1, 1, 1, 2, 2, 2]


def test_over_rounds_every_place_gets_every_bait_as_often(bench: Bench) -> None:
    draw = propose_fair_order(bench.snapshot, bench.trip_id, bench.bait_ids(), n_rounds=8, seed=3)
    for place in range(7):
        assert set(Counter(row[place] for row in draw.rounds).values()) == {2}


def test_the_control_keeps_its_limit(bench: Bench) -> None:
    limits = {bench.bait_id("no bait"): 1}
    draw_fair_order(
        bench.project, bench.trip_id, bench.bait_ids(), at_most=limits, n_rounds=3, seed=2
    )
    assert bench.hung().count("no bait") == 1
    assert kept(bench).scheme["at_most"] == [None, None, None, 1]


def test_the_same_seed_gives_the_same_draw_and_another_seed_another(bench: Bench) -> None:
    def drawn(seed: int) -> KeptDraw:
        return propose_fair_order(bench.snapshot, bench.trip_id, bench.bait_ids(), seed=seed)

    assert drawn(5) == drawn(5)
    assert len({drawn(seed).rounds for seed in range(20)}) > 15


def test_what_is_proposed_is_what_is_written(bench: Bench) -> None:
    draw = propose_fair_order(bench.snapshot, bench.trip_id, bench.bait_ids(), n_rounds=3)
    bench.does(use_draw, bench.trip_id, draw)
    assert kept(bench) == draw


def test_a_proposal_does_not_fit_once_the_places_changed(bench: Bench) -> None:
    draw = propose_fair_order(bench.snapshot, bench.trip_id, bench.bait_ids())
    leave_out(bench.project, [bench.snapshot.sets(bench.round_id)[0].id])
    assert isinstance(bench.refuses(use_draw, bench.trip_id, draw), Conflict)


@pytest.mark.parametrize(
    ("baits", "values"),
    [
        (1, {}),
        (4, {"kind": "spiral"}),
        (4, {"seed": -1}),
        (4, {"n_rounds": 10_000}),
        (4, {"at_most": {0: 1, 1: 1, 2: 1, 3: 1}}),
    ],
)
def test_a_draw_that_cannot_be_is_refused(
    bench: Bench, baits: int, values: dict[str, object]
) -> None:
    ids = bench.bait_ids()[:baits]
    limits = values.get("at_most")
    if isinstance(limits, dict):
        values = {"at_most": {ids[number]: most for number, most in limits.items()}}
    bench.refuses(draw_fair_order, bench.trip_id, ids, **values)


def test_one_bait_twice_is_one_bait(bench: Bench) -> None:
    corn = bench.bait_id("corn")
    assert isinstance(bench.refuses(draw_fair_order, bench.trip_id, [corn, corn]), InvalidValue)
    bench.refuses(draw_fair_order, bench.trip_id, [corn, "no such bait"])


def test_there_must_be_places_and_a_round_to_plan(bench: Bench) -> None:
    sets = [row.id for row in bench.snapshot.sets(bench.round_id)]
    leave_out(bench.project, sets[1:])
    bench.refuses(draw_fair_order, bench.trip_id, bench.bait_ids())
    bench.project.undo()
    bench.set_all()
    problem = bench.refuses(draw_fair_order, bench.trip_id, bench.bait_ids())
    assert "set already" in problem.error


def test_the_next_round_gets_the_baits_of_the_draw(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=4, seed=7)
    bench.set_all()
    bench.does(next_round, bench.trip_id)
    draw, new = kept(bench), bench.round(2)
    hung = [row.planned_bait_id for row in bench.snapshot.sets(new.id)]
    assert hung == [draw.bait_ids[bait] for bait in draw.rounds[1]]


def test_past_the_planned_rounds_the_draw_goes_on_from_what_was_fished(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=1, seed=7)
    # One place was baited otherwise than planned.
    first = bench.snapshot.sets(bench.round_id)[0]
    liver = bench.bait_id("liver")
    with bench.project.change("Set") as change:
        for row in change.snapshot.sets(bench.round_id):
            really = liver if row.id == first.id else row.bait_id
            change.update(row.with_(state="set", bait_id=really))
    bench.does(next_round, bench.trip_id)
    draw = kept(bench)
    assert len(draw.rounds) == 2
    assert draw.bait_ids[draw.rounds[0][0]] == liver
    second = bench.hung(bench.round(2).id)
    assert second[0] != "liver"
    assert "" not in second


def test_a_draw_that_goes_on_knows_which_rounds_were_dealt_before(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:2], n_rounds=1, seed=5)
    for number in (1, 2, 3):
        bench.set_all(bench.round(number).id)
        next_round(bench.project, bench.trip_id)
    draw = kept(bench)
    assert (draw.n_given, draw.n_dealt_before) == (3, 3)
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:3], seed=6)
    again = kept(bench)
    assert (again.n_given, again.n_dealt_before) == (3, 3)


def test_a_draw_after_the_first_round_keeps_what_was_fished(bench: Bench) -> None:
    assign_bait(
        bench.project, [row.id for row in bench.snapshot.sets(bench.round_id)],
        bench.bait_id("corn"),
    )  # fmt: skip
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    bench.does(draw_fair_order, bench.trip_id, bench.bait_ids(), n_rounds=4, seed=1)
    assert bench.hung() == ["corn"] * 7
    draw = kept(bench)
    assert [draw.bait_ids[bait] for bait in draw.rounds[0]] == [bench.bait_id("corn")] * 7
    assert len(set(bench.hung(bench.round(2).id))) > 1


def test_a_new_trip_rotates_the_baits_on(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=1, seed=7)
    bench.set_all()
    bench.does(new_trip_from, bench.trip_id, "Second", started_on="2026-08-01")
    trip = bench.snapshot.trips()[0]
    draw = kept(bench, trip)
    first = bench.snapshot.rounds(trip.id)[0]
    assert draw.before == kept(bench).rounds
    assert draw.scheme["n_rounds"] == 2
    assert len(draw.rounds) == 1
    old, new = bench.hung(), bench.hung(first.id)
    assert all(before != now for before, now in zip(old, new, strict=True))


def test_a_round_that_was_only_planned_is_no_part_of_the_rotation(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=4, seed=7)
    bench.set_all()
    next_round(bench.project, bench.trip_id)  # and nobody went out for it
    new_trip_from(bench.project, bench.trip_id, "Second", started_on="2026-08-01")
    draw = kept(bench, bench.snapshot.trips()[0])
    assert draw.before == kept(bench).rounds[:1]


def test_a_new_trip_keeps_the_blocks_although_two_traps_changed_places(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=1, seed=7)
    bench.set_all()
    one, two = bench.snapshot.sets(bench.round_id)[:2]
    record_really_done(bench.project, one.id, place_id=two.place_id, swap=True)
    new_trip_from(bench.project, bench.trip_id, "Second", started_on="2026-08-01")
    trip = bench.snapshot.trips()[0]
    draw = kept(bench, trip)
    assert (trip.layout_scheme, draw.place_ids) == ("blocks", kept(bench).place_ids)
    sets = bench.snapshot.sets(bench.snapshot.rounds(trip.id)[0].id)
    assert [row.block for row in sets] == [1, 1, 1, 1, 2, 2, 2]


def test_a_block_is_a_stretch_of_the_line_and_not_of_the_round(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:2], n_rounds=3, seed=7)
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    left = bench.snapshot.sets(bench.round(2).id)[0]
    leave_out(bench.project, [left.id])
    with bench.project.change("Only planned") as change:
        for row in change.snapshot.sets(bench.round_id):
            change.update(row.with_(state="planned", set_utc=None))
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:2], n_rounds=3, seed=8)
    assert [row.block for row in bench.snapshot.sets(bench.round_id)] == [1, 1, 2, 2, 3, 3, 4]
    assert [row.block for row in bench.snapshot.sets(bench.round(2).id)] == [1, 2, 2, 3, 3, 4]


def test_a_round_before_one_that_was_fished_is_not_drawn_for(bench: Bench) -> None:
    assign_bait(
        bench.project, [row.id for row in bench.snapshot.sets(bench.round_id)],
        bench.bait_id("corn"),
    )  # fmt: skip
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    with bench.project.change("It never happened") as change:
        for row in change.snapshot.sets(bench.round_id):
            change.update(row.with_(state="planned", set_utc=None))
    assert [row.number for row in open_rounds(bench.snapshot, bench.trip_id)] == [1, 2]
    bench.set_all(bench.round(2).id)
    assert open_rounds(bench.snapshot, bench.trip_id) == []
    problem = bench.refuses(draw_fair_order, bench.trip_id, bench.bait_ids())
    assert problem.what_to_do == "Start the next round first."
    next_round(bench.project, bench.trip_id)
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=4, seed=1)
    draw = kept(bench)
    assert draw.n_given == 2
    assert set(draw.rounds[0]) == {-1}  # nothing ever hung in it
    assert set(draw.rounds[1]) == {draw.bait_ids.index(bench.bait_id("corn"))}
    assert bench.hung() == ["corn"] * 7


def test_rounds_are_drawn_for_in_their_order_whatever_their_numbers(bench: Bench) -> None:
    """A trip written down from paper may begin with round 2."""
    edit(bench.project, Round, bench.round_id, number=2)
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), seed=1)
    draw = kept(bench)
    assert len(draw.rounds) == 2
    hung = [bench.snapshot.need(Bait, draw.bait_ids[bait]).name for bait in draw.rounds[1]]
    assert bench.hung(bench.round(3).id) == hung
    bench.set_all(bench.round(3).id)
    next_round(bench.project, bench.trip_id)
    assert "" not in bench.hung(bench.round(4).id)
    assert len(kept(bench).rounds) == 3


def test_a_new_trip_from_one_baited_by_hand_rotates_too(bench: Bench) -> None:
    names = ["liver", "corn", "liver", "corn", "liver", "corn", "no bait"]
    sets = bench.snapshot.sets(bench.round_id)
    assign_baits(
        bench.project,
        {row.id: bench.bait_id(name) for row, name in zip(sets, names, strict=True)},
    )
    bench.set_all()
    new_trip_from(bench.project, bench.trip_id, "Second")
    trip = next(row for row in bench.snapshot.trips() if row.name == "Second")
    new = bench.hung(bench.snapshot.rounds(trip.id)[0].id)
    assert new.count("no bait") == 1  # as many of the control as before
    assert new[6] != "no bait"
    assert trip.layout_scheme == "whole line"


def test_notes_name_baits_and_places(bench: Bench) -> None:
    draw = propose_fair_order(
        bench.snapshot, bench.trip_id, bench.bait_ids(), at_most={bench.bait_id("no bait"): 1},
        seed=1,
    )  # fmt: skip
    assert any("Bait 4" in note for note in draw.notes)
    assert any("'no bait'" in note for note in notes_in_words(bench.snapshot, draw))
    worst = KeptDraw({}, 1, draw.bait_ids, draw.place_ids, (), notes=("place 3, with bait 2",))
    assert notes_in_words(bench.snapshot, worst) == ("'P3', with 'corn'",)
    odd = KeptDraw({}, 1, (), (), (), notes=("place 3, with bait 2",))
    assert notes_in_words(bench.snapshot, odd) == odd.notes


@pytest.mark.parametrize(
    "text",
    [
        "not json",
        "[]",
        "{}",
        '{"scheme":{},"seed":1,"baits":["a"],"places":["p"],"rounds":[[1]],"before":[],"notes":[]}',
        '{"scheme":{},"seed":1,"baits":["a"],"places":["p"],"rounds":[[]],"before":[],"notes":[]}',
        '{"scheme":{},"seed":1,"baits":["a"],"places":["p"],"rounds":[["a"]],"before":[],'
        '"notes":[]}',
        '{"scheme":{},"seed":1,"baits":["a"],"places":["p"],"rounds":[[0]],"before":[],"notes":[]}',
        '{"scheme":{"kind":"spiral","at_most":[]},"seed":1,"baits":["a"],"places":["p"],'
        '"rounds":[[0]],"before":[],"notes":[]}',
        '{"scheme":{"kind":"blocks","at_most":[1,2]},"seed":1,"baits":["a"],"places":["p"],'
        '"rounds":[[0]],"before":[],"notes":[]}',
        '{"scheme":{"kind":"blocks","at_most":3},"seed":1,"baits":["a"],"places":["p"],'
        '"rounds":[[0]],"before":[],"notes":[]}',
    ],
)
def test_a_draw_that_another_program_wrote_wrongly_is_said(bench: Bench, text: str) -> None:
    edit(bench.project, Trip, bench.trip_id, layout_draw=text)
    bench.set_all()
    problem = bench.refuses(next_round, bench.trip_id)
    assert problem.what_to_do == "Draw the fair order again."


def test_a_draw_has_no_baits_past_its_rounds(bench: Bench) -> None:
    draw = propose_fair_order(bench.snapshot, bench.trip_id, bench.bait_ids(), n_rounds=2)
    assert planned_baits(draw, 0) == planned_baits(draw, 3) == {}
    assert len(planned_baits(draw, 2)) == 7


def test_a_bait_chosen_by_hand_ends_the_draw(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), seed=7)
    row = bench.snapshot.sets(bench.round_id)[0]
    other = next(name for name in bench.bait_ids() if name != row.planned_bait_id)
    bench.does(assign_bait, [row.id], other)
    assert (bench.trip().layout_draw, bench.trip().layout_scheme) == ("", "none")
    assert bench.snapshot.sets(bench.round_id)[0].block is None


def test_choosing_the_bait_that_hangs_there_keeps_the_draw(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), seed=7)
    before = bench.trip()
    row = bench.snapshot.sets(bench.round_id)[0]
    assign_bait(bench.project, [row.id], row.planned_bait_id)
    assert bench.trip() == before


def test_baits_are_assigned_and_taken_away(bench: Bench) -> None:
    sets = bench.snapshot.sets(bench.round_id)
    bench.does(assign_baits, {row.id: bench.bait_ids()[n % 4] for n, row in enumerate(sets)})
    assert bench.hung()[:5] == ["liver", "corn", "maize cake", "no bait", "liver"]
    bench.does(assign_bait, [sets[0].id, sets[1].id], None)
    assert bench.hung()[:3] == ["", "", "maize cake"]


def test_bait_of_a_trap_in_the_water_is_not_planned_any_more(bench: Bench) -> None:
    sets = bench.snapshot.sets(bench.round_id)
    with bench.project.change("Set") as change:
        change.update(sets[1].with_(state="set"))
    corn = bench.bait_id("corn")
    bench.refuses(assign_baits, {row.id: corn for row in sets})
    bench.refuses(assign_bait, [row.id for row in sets], corn)
    bench.refuses(assign_bait, [sets[0].id], "no such bait")
    bench.refuses(assign_bait, ["no such trap set"], corn)


def test_traps_are_assigned_and_may_change_places_in_one_step(bench: Bench) -> None:
    one, two = bench.snapshot.sets(bench.round_id)[:2]
    traps = bench.snapshot.all(Trap)
    bench.does(assign_traps, {one.id: traps[0].id, two.id: traps[1].id})
    bench.does(assign_traps, {one.id: traps[1].id, two.id: traps[0].id})
    assert [bench.snapshot.trap_label(row) for row in bench.snapshot.sets(bench.round_id)][:2] == [
        "2", "1",
    ]  # fmt: skip
    bench.does(assign_traps, {one.id: None})


def test_another_trap_of_one_in_the_water_does_not_stand_in_two_waters(bench: Bench) -> None:
    one, two = bench.snapshot.sets(bench.round_id)[:2]
    traps = bench.snapshot.all(Trap)
    assign_traps(bench.project, {one.id: traps[0].id, two.id: traps[1].id})
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    gone, _, three = bench.snapshot.sets(bench.round(2).id)[:3]
    leave_out(bench.project, [gone.id])
    assign_traps(bench.project, {three.id: traps[2].id})
    bench.set_all(bench.round(2).id)
    problem = bench.refuses(assign_traps, {three.id: traps[0].id})
    assert "still stands in the water at 'P1'" in problem.error


def test_the_trap_that_was_lost_is_not_made_another_one(bench: Bench) -> None:
    one, two = bench.snapshot.sets(bench.round_id)[:2]
    traps = bench.snapshot.all(Trap)
    assign_traps(bench.project, {one.id: traps[0].id, two.id: traps[1].id})
    bench.set_all()
    lift_trap(bench.project, one.id, "2026-07-02T18:00:00Z", "lost")
    for trap_id in (traps[5].id, None):
        problem = bench.refuses(assign_traps, {one.id: trap_id})
        assert problem.what_to_do == "Correct the condition first, then the trap."
        bench.refuses(record_really_done, one.id, trap_id=trap_id)
    bench.refuses(record_really_done, two.id, trap_id=traps[0].id, swap=True)


def test_a_trap_stands_at_one_place_of_a_round(bench: Bench) -> None:
    one, two, three = bench.snapshot.sets(bench.round_id)[:3]
    traps = bench.snapshot.all(Trap)
    assign_traps(bench.project, {one.id: traps[0].id})
    problem = bench.refuses(assign_traps, {two.id: traps[1].id, three.id: traps[0].id})
    assert "P1" in problem.error
    bench.refuses(assign_traps, {two.id: "no such trap"})


@settings(
    max_examples=25, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(
    n_baits=st.integers(2, 4),
    n_rounds=st.integers(1, 6),
    kind=st.sampled_from(["blocks", "whole line"]),
    limit=st.sampled_from([None, 1, 2]),
    seed=st.integers(0, 10**6),
)
def test_every_draw_fills_the_line_and_is_read_back_as_it_was(
    bench: Bench, n_baits: int, n_rounds: int, kind: str, limit: int | None, seed: int
) -> None:
    ids = bench.bait_ids()[:n_baits]
    at_most = {} if limit is None else {ids[-1]: limit}
    draw = propose_fair_order(
        bench.snapshot, bench.trip_id, ids,
        kind=kind, n_rounds=n_rounds, at_most=at_most, seed=seed,
    )  # fmt: skip
    assert len(draw.rounds) == n_rounds
    for row in draw.rounds:
        assert set(row) <= set(range(n_baits))
        assert len(row) == 7
        if limit is not None:
            assert row.count(n_baits - 1) <= limit
    assert kept_draw(bench.trip().with_(layout_draw=draw.as_json())) == draw

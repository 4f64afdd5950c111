"""The next round with a fair draw that goes on from the rounds fished, in one step."""

from collections import Counter

import pytest

from tests.actions.bench import Bench, assign_baits
from trapline.actions.fair_order import draw_fair_order
from trapline.actions.next_fair_round import plan_fair_round, propose_fair_round
from trapline.actions.trips import next_round
from trapline.errors import Conflict, InvalidValue
from trapline.model.kept_draw import kept_draw


def baited_by_hand(bench: Bench, last: str = "liver") -> list[str]:
    """Bait the first round by hand, set it, and return its baits along the line."""
    names = ["liver", "corn", "maize cake", "liver", "corn", "maize cake", last]
    sets = bench.snapshot.sets(bench.round_id)
    assign_baits(
        bench.project,
        {row.id: bench.bait_id(name) for row, name in zip(sets, names, strict=True)},
    )
    bench.set_all()
    return names


def test_a_trip_baited_by_hand_goes_on_with_a_draw_of_its_own(bench: Bench) -> None:
    before = baited_by_hand(bench)
    draw = propose_fair_round(bench.snapshot, bench.trip_id, seed=4)
    bench.does(plan_fair_round, bench.trip_id, draw)

    second = bench.round(2)
    now = bench.hung(second.id)
    assert all(old != new for old, new in zip(before, now, strict=True))
    trip = bench.trip()
    assert trip.layout_draw == draw.as_json()
    assert (trip.layout_scheme, trip.layout_seed) == ("whole line", 4)
    assert draw.n_given == 1
    # Over a rotation of three rounds every place gets every bait.
    assert len(draw.rounds) == 3
    assert all(set(place) == {0, 1, 2} for place in zip(*draw.rounds, strict=True))
    fished = [draw.bait_ids[bait] for bait in draw.rounds[0]]
    assert fished == [bench.bait_id(name) for name in before]


def test_a_control_keeps_its_number_of_traps(bench: Bench) -> None:
    baited_by_hand(bench, last="no bait")
    draw = propose_fair_round(bench.snapshot, bench.trip_id, seed=4)
    bench.does(plan_fair_round, bench.trip_id, draw)
    assert Counter(bench.hung(bench.round(2).id))["no bait"] == 1


def test_a_draw_that_the_trip_has_goes_on(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=3, seed=7)
    kept = kept_draw(bench.trip())
    assert kept is not None
    bench.set_all()
    draw = propose_fair_round(bench.snapshot, bench.trip_id)
    assert draw == kept
    bench.does(plan_fair_round, bench.trip_id, draw)
    hung = [bench.bait_id(name) for name in bench.hung(bench.round(2).id)]
    assert hung == [kept.bait_ids[bait] for bait in kept.rounds[1]]


def test_it_is_the_round_that_the_next_round_would_be(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=1, seed=7)
    bench.set_all()
    plan_fair_round(bench.project, bench.trip_id, propose_fair_round(bench.snapshot, bench.trip_id))
    planned = bench.hung(bench.round(2).id)
    bench.project.undo()
    next_round(bench.project, bench.trip_id)
    assert bench.hung(bench.round(2).id) == planned


def test_a_round_that_is_not_set_yet_is_baited_instead_of_adding_another(bench: Bench) -> None:
    before = baited_by_hand(bench)
    next_round(bench.project, bench.trip_id)
    assert bench.hung(bench.round(2).id) == before
    draw = propose_fair_round(bench.snapshot, bench.trip_id, seed=4)
    bench.does(plan_fair_round, bench.trip_id, draw)
    assert len(bench.snapshot.rounds(bench.trip_id)) == 2
    now = bench.hung(bench.round(2).id)
    assert all(old != new for old, new in zip(before, now, strict=True))


def test_one_bait_is_no_comparison(bench: Bench) -> None:
    sets = bench.snapshot.sets(bench.round_id)
    assign_baits(bench.project, dict.fromkeys([row.id for row in sets], bench.bait_id("liver")))
    bench.set_all()
    with pytest.raises(InvalidValue, match="at least two baits"):
        propose_fair_round(bench.snapshot, bench.trip_id)


def test_a_draw_that_is_too_short_by_now_is_refused(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids(), n_rounds=2, seed=7)
    bench.set_all()
    draw = propose_fair_round(bench.snapshot, bench.trip_id)
    next_round(bench.project, bench.trip_id)
    bench.set_all(bench.round(2).id)
    refused = bench.refuses(plan_fair_round, bench.trip_id, draw)
    assert isinstance(refused, Conflict)

"""Fair orders whose baits follow each other evenly: when drawn so, and how they go on."""

import json
from typing import Any

import pytest

from tests.actions.bench import Bench, assign_baits
from trapline.actions.editing import edit
from trapline.actions.fair_order import draw_fair_order, propose_fair_order
from trapline.actions.places import leave_out
from trapline.actions.trips import new_trip_from, next_round
from trapline.errors import InvalidValue
from trapline.model.kept_draw import KeptDraw, kept_draw
from trapline.model.trip import Trip
from trapline.science.layout import Scheme, all_layouts, draw_layout


def kept(bench: Bench, trip: Trip | None = None) -> KeptDraw:
    draw = kept_draw(trip or bench.trip())
    assert draw is not None
    return draw


def keep_places(bench: Bench, n_places: int) -> None:
    """Leave out all but the first places of the round."""
    leave_out(bench.project, [row.id for row in bench.snapshot.sets(bench.round_id)[n_places:]])


def proposed(bench: Bench, n_baits: int, n_rounds: int, **values: Any) -> KeptDraw:
    return propose_fair_order(
        bench.snapshot, bench.trip_id, bench.bait_ids()[:n_baits], n_rounds=n_rounds, **values
    )


def test_a_new_order_is_drawn_from_the_most_even_successions(bench: Bench) -> None:
    draw = proposed(bench, 3, 3, seed=4)
    scheme = Scheme.from_dict(draw.scheme)
    assert scheme == Scheme(7, 3, 3, even_succession=True)
    assert list(map(list, draw.rounds)) in all_layouts(scheme).tolist()
    assert any("follow each other most evenly" in note for note in draw.notes)


def test_a_fair_test_goes_before_even_successions(bench: Bench) -> None:
    # 24 of 576 Latin squares are alike up to names: p .042. Of 144 squares of Williams: .17.
    keep_places(bench, 4)
    draw = proposed(bench, 4, 4, seed=4)
    assert Scheme.from_dict(draw.scheme) == Scheme(4, 4, 4)
    assert draw.rounds == tuple(map(tuple, draw_layout(Scheme(4, 4, 4), 4).rounds.tolist()))
    assert draw.notes == ()


def test_one_round_has_no_successions(bench: Bench) -> None:
    assert "even_succession" not in proposed(bench, 3, 1, seed=4).scheme


def test_the_choice_can_be_left_out(bench: Bench) -> None:
    draw = proposed(bench, 3, 3, seed=4, even_succession=False)
    assert draw.rounds == tuple(map(tuple, draw_layout(Scheme(7, 3, 3), 4).rounds.tolist()))
    draw_fair_order(
        bench.project, bench.trip_id, bench.bait_ids()[:3],
        n_rounds=3, seed=4, even_succession=False,
    )  # fmt: skip
    assert kept(bench) == draw


@pytest.mark.parametrize("even", [True, False])
def test_what_goes_on_from_a_draw_keeps_its_choice(bench: Bench, even: bool) -> None:
    draw_fair_order(
        bench.project, bench.trip_id, bench.bait_ids()[:3],
        n_rounds=2, seed=4, even_succession=even,
    )  # fmt: skip
    for number in (1, 2):
        bench.set_all(bench.round(number).id)
        next_round(bench.project, bench.trip_id)
    longer = kept(bench)
    assert len(longer.rounds) == 3
    assert longer.scheme.get("even_succession", False) is even
    bench.set_all(bench.round(3).id)
    new_trip_from(bench.project, bench.trip_id, "Second", started_on="2026-08-01", seed=9)
    second = next(row for row in bench.snapshot.trips() if row.name == "Second")
    assert kept(bench, second).scheme.get("even_succession", False) is even


def test_a_new_trip_from_baits_chosen_by_hand_is_drawn_evenly(bench: Bench) -> None:
    sets = bench.snapshot.sets(bench.round_id)
    baits = {row.id: bench.bait_ids()[n % 3] for n, row in enumerate(sets)}
    assign_baits(bench.project, baits)
    bench.set_all()
    next_round(bench.project, bench.trip_id)
    bench.set_all(bench.round(2).id)
    new_trip_from(bench.project, bench.trip_id, "Second", seed=9)
    second = next(row for row in bench.snapshot.trips() if row.name == "Second")
    assert kept(bench, second).scheme["even_succession"] is True


def test_a_draw_from_before_there_was_a_choice_is_read_as_it_was(bench: Bench) -> None:
    draw_fair_order(
        bench.project, bench.trip_id, bench.bait_ids()[:3],
        n_rounds=3, seed=4, even_succession=False,
    )  # fmt: skip
    text = bench.trip().layout_draw
    assert set(json.loads(text)["scheme"]) == {
        "kind", "n_places", "n_baits", "n_rounds", "rotated", "at_most",
    }  # fmt: skip
    assert Scheme.from_dict(kept(bench).scheme) == Scheme(7, 3, 3)


@pytest.mark.parametrize(
    ("part", "other"),
    [('"even_succession":true', '"even_succession":1'), ('"seed":4', '"seed":-4')],
)
def test_a_choice_or_a_seed_that_cannot_be_is_no_draw(bench: Bench, part: str, other: str) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:3], n_rounds=3, seed=4)
    broken = bench.trip().layout_draw.replace(part, other)
    assert other in broken
    edit(bench.project, Trip, bench.trip_id, layout_draw=broken)
    with pytest.raises(InvalidValue, match="cannot be read"):
        kept(bench)

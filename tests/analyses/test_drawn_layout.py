"""The test of a drawn layout, against a count of Latin squares by hand."""

import itertools
import json
from typing import Any

import numpy as np
import pytest
from scipy.stats import kruskal

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses import drawn_layout
from trapline.analyses.trip_comparison import CompareChoice, compare_trips
from trapline.model.bait import Bait
from trapline.model.kept_draw import KeptDraw
from trapline.model.trip import Trip
from trapline.science.pair_tests import PairTests
from trapline.science.permutation import PermutationResult

THREE = ("fish", "liver", "bread")
SQUARE = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
COUNTS = ((9, 2, 1), (3, 1, 7), (0, 8, 3))


def all_squares() -> list[tuple[tuple[int, ...], ...]]:
    """Return all Latin squares of order 3, found by trying."""
    rows = list(itertools.permutations(range(3)))
    return [
        square
        for square in itertools.product(rows, repeat=3)
        if all(len({row[at] for row in square}) == 3 for at in range(3))
    ]


def trip(rounds: Any = SQUARE, **changes: Any) -> MadeTrip:
    """Return three rounds at three places, baited as `rounds` says, with the draw kept."""
    made = make_trip(3, 3, baits=THREE)
    scheme = {
        "kind": "blocks", "n_places": 3, "n_baits": 3, "n_rounds": 3, "rotated": True,
        "at_most": [],
    }  # fmt: skip
    draw = KeptDraw(
        scheme=changes.pop("scheme", scheme), seed=1, bait_ids=made.bait_ids,
        place_ids=made.place_ids, rounds=SQUARE, **changes,
    )  # fmt: skip
    made = made.with_rows(
        made.snapshot.need(Trip, made.trip_id).with_(
            layout_scheme="blocks", layout_seed=1, layout_draw=draw.as_json()
        )
    )
    for number, (baits, counts) in enumerate(zip(rounds, COUNTS, strict=True), 1):
        rows = [
            row.with_(bait_id=made.bait_ids[bait])
            for row, bait in zip(made.sets(number), baits, strict=True)
        ]
        made = made.with_rows(*rows).lifted(counts, number)
    return made


def permuted(made: MadeTrip, **values: Any) -> PermutationResult:
    choice = CompareChoice(**{"round_ids": made.round_ids, **values})
    found = compare_trips(made.snapshot, choice).comparison
    assert found is not None
    assert found.permutation is not None
    return found.permutation


def by_hand(counts: Any, rows: list[int]) -> tuple[int, int]:
    """Return how many of the squares differ as much, by scipy's Kruskal-Wallis H."""

    def h(square: Any) -> float:
        groups: dict[int, list[float]] = {}
        for row in rows:
            for bait, count in zip(square[row], counts[row], strict=True):
                if count is not None:
                    groups.setdefault(bait, []).append(count)
        return float(kruskal(*groups.values()).statistic)

    squares = all_squares()
    return sum(h(square) >= h(SQUARE) - 1e-9 for square in squares), len(squares)


def test_the_baits_are_dealt_out_over_the_layouts_of_the_draw() -> None:
    found = permuted(trip())
    assert (found.unit, found.exact) == ("design", True)
    assert (found.n_as_extreme, found.n_arrangements) == by_hand(COUNTS, [0, 1, 2])
    assert found.n_arrangements == 12
    assert found.p == found.n_as_extreme / 12


def test_rounds_that_are_not_compared_are_not_needed() -> None:
    made = trip()
    found = permuted(made, round_ids=made.round_ids[:2])
    assert (found.unit, found.n_arrangements) == ("design", 12)
    assert found.n_as_extreme == by_hand(COUNTS, [0, 1])[0]


def test_the_layouts_are_those_of_the_rounds_in_order_whatever_their_numbers() -> None:
    made = trip()
    rounds = made.snapshot.rounds(made.trip_id)
    made = made.with_rows(*(row.with_(number=2 * row.number) for row in rounds))
    assert permuted(made).n_as_extreme == by_hand(COUNTS, [0, 1, 2])[0]
    assert permuted(made, round_ids=made.round_ids[1:]).n_as_extreme == by_hand(COUNTS, [1, 2])[0]


def test_a_trap_without_a_count_is_left_out_of_every_layout() -> None:
    made = trip()
    row = made.sets(1)[0]
    made = made.with_rows(row.with_(counted=False))
    counts = ((None, 2, 1), *COUNTS[1:])
    assert permuted(made).n_as_extreme == by_hand(counts, [0, 1, 2])[0]


def test_a_draw_that_was_not_followed_is_not_used() -> None:
    otherwise = ((1, 0, 2), *SQUARE[1:])
    assert permuted(trip(otherwise)).unit != "design"


def test_without_a_draw_baits_are_dealt_out_over_traps_or_places() -> None:
    made = trip()
    plain = made.with_rows(made.snapshot.need(Trip, made.trip_id).with_(layout_draw=""))
    assert permuted(plain).unit == "place"


def test_a_draw_that_cannot_be_read_is_not_used() -> None:
    made = trip()
    broken = made.snapshot.need(Trip, made.trip_id).with_(layout_draw="{]")
    assert permuted(made.with_rows(broken)).unit == "place"
    assert permuted(trip(scheme={"kind": "spiral"})).unit == "place"


def test_rounds_before_the_trip_are_kept_as_they_were_fished() -> None:
    scheme = {
        "kind": "blocks", "n_places": 3, "n_baits": 3, "n_rounds": 4, "rotated": True,
        "at_most": [],
    }  # fmt: skip
    made = trip(scheme=scheme, before=((0, 1, 2),))
    found = permuted(made)
    assert found.unit == "design"
    kept = json.loads(made.snapshot.need(Trip, made.trip_id).layout_draw)
    assert kept["before"] == [[0, 1, 2]]


def test_rounds_fished_before_the_draw_stay_as_they_were() -> None:
    """With the first round given, a second and third can follow it in two ways."""
    found = permuted(trip(n_given=1))
    assert (found.unit, found.exact, found.n_arrangements) == ("design", True, 2)
    squares = [square for square in all_squares() if square[0] == SQUARE[0]]
    assert len(squares) == 2


def test_rounds_dealt_by_an_earlier_draw_are_not_taken_for_fixed_ones() -> None:
    """Only the last round would be dealt anew: p would be 1 however clear the catches are."""
    made = trip(n_given=2, n_dealt_before=2)
    found = permuted(made)
    assert (found.unit, found.n_arrangements) == ("place", 6)
    assert permuted(made, round_ids=made.round_ids[2:]).unit == "design"
    # One round chosen by hand, the next by an earlier draw, the last by this one.
    mixed = trip(n_given=2, n_dealt_before=1)
    assert permuted(mixed).unit == "place"
    assert permuted(mixed, round_ids=mixed.round_ids[1:2]).unit == "trap"


def test_rounds_that_the_draw_did_not_deal_are_not_tested_over_its_layouts() -> None:
    """All its layouts have the same baits there: p would be 1 whatever was caught."""
    made = trip(n_given=1)
    found = permuted(made, round_ids=made.round_ids[:1])
    assert (found.unit, found.n_arrangements) == ("trap", 6)


def test_a_draw_made_after_every_round_was_fished_tests_nothing() -> None:
    assert permuted(trip(n_given=3)).unit == "place"


def test_of_too_many_layouts_some_are_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawn_layout, "MOST_LISTED", 5)
    monkeypatch.setattr(drawn_layout, "N_DRAWN", 4000)
    found = permuted(trip())
    assert not found.exact
    assert found.n_arrangements == 4000
    share = by_hand(COUNTS, [0, 1, 2])[0] / 12
    assert abs(found.p - share) < 4 * np.sqrt(share * (1 - share) / 4000) + 0.001
    assert permuted(trip()).p == found.p  # the seed of the draw decides


def test_old_bait_and_two_trips_are_beyond_the_draw() -> None:
    made = trip()
    row = made.sets(1)[0].with_(bait_action="left as it was")
    assert permuted(made.with_rows(row), old_bait=True).unit != "design"
    trip_row = made.snapshot.need(Trip, made.trip_id)
    moved = made.with_rows(
        trip_row.with_(id="trip-2", name="Other"),
        made.snapshot.rounds(made.trip_id)[2].with_(trip_id="trip-2"),
    )
    assert permuted(moved).unit != "design"


def pairs_of(made: MadeTrip, **values: Any) -> PairTests:
    choice = CompareChoice(**{"round_ids": made.round_ids, **values})
    found = compare_trips(made.snapshot, choice).comparison
    assert found is not None
    assert found.tests.pairs is not None
    return found.tests.pairs


def pair_by_hand(one: int, other: int, rows: list[int]) -> tuple[int, int]:
    """Return how many squares that leave the rows of two baits differ as much, and all of them."""

    def h(square: Any) -> float:
        groups: dict[int, list[float]] = {one: [], other: []}
        for row in rows:
            for bait, count in zip(square[row], COUNTS[row], strict=True):
                if bait in groups:
                    groups[bait].append(count)
        return float(kruskal(*groups.values()).statistic)

    def places(square: Any) -> list[list[bool]]:
        return [[bait in (one, other) for bait in square[row]] for row in rows]

    squares = [square for square in all_squares() if places(square) == places(SQUARE)]
    return sum(h(square) >= h(SQUARE) - 1e-9 for square in squares), len(squares)


@pytest.mark.parametrize("most_listed", [100_000, 5])
def test_pairs_are_tested_over_the_layouts_that_leave_their_rows(
    most_listed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drawn_layout, "MOST_LISTED", most_listed)
    monkeypatch.setattr(drawn_layout, "N_DRAWN", 500)
    made = trip()
    found = pairs_of(made)
    assert (found.unit, len(found.pairs)) == ("design", 3)
    for one, other in itertools.combinations(range(3), 2):
        pair = found.of(THREE[one], THREE[other])
        assert (pair.n_as_extreme, pair.n_arrangements) == pair_by_hand(one, other, [0, 1, 2])
        assert pair.exact
    assert found.note.startswith("With this layout no pair can fall below 0.05")
    assert found.against_control is None
    two_rounds = pairs_of(made, round_ids=made.round_ids[:2])
    pair = two_rounds.of(THREE[0], THREE[1])
    if most_listed > 5:
        assert (pair.n_as_extreme, pair.n_arrangements) == pair_by_hand(0, 1, [0, 1])
    else:  # the third round is left where it was, too
        assert pair.n_arrangements == 2


def test_rounds_fished_before_the_draw_stay_in_the_tests_of_pairs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(drawn_layout, "MOST_LISTED", 1)
    monkeypatch.setattr(drawn_layout, "N_DRAWN", 500)
    # Whoever changes two baits must change them in the first round: nothing is left to change.
    assert {pair.n_arrangements for pair in pairs_of(trip(n_given=1)).pairs} == {1}


def test_each_bait_is_tested_against_the_control_over_the_layouts() -> None:
    made = trip()
    baits = [made.snapshot.need(Bait, bait_id) for bait_id in made.bait_ids]
    made = made.with_rows(baits[2].with_(is_control=True))
    against = pairs_of(made).against_control
    assert against is not None
    assert [(test.bait, test.control) for test in against] == [
        ("fish", "bread"),
        ("liver", "bread"),
    ]
    assert {(test.n_arrangements, test.exact) for test in against} == {(12, True)}

"""Efficiency of layouts and successions of baits, against textbooks and a second way to compute."""

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.design_efficiency import carry_over_counts, design_efficiency


def cyclic(n_rounds: int, n_places: int, n_baits: int, steps: Any = None) -> list[list[int]]:
    steps = range(n_rounds) if steps is None else steps
    return [[(step + place) % n_baits for place in range(n_places)] for step in steps]


def fitted(rounds: Any, n_baits: int) -> tuple[float, set[tuple[int, int]]]:
    """Return the average factor and the pairs that can be compared, from a least-squares fit."""
    layout = np.array(rounds)
    round_, place = np.nonzero(layout >= 0)
    model = np.hstack(
        [np.eye(n_baits)[layout[round_, place]], np.eye(len(layout))[round_],
         np.eye(layout.shape[1])[place]]
    )  # fmt: skip
    _, sizes, directions = np.linalg.svd(model, full_matrices=True)
    rank = int((sizes > 1e-9).sum())
    covariance = directions[:rank].T @ np.diag(sizes[:rank] ** -2.0) @ directions[:rank]
    uses = model[:, :n_baits].sum(axis=0)
    before, after, comparable = 0.0, 0.0, set()
    for a, b in itertools.combinations(range(n_baits), 2):
        contrast = np.zeros(model.shape[1])
        contrast[[a, b]] = 1, -1
        if np.abs(directions[rank:] @ contrast).max(initial=0) < 1e-7:
            comparable.add((a, b))
            before += 1 / uses[a] + 1 / uses[b]
            after += contrast @ covariance @ contrast
    is_whole = len(comparable) == n_baits * (n_baits - 1) // 2
    return before / after if is_whole else 0.0, comparable


# --- efficiency -------------------------------------------------------------------------


@pytest.mark.parametrize(("n_rounds", "wanted"), [(4, 0.9796), (3, 0.8650), (2, 0.5600)])
def test_four_baits_on_seven_places(n_rounds: int, wanted: float) -> None:
    # Cyclic rows; computed independently from the variances of the six differences.
    found = design_efficiency(cyclic(n_rounds, 7, 4))
    assert found.average == pytest.approx(wanted, abs=5e-5)
    assert found.groups == ((0, 1, 2, 3),)


@pytest.mark.parametrize(
    ("rounds", "wanted"),
    [
        # Youden squares: Cochran & Cox, Experimental Designs (from memory).
        (cyclic(3, 7, 7, (1, 2, 4)), 7 / 9),
        (cyclic(3, 4, 4), 8 / 9),
        # Latin squares lose nothing.
        (cyclic(4, 4, 4), 1.0),
        (cyclic(3, 3, 3), 1.0),
        (cyclic(4, 8, 4), 1.0),
    ],
)
def test_designs_of_the_textbooks(rounds: list[list[int]], wanted: float) -> None:
    found = design_efficiency(rounds)
    assert found.average == pytest.approx(wanted, abs=1e-12)
    assert found.factors == pytest.approx([wanted] * len(found.factors), abs=1e-12)


def test_balanced_incomplete_blocks_lose_what_their_formula_says() -> None:
    # t (k - 1) / (k (t - 1)) for blocks of k out of t baits (Yates 1936, from memory).
    pairs = np.array(list(itertools.combinations(range(4), 2)))
    assert design_efficiency(pairs, by_place=False).average == pytest.approx(4 * 1 / (2 * 3))
    assert design_efficiency(pairs.T, by_round=False).average == pytest.approx(2 / 3)


def test_baits_that_stay_on_their_places_cannot_be_told_from_them() -> None:
    stay = [[0, 1, 2, 0, 1, 2]] * 4
    found = design_efficiency(stay)
    assert (found.average, found.factors) == (0.0, (0.0, 0.0))
    assert found.groups == ((0,), (1,), (2,))
    assert design_efficiency(stay, by_place=False).average == pytest.approx(1.0)


def test_one_round_compares_only_where_places_are_taken_to_be_alike() -> None:
    assert design_efficiency([[0, 1, 0, 1]]).groups == ((0,), (1,))
    once = design_efficiency([[0, 1, 0, 1, 1]], by_place=False)
    assert once.average == pytest.approx(1.0)
    assert design_efficiency([[0, 1, 0]], by_round=False, by_place=False).average == 1.0


def test_baits_that_never_met_cannot_be_compared() -> None:
    found = design_efficiency([[0, 1, 2, 3], [1, 0, 3, 2]])
    assert found.average == 0.0
    assert found.groups == ((0, 1), (2, 3))
    assert found.factors == pytest.approx((0.0, 1.0, 1.0))


def test_a_bait_that_never_hung_is_compared_with_none() -> None:
    found = design_efficiency([[0, 1], [1, 0]], n_baits=3)
    assert (found.average, found.groups) == (0.0, ((0, 1), (2,)))


def test_a_control_on_fewer_places_loses_nothing_where_every_place_has_its_share() -> None:
    rounds = [[0, 0, 1], [0, 1, 0], [1, 0, 0]]
    assert design_efficiency(rounds).average == pytest.approx(1.0)


def test_a_lost_trap_costs_something() -> None:
    rounds = cyclic(4, 4, 4)
    rounds[2][1] = -1
    assert 0.9 < design_efficiency(rounds).average < 1.0


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.data())
def test_the_average_is_that_of_a_least_squares_fit(data: st.DataObject) -> None:
    n_baits = data.draw(st.integers(2, 4))
    shape = data.draw(st.tuples(st.integers(1, 4), st.integers(1, 5)))
    cells = st.lists(
        st.integers(-1, n_baits - 1), min_size=shape[0] * shape[1], max_size=shape[0] * shape[1]
    )
    rounds = np.array(data.draw(cells)).reshape(shape)
    found = design_efficiency(rounds, n_baits)
    average, comparable = fitted(rounds, n_baits)
    assert found.average == pytest.approx(average, abs=1e-9)
    pairs = {pair for group in found.groups for pair in itertools.combinations(group, 2)}
    assert pairs == comparable
    assert sorted(bait for group in found.groups for bait in group) == list(range(n_baits))
    uses = np.bincount(rounds[rounds >= 0], minlength=n_baits)
    if found.average and np.ptp(uses) == 0:
        harmonic = len(found.factors) / sum(1 / factor for factor in found.factors)
        assert found.average == pytest.approx(harmonic)


def test_long_lines_are_no_trouble() -> None:
    assert design_efficiency(cyclic(60, 2000, 60)).average > 0.99


# --- successions ------------------------------------------------------------------------


def sequences(text: str) -> np.ndarray:
    """Return rounds (k, places) from one word a place."""
    return np.array([[ord(letter) - ord("A") for letter in word] for word in text.split()]).T


def shifted(first: str, reversals: bool = False) -> str:
    """Return a first row and its shifts through the alphabet, and those backwards."""
    n = len(first)
    words = [
        "".join(chr((ord(letter) - ord("A") + step) % n + ord("A")) for letter in first)
        for step in range(n)
    ]
    return " ".join(words + [word[::-1] for word in words if reversals])


@pytest.mark.parametrize(
    ("places", "times"),
    [
        # Williams (1949): every ordered pair of different baits equally often.
        ("ABDC BCAD CDBA DACB", 1),
        ("ABC BCA CAB CBA ACB BAC", 2),
        (shifted("ABECD", reversals=True), 2),
        (shifted("ABFCED"), 1),
    ],
)
def test_in_a_williams_square_every_bait_follows_every_other_equally_often(
    places: str, times: int
) -> None:
    rounds = sequences(places)
    n_baits = len(rounds)
    counts = carry_over_counts(rounds)
    assert counts.tolist() == (times * (1 - np.eye(n_baits, dtype=int))).tolist()
    assert design_efficiency(rounds).average == pytest.approx(1.0)


def test_in_a_cyclic_square_a_bait_always_follows_the_same_one() -> None:
    counts = carry_over_counts(cyclic(4, 4, 4))
    assert sorted(counts.ravel()) == [0] * 12 + [3] * 4


def test_a_bait_that_follows_itself_is_counted_and_a_gap_is_not() -> None:
    counts = carry_over_counts([[0, 1, -1], [0, -1, 1], [1, 0, 0]])
    assert counts.tolist() == [[1, 1], [1, 0]]
    assert carry_over_counts([[0, 1]]).tolist() == [[0, 0], [0, 0]]
    assert carry_over_counts([[0], [0]], n_baits=2).tolist() == [[1, 0], [0, 0]]


def test_stacked_layouts_are_counted_each_by_itself() -> None:
    rng = np.random.default_rng(1)
    layouts = rng.integers(-1, 3, size=(2, 5, 4, 6)).astype(np.int8)
    counts = carry_over_counts(layouts, 3)
    assert counts.shape == (2, 5, 3, 3)
    for at in np.ndindex(2, 5):
        by_hand = np.zeros((3, 3), dtype=int)
        for before, after in itertools.pairwise(layouts[at]):
            for a, b in zip(before, after, strict=True):
                if a >= 0 and b >= 0:
                    by_hand[a, b] += 1
        assert counts[at].tolist() == by_hand.tolist()


@pytest.mark.parametrize("wrong", [[[0, 1.5]], [[0, -2]], [[0, 1], [0]], [], [0, 1], [["a", "b"]]])
def test_what_is_no_layout_is_refused(wrong: Any) -> None:
    with pytest.raises(InvalidValue):
        design_efficiency(wrong)
    with pytest.raises(InvalidValue):
        carry_over_counts(wrong)


def test_numbers_of_baits_must_fit() -> None:
    with pytest.raises(InvalidValue, match="One bait"):
        design_efficiency([[0, 0]])
    with pytest.raises(InvalidValue, match="of 2 baits"):
        design_efficiency([[0, 2]], 2)
    with pytest.raises(InvalidValue, match="of 2 baits"):
        carry_over_counts([[0, 2]], 2)
    with pytest.raises(InvalidValue, match="One bait"):
        design_efficiency([[-1, -1]])

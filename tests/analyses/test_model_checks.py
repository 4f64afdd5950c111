"""What does not fit between lifts and model is said, and what fits is not."""

from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from trapline.analyses import model_checks
from trapline.analyses.bait_comparison import (
    BaitComparison,
    CompareOptions,
    LiftRow,
    compare_baits,
)

PATCHIER = "One trap holds more than the model can explain"
EMPTIER = "More traps came up empty than the model can explain"
ALIKE = "The catches are more alike than chance alone makes them"
UNEVEN = "One patchiness is taken for all baits"
GROWTH = "with the soak as assumed"
PRIOR = "what was assumed beforehand matters"


def compared(lifts: Sequence[tuple[str, int, float]], **options: Any) -> BaitComparison:
    rows = [
        LiftRow(bait=bait, catch=catch, soak_h=soak_h, row=n)
        for n, (bait, catch, soak_h) in enumerate(lifts, 1)
    ]
    return compare_baits(rows, CompareOptions(**options))


def says(found: BaitComparison, words: str) -> bool:
    return any(words in warning for warning in found.warnings)


def drawn(rng: np.random.Generator, k: float, mean: float, n: int) -> list[int]:
    return [int(y) for y in rng.negative_binomial(k, k / (k + mean), n)]


def test_catches_of_the_model_itself_are_seldom_warned_about() -> None:
    rng = np.random.default_rng(3)
    warned = 0
    for _ in range(30):
        lifts = [(bait, y, 24.0) for bait in "ABC" for y in drawn(rng, 1.5, 5.0, 6)]
        found = compared(lifts)
        warned += any(says(found, words) for words in (PATCHIER, EMPTIER, ALIKE, UNEVEN))

    # Each of the checks is passed over by two in a hundred by chance.
    assert warned <= 5


def test_one_count_out_of_all_bounds_is_pointed_at() -> None:
    even = [("A", y, 24.0) for y in [4, 5, 3, 6, 4, 5, 4, 6, 5, 4] * 4]
    even += [("B", y, 24.0) for y in [3, 4, 3, 2, 4, 3, 3, 4, 2, 3] * 4]

    assert says(compared([*even, ("A", 60, 24.0)]), PATCHIER)
    assert not says(compared(even), PATCHIER)


def test_more_empty_traps_than_the_rest_allows_are_told() -> None:
    full = [("A", y, 24.0) for y in [30, 28, 33, 31, 29, 32, 30, 34] * 4]
    full += [("B", y, 24.0) for y in [29, 31, 30, 28, 32, 33, 30, 31] * 4]
    empty = [(bait, 0, 24.0) for bait in "AB" for _ in range(8)]

    assert says(compared([*full, *empty]), EMPTIER)
    assert not says(compared(full), EMPTIER)


def test_full_traps_are_more_alike_than_chance() -> None:
    full = [(bait, 12 + n % 2, 24.0) for bait in "AB" for n in range(14)]

    assert says(compared(full), ALIKE)


def test_one_bait_patchier_than_another_is_told() -> None:
    rng = np.random.default_rng(8)
    even = [("A", int(y), 24.0) for y in rng.poisson(8, 16)]
    patchy = [("B", y, 24.0) for y in drawn(rng, 0.3, 8.0, 16)]
    also_even = [("B", int(y), 24.0) for y in rng.poisson(8, 16)]

    found = compared([*even, *patchy])
    assert says(found, UNEVEN)
    assert says(found, "The catches of B are patchier than those of A.")
    assert not says(compared([*even, *also_even]), UNEVEN)


@pytest.mark.parametrize(("slope", "is_told"), [(0.0, True), (0.8, False), (2.5, True)])
def test_catch_that_does_not_grow_with_the_soak_is_told(slope: float, is_told: bool) -> None:
    rng = np.random.default_rng(5)
    lifts = [
        (bait, int(rng.poisson(8 * (soak_h / 24) ** slope)), soak_h)
        for bait in "AB"
        for soak_h in (8.0, 12.0, 24.0, 48.0, 72.0)
        for _ in range(4)
    ]
    found = compared(lifts)

    assert says(found, GROWTH) is is_told
    if is_told:
        (said,) = (text for text in found.warnings if GROWTH in text)
        assert ("does not grow" in said) is (slope == 0.0)


def test_taken_in_step_a_slope_of_eight_tenths_is_told_where_it_is_well_known() -> None:
    rng = np.random.default_rng(6)
    lifts = [
        (bait, int(rng.poisson(40 * (soak_h / 24) ** 0.6)), soak_h)
        for bait in "AB"
        for soak_h in (6.0, 12.0, 24.0, 48.0, 96.0)
        for _ in range(6)
    ]

    assert says(compared(lifts, soak="linear"), GROWTH)
    assert not says(compared(lifts), GROWTH)
    assert not says(compared(lifts, soak="saturating"), GROWTH)


def test_equal_soaks_say_nothing_of_growth() -> None:
    assert not says(compared([("A", y, 24.0) for y in (3, 5)] + [("B", 1, 24.0)] * 2), GROWTH)


def test_where_the_prior_matters_a_sentence_says_so() -> None:
    few = compared([("A", y, 24.0) for y in (9, 7)] + [("B", 0, 24.0)] * 2)
    rng = np.random.default_rng(7)
    many = compared([(bait, int(y), 24.0) for bait in "AB" for y in rng.poisson(9, 40)])

    assert PRIOR in few.verdict
    assert PRIOR not in many.verdict


@pytest.mark.parametrize(("share", "is_told"), [(0.06, True), (0.4, False), (None, False)])
def test_few_draws_in_effect_are_told(share: float | None, is_told: bool) -> None:
    made = compared([("A", 3, 24.0), ("A", 5, 24.0), ("B", 1, 24.0), ("B", 2, 24.0)]).compared
    assert made is not None
    rough: Any = SimpleNamespace(effective_share=share)

    said = list(model_checks._about_draws(replace(made, posterior=rough)))
    assert bool(said) is is_told
    assert not is_told or "only 6 % of the draws" in said[0]

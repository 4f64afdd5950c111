"""Tests of pairs over the layouts that a trip was drawn from, against counts by hand."""

import math
from functools import partial
from typing import Any

import numpy as np
import pytest
import scipy.stats

from trapline.errors import InvalidValue
from trapline.science.layout import Scheme, all_layouts, draw_layout, redraws
from trapline.science.layout_exchange import exchanged
from trapline.science.layout_pair_tests import pair_tests_over_layouts
from trapline.science.pair_tests import PairTests, holm
from trapline.science.permutation import permutation_test_over_layouts


def answer(*args: Any, **kwargs: Any) -> PairTests:
    found = pair_tests_over_layouts(*args, **kwargs)
    assert found is not None
    return found


def exchange_of(scheme: Scheme, layout: Any) -> Any:
    def exchange(one: int, other: int, rng: np.random.Generator, n: int) -> Any:
        return exchanged(scheme, layout, (one, other), rng, n)

    return exchange


@pytest.mark.parametrize("seed", range(3))
def test_a_pair_is_tested_over_the_layouts_that_leave_its_rows(seed: int) -> None:
    scheme = Scheme(6, 3, 3, "whole line")
    layouts = all_layouts(scheme)
    rng = np.random.default_rng(seed)
    rates = rng.poisson(4, (3, 6)).astype(float)
    rates[rng.integers(3), rng.integers(6)] = math.nan
    known = ~np.isnan(rates)
    layout = layouts[rng.integers(len(layouts))]
    found = answer(rates, layout, layouts, complete=True, names="abc")
    assert (found.unit, found.within) == ("design", None)
    for pair in found.pairs:
        one, other = "abc".index(str(pair.a)), "abc".index(str(pair.b))

        def h(deal: Any, one: int = one, other: int = other) -> float:
            return float(
                scipy.stats.kruskal(rates[known & (deal == one)], rates[known & (deal == other)])[0]
            )

        of_two = np.isin(layout, [one, other]) & known
        same = [d for d in layouts if ((np.isin(d, [one, other]) & known) == of_two).all()]
        n_as_extreme = sum(h(deal) >= h(layout) - 1e-9 for deal in same)
        assert (pair.n_as_extreme, pair.n_arrangements) == (n_as_extreme, len(same))
        assert (pair.p, pair.exact, pair.error) == (n_as_extreme / len(same), True, 0.0)
        assert 0 < pair.p_min <= pair.p


def test_a_pair_of_two_baits_is_the_test_of_all() -> None:
    layouts = all_layouts(Scheme(4, 2, 4, "whole line"))
    rates = np.random.default_rng(3).gamma(2, 3, (4, 4))
    whole = permutation_test_over_layouts(rates, layouts[7], layouts, complete=True)
    found = answer(rates, layouts[7], layouts, complete=True, names="ab")
    assert whole is not None
    assert (found.pairs[0].p, found.pairs[0].p_min) == (whole.p, whole.p_min)
    assert found.pairs[0].p_holm == found.pairs[0].p


def test_drawn_layouts_of_two_baits_are_enough_for_their_pair() -> None:
    scheme = Scheme(8, 2, 6)
    layout = draw_layout(scheme, 3).rounds
    layouts = redraws(scheme, np.random.default_rng(1), 2000)
    rates = np.random.default_rng(3).gamma(2, 3, layout.shape)
    whole = permutation_test_over_layouts(rates, layout, layouts, complete=False)

    def never(*_: Any) -> Any:
        raise AssertionError

    found = answer(rates, layout, layouts, complete=False, names="ab", exchange=never)
    assert whole is not None
    assert (found.pairs[0].p, found.pairs[0].n_arrangements) == (whole.p, 2000)
    assert found.pairs[0].error == whole.error


@pytest.mark.parametrize("kind", ["blocks", "whole line"])
def test_exchanges_give_the_p_of_all_layouts_that_leave_the_other_baits(kind: Any) -> None:
    scheme = Scheme(6, 3, 3, kind)
    layouts = all_layouts(scheme)
    rates = np.random.default_rng(9).gamma(2, 3, (3, 6))
    for layout in layouts[[5, 60]]:
        whole = answer(rates, layout, layouts, complete=True, names="abc")
        drawn = answer(
            rates, layout, layouts[:0], complete=False, names="abc",
            exchange=exchange_of(scheme, layout),
        )  # fmt: skip
        for one, other in zip(drawn.pairs, whole.pairs, strict=True):
            # With three baits there is nothing else that could lie elsewhere.
            assert one.exact == (kind == "blocks")
            assert abs(one.p - other.p) <= 4 * math.sqrt(other.p / 2000) + 1 / 2001
            assert abs(one.p_min - other.p_min) <= 4 * math.sqrt(other.p_min / 2000) + 1 / 2001


def test_holm_and_its_note_are_as_for_traps_and_places() -> None:
    scheme = Scheme(24, 3, 2)
    layout = draw_layout(scheme, 4).rounds
    rates = 10.0 * layout + np.random.default_rng(2).random(layout.shape)
    asked = partial(answer, rates, layout, redraws(scheme, np.random.default_rng(1), 50))
    found = asked(complete=False, names="abc", exchange=exchange_of(scheme, layout), seed=5)
    assert found.note == ""
    assert [pair.p_holm for pair in found.pairs] == holm([pair.p for pair in found.pairs])
    assert max(pair.p for pair in found.pairs) < 0.01
    square = all_layouts(Scheme(3, 3, 3))
    few = answer(np.arange(9.0).reshape(3, 3), square[0], square, complete=True, names="abc")
    assert few.note.startswith("With this layout no pair can fall below 0.05 after correction")
    assert {pair.p_holm for pair in few.pairs} == {None}


def test_p_against_the_control_is_that_of_the_largest_difference_over_the_layouts() -> None:
    layouts = all_layouts(Scheme(6, 3, 2))
    rates = np.random.default_rng(6).poisson(5, (2, 6)).astype(float)
    ranks = scipy.stats.rankdata(rates).reshape(2, 6)

    def largest(deal: Any) -> list[float]:
        means = [ranks[deal == bait].mean() for bait in range(3)]
        return [abs(means[bait] - means[1]) for bait in (0, 2)]

    found = answer(rates, layouts[4], layouts, complete=True, names="abc", control=1)
    assert found.against_control is not None
    assert [(test.bait, test.control) for test in found.against_control] == [("a", "b"), ("c", "b")]
    every = [max(largest(deal)) for deal in layouts]
    for test, mine in zip(found.against_control, largest(layouts[4]), strict=True):
        assert test.p == sum(one >= mine - 1e-9 for one in every) / len(layouts)
    drawn = answer(
        rates, layouts[4], layouts[::3], complete=False, names="abc", control=1,
        exchange=exchange_of(Scheme(6, 3, 2), layouts[4]),
    )  # fmt: skip
    assert drawn.against_control is not None
    n = len(layouts[::3])
    for test in drawn.against_control:
        assert test.p == (test.n_as_extreme + 1) / (n + 1)
        assert test.error == pytest.approx(math.sqrt(test.p * (1 - test.p) / n))


def test_what_cannot_be_tested_is_refused_or_gives_no_answer() -> None:
    layouts = all_layouts(Scheme(4, 2, 2))
    rates = np.arange(8.0).reshape(2, 4)
    with pytest.raises(InvalidValue, match="Layouts of two baits are needed"):
        pair_tests_over_layouts(rates, layouts[0], layouts, complete=False, names="ab")
    with pytest.raises(InvalidValue, match="not one of the layouts"):
        pair_tests_over_layouts(rates, layouts[0], layouts[1:], complete=True, names="ab")
    assert (
        pair_tests_over_layouts(0 * rates, layouts[0], layouts, complete=True, names="ab") is None
    )


def test_progress_is_told() -> None:
    told: list[float] = []
    layouts = all_layouts(Scheme(6, 3, 3))
    rates = np.random.default_rng(1).gamma(2, 3, (3, 6))
    answer(rates, layouts[0], layouts, complete=True, names="abc", control=0, progress=told.append)
    assert told == sorted(told)
    assert len(told) == 4
    assert told[-1] == 1.0


# --- false alarms ---------------------------------------------------------------------------


def false_alarms(scheme: Scheme, runs: int, seed: int) -> float:
    """Share of trials with p <= .05 for two equal baits on drawn layouts; a third catches more."""
    rng = np.random.default_rng(seed)
    fished = redraws(scheme, rng, runs)
    alarms = 0
    for layout in fished:
        shape = layout.shape
        mean = 3 * np.exp(rng.normal(0, 0.7, shape[1]) + rng.normal(0, 0.6, (shape[0], 1)))
        mean = np.where(layout == 2, 4 * mean, mean)
        rates = rng.poisson(mean * rng.gamma(2, 1 / 2, shape))
        found = answer(
            rates, layout, layout[None], complete=False, names=range(scheme.n_baits),
            exchange=exchange_of(scheme, layout), draws=300, seed=int(rng.integers(2**30)),
        )  # fmt: skip
        alarms += found.of(0, 1).p <= 0.05
    return alarms / runs


def test_two_equal_baits_seldom_differ_on_drawn_layouts() -> None:
    # 200 trials at .05: 3 standard errors are .046.
    assert false_alarms(Scheme(12, 3, 2), 200, 3) <= 0.096


@pytest.mark.study
@pytest.mark.timeout(3600)
@pytest.mark.parametrize(
    "scheme",
    [
        Scheme(24, 3, 2),
        Scheme(12, 3, 3, "whole line"),
        Scheme(14, 3, 6, even_succession=True),
        Scheme(30, 5, 4, even_succession=True),
        Scheme(12, 3, 3, "whole line", at_most=(None, 2, None)),
        Scheme(24, 3, 3, rotated=False),
    ],
    ids=str,
)
def test_pairs_keep_their_level_on_drawn_layouts(scheme: Scheme) -> None:
    alarms = false_alarms(scheme, 600, 5)
    print(scheme, alarms)
    assert alarms <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 600)

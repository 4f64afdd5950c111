"""Layouts in which only two baits changed places, against all layouts of a scheme."""

from collections import Counter
from typing import Any

import numpy as np
import pytest
from scipy.stats import chisquare

from trapline.errors import InvalidValue
from trapline.science.layout import Scheme, all_layouts, draw_layout
from trapline.science.layout_exchange import _Cells, exchanged
from trapline.science.layout_succession import succession_unevenness

SCHEMES = {
    "one round": (Scheme(6, 3, 1), 0),
    "squares in blocks": (Scheme(6, 3, 3), 0),
    "a short block": (Scheme(7, 3, 2), 0),
    "fewer rounds than baits": (Scheme(8, 4, 2), 0),
    "a square": (Scheme(4, 4, 4, "whole line"), 0),
    "a whole line": (Scheme(6, 3, 3, "whole line"), 0),
    "an uneven line": (Scheme(5, 3, 3, "whole line"), 0),
    "two baits": (Scheme(4, 2, 4, "whole line"), 0),
    "baits that stay": (Scheme(6, 3, 3, "whole line", rotated=False), 0),
    "a bait with a limit": (Scheme(6, 3, 2, at_most=(None, None, 1)), 0),
    "a limit on a whole line": (Scheme(6, 3, 2, "whole line", at_most=(None, None, 1)), 0),
    "even successions": (Scheme(6, 3, 3, even_succession=True), 0),
    "even successions on a whole line": (Scheme(6, 3, 3, "whole line", even_succession=True), 0),
    "a round that was given": (Scheme(6, 3, 3), 1),
    "a given round on a whole line": (Scheme(6, 3, 4, "whole line"), 1),
}
# Chains that may not reach every layout, or not evenly: what they reach is right all the same.
UNEVENLY_MIXED = {"a bait with a limit", "a given round on a whole line"}


def with_others_left(scheme: Scheme, n_given: int, seed: int) -> tuple[Any, Any, Any]:
    """Return a layout, two baits, and all layouts that agree with it elsewhere."""
    rng = np.random.default_rng(seed)
    given = draw_layout(scheme, 3).rounds[:n_given] if n_given else None
    every = all_layouts(scheme, 400_000, given)
    layout = every[rng.integers(len(every))]
    pair = tuple(sorted(rng.choice(scheme.n_baits, 2, replace=False).tolist()))
    of_two = np.isin(layout, pair)
    agree = (np.isin(every, pair) == of_two) & ((every == layout) | of_two)
    return layout, pair, every[agree.all(axis=(1, 2))]


@pytest.mark.parametrize("name", SCHEMES)
@pytest.mark.parametrize("seed", range(3))
def test_two_baits_are_exchanged_in_every_way_that_could_have_been_drawn(
    name: str, seed: int
) -> None:
    scheme, n_given = SCHEMES[name]
    layout, pair, expected = with_others_left(scheme, n_given, seed)
    rng = np.random.default_rng(seed)
    found, is_whole = exchanged(scheme, layout, pair, rng, 1000, n_given)
    ways = {one.tobytes() for one in expected.astype(np.int8)}
    if is_whole:
        assert {one.tobytes() for one in found} <= ways
        assert len(np.unique(found, axis=0)) == len(found)
        assert (found == layout).all(axis=(1, 2)).sum() == 1
        if not n_given:
            assert len(found) == len(ways)
        return
    draws = Counter(one.tobytes() for one in found)
    assert set(draws) <= ways
    if name not in UNEVENLY_MIXED and len(ways) > 1:
        assert chisquare([draws[way] for way in ways]).pvalue > 1e-5


@pytest.mark.parametrize(
    ("scheme", "n_given"),
    [
        (Scheme(4, 2, 3, "whole line"), 1),
        (Scheme(6, 3, 2, "whole line", at_most=(None, None, 1)), 0),
        (Scheme(5, 3, 3, "whole line"), 0),
    ],
)
def test_a_step_is_as_likely_as_the_way_back(scheme: Scheme, n_given: int) -> None:
    _, pair, every = with_others_left(scheme, n_given, 1)
    rng = np.random.default_rng(1)
    steps = {}
    for layout in every:
        cells = _Cells.made(scheme, layout, n_given, pair)
        after = cells.stepped(np.tile(cells.has_first, (3000, 1)), rng)
        steps[cells.has_first.tobytes()] = Counter(one.tobytes() for one in after)
    assert len(steps) > 4
    for one in steps:
        for other in steps:
            there, back = steps[one][other], steps[other][one]
            assert abs(there - back) <= 5 * np.sqrt(there + back)


def test_all_paths_are_tossed_for_where_they_are_very_many() -> None:
    scheme = Scheme(40, 2, 1)
    layout = draw_layout(scheme, 1).rounds
    found, is_whole = exchanged(scheme, layout, (0, 1), np.random.default_rng(1), 400)
    assert (len(found), is_whole) == (400, False)
    blocks = found[:, 0].reshape(400, 20, 2)
    assert (blocks.sum(axis=2) == 1).all()
    firsts = blocks[:, :, 0]
    # 20 coins of 400 tosses, each apart from the next: 4.5 standard errors.
    assert abs(firsts.mean(axis=0) - 0.5).max() < 4.5 * 0.5 / 20
    assert abs((firsts[:, 1:] == firsts[:, :-1]).mean(axis=0) - 0.5).max() < 4.5 * 0.5 / 20


def test_only_layouts_with_as_even_successions_come_where_those_were_more_likely() -> None:
    for scheme in (
        Scheme(60, 6, 4, even_succession=True),
        Scheme(12, 3, 6, even_succession=True),
        Scheme(14, 4, 4, even_succession=True),
    ):
        layout = draw_layout(scheme, 5).rounds
        found, _ = exchanged(scheme, layout, (0, 1), np.random.default_rng(2), 50)
        unevenness = succession_unevenness(found, scheme.n_baits)
        assert set(unevenness) == set(succession_unevenness(layout[None], scheme.n_baits))
        assert len(np.unique(found, axis=0)) > 1
        rest = ~np.isin(layout, (0, 1))
        assert (found[:, rest] == layout[rest]).all()


def test_rounds_that_were_given_stay() -> None:
    scheme = Scheme(6, 2, 4)
    layout = draw_layout(scheme, 2).rounds
    found, _ = exchanged(scheme, layout, (0, 1), np.random.default_rng(1), 100, 2)
    assert (found[:, :2] == layout[:2]).all()
    assert len(np.unique(found, axis=0)) > 1
    stay = Scheme(6, 2, 4, rotated=False)
    kept, is_whole = exchanged(stay, layout[[0] * 4], (0, 1), np.random.default_rng(1), 9, 1)
    assert (len(kept), is_whole) == (1, True)


def test_baits_that_stay_are_exchanged_in_all_rounds() -> None:
    scheme = Scheme(6, 2, 3, rotated=False)
    layout = draw_layout(scheme, 2).rounds
    found, is_whole = exchanged(scheme, layout, (0, 1), np.random.default_rng(1), 9)
    assert (len(found), is_whole) == (8, True)
    assert (found == found[:, :1]).all()


def test_two_baits_that_nothing_had_leave_the_layout() -> None:
    layout = [[2, 2, 2]]
    found, is_whole = exchanged(Scheme(3, 3, 1), layout, (0, 1), np.random.default_rng(1), 9)
    assert (found.tolist(), is_whole) == ([layout], True)


def test_rounds_of_another_number_are_refused() -> None:
    with pytest.raises(InvalidValue, match="2 rounds of 3"):
        exchanged(Scheme(4, 2, 3), [[0, 1, 0, 1]] * 2, (0, 1), np.random.default_rng(1), 9)

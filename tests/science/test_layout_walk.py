import math
from collections import Counter
from typing import Any

import numpy as np
import pytest

from trapline.science.layout import Scheme, count_layouts, draw_layout, next_round, redraws
from trapline.science.layout_scheme import RoundRules
from trapline.science.layout_table import Task, make_table
from trapline.science.layout_walk import walk_layouts

LARGE = Scheme(12, 6, 6, "whole line")


def task(scheme: Scheme) -> Task:
    rules = RoundRules(scheme)
    nothing = np.empty((0, scheme.n_places), dtype=np.int8)
    return Task(rules, nothing, scheme.n_rounds, *rules.per_place(scheme.n_rounds))


def is_even(scheme: Scheme, draws_a_layout: int) -> bool:
    """Whether the walk comes to every layout equally often, by chi-square at 3 sigma."""
    table = make_table(task(scheme))
    assert table is not None
    layouts = {layout.tobytes() for layout in table.listed()}
    n = draws_a_layout * len(layouts)
    drawn, unevenness = walk_layouts(task(scheme), np.random.default_rng(5), n)
    counts = Counter(layout.tobytes() for layout in drawn)
    assert unevenness == 0
    assert counts.keys() <= layouts
    chi_square = sum((counts[key] - draws_a_layout) ** 2 / draws_a_layout for key in layouts)
    df = len(layouts) - 1
    return abs(chi_square - df) < 3 * math.sqrt(2 * df)


@pytest.mark.parametrize(
    "scheme",
    [
        Scheme(4, 2, 4, "whole line"),
        Scheme(3, 3, 3),
        Scheme(5, 3, 2),
        Scheme(4, 3, 2, "whole line"),
        Scheme(7, 4, 1, at_most=(None, None, None, 1)),
        Scheme(5, 3, 2, at_most=(None, None, 1)),
        Scheme(7, 3, 1, at_most=(None, None, 2)),
    ],
)
def test_the_walk_comes_to_every_balanced_layout_equally_often(scheme: Scheme) -> None:
    assert is_even(scheme, 20)


@pytest.mark.study
@pytest.mark.parametrize("scheme", [Scheme(4, 4, 4), Scheme(6, 3, 3, "whole line")])
def test_the_walk_is_even_where_single_changes_all_unbalance(scheme: Scheme) -> None:
    assert is_even(scheme, 100)


def exchanges(layouts: Any) -> Any:
    """Number of pairs of places and rounds on which two baits are exchanged, for each layout."""
    n, n_rounds, n_places = layouts.shape
    found = np.zeros(n)
    for i in range(n_rounds):
        for j in range(i):
            for p in range(n_places):
                a, b = layouts[:, i, p], layouts[:, j, p]
                crossed = (layouts[:, i, :p] == b[:, None]) & (layouts[:, j, :p] == a[:, None])
                found += (crossed & (a != b)[:, None]).sum(axis=1)
    return found


@pytest.mark.parametrize(
    "scheme",
    [Scheme(8, 4, 4, "whole line"), pytest.param(Scheme(7, 7, 7), marks=pytest.mark.study)],
)
def test_walked_and_exact_draws_of_middling_trips_look_alike(scheme: Scheme) -> None:
    table = make_table(task(scheme))
    assert table is not None
    exact = exchanges(table.draw(np.random.default_rng(1), 4000))
    walked = exchanges(walk_layouts(task(scheme), np.random.default_rng(2), 400)[0])
    error = math.sqrt(exact.var() / exact.size + walked.var() / walked.size)
    assert abs(exact.mean() - walked.mean()) < 3 * error
    assert 0.85 < walked.std() / exact.std() < 1.15


def test_a_trip_too_large_to_count_is_walked_and_says_so() -> None:
    assert count_layouts(LARGE) is None
    draw = draw_layout(LARGE, 3)
    assert draw.notes == ("The balanced layouts are too many to count: drawn by a Markov chain.",)
    for row in draw.rounds:
        assert Counter(row.tolist()) == dict.fromkeys(range(6), 2)
    for column in draw.rounds.T:
        assert sorted(column) == [0, 1, 2, 3, 4, 5]
    assert draw_layout(LARGE, 3).rounds.tolist() == draw.rounds.tolist()
    assert redraws(LARGE, np.random.default_rng(1), 3).shape == (3, 6, 12)


def test_blocks_are_walked_one_by_one_and_keep_their_baits() -> None:
    scheme = Scheme(27, 6, 8)
    assert count_layouts(scheme) is None
    rounds = draw_layout(scheme, 4).rounds
    for row in rounds:
        for first in range(0, 24, 6):
            assert sorted(row[first : first + 6]) == [0, 1, 2, 3, 4, 5]
        assert len(set(row[24:])) == 3
    counts = np.array([[(column == b).sum() for b in range(6)] for column in rounds.T])
    assert set(counts.ravel()) == {1, 2}
    assert np.ptp(counts.sum(axis=0)) <= 1


def test_fished_rounds_stay_in_a_walk_and_no_more_is_spoilt_than_must_be() -> None:
    fished = draw_layout(LARGE, 3).rounds[:1].copy()
    fair = next_round(LARGE, fished, 5)
    assert fair.rounds[0].tolist() == fished[0].tolist()
    assert not any("No balanced" in note for note in fair.notes)
    spoilt = np.concatenate([fished, fished])
    uneven = next_round(LARGE, spoilt, 5)
    assert any("No balanced layout was left" in note for note in uneven.notes)
    counts = np.array([[(column == b).sum() for b in range(6)] for column in uneven.rounds.T])
    # Every place had one bait twice and so misses another one: no better can be.
    assert sorted(counts.ravel()) == [0] * 12 + [1] * 48 + [2] * 12

"""When a draw is kept to even successions, and when a fair test matters more."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from trapline.science import layout
from trapline.science.layout import Scheme, all_layouts, count_layouts, draw_layout
from trapline.science.permutation import permutation_test_over_layouts
from trapline.science.succession_choice import _n_renamings, with_even_succession

CONTROL_ONCE = (None, None, None, 1)


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    """Keep the lists of one test from the next, which may set other limits."""
    layout._most_even.cache_clear()
    yield
    layout._most_even.cache_clear()


def p_min(scheme: Scheme, fished: Any = None) -> float:
    """Return the smallest p of the test over all layouts, from the layouts one by one."""
    every = all_layouts(scheme, previous_rounds=fished)
    drawn = every[len(every) // 2]
    n_fished = len(fished or ())
    found = permutation_test_over_layouts(
        drawn[n_fished:].astype(float), drawn[n_fished:], every[:, n_fished:], complete=True
    )
    assert found is not None
    return found.p_min


@pytest.mark.parametrize(
    ("scheme", "fished"),
    [
        (Scheme(3, 3, 3), None),
        (Scheme(6, 3, 2), None),
        (Scheme(6, 3, 3), None),
        (Scheme(6, 3, 3, "whole line"), None),
        (Scheme(4, 2, 4, "whole line"), None),
        (Scheme(4, 2, 4), None),
        (Scheme(6, 2, 4), None),
        (Scheme(8, 2, 4), None),
        (Scheme(4, 4, 4), None),
        (Scheme(4, 4, 3), None),
        (Scheme(7, 3, 3), None),
        (Scheme(7, 4, 2, at_most=CONTROL_ONCE), None),
        (Scheme(5, 3, 3, at_most=(None, None, 1)), None),
        (Scheme(4, 2, 4, "whole line"), [[0, 1, 1, 0]]),
        (Scheme(6, 3, 3), [[0, 1, 2, 1, 0, 2]]),
    ],
)
def test_successions_are_even_unless_the_test_is_lost_by_it(scheme: Scheme, fished: Any) -> None:
    evenly = replace(scheme, even_succession=True)
    anyhow_p, evenly_p = p_min(scheme, fished), p_min(evenly, fished)
    is_lost = anyhow_p <= 0.05 < evenly_p
    assert with_even_succession(scheme, fished) == (scheme if is_lost else evenly)
    assert with_even_succession(evenly, fished) == with_even_succession(scheme, fished)


def test_both_answers_occur() -> None:
    # 24 / 576 squares of order 4, 144 of them of Williams; 2 / 90 and 2 / 24; 6 / 144 and 6 / 72.
    for scheme in (Scheme(4, 4, 4), Scheme(4, 2, 4, "whole line"), Scheme(6, 3, 2)):
        assert not with_even_succession(scheme).even_succession
    # 2 / 216 and 2 / 72; 6 / 900 and 6 / 720; no test either way: 2 / 36 and 2 / 8.
    for scheme in (Scheme(6, 2, 4), Scheme(6, 3, 3, "whole line"), Scheme(4, 2, 4)):
        assert with_even_succession(scheme).even_succession
    assert with_even_succession(Scheme(12, 4, 4)).even_succession


def test_nothing_follows_anything_where_baits_stay_or_one_round_is_fished() -> None:
    for scheme in (Scheme(12, 4, 1), Scheme(12, 4, 4, rotated=False)):
        assert with_even_succession(scheme) == scheme
        assert with_even_succession(replace(scheme, even_succession=True)) == scheme


def test_layouts_that_only_a_walk_can_draw_are_left_as_they_are() -> None:
    scheme = Scheme(12, 6, 6, "whole line")
    assert count_layouts(scheme) is None
    assert with_even_succession(scheme) == scheme


def test_most_even_of_sixteen_must_leave_a_test_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "MOST_LISTED", 100)
    # 2 × 16 / 216 could be more than .05, 6 × 16 / 21952000 cannot.
    assert count_layouts(Scheme(6, 2, 4)) == 216
    assert not with_even_succession(Scheme(6, 2, 4)).even_succession
    assert with_even_succession(Scheme(9, 3, 6)).even_succession


@pytest.mark.parametrize(
    ("scheme", "fished", "wanted"),
    [
        (Scheme(4, 4, 4), None, 24),
        (Scheme(7, 4, 4, at_most=CONTROL_ONCE), None, 6),
        (Scheme(10, 5, 2, at_most=(None, None, None, 1, 1)), None, 12),
        (Scheme(6, 3, 3), [[0, 1, 2, 0, 1, 2]], 1),
        (Scheme(4, 4, 3, "whole line"), [[0, 0, -1, -1]], 6),
    ],
)
def test_renamings_are_of_baits_alike_that_were_not_fished(
    scheme: Scheme, fished: Any, wanted: int
) -> None:
    assert _n_renamings(scheme, fished) == wanted


def test_a_draw_by_the_choice_is_one_of_its_layouts() -> None:
    scheme = with_even_succession(Scheme(6, 2, 4))
    listed = all_layouts(scheme)
    drawn = draw_layout(scheme, 1).rounds
    assert (np.asarray(listed) == drawn).all(axis=(1, 2)).sum() == 1

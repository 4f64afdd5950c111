"""Draws in which baits follow each other evenly: which, how, and that their test is exact."""

import itertools
import json
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from trapline.errors import InvalidValue
from trapline.science import layout
from trapline.science.design_efficiency import carry_over_counts
from trapline.science.layout import (
    Draw,
    Scheme,
    all_layouts,
    count_layouts,
    draw_layout,
    next_round,
    redraws,
)
from trapline.science.layout_succession import N_CANDIDATES, succession_unevenness
from trapline.science.permutation import permutation_test_over_layouts

CONTROL_ONCE = (None, None, None, 1)
SMALL: list[tuple[Scheme, Any]] = [
    (Scheme(3, 3, 3), None),
    (Scheme(6, 3, 3), None),
    (Scheme(4, 2, 4, "whole line"), None),
    (Scheme(6, 2, 4), None),
    (Scheme(4, 4, 4), None),
    (Scheme(7, 4, 2, at_most=CONTROL_ONCE), None),
    (Scheme(5, 3, 3, at_most=(None, None, 1)), None),
    (Scheme(4, 4, 4), [[0, 1, 2, 3]]),
    (Scheme(4, 2, 3, "whole line"), [[0, 0, 1, -1]]),
    # No balanced layout is left here.
    (Scheme(4, 2, 4), [[0, 0, 1, 1], [0, 0, 1, 1]]),
]


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    """Keep the lists of one test from the next, which may set other limits."""
    layout._most_even.cache_clear()
    yield
    layout._most_even.cache_clear()


def evenly(scheme: Scheme) -> Scheme:
    return replace(scheme, even_succession=True)


def names_of(layouts: Any) -> list[bytes]:
    return [np.asarray(one, dtype=np.int8).tobytes() for one in layouts]


def unevenness_by_hand(rounds: Any) -> int:
    pairs = Counter(
        (a, b)
        for before, after in itertools.pairwise(np.asarray(rounds).tolist())
        for a, b in zip(before, after, strict=True)
        if a >= 0 and b >= 0
    )
    return sum(n * n for n in pairs.values())


def chi_square(counts: Any, expected: Any) -> float:
    """Return how many standard deviations the chi-square of counts lies from its mean."""
    freedom = len(counts) - 1
    found = ((np.asarray(counts) - expected) ** 2 / expected).sum()
    return float((found - freedom) / math.sqrt(2 * freedom))


# --- which layouts ----------------------------------------------------------------------


@pytest.mark.parametrize(("scheme", "fished"), SMALL)
def test_of_the_balanced_layouts_the_most_even_are_drawn_from_and_each_as_likely(
    scheme: Scheme, fished: Any
) -> None:
    every = all_layouts(scheme, previous_rounds=fished)
    sums = [unevenness_by_hand(one) for one in every]
    wanted = {name for name, n in zip(names_of(every), sums, strict=True) if n == min(sums)}
    listed = all_layouts(evenly(scheme), previous_rounds=fished)
    assert set(names_of(listed)) == wanted
    assert count_layouts(evenly(scheme), fished) == len(listed) == len(wanted)
    drawn = redraws(evenly(scheme), np.random.default_rng(1), 40 * len(wanted), fished)
    counts = Counter(names_of(drawn))
    assert counts.keys() <= wanted
    if len(wanted) > 1:
        assert abs(chi_square([counts[name] for name in wanted], 40.0)) < 3.5


def test_of_latin_squares_of_order_four_those_of_williams_are_left() -> None:
    # 576 squares (OEIS A002860); in a Williams square each of 12 ordered pairs occurs once.
    squares = all_layouts(evenly(Scheme(4, 4, 4)))
    every = all_layouts(Scheme(4, 4, 4))
    williams = [one for one in every if (carry_over_counts(one) == 1 - np.eye(4)).all()]
    assert len(every) == 576
    assert sorted(names_of(squares)) == sorted(names_of(williams))
    # Places A B D C, B C A D, C D B A, D A C B: Williams (1949), from memory.
    known = np.array([[0, 1, 3, 2], [1, 2, 0, 3], [2, 3, 1, 0], [3, 0, 2, 1]]).T
    assert names_of([known])[0] in names_of(squares)


def test_draws_of_one_scheme_are_among_its_most_even() -> None:
    scheme = evenly(Scheme(6, 3, 3))
    listed = names_of(all_layouts(scheme))
    drawn = [names_of([draw_layout(scheme, seed).rounds])[0] for seed in range(200)]
    assert set(drawn) <= set(listed)
    assert len(set(drawn)) > 50
    assert draw_layout(scheme, 5).rounds.tolist() == draw_layout(scheme, 5).rounds.tolist()


def test_rounds_that_were_fished_are_followed_evenly_too() -> None:
    # Two rounds fished: 0 before 1, 1 before 0. What follows must not repeat the pairs.
    scheme = evenly(Scheme(4, 2, 4, "whole line"))
    fished = [[0, 1, 0, 1], [1, 0, 1, 0]]
    draw = next_round(scheme, fished, 3)
    others = all_layouts(replace(scheme, even_succession=False), previous_rounds=fished)
    assert draw.rounds[:2].tolist() == fished
    assert unevenness_by_hand(draw.rounds) == min(map(unevenness_by_hand, others))
    assert max(map(unevenness_by_hand, others)) > min(map(unevenness_by_hand, others))


def test_the_cost_of_many_layouts_is_that_of_each() -> None:
    # More cells than are worked on at once.
    layouts = redraws(Scheme(12, 4, 4), np.random.default_rng(1), 12_000)
    found = succession_unevenness(layouts, 4)
    assert found.shape == (12_000,)
    for at in (0, 1, 6000, 10_416, 10_417, 11_999):
        assert found[at] == unevenness_by_hand(layouts[at])


# --- too many to list -------------------------------------------------------------------

LARGE = Scheme(12, 4, 4)


def first_most_even(candidates: Any) -> Any:
    return min(candidates, key=unevenness_by_hand)  # the first one on ties


def test_of_too_many_layouts_the_most_even_of_sixteen_draws_is_taken() -> None:
    scheme = evenly(LARGE)
    assert count_layouts(scheme) is None
    for seed in range(5):
        candidates = redraws(LARGE, np.random.default_rng(seed), 16)
        wanted = first_most_even(candidates)
        assert draw_layout(scheme, seed).rounds.tolist() == wanted.tolist()


def test_redraws_are_made_like_the_draw() -> None:
    candidates = redraws(LARGE, np.random.default_rng(8), 16 * 50)
    found = redraws(evenly(LARGE), np.random.default_rng(8), 50)
    wanted = [first_most_even(candidates[16 * n : 16 * n + 16]) for n in range(50)]
    assert names_of(found) == names_of(wanted)


def test_the_most_even_of_sixteen_is_nearly_as_even_as_can_be() -> None:
    one = succession_unevenness(redraws(LARGE, np.random.default_rng(1), 500), 4)
    best = succession_unevenness(redraws(evenly(LARGE), np.random.default_rng(1), 500), 4)
    # Three Williams squares side by side: 12 pairs three times each.
    assert best.min() >= 12 * 3**2
    assert one.mean() > 1.2 * best.mean()
    assert best.mean() < 1.06 * 12 * 3**2


def test_more_than_can_be_filtered_are_not_listed() -> None:
    with pytest.raises(InvalidValue, match="too many to count"):
        all_layouts(evenly(Scheme(8, 4, 3)), limit=10**6)
    with pytest.raises(InvalidValue, match="are 144; at most 100 "):
        all_layouts(evenly(Scheme(4, 4, 4)), limit=100)


def test_layouts_drawn_by_a_walk_are_chosen_among_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(layout, "_table_of_balanced", lambda scheme, fished: None)
    scheme = Scheme(4, 4, 4)
    wanted = first_most_even(redraws(scheme, np.random.default_rng(2), 16))
    draw = draw_layout(evenly(scheme), 2)
    assert draw.rounds.tolist() == wanted.tolist()
    assert [note.split(",")[0] for note in draw.notes] == [
        "The balanced layouts are too many to count: drawn by a Markov chain.",
        "Of 16 layouts drawn by chance",
    ]


# --- the test over such draws -----------------------------------------------------------


def test_a_draw_and_its_redraws_come_from_the_same_lottery(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(layout, "MOST_LISTED", 10)
    scheme = Scheme(4, 2, 4)  # 36 layouts
    assert count_layouts(evenly(scheme)) is None
    kinds = names_of(all_layouts(scheme))
    draws = Counter(names_of(draw_layout(evenly(scheme), n).rounds for n in range(3600)))
    again = Counter(names_of(redraws(evenly(scheme), np.random.default_rng(1), 3600)))
    both = [(draws[kind] + again[kind]) / 2 for kind in kinds]
    met = [n for n, mean in enumerate(both) if mean > 0]
    # Differences of equal Poisson counts: half the chi-square of one side against the mean.
    found = sum((draws[kinds[n]] - again[kinds[n]]) ** 2 / (2 * both[n]) for n in met)
    assert abs(found - len(met) + 1) < 3.5 * math.sqrt(2 * (len(met) - 1))
    # And it is not the uniform one.
    assert chi_square([again[kind] for kind in kinds], 100.0) > 20


def test_the_test_over_redraws_rejects_as_seldom_as_it_says(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Catches that do not depend on the bait: p at most .05 in at most 5 % of trials.
    monkeypatch.setattr(layout, "MOST_LISTED", 10)
    scheme = evenly(Scheme(6, 3, 3, "whole line"))  # 900 layouts
    assert count_layouts(scheme) is None
    rng = np.random.default_rng(11)
    n_trials, n_rejected = 600, 0
    places, nights = np.array([1.0, 3.0, 0.5, 6.0, 2.0, 1.0]), np.array([1.0, 4.0, 0.3])
    for seed in range(n_trials):
        rates = rng.poisson(np.outer(nights, places)) + rng.random((3, 6))
        fished = draw_layout(scheme, seed).rounds
        found = permutation_test_over_layouts(
            rates, fished, redraws(scheme, rng, 99), complete=False
        )
        assert found is not None
        n_rejected += found.p <= 0.05
    assert n_trials * 0.01 < n_rejected < n_trials * 0.05 + 3 * math.sqrt(n_trials * 0.05 * 0.95)


# --- kept with the trip, and said -------------------------------------------------------


def test_a_scheme_from_before_reads_and_draws_as_before() -> None:
    old = {
        "kind": "blocks", "n_places": 6, "n_baits": 3, "n_rounds": 3, "rotated": True,
        "at_most": [],
    }  # fmt: skip
    scheme = Scheme.from_dict(old)
    assert not scheme.even_succession
    assert scheme.as_dict() == old
    new = evenly(scheme)
    stored = json.loads(json.dumps(new.as_dict()))
    assert stored == {**old, "even_succession": True}
    assert Scheme.from_dict(stored) == new
    draw = draw_layout(new, 3)
    again = Draw.from_dict(json.loads(json.dumps(draw.as_dict())))
    assert again.scheme == new
    assert again.rounds.tolist() == draw.rounds.tolist()


@pytest.mark.parametrize("wrong", [1, None, "yes"])
def test_even_or_not_is_true_or_false(wrong: Any) -> None:
    with pytest.raises(InvalidValue, match="neither true nor false"):
        Scheme(4, 2, 2, even_succession=wrong)


def test_baits_that_stay_and_single_rounds_are_drawn_as_ever() -> None:
    for scheme in (Scheme(6, 3, 3, rotated=False), Scheme(12, 4, 1), Scheme(24, 4, 1)):
        one, other = draw_layout(scheme, 4), draw_layout(evenly(scheme), 4)
        assert one.rounds.tolist() == other.rounds.tolist()
        assert one.notes == other.notes
        assert count_layouts(scheme) == count_layouts(evenly(scheme))


def test_the_notes_say_from_which_layouts_was_drawn() -> None:
    assert draw_layout(evenly(Scheme(4, 4, 4)), 1).notes == (
        "Drawn from the 144 of 576 layouts in which baits follow each other most evenly on "
        "their places.",
    )
    assert draw_layout(evenly(LARGE), 1).notes == (
        f"Of {N_CANDIDATES} layouts drawn by chance, the one in which baits follow each other "
        "most evenly on their places was taken.",
    )
    assert draw_layout(evenly(Scheme(3, 3, 3)), 1).notes == ()  # all are as even

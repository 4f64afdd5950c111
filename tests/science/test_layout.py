import itertools
import json
import math
from collections import Counter
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.layout import (
    Draw,
    Scheme,
    all_layouts,
    count_layouts,
    draw_layout,
    next_round,
    redraw,
    redraws,
)

Rows = tuple[tuple[int, ...], ...]
CONTROL_ONCE = (None, None, None, 1)


def even(draws: Any, layouts: Any) -> float:
    """Chi-square of draws over all layouts, as a number of standard deviations from its mean."""
    counts = Counter(np.asarray(layout, dtype=np.int8).tobytes() for layout in draws)
    keys = {np.asarray(layout, dtype=np.int8).tobytes() for layout in layouts}
    assert counts.keys() <= keys
    expected = len(draws) / len(keys)
    chi_square = sum((counts[key] - expected) ** 2 / expected for key in keys)
    return (chi_square - len(keys) + 1) / math.sqrt(2 * max(1, len(keys) - 1))


# --- how many there are -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("n_baits", "n_places", "n_rounds", "n_layouts"),
    [(2, 4, 4, 90), (3, 3, 3, 12), (3, 6, 3, 900), (4, 4, 4, 576)],
)
def test_number_of_balanced_layouts_of_a_whole_line(
    n_baits: int, n_places: int, n_rounds: int, n_layouts: int
) -> None:
    # Computed independently by enumeration.
    assert count_layouts(Scheme(n_places, n_baits, n_rounds, "whole line")) == n_layouts


@pytest.mark.parametrize(
    ("order", "n_squares"),
    [(1, 1), (2, 2), (3, 12), (4, 576), (5, 161280), (6, 812851200), (7, 61479419904000)],
)
def test_as_many_places_and_rounds_as_baits_are_the_latin_squares(
    order: int, n_squares: int
) -> None:
    # OEIS A002860 (from memory).
    assert count_layouts(Scheme(order, order, order)) == n_squares


def test_half_of_a_line_over_rounds_is_a_table_of_zeros_and_ones_with_equal_sums() -> None:
    # 0/1 tables of order 2n with all sums n: 2, 90, 297200 (OEIS A058527, from memory).
    assert [count_layouts(Scheme(n, 2, n, "whole line")) for n in (2, 4, 6)] == [2, 90, 297200]


def test_blocks_are_drawn_each_by_itself() -> None:
    assert count_layouts(Scheme(12, 4, 4)) == 576**3
    assert count_layouts(Scheme(6, 3, 1)) == 6**2


def test_a_control_wanders_among_blocks_of_baits() -> None:
    # 3! × 3! orders of the baits, 7 places for the control.
    assert count_layouts(Scheme(7, 4, 1, at_most=CONTROL_ONCE)) == 252


def brute_force(scheme: Scheme, fished: Rows = ()) -> tuple[tuple[int, ...], list[Rows]]:
    """Return the least unevenness and all layouts that have it, straight from the rules."""
    n, t = scheme.n_places, scheme.n_baits
    limits = [n if m is None else m for m in scheme.at_most or (None,) * t]
    level = max(k for k in range(max(limits) + 1) if sum(min(m, k) for m in limits) <= n)
    extra = n - sum(min(m, level) for m in limits)
    limited = [b for b in range(t) if limits[b] < level + (extra > 0)]
    free = [b for b in range(t) if b not in limited]
    n_free = n - sum(limits[b] for b in limited)
    size = len(free)

    def permitted(row: tuple[int, ...]) -> bool:
        if any(row.count(b) != limits[b] for b in limited):
            return False
        if any(row.count(b) - level not in (0, 1) for b in free):
            return False
        if scheme.kind == "whole line":
            return True
        rest = [b for b in row if b in free]
        blocks = [rest[i : i + size] for i in range(0, n_free, size)]
        if any(len(set(block)) < len(block) for block in blocks):
            return False
        for bait in limited:
            before = [sum(b in free for b in row[:i]) for i, b in enumerate(row) if b == bait]
            choices = [
                {k // size, (k - 1) // size if k else 0} & set(range(len(blocks))) for k in before
            ]
            if all(len(set(c)) < len(c) for c in itertools.product(*choices)):
                return False
        return True

    means = [
        scheme.n_rounds * (Fraction(limits[b]) if b in limited else Fraction(n_free, size)) / n
        for b in range(t)
    ]
    least: tuple[int, ...] = ()
    found: list[Rows] = []
    rows = [row for row in itertools.product(range(t), repeat=n) if permitted(row)]
    for new in itertools.product(rows, repeat=scheme.n_rounds - len(fished)):
        layout = fished + new
        off = []
        for place in range(n):
            had = [sum(row[place] == b for row in layout) for b in range(t)]
            off.append(
                sum(
                    max(0, math.floor(m) - c, c - math.ceil(m))
                    for m, c in zip(means, had, strict=True)
                )
            )
        totals = [sum(row.count(b) for row in layout) for b in free]
        uneven = (max(off), sum(off), max(0, max(totals) - min(totals) - 1))
        if not least or uneven < least:
            least, found = uneven, []
        if uneven == least:
            found.append(layout)
    return least, found


FRESH = [
    Scheme(4, 2, 4, "whole line"),
    Scheme(4, 3, 3, "whole line"),
    Scheme(3, 3, 3),
    Scheme(4, 2, 3),
    Scheme(5, 2, 3),
    Scheme(5, 3, 2),
    Scheme(3, 5, 2),
    Scheme(6, 4, 1),
    Scheme(7, 4, 1, at_most=CONTROL_ONCE),
    Scheme(5, 3, 3, at_most=(None, None, 1)),
    Scheme(5, 3, 2, "whole line", at_most=(None, None, 1)),
    Scheme(7, 3, 2, at_most=(None, None, 2)),
    Scheme(8, 4, 1, at_most=(None, None, 2, 1)),
    Scheme(5, 3, 2, at_most=(2, 2, 1)),
]
FISHED: list[tuple[Scheme, Rows]] = [
    (Scheme(4, 2, 3), ((0, 1, 1, 0),)),
    (Scheme(3, 3, 3), ((0, 1, 2),)),
    (Scheme(5, 3, 2, at_most=(None, None, 1)), ((0, 2, 1, 1, 0),)),
    (Scheme(4, 2, 3, "whole line"), ((0, 0, 1, -1),)),
    # Below, no balanced layout is left.
    (Scheme(4, 2, 4), ((0, 0, 1, 1), (0, 0, 1, 1))),
    (Scheme(3, 3, 3), ((0, 1, 2), (0, 2, 1))),
    (Scheme(3, 3, 4), ((0, 1, 2), (0, -1, 1), (0, 0, 0))),
    (Scheme(5, 3, 2, at_most=(None, None, 1)), ((0, 0, 0, 0, 1),)),
]


@pytest.mark.parametrize(("scheme", "fished"), [(s, ()) for s in FRESH] + FISHED)
def test_layouts_are_those_that_the_rules_leave(scheme: Scheme, fished: Rows) -> None:
    least, expected = brute_force(scheme, fished)
    listed = all_layouts(scheme, previous_rounds=fished or None)
    assert sorted(tuple(map(tuple, layout)) for layout in listed.tolist()) == sorted(expected)
    assert count_layouts(scheme, fished or None) == len(expected)
    drawn = redraws(scheme, np.random.default_rng(3), 20 * len(expected), fished or None)
    assert abs(even(drawn, listed)) < 3
    draw = next_round(scheme, fished, 1) if fished else draw_layout(scheme, 1)
    assert any("No balanced layout was left" in note for note in draw.notes) == (max(least) > 0)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    st.integers(1, 14), st.integers(1, 5), st.integers(1, 5),
    st.sampled_from(["blocks", "whole line"]), st.sampled_from([None, 1, 2]), st.integers(0, 99),
)  # fmt: skip
def test_every_draw_keeps_the_wishes(
    n_places: int, n_baits: int, n_rounds: int, kind: Any, limit: int | None, seed: int
) -> None:
    at_most = (None,) * (n_baits - 1) + (limit,)
    if n_baits == 1 and limit is not None and limit < n_places:
        return
    scheme = Scheme(n_places, n_baits, n_rounds, kind, at_most=at_most)
    draw = draw_layout(scheme, seed)
    baits = draw.rounds
    in_round = np.array([[(row == b).sum() for b in range(n_baits)] for row in baits])
    on_place = np.array([[(column == b).sum() for b in range(n_baits)] for column in baits.T])
    level = in_round[:, :-1].min() if n_baits > 1 else n_places
    is_free = [True] * (n_baits - 1) + [limit is None or level < limit]
    free = np.array(is_free)
    if not free.all():
        assert (in_round[:, ~free] == limit).all()
    assert np.ptp(in_round[:, free], axis=1).max() <= 1
    assert np.ptp(on_place, axis=0).max() <= 1
    assert np.ptp(on_place[:, free], axis=1).max() <= 1
    assert np.ptp(in_round.sum(axis=0)[free]) <= 1
    assert not any("No balanced" in note for note in draw.notes)


# --- what a person gets -----------------------------------------------------------------


def test_seven_places_with_three_baits_and_one_control() -> None:
    scheme = Scheme(7, 4, 7, at_most=CONTROL_ONCE)
    draw = draw_layout(scheme, 20)
    for row in draw.rounds:
        assert Counter(row.tolist()) == {0: 2, 1: 2, 2: 2, 3: 1}
        rest = row[row != 3].tolist()
        assert sorted(rest[:3]) == sorted(rest[3:]) == [0, 1, 2]
    # Over seven rounds every place has every bait twice and the control once.
    for column in draw.rounds.T:
        assert Counter(column.tolist()) == {0: 2, 1: 2, 2: 2, 3: 1}
    assert draw.notes == (
        "Bait 4 is on 1 of the places in a round; it may come anywhere along the line.",
    )


def test_a_control_comes_to_every_place_equally_often() -> None:
    draws = redraws(Scheme(7, 4, 2, at_most=CONTROL_ONCE), np.random.default_rng(4), 14_000)
    where = (draws[:, 0] == 3).sum(axis=0)
    assert np.abs(where - 2000).max() < 4 * math.sqrt(2000)


@pytest.mark.parametrize(
    ("scheme", "note"),
    [
        (Scheme(7, 3), "The last block is short: it holds 1 of 3 baits."),
        (Scheme(7, 3, kind="whole line"), "In a round some baits are on one place more than"),
        (Scheme(3, 5), "Every round leaves out 2 of the baits."),
    ],
)
def test_what_the_numbers_do_not_allow_is_noted(scheme: Scheme, note: str) -> None:
    (only,) = draw_layout(scheme, 1).notes
    assert only.startswith(note)
    assert draw_layout(Scheme(6, 3, 3), 1).notes == ()


def test_the_same_seed_draws_the_same_layout_and_another_another() -> None:
    scheme = Scheme(12, 4, 4)
    rounds = [draw_layout(scheme, seed).rounds.tolist() for seed in (5, 5, 6)]
    assert rounds[0] == rounds[1] != rounds[2]


def test_a_draw_and_its_scheme_survive_storing() -> None:
    scheme = Scheme(7, 4, 3, at_most=CONTROL_ONCE)
    draw = next_round(scheme, [draw_layout(scheme, 2).rounds[0]], 3)
    stored = json.loads(json.dumps(draw.as_dict()))
    again = Draw.from_dict(stored)
    assert again.scheme == scheme
    assert again.rounds.tolist() == draw.rounds.tolist()
    assert (again.seed, again.n_fished, again.notes) == (3, 1, draw.notes)
    assert again.as_dict() == stored


def test_a_redraw_is_one_of_the_layouts() -> None:
    scheme = Scheme(4, 2, 2)
    layouts = all_layouts(scheme).tolist()
    rng = np.random.default_rng(1)
    drawn = [redraw(scheme, rng).tolist() for _ in range(60)]
    assert sorted(set(map(str, drawn))) == sorted(map(str, layouts))


def test_baits_that_stay_are_drawn_once() -> None:
    scheme = Scheme(6, 3, 3, rotated=False)
    draw = draw_layout(scheme, 1)
    assert (draw.rounds == draw.rounds[0]).all()
    assert count_layouts(scheme) == len(all_layouts(scheme)) == 36
    assert all_layouts(scheme).shape == (36, 3, 6)
    fished = draw.rounds[:1].copy()
    fished[0, 2] = -1
    both = np.concatenate([draw.rounds[:1], fished])
    later = next_round(scheme, both, 9)
    assert later.rounds.tolist() == [*both.tolist(), draw.rounds[0].tolist()]
    assert count_layouts(scheme, both) == len(all_layouts(scheme, previous_rounds=both)) == 1
    with pytest.raises(InvalidValue, match="Place 3 never had a bait"):
        next_round(scheme, fished, 9)


# --- rounds that were fished ------------------------------------------------------------


def test_fished_rounds_stay_and_the_rest_is_drawn_given_them() -> None:
    scheme = Scheme(4, 2, 4, "whole line")
    fished = [[0, 1, 1, 0]]
    rest = [x for x in all_layouts(scheme) if x[0].tolist() == fished[0]]
    assert len(rest) == 15  # 90 layouts, 6 first rounds
    draws = redraws(scheme, np.random.default_rng(6), 1500, fished)
    assert abs(even(draws, rest)) < 3
    draw = next_round(scheme, fished, 11)
    assert draw.rounds[0].tolist() == fished[0]
    assert (draw.n_fished, draw.notes) == (1, ())


def test_going_astray_is_noted_with_the_worst_place() -> None:
    draw = next_round(Scheme(4, 2, 4), [[0, 0, 1, 1], [0, 1, 1, 0], [0, 0, 1, 1]], 1)
    assert draw.rounds[3, [0, 1]].tolist() in ([1, 0], [0, 1])
    (note,) = draw.notes
    assert note.startswith("No balanced layout was left.")
    assert "instead of 2." in note


def test_uneven_totals_alone_are_noted_as_such() -> None:
    # One place, two baits, two rounds, and nothing on it in the first: each bait may come.
    draw = next_round(Scheme(4, 2, 2, "whole line"), [[0, 0, -1, -1]], 1)
    assert draw.rounds[1].tolist() == [1, 1, 0, 0]
    (note,) = draw.notes
    assert "the worst is place 3" in note
    three = next_round(Scheme(2, 3, 2, "whole line"), [[0, 0]], 1)
    assert sorted(three.rounds[1].tolist()) == [1, 2]


def test_a_plan_that_is_fished_to_its_end_is_lengthened() -> None:
    scheme = Scheme(4, 4, 2)
    fished = draw_layout(scheme, 1).rounds
    draw = next_round(scheme, fished, 1)
    assert draw.rounds.shape == (3, 4)
    assert draw.scheme.n_rounds == 3
    assert draw.notes == ("All 2 rounds of the plan were fished; one was added.",)
    assert all(len(set(column)) == 3 for column in draw.rounds.T.tolist())


# --- refusals ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        {"n_places": 0},
        {"n_baits": 0},
        {"n_rounds": -1},
        {"n_places": 2.0},
        {"n_places": True},
        {"n_places": 10**6},
        {"kind": "cyclic"},
        {"rotated": 1},
        {"at_most": (1,)},
        {"at_most": (None, 0, None)},
        {"at_most": (2, 2, 1)},
    ],
)
def test_a_scheme_that_cannot_be_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(InvalidValue):
        Scheme(**{"n_places": 6, "n_baits": 3, "n_rounds": 2, **wrong})


def test_stored_text_that_is_no_draw_is_refused() -> None:
    good = draw_layout(Scheme(4, 2, 2), 1).as_dict()
    for change in (
        {"seed": -1},
        {"rounds": [[0, 1, 0, 7]]},
        {"rounds": [[0, 1, 0]]},
        {"rounds": [[0, 1, 1, 0], [0]]},
        {"rounds": [[0, 1, 1, 0]]},
        {"rounds": []},
        {"rounds": [[0.5, 1, 0, 1]]},
        {"n_fished": 3},
        {"scheme": {"kind": "blocks"}},
        {"scheme": {**good["scheme"], "at_most": "no"}},
    ):
        with pytest.raises(InvalidValue):
            Draw.from_dict({**good, **change})
    with pytest.raises(InvalidValue):
        Draw.from_dict({"rounds": []})


def test_no_draw_without_a_seed_a_round_or_a_wish() -> None:
    scheme = Scheme(4, 2, 2)
    with pytest.raises(InvalidValue):
        draw_layout(scheme, -1)
    with pytest.raises(InvalidValue, match="leave none of 2"):
        count_layouts(scheme, [[0, 1, 0, 1]] * 2)
    with pytest.raises(InvalidValue):
        redraws(scheme, np.random.default_rng(1), 0)


def test_more_layouts_than_the_limit_are_not_listed() -> None:
    assert len(all_layouts(Scheme(4, 2, 4, "whole line"), limit=90)) == 90
    with pytest.raises(InvalidValue, match="are 90; at most 89"):
        all_layouts(Scheme(4, 2, 4, "whole line"), limit=89)

import csv
import itertools
import json
import math
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.layout import Scheme, all_layouts, redraws
from trapline.science.permutation import (
    PermutationResult,
    kruskal_wallis,
    permutation_test,
    permutation_test_over_layouts,
)

REFERENCE = Path(__file__).parents[1] / "reference"
KRUSKAL = json.loads((REFERENCE / "kruskal.json").read_text(encoding="utf-8"))
TABLES = KRUSKAL["tables"]
# Two invented baits, eight traps each.
A = [5, 3, 8, 6, 4, 7, 2, 9]
B = [2, 4, 3, 1, 5, 2, 3, 0]


def answer(*args: Any, **kwargs: Any) -> PermutationResult:
    found = permutation_test(*args, **kwargs)
    assert found is not None
    return found


def table(name: str) -> tuple[list[float], list[str]]:
    """Rates per 24 h and groups of a published table; a blank count is a lost trap."""
    about = TABLES[name]
    with (REFERENCE / "counts" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row[about["rate"]]]
    soaks = [float(row[about["soak_h"]]) if about["soak_h"] else 24.0 for row in rows]
    rates = [24 * float(row[about["rate"]]) / soak for row, soak in zip(rows, soaks, strict=True)]
    return rates, [row[about["group"]] for row in rows]


# --- the statistic ----------------------------------------------------------------------


@pytest.mark.parametrize("name", TABLES)
def test_h_is_that_of_r(name: str) -> None:
    assert kruskal_wallis(*table(name)) == pytest.approx(TABLES[name]["H"], rel=1e-12)


def test_h_is_that_of_the_help_page_of_r() -> None:
    # Hollander and Wolfe (1973), p. 116, mucociliary efficiency.
    groups = KRUSKAL["mucociliary"]
    labels = [g for g in "xyz" for _ in groups[g]]
    rates = [rate for g in "xyz" for rate in groups[g]]
    assert kruskal_wallis(rates, labels) == pytest.approx(groups["H"], rel=1e-12)


def test_equal_rates_from_different_soaks_are_ties_whatever_the_rounding() -> None:
    rates = [7 / 47.25 * 24, 24 * 7 / 47.25, 0.1 + 0.2, 0.3, 5.0]
    assert rates[2] != rates[3]
    assert kruskal_wallis(rates, "ABABB") == pytest.approx(
        kruskal_wallis([3.5, 3.5, 0.3, 0.3, 5.0], "ABABB"), rel=1e-14
    )


@pytest.mark.parametrize(
    ("rates", "labels"),
    [([1, 2], "AA"), ([3, 3], "AB"), ([1, float("nan")], "AB"), ([1, -1], "AB")],
)
def test_h_refuses_what_has_none(rates: list[float], labels: str) -> None:
    with pytest.raises(InvalidValue):
        kruskal_wallis(rates, labels)


# --- labels that move freely ------------------------------------------------------------


@pytest.mark.parametrize("name", TABLES)
def test_two_baits_give_the_exact_p_of_r(name: str) -> None:
    rates, groups = table(name)
    for one, other, p in TABLES[name]["pairs"]:
        mine = [(r, g) for r, g in zip(rates, groups, strict=True) if g in (one, other)]
        if math.comb(len(mine), [g for _, g in mine].count(one)) > 10**18:
            continue
        found = answer([r for r, _ in mine], [g for _, g in mine], limit=10**18)
        assert found.exact
        assert found.p == pytest.approx(p, rel=1e-10)


@pytest.mark.parametrize("name", TABLES)
def test_drawn_p_agrees_with_draws_of_r(name: str) -> None:
    found = answer(*table(name), seed=1)
    p, m = TABLES[name]["drawn"]["p"], 100_000
    assert (found.exact, found.n_arrangements) == (False, m)
    assert found.p == (found.n_as_extreme + 1) / (m + 1)
    assert abs(found.p - p) <= 4 * math.sqrt(2 * p * (1 - p) / m) + 2 / m


def test_all_deals_of_two_baits_are_gone_through() -> None:
    found = answer(A + B, "A" * 8 + "B" * 8)
    values = np.array(A + B)
    ranks = scipy.stats.rankdata(values)
    picks = np.array(list(itertools.combinations(range(16), 8)))
    # The enumeration itself: 234 of 12870 for the difference of means, computed independently.
    far = np.abs(values[picks].mean(axis=1) - values.mean()) >= np.mean(A) - values.mean() - 1e-9
    assert (far.sum(), len(picks)) == (234, 12870)
    sums = ranks[picks].sum(axis=1)
    as_extreme = np.abs(sums - ranks.sum() / 2) >= abs(ranks[:8].sum() - ranks.sum() / 2) - 1e-9
    assert found.statistic == pytest.approx(5.417910, abs=5e-7)  # computed with scipy
    assert (found.n_as_extreme, found.n_arrangements) == (as_extreme.sum(), 12870)
    assert (found.exact, found.within, found.unit) == (True, None, "trap")
    assert found.p == found.n_as_extreme / 12870


@pytest.mark.parametrize(
    ("traps", "n_renamed", "n_arrangements"),
    [
        ([2, 2], 2, 6),
        ([2, 2, 2], 6, 90),
        ([2, 2, 2, 1], 6, 630),
        ([3, 3], 2, 20),
        ([3, 3, 3], 6, 1680),
        ([3, 2], 1, 10),
        ([3, 3, 2, 2], 4, 25200),
    ],
)
def test_smallest_p_of_one_draw_is_the_share_of_renamed_baits(
    traps: list[int], n_renamed: int, n_arrangements: int
) -> None:
    # Product of factorials over N! / Π nᵢ!: 1/3, 1/15, 1/105, 1/10, 1/280 (computed independently).
    labels = [bait for bait, n in enumerate(traps) for _ in range(n)]
    apart = [10.0**bait + i for bait, n in enumerate(traps) for i in range(n)]
    found = answer(apart, labels)
    assert found.n_arrangements == n_arrangements
    assert found.p_min == n_renamed / n_arrangements
    assert found.p >= found.p_min


def test_two_baits_wholly_apart_reach_the_smallest_p() -> None:
    found = answer([9, 8, 7, 1, 0, 2], "AAABBB")
    assert (found.n_as_extreme, found.p, found.p_min) == (2, 0.1, 0.1)


@pytest.mark.parametrize(
    ("rates", "labels"),
    [([1, 2, 3], "AAA"), ([0, 0, 0, 0], "AABB"), ([2, 2], "AB"), ([3, np.nan, 1], "ABA"), ([], "")],
)
def test_nothing_to_test_gives_no_answer(rates: list[float], labels: str) -> None:
    assert permutation_test(rates, labels) is None


def test_more_arrangements_than_the_limit_are_drawn_with_the_seed() -> None:
    rates, labels = A + B, "A" * 8 + "B" * 8
    exact = answer(rates, labels, limit=12870)
    drawn = [answer(rates, labels, limit=12869, seed=seed, draws=5000) for seed in (4, 4, 5)]
    assert exact.exact
    assert drawn[0] == drawn[1] != drawn[2]
    for found in drawn:
        assert (found.exact, found.n_arrangements) == (False, 5000)
        assert found.p == (found.n_as_extreme + 1) / 5001
        assert found.p == pytest.approx(exact.p, abs=4 * math.sqrt(exact.p / 5000))
        assert found.p_min == exact.p_min


# --- labels within rounds and blocks, histories of places: against brute force ----------


def brute_force(
    rates: list[float], labels: list[int], units: list[tuple[Any, list[int]]]
) -> tuple[int, int, int]:
    """Return as extreme, all and renamed, by H from scipy over every different labelling.

    ``units``: the stratum of each unit, and its rows; labels of whole units change places.
    """
    strata: dict[Any, list[list[int]]] = {}
    for stratum, rows in units:
        strata.setdefault(stratum, []).append(rows)
    used = [i for i, rate in enumerate(rates) if not math.isnan(rate)]

    def h(labelling: tuple[int, ...]) -> float:
        groups = [[rates[i] for i in used if labelling[i] == b] for b in set(labels)]
        return float(scipy.stats.kruskal(*[g for g in groups if g]).statistic)

    labellings = set()
    per_stratum = [list(itertools.permutations(rows)) for rows in strata.values()]
    for choice in itertools.product(*per_stratum):
        new = list(labels)
        for to, source in zip(strata.values(), choice, strict=True):
            for at, rows in zip(to, source, strict=True):
                for i, j in zip(at, rows, strict=True):
                    new[i] = labels[j]
        labellings.add(tuple(new))
    names = [dict(zip(set(labels), p, strict=True)) for p in itertools.permutations(set(labels))]
    renamed = {tuple(n[b] for b in labels) for n in names} & labellings
    observed = h(tuple(labels))
    return sum(h(x) >= observed - 1e-9 for x in labellings), len(labellings), len(renamed)


CASES: dict[str, dict[str, Any]] = {
    "free": {"labels": "AABBCC", "within": None, "unit": "trap"},
    "rounds": {"labels": "ABCABC", "round_": "112222", "within": "round", "unit": "trap"},
    "blocks": {"labels": "ABAABB", "block": "xxxyyy", "within": "block", "unit": "trap"},
    "one round": {"labels": "ABAB", "round_": "1111", "within": None, "unit": "trap"},
    "rounds and blocks": {
        "labels": "ABABBABA",
        "round_": "11112222",
        "block": "xxyyxxyy",
        "within": "round×block",
        "unit": "trap",
    },
    "places that keep baits": {
        "labels": "ABABABAB",
        "round_": "11112222",
        "place": "pqrspqrs",
        "within": None,
        "unit": "place",
    },
    "places that change baits": {
        "labels": "ABCBCACAB",
        "round_": "111222333",
        "place": "pqrpqrpqr",
        "within": None,
        "unit": "place",
    },
    "places within blocks": {
        "labels": "ABCABCBACCBA",
        "round_": "1" * 6 + "2" * 6,
        "place": "pqrstu" * 2,
        "block": "xxxyyy" * 2,
        "within": "block",
        "unit": "place",
    },
    "a place not counted once": {
        "labels": "ABABABAB",
        "round_": "11112222",
        "place": "pqrspqrs",
        "missing": [5],
        "within": None,
        "unit": "place",
    },
    "places of which some lay once": {
        "labels": "ABABBBAC",
        "round_": "11111122",
        "place": "pqrstupq",
        "missing": [3],
        "within": None,
        "unit": "place",
    },
    "places on which only three rounds together tell the baits apart": {
        "labels": "AABBABABABBA",
        "round_": "111122223333",
        "place": "pqrs" * 3,
        "within": None,
        "unit": "place",
    },
    "two traps on a place": {
        "labels": "AABBABBA",
        "round_": "11112222",
        "place": "ppqqppqq",
        "within": None,
        "unit": "place",
    },
    "places without the number of the round": {
        "labels": "ABABBA",
        "place": "pqrpqr",
        "within": None,
        "unit": "place",
    },
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("seed", range(3))
def test_every_arrangement_of_the_layout_counts_once(name: str, seed: int) -> None:
    case = dict(CASES[name])
    labels, within, unit = case.pop("labels"), case.pop("within"), case.pop("unit")
    missing = case.pop("missing", [])
    n = len(labels)
    rates = np.random.default_rng(seed).poisson(3, n).astype(float)
    rates[missing] = math.nan
    if unit == "place":
        places = case["place"]
        rounds, blocks = case.get("round_", "." * n), case.get("block", "." * n)
        rows_of = {p: [i for i in range(n) if places[i] == p] for p in places}
        if "round_" in case:  # two traps of one round are matched with two others by their rates
            rows_of = {p: sorted(rows, key=lambda i: (rounds[i], blocks[i], rates[i]))
                       for p, rows in rows_of.items()}  # fmt: skip
        units = [([(rounds[i], blocks[i]) for i in rows], rows) for rows in rows_of.values()]
        units = [(tuple(pattern), rows) for pattern, rows in units]
    else:
        keys = zip(case.get("round_", "." * n), case.get("block", "." * n), strict=True)
        units = [(key, [i]) for i, key in enumerate(keys)]
    codes = ["ABC".index(b) for b in labels]
    as_extreme, n_all, n_renamed = brute_force(rates.tolist(), codes, units)

    found = answer(rates, labels, **case)
    assert (found.n_as_extreme, found.n_arrangements) == (as_extreme, n_all)
    assert (found.within, found.unit, found.exact) == (within, unit, True)
    assert found.p_min == pytest.approx(n_renamed / n_all, rel=1e-15)
    drawn = answer(rates, labels, **case, limit=0, seed=seed, draws=4000)
    assert abs(drawn.p - found.p) <= 4 * math.sqrt(0.25 / 4000)


LAYOUTS: dict[str, dict[str, Any]] = {
    "traps": {"labels": "A" * 3 + "B" * 2 + "C" * 19},
    "rounds": {"labels": "A" * 7 + "B" * 17, "round_": [9, 10] * 12},
    "places": {
        "labels": "ABCBCACABACBABC" + "CABBCAABC",
        "round_": [1] * 8 + [2] * 8 + [10] * 8,
        "place": "pqrstuvw" * 3,
        "block": "xxxxyyyy" * 3,
    },
}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("limit", [0, 10**9])
def test_the_same_rows_in_another_order_give_the_same_digits(layout: str, limit: int) -> None:
    rng = np.random.default_rng(5)
    rates = rng.poisson(3, 24) / rng.choice([0.3, 0.7, 1.1], 24)
    rates[[3, 11]] = math.nan
    columns = {name: list(column) for name, column in LAYOUTS[layout].items()}
    found = answer(rates, **columns, seed=3, limit=limit, draws=500)
    assert found.exact == (limit > 0)
    for _ in range(3):
        order = rng.permutation(24)
        mixed = {name: [column[i] for i in order] for name, column in columns.items()}
        assert answer(rates[order], **mixed, seed=3, limit=limit, draws=500) == found


def test_the_error_of_a_drawn_p_is_how_far_other_seeds_lie() -> None:
    found = [answer(A + B, "A" * 8 + "B" * 8, limit=0, draws=400, seed=s) for s in range(60)]
    spread = float(np.std([one.p for one in found], ddof=1))
    assert found[0].error == pytest.approx(math.sqrt(found[0].p * (1 - found[0].p) / 400))
    assert np.mean([one.error for one in found]) == pytest.approx(spread, rel=0.3)
    assert answer(A + B, "A" * 8 + "B" * 8).error == 0.0


def test_fewer_arrangements_are_drawn_of_very_many_rows() -> None:
    rates = np.random.default_rng(1).gamma(1, 3, 20_000)
    found = answer(rates, "ABCD" * 5_000)
    assert (found.exact, found.n_arrangements) == (False, 5_000)
    assert found.error == pytest.approx(math.sqrt(found.p * (1 - found.p) / 5_000))


@pytest.mark.parametrize("limit", [0, 10**9])
def test_progress_is_told_and_can_end_the_test(limit: int) -> None:
    told: list[float] = []
    labels = "ABC" * 80 if limit == 0 else "AB" * 8
    rates = [float(i % 7) for i in range(len(labels))]
    answer(rates, labels, limit=limit, draws=3000, progress=told.append)
    assert len(told) > 4
    assert told == sorted(told)
    assert 0 < told[0] < told[-1] == 1.0

    def stop(done: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        answer(rates, labels, limit=limit, draws=3000, progress=stop)


def test_rows_of_places_may_come_in_any_order() -> None:
    rounds, places = "111222333", "pqrpqrpqr"
    rates, labels = [4, 9, 2, 7, 5, 0, 1, 8, 6], "ABCCABABC"
    found = answer(rates, labels, round_=rounds, place=places)
    order = [6, 4, 2, 0, 8, 7, 5, 3, 1]
    mixed = [[column[i] for i in order] for column in (rates, labels, rounds, places)]
    again = answer(mixed[0], mixed[1], round_=mixed[2], place=mixed[3])
    assert (again.n_as_extreme, again.n_arrangements, again.p_min) == (
        found.n_as_extreme, found.n_arrangements, found.p_min,
    )  # fmt: skip


def test_a_row_without_a_count_still_belongs_to_the_history_of_its_place() -> None:
    rates = [5.0, 1.0, 4.0, math.nan, 2.0, 6.0]
    whole = answer(rates, "ABABAB", round_="112233", place="pqpqpq")
    assert whole.n_arrangements == 2
    known = [i for i in range(6) if i != 3]
    lost = answer(
        [rates[i] for i in known], "ABAAB", round_=["112233"[i] for i in known],
        place=["pqpqpq"[i] for i in known],
    )  # fmt: skip
    # Without it the two places have different rounds and cannot change baits.
    assert (lost.n_arrangements, lost.p, lost.p_min) == (1, 1.0, 1.0)


@pytest.mark.parametrize(
    ("labels", "missing", "n_never_less", "n_arrangements"),
    [
        # Two places, histories AA and BC; the last lift of the second was lost. What is left is
        # A, B, A; changed over it is B, A, C, which parts the same rows further.
        ("ABAC", [3], 2, 2),
        # Two places with AA, one with BB: only one way leaves BB where it was.
        ("AABAAB", [4], 1, 3),
        # AB, BA, BB: without their second rounds the last two are alike.
        ("ABBBAB", [4, 5], 2, 6),
    ],
)
def test_smallest_p_is_reached_by_equal_rates_within_baits_where_counts_are_missing(
    labels: str, missing: list[int], n_never_less: int, n_arrangements: int
) -> None:
    n_places = len(labels) // 2
    layout: dict[str, Any] = {
        "labels": labels, "round_": "1" * n_places + "2" * n_places,
        "place": "pqr"[:n_places] * 2,
    }  # fmt: skip
    clearest = [math.nan if i in missing else 10.0 * ord(b) for i, b in enumerate(labels)]
    found = answer(clearest, **layout)
    assert found.n_arrangements == n_arrangements
    assert found.p_min == n_never_less / n_arrangements == found.p
    # No other rates give less: all orders of them, ties among them.
    known = [i for i in range(len(labels)) if i not in missing]
    for order in itertools.product(range(len(known)), repeat=len(known)):
        rates = np.full(len(labels), math.nan)
        rates[known] = order
        other = permutation_test(rates, **layout)
        assert other is None or other.p >= found.p_min - 1e-12


def test_two_traps_on_a_place_in_one_round_are_dealt_out_one_by_one() -> None:
    once = answer([9, 1, 8, 0], "ABAB", round_="1111", place="ppqq")
    assert (once.unit, once.n_arrangements, once.p_min) == ("trap", 6, 1 / 3)
    again = answer([9, 1, 8, 0, 5], "ABABA", round_="11112", place="ppqqp")
    assert again.unit == "place"


def test_a_block_without_a_count_is_nothing_to_stay_within() -> None:
    layout: dict[str, Any] = {"labels": "ABAB", "block": "xxxy", "place": "pqrs"}
    assert answer([9, 1, 8, math.nan], **layout).within is None
    assert answer([9, 1, 8, 2], **layout).within == "block"


def test_more_rounds_on_fixed_places_never_lower_the_smallest_p() -> None:
    for n_rounds in (2, 5):
        rates = np.arange(4.0 * n_rounds)
        rounds = [str(r) for r in range(n_rounds) for _ in range(4)]
        found = answer(rates, "AABB" * n_rounds, round_=rounds, place="pqrs" * n_rounds)
        assert found.p_min == 1 / 3


def test_ten_baits_that_keep_a_place_each_are_renamed_in_ten_factorial_ways() -> None:
    # 10! arrangements, all of them the same with the baits renamed: nothing can be tested.
    rates, labels = np.arange(20.0), "ABCDEFGHIJ" * 2
    rounds = ["1"] * 10 + ["2"] * 10
    found = answer(rates, labels, round_=rounds, place=labels, draws=100)
    assert found.p_min == 1.0
    assert found.p == 1.0


@pytest.mark.parametrize(
    "wrong",
    [
        {"labels": "AABB"},
        {"block": "xx"},
        {"round_": [1, 2]},
        {"place": ["p"]},
        {"rates": [1.0, math.inf, 3.0]},
        {"rates": [1.0, -2.0, 3.0]},
        {"rates": [[1.0, 2.0, 3.0]]},
    ],
)
def test_columns_that_do_not_fit_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(InvalidValue):
        permutation_test(**{"rates": [1.0, 2.0, 3.0], "labels": "AAB", **wrong})


rows = st.lists(
    st.tuples(st.integers(0, 6), st.sampled_from("ABC"), st.sampled_from("xy")),
    min_size=3,
    max_size=9,
)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(rows, st.permutations("ABC"), st.randoms(use_true_random=False))
def test_p_depends_neither_on_names_nor_on_the_order_of_rows(
    table: list[tuple[int, str, str]], names: list[str], shuffle: Any
) -> None:
    rates, labels, blocks = zip(*table, strict=True)
    found = permutation_test(rates, labels, block=blocks)
    renamed = [names["ABC".index(label)] for label in labels]
    other = list(zip(rates, renamed, blocks, strict=True))
    shuffle.shuffle(other)
    # A rank test sees only the order of the rates.
    squares = [rate**2 + 1.0 for rate, _, _ in other]
    again = permutation_test(squares, [x[1] for x in other], block=[x[2] for x in other])
    if found is None:
        assert again is None
        return
    assert again is not None
    assert again.statistic == pytest.approx(found.statistic, abs=1e-9)
    assert (again.n_as_extreme, again.n_arrangements, again.p_min, again.within) == (
        found.n_as_extreme, found.n_arrangements, found.p_min, found.within,
    )  # fmt: skip
    assert 0 < found.p_min <= found.p <= 1


# --- layouts drawn by the program -------------------------------------------------------


@pytest.mark.parametrize(
    ("n_baits", "n_places", "n_rounds", "n_layouts", "n_renamed"),
    [(2, 4, 4, 90, 2), (3, 3, 3, 12, 6), (3, 6, 3, 900, 6), (4, 4, 4, 576, 24)],
)
def test_smallest_p_over_layouts(
    n_baits: int, n_places: int, n_rounds: int, n_layouts: int, n_renamed: int
) -> None:
    # 1/45, 1/2, 1/150, 1/24 (computed independently).
    layouts = all_layouts(Scheme(n_places, n_baits, n_rounds, "whole line"))
    rates = np.random.default_rng(1).gamma(2, 3, layouts[0].shape)
    found = permutation_test_over_layouts(rates, layouts[5], layouts, complete=True)
    assert found is not None
    assert (found.n_arrangements, found.p_min) == (n_layouts, n_renamed / n_layouts)
    assert (found.unit, found.within, found.exact) == ("design", None, True)


def test_layouts_are_counted_as_by_hand_with_a_missing_lift() -> None:
    layouts = all_layouts(Scheme(3, 3, 3))
    rates = np.random.default_rng(2).poisson(4, (3, 3)).astype(float)
    rates[[1, 2, 2, 0], [2, 0, 1, 2]] = math.nan
    used = ~np.isnan(rates)

    def h(layout: Any) -> float:
        groups = [rates[used][layout[used] == b] for b in range(3)]
        return float(scipy.stats.kruskal(*[g for g in groups if g.size]).statistic)

    def names(layout: Any) -> list[int]:
        """Baits of the lifts that count, named by the order of their coming."""
        return [list(dict.fromkeys(layout[used])).index(b) for b in layout[used]]

    every = [h(layout) for layout in layouts]
    for i in (0, 7):
        found = permutation_test_over_layouts(rates, layouts[i], list(layouts), complete=True)
        assert found is not None
        assert found.statistic == pytest.approx(every[i], rel=1e-12)
        assert found.n_as_extreme == sum(x >= every[i] - 1e-9 for x in every)
        n_renamed = sum(names(layout) == names(layouts[i]) for layout in layouts)
        assert found.p_min == n_renamed / len(layouts)


def test_a_layout_that_gives_two_baits_the_same_lifts_is_another_one() -> None:
    # Two lifts count. In 4 of the 6 layouts they have different baits, as they had.
    layouts = all_layouts(Scheme(4, 2, 1, "whole line"))
    assert len(layouts) == 6
    rates = [[1.0, 2.0, math.nan, math.nan]]
    found = permutation_test_over_layouts(rates, [[0, 1, 0, 1]], layouts, complete=True)
    assert found is not None
    assert (found.n_as_extreme, found.p_min) == (4, 4 / 6)


def test_layouts_that_part_the_counted_lifts_further_are_no_less_extreme() -> None:
    # Only three lifts counted: A, A, B. In the second layout they had A, C, B.
    layouts = [[[0, 0, 1], [1, 2, 2]], [[0, 2, 1], [0, 1, 2]], [[0, 1, 1], [0, 2, 2]]]
    rates = [[5.0, 5.0, 1.0], [math.nan] * 3]
    found = permutation_test_over_layouts(rates, layouts[0], layouts, complete=True)
    assert found is not None
    assert (found.p, found.p_min) == (2 / 3, 2 / 3)


def test_drawn_layouts_give_nearly_the_p_of_all() -> None:
    scheme = Scheme(4, 2, 4, "whole line")
    layouts = all_layouts(scheme)
    rates = np.where(layouts[3] == 0, 3.0, 1.0) + np.arange(16).reshape(4, 4) * 0.19
    exact = permutation_test_over_layouts(rates, layouts[3], layouts, complete=True)
    draws = redraws(scheme, np.random.default_rng(8), 20_000)
    drawn = permutation_test_over_layouts(rates, layouts[3], draws, complete=False)
    assert exact is not None
    assert drawn is not None
    assert 0.01 < exact.p < 0.5
    assert drawn.p == (drawn.n_as_extreme + 1) / 20_001
    assert drawn.p == pytest.approx(exact.p, abs=4 * math.sqrt(exact.p / 20_000))
    assert (drawn.exact, drawn.p_min) == (False, 1 / 20_001)


def test_a_layout_that_was_not_drawn_from_is_refused() -> None:
    layouts = all_layouts(Scheme(4, 2, 2))
    fished = layouts[0].copy()
    fished[0] = [0, 0, 1, 1]
    rates = np.arange(8.0).reshape(2, 4)
    with pytest.raises(InvalidValue, match="not one of the layouts"):
        permutation_test_over_layouts(rates, fished, layouts, complete=True)
    with pytest.raises(InvalidValue, match="same rounds and places"):
        permutation_test_over_layouts(rates[:1], fished[:1], layouts, complete=True)
    assert permutation_test_over_layouts(0 * rates, layouts[0], layouts, complete=True) is None


# --- studies: run by name ---------------------------------------------------------------


def false_alarms(n_rounds: int, by_place: bool, runs: int) -> float:
    """Share of trials with p <= .05 where two equal baits keep their 12 places."""
    rng = np.random.default_rng(17)
    labels = "AB" * 6 * n_rounds
    rounds = [str(r) for r in range(n_rounds) for _ in range(12)]
    places = [str(p) for p in range(12)] * n_rounds
    alarms = 0
    for run in range(runs):
        mean = 3 * np.exp(rng.normal(0, 0.5, 12) + rng.normal(0, 0.4, (n_rounds, 1)))
        rates = rng.poisson(mean * rng.gamma(3, 1 / 3, mean.shape)).ravel()
        found = permutation_test(
            rates, labels, round_=rounds, place=places if by_place else None, seed=run, draws=1999
        )
        alarms += found is not None and found.p <= 0.05
    return alarms / runs


@pytest.mark.study
def test_histories_of_places_keep_their_level() -> None:
    # At most .05, being exact; .01 to .07 in cells of some 500 runs (computed independently).
    for n_rounds in (1, 3, 6):
        assert 0.01 <= false_alarms(n_rounds, True, 4000) <= 0.06


@pytest.mark.study
def test_labels_moved_within_rounds_are_not_valid_where_baits_keep_their_places() -> None:
    # .14 with 3 rounds, .29 with 6 (computed independently).
    assert 0.08 <= false_alarms(3, False, 800) <= 0.20
    assert 0.18 <= false_alarms(6, False, 800) <= 0.40


@pytest.mark.study
def test_layouts_that_were_drawn_keep_their_level() -> None:
    # 3 baits, 6 places, 3 rounds: .050 (computed independently).
    layouts = all_layouts(Scheme(6, 3, 3, "whole line"))
    rng = np.random.default_rng(23)
    results = []
    for _ in range(2000):
        mean = 3 * np.exp(rng.normal(0, 0.5, 6) + rng.normal(0, 0.4, (3, 1)))
        rates = rng.poisson(mean * rng.gamma(3, 1 / 3, mean.shape))
        layout = layouts[rng.integers(len(layouts))]
        results.append(permutation_test_over_layouts(rates, layout, layouts, complete=True))
    counted = Counter(found is not None and found.p <= 0.05 for found in results)
    assert 0.03 <= counted[True] / 2000 <= 0.06

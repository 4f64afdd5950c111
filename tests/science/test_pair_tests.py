"""Tests of pairs of baits, against R, scipy and every labelling by hand."""

import csv
import itertools
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats

from trapline.errors import InvalidValue
from trapline.science.pair_tests import PairTests, holm, pair_tests

REFERENCE = Path(__file__).parents[1] / "reference"
TABLES = json.loads((REFERENCE / "kruskal.json").read_text(encoding="utf-8"))["tables"]
DUNN = json.loads((REFERENCE / "dunn.json").read_text(encoding="utf-8"))["tables"]


def answer(*args: Any, **kwargs: Any) -> PairTests:
    found = pair_tests(*args, **kwargs)
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


# --- Holm ---------------------------------------------------------------------------------


def test_holm_is_that_of_r() -> None:
    # p.adjust(c(.01, .04, .03, .005), "holm") of R 4.2.
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    for pairs in DUNN.values():
        assert holm([p for *_, p, _ in pairs]) == pytest.approx([h for *_, h in pairs], rel=1e-9)
    assert holm([]) == []


def test_holm_is_skipped_and_said_so_where_no_pair_could_fall_below_five_percent() -> None:
    # Four baits on two traps each: p of a pair is at least 2 / 6, times 6 pairs.
    found = answer([9, 8, 5, 6, 3, 2, 1, 0], "AABBCCDD")
    assert [pair.p_min for pair in found.pairs] == [2 / 6] * 6
    assert {pair.p_holm for pair in found.pairs} == {None}
    assert found.note == (
        "With this layout no pair can fall below 0.05 after correction for 6 pairs, "
        "so none is made."
    )
    # On four traps each 2 / 70 would do for one pair, but not for six.
    four = answer(np.arange(16.0), "AAAABBBBCCCCDDDD")
    assert [pair.p for pair in four.pairs] == [2 / 70] * 6
    assert four.note == found.note
    assert {pair.p_holm for pair in four.pairs} == {None}
    one = answer([9, 8, 1, 0], "AABB")
    assert one.note == "With this layout no pair can fall below 0.05."


def test_holm_is_done_where_a_pair_can_fall_below_five_percent() -> None:
    # Three baits on five traps each: 2 / 252, times 3 pairs.
    found = answer([9, 8, 7, 6, 5, 4, 3, 3, 2, 2, 1, 0, 0, 1, 2], "AAAAABBBBBCCCCC")
    ps = [pair.p for pair in found.pairs]
    assert found.note == ""
    assert [pair.p_holm for pair in found.pairs] == holm(ps)
    assert found.of("B", "A").p == found.of("A", "B").p == 2 / 252


# --- traps ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["syn1_line", "syn3_blocks", "warpbreaks", "OrchardSprays"])
def test_pairs_give_the_exact_p_of_r(name: str) -> None:
    # Package coin, exact two-sided Wilcoxon test on mid-ranks: see the table's own source.
    found = answer(*table(name), limit=10**18)
    for one, other, p in TABLES[name]["pairs"]:
        pair = found.of(one, other)
        assert (pair.exact, pair.error) == (True, 0.0)
        assert pair.p == pytest.approx(p, rel=1e-10)
    assert len(found.pairs) == len(TABLES[name]["pairs"])


def test_a_pair_within_rounds_is_that_of_scipy() -> None:
    # With one trap of each bait in every round its labels change within the round or not.
    rng = np.random.default_rng(8)
    catches = rng.poisson(4, (7, 3)).astype(float)
    found = answer(catches.ravel(), list("ABC") * 7, round_=[r for r in range(7) for _ in range(3)])
    assert (found.unit, found.within) == ("trap", "round")
    for one, other in itertools.combinations(range(3), 2):
        ranks = scipy.stats.rankdata(catches[:, [one, other]]).reshape(7, 2)

        def apart(a: Any, b: Any) -> float:
            return abs(np.mean(a) - np.mean(b))

        expected = scipy.stats.permutation_test(
            (ranks[:, 0], ranks[:, 1]), apart, permutation_type="samples", alternative="greater"
        )
        pair = found.of("ABC"[one], "ABC"[other])
        assert pair.n_arrangements == 2**7
        assert pair.p == pytest.approx(expected.pvalue)


def test_drawn_pairs_agree_with_all_arrangements() -> None:
    rates, labels = table("syn1_line")
    exact = answer(rates, labels, limit=10**18)
    drawn = answer(rates, labels, limit=0, draws=4000, seed=3)
    for one, other in zip(drawn.pairs, exact.pairs, strict=True):
        assert (one.exact, one.n_arrangements) == (False, 4000)
        assert one.p == (one.n_as_extreme + 1) / 4001
        assert one.error == pytest.approx(math.sqrt(one.p * (1 - one.p) / 4000))
        assert abs(one.p - other.p) <= 4 * math.sqrt(other.p * (1 - other.p) / 4000) + 1 / 4001
        assert one.p_min == other.p_min


# --- places ---------------------------------------------------------------------------------

HISTORIES: dict[str, list[str]] = {  # the bait of each place, round by round
    "kept": ["AAA", "BBB", "CCC", "AAA", "BBB", "CCC"],
    "moved": ["ABC", "BAC", "CAB", "ABC", "BAC", "CBA", "BCA"],
    "unequal numbers": ["AAB", "ABB", "BAA", "CCA", "CBA", "BAB"],
    "apart": ["ABC", "CAB", "BCA", "AAC", "BBC", "CCC"],
    "a lost trap": ["ABC", "BAC", "BAC", "ABC", "CCB", "CCA"],
    "lost traps": ["AB", "BA", "AB", "BB", "AC"],
}
LOST = {"a lost trap": [(1, 0)], "lost traps": [(0, 1), (1, 0), (3, 1)]}


def by_hand(rates: Any, histories: list[str], one: str, other: str) -> tuple[float, float]:
    """Return p and the smallest p by dealing whole histories to the places in every way.

    Only ways count that leave the rows of the two baits where they were. H is scipy's.
    """
    known = ~np.isnan(rates)

    def h(deal: Any, values: Any) -> float:
        groups = [values[(deal == bait) & known] for bait in (one, other)]
        parts = [group for group in groups if group.size]
        return float(scipy.stats.kruskal(*parts).statistic) if len(parts) > 1 else 0.0

    def share(values: Any) -> float:
        observed = h(fished, values)
        return float(np.mean([h(deal, values) >= observed - 1e-9 for deal in deals]))

    fished = np.array([list(history) for history in histories])
    of_two = np.isin(fished, [one, other])
    deals = [
        fished[list(order)]
        for order in itertools.permutations(range(len(histories)))
        if (np.isin(fished[list(order)], [one, other]) == of_two).all()
    ]
    return share(rates), share(np.where(fished == one, 2.0, 1.0))


@pytest.mark.parametrize("name", HISTORIES)
@pytest.mark.parametrize("seed", range(2))
def test_pairs_on_places_are_all_deals_of_whole_histories_that_leave_their_rows(
    name: str, seed: int
) -> None:
    histories = HISTORIES[name]
    n_places, n_rounds = len(histories), len(histories[0])
    rates = np.random.default_rng(seed).poisson(4, (n_places, n_rounds)).astype(float)
    for cell in LOST.get(name, []):
        rates[cell] = math.nan
    found = answer(
        rates.ravel(),
        "".join(histories),
        round_=list(range(n_rounds)) * n_places,
        place=[place for place in range(n_places) for _ in range(n_rounds)],
    )
    assert found.unit == "place"
    for pair in found.pairs:
        p, p_min = by_hand(rates, histories, str(pair.a), str(pair.b))
        assert pair.exact
        assert pair.p == pytest.approx(p, rel=1e-12)
        assert pair.p_min == pytest.approx(p_min, rel=1e-12)


def test_a_bait_that_always_lay_alone_in_its_round_cannot_be_told_from_others() -> None:
    # Two baits on all places in turn, round by round: nothing of the two can change.
    found = answer([9, 8, 7, 1, 0, 1, 5, 5, 4], "AAABBBCCC", round_="111222333", place="pqr" * 3)
    assert {pair.p for pair in found.pairs} == {1.0}
    assert found.note.startswith("With this layout no pair can")


def test_blocks_hold_on_to_their_places() -> None:
    columns: dict[str, Any] = {
        "round_": [1] * 6 + [2] * 6, "place": [*range(6)] * 2, "block": list("xxxyyy") * 2,
    }  # fmt: skip
    found = answer(np.arange(12.0), "ABCABC" * 2, **columns)
    assert found.within == "block"
    # In each block one place kept A and one B: 2 x 2 ways.
    assert found.of("A", "B").n_arrangements == 4
    del columns["block"]
    assert answer(np.arange(12.0), "ABCABC" * 2, **columns).of("A", "B").n_arrangements == 6


# --- against a control ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "control"), [("syn1_line", "none"), ("warpbreaks", "L"), ("InsectSprays", "C")]
)
def test_differences_from_the_control_are_dunns(name: str, control: str) -> None:
    found = answer(*table(name), control=control, draws=100)
    assert found.against_control is not None
    z = {other: -z if one == control else z for one, other, z, *_ in DUNN[name] if one == control}
    z |= {one: z for one, other, z, *_ in DUNN[name] if other == control}
    assert {t.bait: t.z for t in found.against_control} == pytest.approx(z, rel=1e-10)


def test_p_against_the_control_is_that_of_the_largest_difference_over_all_deals() -> None:
    rates, labels = np.array([4.0, 0, 2, 7, 5, 1, 3, 2, 1]), "NABNABNAB"
    ranks = scipy.stats.rankdata(rates)
    se2 = np.var(ranks, ddof=1) * (1 / 3 + 1 / 3)

    def z(deal: Any, bait: str) -> float:
        return float((ranks[deal == bait].mean() - ranks[deal == "N"].mean()) / math.sqrt(se2))

    fished = np.array(list(labels))
    deals = [np.array(deal) for deal in set(itertools.permutations(labels))]
    largest = [max(abs(z(deal, "A")), abs(z(deal, "B"))) for deal in deals]
    found = answer(rates, labels, control="N")
    assert found.against_control is not None
    assert [test.bait for test in found.against_control] == ["A", "B"]
    for test in found.against_control:
        assert test.z == pytest.approx(z(fished, str(test.bait)), rel=1e-12)
        n = sum(one >= abs(test.z) - 1e-9 for one in largest)
        assert (test.n_as_extreme, test.n_arrangements, test.p) == (n, 1680, n / 1680)
        assert (test.control, test.exact, test.error) == ("N", True, 0.0)
    drawn = answer(rates, labels, control="N", limit=0, draws=5000, seed=2)
    assert drawn.against_control is not None
    for test, exact in zip(drawn.against_control, found.against_control, strict=True):
        assert test.p == (test.n_as_extreme + 1) / 5001
        assert abs(test.p - exact.p) <= 4 * test.error


@pytest.mark.parametrize(("labels", "control"), [("NNAABB", None), ("NNNAAA", "N")])
def test_without_a_control_and_two_baits_none_is_compared_with_it(
    labels: str, control: str | None
) -> None:
    assert answer([1, 2, 3, 4, 5, 6], labels, control=control).against_control is None


def test_baits_without_a_rate_are_in_no_pair() -> None:
    found = answer([1, math.nan, 3, 4, 2, 5], "NMABAB", control="N")
    assert [(pair.a, pair.b) for pair in found.pairs] == [("A", "B"), ("A", "N"), ("B", "N")]
    assert found.against_control is not None
    assert [test.bait for test in found.against_control] == ["A", "B"]
    assert answer([1, math.nan, 3, 4, 2, 5], "NMABAB", control="M").against_control is None


def test_two_empty_baits_do_not_differ() -> None:
    found = answer([0, 0, 0, 0, 3, 4], "AABBCC")
    assert (found.of("A", "B").p, found.of("A", "B").p_min) == (1.0, 1.0)
    assert found.of("A", "C").p == 1 / 3


def test_nothing_to_test_gives_no_answer() -> None:
    assert pair_tests([0, 0, 0], "ABC") is None
    assert pair_tests([1, 2], "AA") is None
    assert pair_tests([], "") is None
    with pytest.raises(InvalidValue, match="No row has the bait 'X'"):
        pair_tests([1, 2], "AB", control="X")


# --- order, progress, speed ------------------------------------------------------------------


@pytest.mark.parametrize("limit", [0, 200_000])
def test_the_same_rows_in_another_order_give_the_same_tests(limit: int) -> None:
    rng = np.random.default_rng(5)
    rates = rng.poisson(3, 24) / rng.choice([0.3, 0.7, 1.1], 24)
    rates[[3, 11]] = math.nan
    columns: dict[str, Any] = {
        "labels": list("ABNBNANABANBABNCABBNAANB"),
        "round_": [1] * 8 + [2] * 8 + [10] * 8,
        "place": list("pqrstuvw" * 3),
    }
    found = answer(rates, **columns, control="N", seed=3, limit=limit, draws=200)
    for _ in range(3):
        order = rng.permutation(24)
        mixed = {name: [column[i] for i in order] for name, column in columns.items()}
        again = answer(rates[order], **mixed, control="N", seed=3, limit=limit, draws=200)
        assert again == found


def test_progress_is_told_and_can_end_the_tests() -> None:
    told: list[float] = []
    rates, labels = table("syn1_line")
    answer(rates, labels, control="none", draws=2000, progress=told.append)
    assert told == sorted(told)
    assert 0 < told[0] < 0.1
    assert told[-1] == 1.0

    def stop(done: float) -> None:
        if done > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        answer(rates, labels, control="none", draws=2000, progress=stop)


def test_very_many_rows_are_drawn_less_often_but_enough_for_holm() -> None:
    rates = np.random.default_rng(1).gamma(1, 3, 40_000)
    found = answer(rates, "ABCD" * 10_000)
    assert {pair.n_arrangements for pair in found.pairs} == {1000}
    assert found.note == ""


# --- false alarms ----------------------------------------------------------------------------


def false_alarms(histories: str, runs: int, seed: int) -> tuple[float, float]:
    """Share of trials with p <= .05 for two equal baits, and with one after Holm for any pair.

    Three baits on 12 places over 4 rounds; places and rounds differ, and the third bait
    catches four times as much as the other two.
    """
    rng = np.random.default_rng(seed)
    n_places, n_rounds = 12, 4
    rounds = [r for r in range(n_rounds) for _ in range(n_places)]
    places = list(range(n_places)) * n_rounds
    alarms = holms = 0
    for run in range(runs):
        if histories == "kept":
            baits = np.tile(rng.permutation(np.arange(n_places) % 3), (n_rounds, 1))
        elif histories == "anew":
            baits = np.array([rng.permutation(np.arange(n_places) % 3) for _ in range(n_rounds)])
        else:  # a fixed plan in which baits go on by one place a round, its columns dealt out
            plan = (np.arange(n_places) + np.arange(n_rounds)[:, None]) % 3
            baits = plan[:, rng.permutation(n_places)]
        mean = 3 * np.exp(rng.normal(0, 0.7, n_places) + rng.normal(0, 0.6, (n_rounds, 1)))
        mean = np.where(baits == 2, 4 * mean, mean)
        rates = rng.poisson(mean * rng.gamma(2, 1 / 2, mean.shape)).ravel()
        found = answer(
            rates, baits.ravel().tolist(), round_=rounds, place=places, seed=run, draws=499
        )
        pair = found.of(0, 1)
        alarms += pair.p <= 0.05
        holms += pair.p_holm is not None and pair.p_holm <= 0.05
    return alarms / runs, holms / runs


@pytest.mark.parametrize("histories", ["kept", "anew"])
def test_two_equal_baits_seldom_differ_on_places_that_do(histories: str) -> None:
    # 300 trials at .05: 3 standard errors are .038.
    alarms, after_holm = false_alarms(histories, 300, 11)
    assert alarms <= 0.088
    assert after_holm <= alarms


@pytest.mark.study
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("histories", ["kept", "anew", "in turn"])
def test_pairs_keep_their_level_on_places(histories: str) -> None:
    alarms, after_holm = false_alarms(histories, 3000, 12)
    print(histories, alarms, after_holm)
    assert alarms <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 3000)
    assert after_holm <= alarms


def alarms_against_control(ratio: float, runs: int, seed: int) -> float:
    """Share of trials in which a bait like the control is told from it; one other is not alike."""
    rng = np.random.default_rng(seed)
    labels = np.repeat(["N", "A", "B", "C"], 6)
    alarms = 0
    for run in range(runs):
        mean = np.where(labels == "C", 3 * ratio, 3.0) * rng.gamma(1, 1, labels.size)
        found = answer(
            rng.poisson(mean), labels.tolist(), control="N", seed=run, limit=0, draws=499
        )
        assert found.against_control is not None
        alarms += any(test.p <= 0.05 for test in found.against_control if test.bait != "C")
    return alarms / runs


@pytest.mark.study
@pytest.mark.timeout(3600)
def test_baits_like_the_control_are_seldom_told_from_it() -> None:
    for ratio in (1.0, 4.0, 30.0):
        alarms = alarms_against_control(ratio, 2000, 13)
        print(ratio, alarms)
        assert alarms <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 2000)

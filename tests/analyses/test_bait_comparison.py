"""The comparison of baits: its contract, its rule for a winner, and awkward tables.

Trials with known truth take two or three minutes and leave their shares in the report:
pytest -m study tests/analyses/test_bait_comparison.py --junitxml=FILE -o junit_family=xunit1
"""

import csv
import json
import math
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from trapline.analyses import design_tests as tests_module
from trapline.analyses.bait_comparison import (
    BaitComparison,
    CompareOptions,
    LiftRow,
    compare_baits,
    completed,
    first_look,
    lift_rows,
)
from trapline.analyses.bait_verdict import LEAD_CHANCE, Evidence, find, times, verdict
from trapline.analyses.plume_check import CHOICE_TEST
from trapline.analyses.table_switches import depends_on
from trapline.errors import InputProblem
from trapline.science.bait_model import SHRINKING, lift_table
from trapline.science.exact_rates import exact_posterior
from trapline.science.intervals import Interval
from trapline.science.permutation import PermutationResult

COUNTS = Path(__file__).parents[1] / "reference" / "counts"


def lifts(catches: Mapping[str, Iterable[int | None]], **more: Any) -> list[LiftRow]:
    """One row a catch, 24 h each, bait by bait."""
    found: list[LiftRow] = []
    for bait, counts in catches.items():
        for catch in counts:
            cells = {"bait": bait, "catch": catch, "soak_h": 24.0, "row": len(found) + 1}
            found.append(LiftRow(**{**cells, **more}))
    return found


def compare(catches: Mapping[str, Iterable[int | None]], **options: Any) -> BaitComparison:
    return compare_baits(lifts(catches), CompareOptions(**options))


CLEAR: dict[str, list[int]] = {"fish": [9, 7, 8, 9], "liver": [1, 2, 0, 1]}


# --- the contract -----------------------------------------------------------------------


def test_the_answer_has_exactly_the_fields_that_programs_read() -> None:
    answer = compare(CLEAR).as_dict()

    assert list(answer) == [
        "baits", "ratios", "permutation", "excluded", "winner", "verdict", "warnings",
        "pairs", "effort", "design", "spread", "settle",
    ]  # fmt: skip
    assert list(answer["baits"][0]) == [
        "bait", "n_traps", "n_counted", "catch", "soak_h", "rate_per_24h", "rate_per_trap_night",
        "chance_best",
    ]  # fmt: skip
    assert list(answer["baits"][0]["rate_per_24h"]) == ["median", "low", "high"]
    assert list(answer["ratios"][0]) == [
        "bait", "reference", "ratio", "beats", "factor", "beats_by_factor",
    ]  # fmt: skip
    assert list(answer["ratios"][0]["ratio"]) == ["median", "low", "high"]
    assert list(answer["permutation"]) == [
        "statistic", "p", "n_as_extreme", "n_arrangements", "exact", "within", "unit", "p_min",
    ]  # fmt: skip
    assert answer["permutation"]["statistic"] == "kruskal_rate"
    assert list(answer["pairs"][0]) == ["bait", "other", "ratio", "beats", "p", "p_holm"]
    assert list(answer["spread"]) == [
        "k", "nights", "places", "trips", "bait_trips", "effective_share",
    ]  # fmt: skip
    assert answer["spread"]["nights"] is None
    assert answer["design"]["unit"] == answer["permutation"]["unit"]
    assert answer["effort"]["mean_soak_h"] == {"fish": 24.0, "liver": 24.0}


def test_numbers_of_each_bait_are_those_of_its_rows_that_count() -> None:
    rows = [
        LiftRow(bait="fish", catch=4, soak_h=20.0, row=1),
        LiftRow(bait="liver", catch=1, soak_h=24.0, row=2),
        LiftRow(bait="fish", catch=None, soak_h=24.0, row=3),
        LiftRow(bait="fish", catch=2, soak_h=28.0, row=4),
        LiftRow(bait="liver", catch=9, soak_h=24.0, row=5, condition="robbed"),
    ]
    answer = compare_baits(rows).as_dict()

    fish, liver = answer["baits"]
    assert (fish["n_traps"], fish["n_counted"], fish["catch"], fish["soak_h"]) == (3, 2, 6, 48.0)
    assert (liver["n_traps"], liver["n_counted"], liver["catch"]) == (2, 1, 1)
    assert [row["row"] for row in answer["excluded"]] == [3, 5]


def test_rates_and_ratios_are_those_of_the_model() -> None:
    found = compare(CLEAR)

    table = lift_table([9, 7, 8, 9, 1, 2, 0, 1], [24.0] * 8, [0] * 4 + [1] * 4)
    posterior = exact_posterior(table)
    assert found.baits[0].rate_per_24h == posterior.rates[0]
    assert found.baits[1].chance_best == pytest.approx(exact_posterior(table, SHRINKING).best[1])
    assert found.baits[1].chance_best > posterior.best[1]
    assert found.ratios is not None
    assert found.ratios[0].ratio == posterior.ratio(1, 0)
    assert found.ratios[0].beats == pytest.approx(posterior.beats[1, 0])
    assert found.ratios[0].beats_by_factor == pytest.approx(posterior.beats_by(1, 0, 2.0))


def test_baits_are_asked_to_beat_the_reference_by_a_factor_of_ones_own() -> None:
    def chance(factor: float) -> float:
        found = compare({"fish": [4, 6, 5], "liver": [9, 12, 8]}, factor=factor).ratios
        assert found is not None
        assert found[0].beats_by_factor is not None
        return found[0].beats_by_factor

    assert chance(1.0) > chance(1.5) > chance(3.0)


def test_every_two_baits_have_a_ratio_and_a_test_of_their_own() -> None:
    found = compare({"fish": [9, 7, 8, 9, 8], "liver": [1, 2, 0, 1, 1], "corn": [8, 9, 9, 7, 9]})

    assert found.pairs is not None
    assert [(pair.bait, pair.other) for pair in found.pairs] == [
        ("fish", "liver"), ("fish", "corn"), ("liver", "corn"),
    ]  # fmt: skip
    # Five against five, all larger: 2 of 252 ways; Holm multiplies the smallest by 3.
    assert found.pairs[0].p == pytest.approx(2 / 252)
    assert found.pairs[0].p_holm == pytest.approx(6 / 252)
    small = compare({"fish": [9, 7], "liver": [1, 2], "corn": [8, 9]})
    assert small.pairs is not None
    assert {pair.p_holm for pair in small.pairs} == {None}
    assert "no pair can fall below 0.05" in small.as_dict()["design"]["pairs_note"]


def test_against_a_control_the_largest_difference_is_looked_at() -> None:
    found = compare({"fish": [9, 7, 8, 9], "liver": [1, 2, 0, 1], "none": [1, 0, 1, 2]}).as_dict()

    against = {one["bait"]: one["p"] for one in found["design"]["against_control"]}
    assert set(against) == {"fish", "liver"}
    assert against["fish"] < 0.05 < against["liver"]
    assert compare(CLEAR).as_dict()["design"]["against_control"] is None


def test_the_order_of_rows_changes_no_digit() -> None:
    rows = rounds({1: "ABCABC", 2: "BCABCA", 3: "CABCAB"}, {"A": 6, "B": 2, "C": 4})
    again = [rows[i] for i in np.random.default_rng(5).permutation(len(rows))]

    one, other = compare_baits(rows).as_dict(), compare_baits(again).as_dict()
    by_bait = {bait["bait"]: bait for bait in other["baits"]}
    assert one["baits"] == [by_bait[bait["bait"]] for bait in one["baits"]]
    for key in ("permutation", "design", "spread", "effort"):
        assert one[key] == other[key]


def test_the_share_of_draws_in_effect_is_told() -> None:
    drawn = compare_baits(rounds({1: "ABAB", 2: "BABA"}, {"A": 6, "B": 2})).as_dict()

    assert 0.1 < drawn["spread"]["effective_share"] <= 1
    assert compare(CLEAR).as_dict()["spread"]["effective_share"] is None


def test_a_first_look_has_the_rates_and_what_takes_longer_comes_after() -> None:
    rows = rounds({1: "ABAB", 2: "BABA"}, {"A": 6, "B": 2})
    first = first_look(rows)
    whole = completed(first)

    assert (first.baits, first.finding) == (whole.baits, whole.finding)
    assert first.permutation is None
    assert whole.permutation is not None
    assert "If all baits drew alike" in whole.verdict
    assert "If all baits drew alike" not in first.verdict


def test_progress_is_told_and_may_end_the_work() -> None:
    rows = rounds({1: "ABCABC", 2: "BCABCA", 3: "CABCAB"}, {"A": 6, "B": 2, "C": 4})
    told: list[float] = []
    compare_baits(rows, progress=told.append)

    assert told == sorted(told)
    assert 0 <= told[0] <= told[-1] <= 1

    def stop(done: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compare_baits(rows, progress=stop)


@pytest.mark.parametrize("control", ["no bait", "None", "CONTROL"])
def test_the_reference_is_the_control_else_the_first_bait_else_what_was_asked(
    control: str,
) -> None:
    def reference(found: BaitComparison) -> set[str]:
        return {ratio.reference for ratio in found.ratios or ()}

    assert reference(compare({**CLEAR, control: [0, 1]})) == {control}
    assert reference(compare(CLEAR)) == {"fish"}
    assert reference(compare({**CLEAR, control: [0, 1]}, reference="LIVER")) == {"liver"}


def test_a_reference_that_nobody_used_is_refused_with_the_baits_there_are() -> None:
    with pytest.raises(InputProblem) as refused:
        compare(CLEAR, reference="squid")

    assert "'squid'" in refused.value.error
    assert refused.value.what_to_do == "Choose one of: fish, liver."


def test_an_empty_table_is_refused() -> None:
    with pytest.raises(InputProblem, match="no lift to compare"):
        compare_baits([])
    with pytest.raises(InputProblem) as refused:
        compare_baits(lifts({"fish": [1]}, old_bait=True))
    assert "old bait" in refused.value.what_to_do


def test_the_same_table_gives_the_same_answer() -> None:
    patchy = {bait: [3, 0, 8, 1, 2, 9, 4, 0, 2, 5] for bait in "ABC"}

    assert compare(patchy).as_dict() == compare(patchy).as_dict()


# --- the rule for a winner --------------------------------------------------------------


def test_a_bait_that_beats_each_rival_is_the_winner() -> None:
    found = compare(CLEAR)

    assert found.winner == "fish"
    assert found.verdict.startswith("Fish is the winner: it beats liver (more than 99 % sure).")
    assert "this water and season only" in found.verdict


def test_to_beat_one_rival_is_not_to_win() -> None:
    # Fish is far above liver but level with squid.
    found = compare({"fish": [9, 7, 8, 9], "liver": [1, 0, 1, 0], "squid": [8, 9, 7, 8]})

    assert found.winner is None
    assert found.finding.word == "no clear difference"


def test_the_rule_is_about_beating_each_rival_and_not_about_being_best() -> None:
    # Of several weak rivals one is unknown: the chance of best falls with their number.
    found = compare({"fish": [12, 14, 11, 13], "liver": [1, 2, 1, 1], "squid": [5]})

    counts, baits = [12, 14, 11, 13, 1, 2, 1, 1, 5], [0] * 4 + [1] * 4 + [2]
    posterior = exact_posterior(lift_table(counts, [24.0] * 9, baits))
    least = min(posterior.beats[0, 1], posterior.beats[0, 2])
    assert found.finding.chance == pytest.approx(least)
    assert (found.winner == "fish") == (least >= 0.975)


def test_a_lead_is_said_with_its_chance_and_what_would_settle_it() -> None:
    found = compare({"fish": [9, 7, 8, 4], "liver": [6, 2, 3, 5]})

    assert found.winner is None
    assert LEAD_CHANCE <= found.finding.chance < 0.975
    whole = math.floor(100 * found.finding.chance)
    assert found.verdict.startswith(f"Fish leads, not settled: with a chance of {whole} % it ")
    assert "trap sets a bait would settle it; now there are 4" in found.verdict


def test_a_test_of_all_baits_is_not_taken_for_one_of_the_leader() -> None:
    words = "The test is about all baits together and does not say which is best."
    three = compare({"fish": [9, 7, 8, 4], "liver": [8, 6, 7, 5], "corn": [0, 0, 1, 0]})
    assert three.winner is None
    assert words in three.verdict
    two = compare({"fish": [9, 7, 8, 4], "liver": [6, 2, 3, 5]})
    assert words not in two.verdict


def test_equal_baits_are_not_called_equal() -> None:
    found = compare({"fish": [3, 5, 2, 4], "liver": [4, 2, 5, 3]})

    assert found.verdict.startswith("No clear difference between the baits.")
    assert "That does not make them equal" in found.verdict
    assert "winner" not in found.verdict


def test_a_stricter_rule_names_fewer_winners() -> None:
    chance = compare(CLEAR).finding.chance

    assert compare(CLEAR, winner_chance=chance + 1e-6).winner is None
    assert compare(CLEAR, winner_chance=chance - 1e-6).winner == "fish"


def test_the_smaller_a_difference_the_more_traps_it_asks_for() -> None:
    def wanted(fish: list[int]) -> int:
        verdict = compare({"fish": fish, "liver": [3, 2, 3, 2]}).verdict
        match = re.search(r"about (\d+) trap sets a bait would settle it; now there are 4", verdict)
        assert match, verdict
        return int(match.group(1))

    assert 4 < wanted([6, 4, 5, 4]) < wanted([5, 4, 4, 4]) < wanted([4, 4, 4, 3])


def test_a_difference_that_is_hardly_there_asks_for_more_traps_than_anyone_sets() -> None:
    verdict = compare({"fish": [3, 5, 2, 4], "liver": [4, 2, 5, 3]}).verdict

    assert "takes more than 60 trap sets a bait" in verdict


# --- traps without bait -----------------------------------------------------------------


def test_a_control_is_never_best_and_never_the_winner() -> None:
    found = compare({"none": [9, 8, 9, 7], "fish": [1, 0, 2, 1], "liver": [0, 1, 0, 1]})

    assert found.winner is None
    assert found.baits[0].chance_best == 0.0
    assert found.verdict.startswith("No bait is shown to catch more than a trap without bait.")


def test_with_a_control_the_first_sentence_says_who_beats_it() -> None:
    one = compare({"fish": [9, 8, 9], "liver": [0, 0, 1], "none": [0, 0, 1, 0]})
    two = compare({"fish": [9, 8, 9], "liver": [8, 7, 9], "none": [0, 0, 1, 0]})
    perhaps = compare({"fish": [2, 3, 1], "none": [1, 0, 1]})

    assert one.verdict.startswith("Fish catches more than a trap without bait (")
    assert two.verdict.startswith("Fish and liver catch more than a trap without bait (")
    assert perhaps.verdict.startswith("Fish seems to catch more than a trap without bait (")
    assert "Fish has no other bait to be compared with." in perhaps.verdict


def test_beating_no_bait_is_no_win_over_other_baits() -> None:
    found = compare({"fish": [9, 8, 9], "none": [0, 0, 1, 0]})

    assert found.winner is None
    assert found.ratios is not None
    assert found.ratios[0].reference == "none"


# --- the test of the layout -------------------------------------------------------------


def test_a_layout_too_small_for_a_small_p_says_so() -> None:
    # 2 + 2 traps: 6 ways to deal out, 2 of them the same but for the names: p >= 1/3.
    small = compare({"fish": [9, 8], "liver": [1, 0]})
    large = compare({"fish": [9, 8, 9, 7, 8], "liver": [1, 0, 1, 2, 0]})

    assert small.permutation is not None
    assert small.permutation.p_min == pytest.approx(1 / 3)
    assert "No test on this layout can fall below p = 0.33." in small.verdict
    assert "can fall below" not in large.verdict


def test_the_test_is_told_in_words_that_need_no_statistics() -> None:
    found = compare({"fish": [9, 8, 7], "liver": [1, 0, 2]})

    # 6 traps, 3 and 3: 20 ways, in 2 of them the baits are as far apart.
    assert found.permutation is not None
    assert (found.permutation.n_as_extreme, found.permutation.n_arrangements) == (2, 20)
    assert (
        "differences among them as large as these would come up in 2 of 20 ways to deal them out "
        "(p = 0.1)." in found.verdict
    )


def by_hand(
    chance: float, ratio: Interval, n_units: int, test: PermutationResult | None = None
) -> Evidence:
    """Evidence about fish and liver that no table needs to be found for."""
    return Evidence(
        baits=("fish", "liver"),
        controls=(),
        uncounted=(),
        any_catch=True,
        beats=lambda bait, other: chance if bait == "fish" else 1 - chance,
        ratio=lambda bait, other: ratio,
        n_sets={"fish": n_units, "liver": n_units},
        permutation=test,
        winner_chance=0.975,
    )


def test_the_traps_asked_for_are_those_that_find_it_four_times_in_five() -> None:
    # Worked by hand: a ratio of 1.5 within a factor of 2 either way, 4 traps a bait. The
    # half width ln 2 must shrink to ln 1.5 * 1.96 / 2.80: 4 * (ln 2/ln 1.5)^2 * 2.043 = 23.9.
    evidence = by_hand(0.9, Interval(1.5, 0.75, 3.0), 4)

    assert "about 24 trap sets a bait would settle it" in verdict(evidence, find(evidence))


@pytest.mark.parametrize(
    ("chance", "word", "shown"),
    [
        (0.9999, "winner", "more than 99 % sure"),
        (0.975, "winner", "at least 97 % sure"),
        (0.9749, "leads", "leads, not settled: with a chance of 97 %"),
        (0.80, "leads", "leads, not settled: with a chance of 80 %"),
        (0.7999, "no clear difference", "No clear difference"),
    ],
)
def test_the_words_change_at_97_and_a_half_and_at_80_percent(
    chance: float, word: str, shown: str
) -> None:
    evidence = by_hand(chance, Interval(2.0, 0.9, 4.4), 4)

    finding = find(evidence)
    assert finding.word == word
    assert shown in verdict(evidence, finding)


def test_a_winner_that_the_test_does_not_confirm_is_said_to_be_so() -> None:
    # The two look at different things (rates, ranks), so they may disagree; rarely, hence
    # evidence made by hand.
    test = compare({"fish": [3, 5, 2, 4, 3], "liver": [4, 2, 5, 3, 3]}).permutation
    assert test is not None
    assert test.p > 0.05 >= test.p_min
    evidence = by_hand(0.98, Interval(2.0, 1.02, 3.9), 5, test)
    assert "That test alone would not settle it." in verdict(evidence, find(evidence))


def test_the_test_is_given_rates_layout_and_seed(monkeypatch: pytest.MonkeyPatch) -> None:
    given: dict[str, Any] = {}

    def note(rates: Any, labels: Any, **layout: Any) -> None:
        layout.pop("progress")
        given.update(layout, rates=list(rates), labels=list(labels))

    monkeypatch.setattr(tests_module, "permutation_test", note)
    rows = [
        LiftRow(bait="fish", catch=6, soak_h=12.0, row=1, place="1", round="a", block="x"),
        LiftRow(bait="liver", catch=3, soak_h=24.0, row=2, place="2", round="a", block="x"),
        LiftRow(bait="fish", catch=None, soak_h=24.0, row=3, place="3", round="a", block="x"),
        LiftRow(
            bait="fish", catch=2, soak_h=24.0, row=4, place="1", round="b", fraction_counted=0.5
        ),
    ]
    compare_baits(rows, CompareOptions(seed=7))
    # The third row has no count, but a place: NaN keeps it in the history of that place.
    assert np.isnan(given["rates"][2])
    assert given == {
        "rates": [12.0, 3.0, given["rates"][2], 4.0],
        "labels": ["fish", "liver", "fish", "fish"],
        "block": ["x", "x", "x", ""],
        "round_": [("", "a"), ("", "a"), ("", "a"), ("", "b")],
        "place": ["1", "2", "3", "1"],
        "seed": 7,
    }
    compare_baits([*lifts(CLEAR), LiftRow(bait="fish", catch=None, soak_h=None, row=9)])
    assert (len(given["rates"]), len(given["labels"])) == (8, 8)
    compare_baits(lifts(CLEAR))
    assert (given["block"], given["round_"], given["place"]) == (None, None, None)


def test_a_lost_count_does_not_take_a_place_out_of_the_dealing() -> None:
    rows = rounds({1: "ABAB", 2: "ABAB"}, {"A": 6, "B": 2})
    lost = [*rows[:7], LiftRow(bait="B", catch=None, soak_h=None, row=8, round="2", place="4")]

    whole, short = compare_baits(rows).permutation, compare_baits(lost).permutation
    assert whole is not None
    assert short is not None
    # Four places, two baits: 6 ways to deal out the histories, and 2 of them only rename.
    for found in (whole, short):
        assert (found.unit, found.n_arrangements) == ("place", 6)
        assert found.p_min == pytest.approx(1 / 3)


# --- rounds and places ------------------------------------------------------------------


def rounds(layout: dict[int, str], mean: dict[str, int]) -> list[LiftRow]:
    cells = [
        {"bait": bait, "catch": mean[bait] + (number + place) % 2, "soak_h": 24.0,
         "round": number, "place": place}
        for number, baits in layout.items()
        for place, bait in enumerate(baits, start=1)
    ]  # fmt: skip
    return list(lift_rows(cells))


KEPT = "Each bait kept its places: good spots and good baits are hard to tell apart"


def test_baits_that_stay_on_their_places_are_said_to() -> None:
    rows = rounds({1: "ABAB", 2: "ABAB", 3: "ABAB"}, {"A": 6, "B": 2})
    found = compare_baits(rows)

    assert found.baits[0].n_counted == 6
    assert KEPT in found.verdict
    assert "This rests on 12 counted trap sets in 3 rounds: A 6 and B 6." in found.verdict
    assert found.as_dict()["spread"]["places"] is not None
    assert found.as_dict()["spread"]["nights"] is not None


def test_the_rate_is_that_over_the_places_and_rounds_fished() -> None:
    # One place and one round ten times as good as the others: what the user would compute is
    # the mean over them, far above the rate of a typical one.
    cells = [
        {"bait": bait, "catch": catch * (10 if place == 1 else 1) * (3 if number == 1 else 1),
         "soak_h": 24.0, "round": number, "place": place}
        for number, baits in {1: "ABABAB", 2: "BABABA", 3: "ABABAB", 4: "BABABA"}.items()
        for place, bait in enumerate(baits, start=1)
        for catch in [4]
    ]  # fmt: skip
    found = compare_baits(lift_rows(cells))

    mean = sum(int(cell["catch"]) for cell in cells) / len(cells)
    rate = found.baits[0].rate_per_24h
    assert rate is not None
    assert rate.low < mean < rate.high
    assert rate.median > 0.75 * mean


def test_rows_of_fixed_places_would_have_promised_more() -> None:
    rows = rounds(dict.fromkeys(range(1, 7), "ABAB"), {"A": 6, "B": 4})
    unplaced = [LiftRow(bait=r.bait, catch=r.catch, soak_h=24.0, row=r.row) for r in rows]

    def width(found: BaitComparison) -> float:
        assert found.ratios is not None
        ratio = found.ratios[0].ratio
        assert ratio is not None
        return ratio.high / ratio.low

    assert width(compare_baits(rows)) > 1.2 * width(compare_baits(unplaced))


def test_rotated_baits_are_not_said_to_have_stayed() -> None:
    assert KEPT not in compare_baits(rounds({1: "ABAB", 2: "BABA"}, {"A": 6, "B": 2})).verdict
    assert KEPT not in compare(CLEAR).verdict


def test_several_rounds_without_places_are_a_warning() -> None:
    rows = [
        LiftRow(bait=bait, catch=2, soak_h=24.0, row=n, round=str(n % 3))
        for n, bait in enumerate("ABABAB")
    ]

    assert any("3 rounds and no places" in warning for warning in compare_baits(rows).warnings)


def test_places_that_only_some_rows_name_are_not_used_and_it_is_said() -> None:
    rows = rounds({1: "ABAB", 2: "ABAB"}, {"A": 6, "B": 2})
    found = compare_baits([*rows, LiftRow(bait="A", catch=5, soak_h=24.0, row=9, round="2")])

    assert "Some rows name no place, so places were not used." in found.warnings
    assert found.permutation is not None
    assert found.permutation.unit == "trap"


def test_halved_soaks_are_counted_in_a_warning() -> None:
    rows = [*lifts(CLEAR), LiftRow(bait="fish", catch=1, soak_h=24.0, row=9, condition="disturbed")]
    options = CompareOptions(include_disturbed=True, half_soak_for_disturbed=True)

    assert any("1 disturbed trap counts" in text for text in compare_baits(rows, options).warnings)


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (0.004, "less than 0.01"),
        (0.28, "0.28"),
        (0.987, "0.987"),
        (1.02, "1.02"),
        (0.9996, "0.9996"),
        (1.002, "1.0020"),
        (2.16, "2.2"),
        (24.6, "25"),
        (460.0, "more than 100"),
    ],
)
def test_ratios_are_written_with_the_digits_that_mean_something(ratio: float, words: str) -> None:
    assert times(ratio) == words


def test_where_all_scents_meet_the_verdict_says_it_is_a_choice_test() -> None:
    assert CHOICE_TEST in compare(CLEAR, all_scents_meet=True).verdict
    assert CHOICE_TEST not in compare(CLEAR).verdict


# --- awkward tables ---------------------------------------------------------------------


AWKWARD: dict[str, dict[str, list[int | None]]] = {
    "a bait with empty traps": {"fish": [4, 6, 5], "liver": [0, 0, 0]},
    "a bait with one trap": {"fish": [4, 6, 5], "liver": [2]},
    "nothing caught": {"fish": [0, 0, 0], "liver": [0, 0], "squid": [0]},
    "one count of 5,000": {"fish": [5000, 1, 0], "liver": [2, 1, 0], "squid": [0, 1, 0]},
    "less scatter than chance": {"fish": [4] * 5, "liver": [4] * 5},
    "every trap of a bait lost": {"fish": [4, 6, 5], "liver": [None, None], "squid": [1, 2, 3]},
    "every trap lost": {"fish": [None], "liver": [None]},
    "one bait": {"fish": [4, 6, 5]},
    "one bait left": {"fish": [4, 6, 5], "liver": [None]},
    "one trap": {"fish": [4]},
    "no bait only": {"none": [1, 0]},
    "no bait and all lost": {"none": [1, 0], "fish": [None]},
}


@pytest.mark.parametrize("name", AWKWARD)
def test_an_awkward_table_gives_a_finite_honest_answer(name: str) -> None:
    found = compare(AWKWARD[name])

    # allow_nan: NaN and infinity raise.
    answer = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert answer["verdict"].endswith(".")
    known = [bait for bait in answer["baits"] if bait["n_counted"]]
    for bait in known:
        rate = bait["rate_per_24h"]
        assert 0 < rate["low"] < rate["median"] < rate["high"]
    if any(bait["bait"] != "none" for bait in known):
        assert sum(bait["chance_best"] for bait in known) == pytest.approx(1.0)
    if answer["winner"]:
        assert len(known) > 1


@pytest.mark.parametrize(
    "name", ["nothing caught", "one bait", "one bait left", "one trap", "every trap lost"]
)
def test_without_two_baits_or_a_catch_there_are_no_ratios_and_no_test(name: str) -> None:
    answer = compare(AWKWARD[name]).as_dict()

    assert answer["ratios"] is None
    assert answer["permutation"] is None
    assert answer["winner"] is None
    assert any("No ratios and no test" in warning for warning in answer["warnings"])


def test_a_bait_that_caught_nothing_can_still_be_beaten() -> None:
    found = compare(AWKWARD["a bait with empty traps"])

    assert found.winner == "fish"
    assert any("Liver caught nothing in 3 traps" in warning for warning in found.warnings)
    # Garwood's upper limit of a count of 0 is 3.69; over three trap-days 1.2.
    assert any("it might still be 1.2 per 24 h." in warning for warning in found.warnings)


def test_a_bait_with_every_trap_lost_has_no_numbers_and_is_named() -> None:
    found = compare(AWKWARD["every trap of a bait lost"])

    answer = found.as_dict()
    assert answer["baits"][1]["rate_per_24h"] == {"median": None, "low": None, "high": None}
    assert answer["baits"][1]["chance_best"] is None
    assert answer["ratios"][0]["ratio"] == {"median": None, "low": None, "high": None}
    assert "Nothing can be said of liver." in found.verdict
    assert any("No trap with liver has a valid count" in warning for warning in found.warnings)


def test_one_huge_count_is_no_winner_and_is_pointed_at() -> None:
    found = compare(AWKWARD["one count of 5,000"])

    assert found.winner is None
    assert any("Row 1 holds 5000 of all 5005 animals" in warning for warning in found.warnings)


def test_a_single_trap_is_a_warning() -> None:
    warnings = compare(AWKWARD["a bait with one trap"]).warnings

    assert any("Liver was counted in one trap only" in warning for warning in warnings)


def test_nothing_caught_is_said_and_not_tested() -> None:
    verdict = compare(AWKWARD["nothing caught"]).verdict

    assert verdict.startswith("Nothing was caught, so the baits cannot be told apart.")


def test_equal_rates_are_compared_but_not_tested() -> None:
    found = compare(AWKWARD["less scatter than chance"])

    assert found.permutation is None
    assert found.ratios is not None
    assert any("No test: every trap caught at the same rate" in text for text in found.warnings)


def test_mean_soaks_that_differ_between_baits_are_a_warning() -> None:
    rows = [*lifts(CLEAR), LiftRow(bait="fish", catch=9, soak_h=72.0, row=9)]

    words = "Mean soaks differ between baits by more than 10 % (fish 33.6 h and liver 24 h)"
    assert any(text.startswith(words) for text in compare_baits(rows).warnings)
    assert not any("Mean soaks" in text for text in compare(CLEAR).warnings)


# --- sensitivity ------------------------------------------------------------------------


def test_it_is_told_whether_disturbed_traps_decide() -> None:
    # Without its two disturbed, empty traps fish wins; with them it does not.
    rows = lifts({"fish": [9, 7, 8], "liver": [2, 2, 1]})
    rows += [
        LiftRow(bait="fish", catch=0, soak_h=24.0, row=7 + n, condition="disturbed")
        for n in range(2)
    ]
    counted, half, *_, dropped = depends_on(rows)

    assert compare_baits(rows).winner == "fish"
    assert counted.switch == "disturbed traps counted"
    assert counted.changes is True
    assert half.finding is not None
    assert half.changes == (half.finding.word != "winner")
    assert dropped.changes is None


def test_the_switches_turn_back_too() -> None:
    rows = lifts({"fish": [9, 7, 8], "liver": [2, 2, 1]})
    rows += [
        LiftRow(bait="fish", catch=0, soak_h=24.0, row=7 + n, condition="disturbed")
        for n in range(2)
    ]
    left_out = depends_on(rows, CompareOptions(include_disturbed=True))[0]

    assert left_out.switch == "disturbed traps left out"
    assert left_out.finding is not None
    assert left_out.finding.word == "winner"
    assert left_out.changes is True


def test_another_bait_slightly_ahead_is_no_other_finding() -> None:
    rows = lifts({"fish": [4, 4, 5], "liver": [4, 4, 4]})
    rows += [LiftRow(bait="liver", catch=8, soak_h=24.0, row=7, condition="disturbed")]
    counted = depends_on(rows)[0]

    assert counted.finding is not None
    assert compare_baits(rows).finding.bait == "fish"
    assert (counted.finding.word, counted.finding.bait) == ("no clear difference", "liver")
    assert counted.changes is False


def test_without_disturbed_traps_no_switch_matters() -> None:
    checks = depends_on(lifts(CLEAR))
    assert [check.changes for check in checks] == [False] * 5 + [None]


def test_it_is_told_whether_the_growth_of_catch_with_soak_decides() -> None:
    # Fish soaked twice as long and caught hardly more: in step that is a loss.
    rows = [
        LiftRow(bait=bait, catch=catch, soak_h=soak_h, row=n)
        for n, (bait, catch, soak_h) in enumerate(
            [("fish", c, 48.0) for c in (11, 10, 12, 11, 10)]
            + [("liver", c, 24.0) for c in (10, 9, 11, 10, 9)], 1
        )
    ]  # fmt: skip
    by_name = {check.switch: check for check in depends_on(rows)}
    linear = by_name["the catch taken to grow in step with the soak"]

    assert linear.finding is not None
    assert (linear.finding.word, linear.finding.bait) == ("winner", "liver")
    assert linear.changes is (compare_baits(rows).winner != "liver")
    equal = {check.switch: check.changes for check in depends_on(lifts(CLEAR))}
    assert equal["the catch taken to grow in step with the soak"] is False


# --- tables with known answers ----------------------------------------------------------


def table(name: str, bait: str, catch: str) -> list[LiftRow]:
    with (COUNTS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = [{"bait": r[bait], "catch": r[catch], "soak_h": 24} for r in csv.DictReader(file)]
    return list(lift_rows(rows))


def test_of_six_sprays_three_leave_many_and_none_of_these_wins() -> None:
    # InsectSprays (Beall 1942): means A 14.5, B 15.3, F 16.7 against C 2.1, D 4.9, E 3.5.
    found = compare_baits(table("InsectSprays", "spray", "count"))

    assert found.winner is None
    assert found.permutation is not None
    assert found.permutation.p < 1e-3
    best = {bait.bait: bait.chance_best or 0.0 for bait in found.baits}
    assert best["A"] + best["B"] + best["F"] > 0.999
    assert found.ratios is not None
    low = {ratio.bait: ratio.ratio for ratio in found.ratios}
    for bait in "CDE":
        interval = low[bait]
        assert interval is not None
        assert interval.high < 1


# --- trials with known truth ------------------------------------------------------------


def winner_of(rng: np.random.Generator, n_baits: int, n: int, k: float, ratio: float) -> str | None:
    """Winner of one trial in one round, mean 5 a trap; bait 0 catches `ratio` times as much."""
    means = [5.0 * ratio] + [5.0] * (n_baits - 1)
    catches = {
        f"bait {j}": [int(y) for y in rng.negative_binomial(k, k / (k + mean), n)]
        for j, mean in enumerate(means)
    }
    return compare(catches).winner


def test_identical_baits_seldom_have_a_winner() -> None:
    # Patchy counts (k = 1), 4 traps a bait, 2 to 4 baits by turns; seeded.
    rng = np.random.default_rng(41)
    winners = [winner_of(rng, 2 + trial % 3, 4, 1.0, 1.0) for trial in range(90)]

    assert sum(winner is not None for winner in winners) <= 4


def test_a_fourfold_bait_is_found_with_twelve_traps() -> None:
    rng = np.random.default_rng(42)
    winners = [winner_of(rng, 3 + trial % 2, 12, 2.0, 4.0) for trial in range(12)]

    assert winners.count("bait 0") >= 10
    assert set(winners) <= {"bait 0", None}


@pytest.mark.study
@pytest.mark.parametrize("k", [0.5, 1.0, 4.0])
@pytest.mark.parametrize("n", [4, 6])
def test_of_400_trials_without_a_difference_few_name_a_winner(
    n: int, k: float, record_property: Callable[[str, object], None]
) -> None:
    rng = np.random.default_rng([n, int(10 * k)])
    found = [winner_of(rng, 2 + trial % 3, n, k, 1.0) is not None for trial in range(400)]

    for baits in (2, 3, 4):
        record_property(f"winners of {baits} baits", float(np.mean(found[baits - 2 :: 3])))
    record_property("winners", float(np.mean(found)))
    assert np.mean(found) <= 0.05


@pytest.mark.study
@pytest.mark.parametrize("n_baits", [2, 3, 4])
@pytest.mark.parametrize("k", [1.0, 2.0, 4.0])
def test_of_100_trials_with_a_fourfold_bait_most_name_it(
    n_baits: int, k: float, record_property: Callable[[str, object], None]
) -> None:
    rng = np.random.default_rng([n_baits, int(10 * k), 12])
    found = [winner_of(rng, n_baits, 12, k, 4.0) for _ in range(100)]

    record_property("named", found.count("bait 0"))
    assert found.count("bait 0") > 60
    assert set(found) <= {"bait 0", None}


def test_a_bait_behind_every_other_is_named_though_the_best_is_open() -> None:
    found = compare(
        {
            "fish": [9, 12, 8, 11, 10, 9],
            "liver": [10, 9, 11, 8, 12, 10],
            "corn": [1, 0, 1, 0, 2, 1],
        }
    )

    assert found.winner is None
    assert "Corn is behind every other bait (more than 99 % sure)." in found.verdict
    two = compare({"fish": [9, 12, 8, 11], "corn": [1, 0, 1, 0]})
    assert "behind every other" not in two.verdict


def test_a_trap_that_holds_much_of_a_bait_is_named() -> None:
    found = compare({"fish": [30, 3, 4, 2, 5], "liver": [4, 5, 3, 6, 4]})
    even = compare({"fish": [9, 8, 10, 9, 8], "liver": [4, 5, 3, 6, 4]})

    words = "Row 1 holds 30 of the 44 animals of fish: the verdict may hang on it."
    assert words in found.warnings
    assert not any("may hang on it" in warning for warning in even.warnings)


def test_a_bait_with_a_comma_in_its_name_stays_one_bait_in_a_list() -> None:
    found = compare({"roach, cut": [9, 8, 9, 7], "salt and liver": [1, 0, 2, 1], "corn": [1, 1, 0]})

    assert found.verdict.startswith(
        "“roach, cut” is the winner: it beats “salt and liver” and corn"
    )
    assert "“roach, cut” 4, “salt and liver” 4 and corn 3." in found.verdict


def test_of_two_baits_that_are_level_the_same_one_is_named_in_any_order() -> None:
    one = compare({"liver": [3, 3], "fish": [3, 3]}).finding
    other = compare({"fish": [3, 3], "liver": [3, 3]}).finding

    assert one == other
    assert one.bait == "fish"


def test_a_block_that_only_one_bait_entered_is_told() -> None:
    rows = [
        LiftRow(bait=bait, catch=catch, soak_h=24.0, row=n, block=block)
        for n, (bait, catch, block) in enumerate(
            [("fish", 5, "1"), ("liver", 2, "1"), ("fish", 6, "2"), ("liver", 3, "2"),
             ("fish", 4, "3"), ("fish", 7, "3")], 1
        )
    ]  # fmt: skip
    words = "1 block holds counts of one bait only"

    assert any(text.startswith(words) for text in compare_baits(rows).warnings)
    assert not any("of one bait only" in text for text in compare_baits(rows[:4]).warnings)


def test_a_trap_night_is_one_trap_for_the_mean_soak() -> None:
    def factor(soaks_h: list[float]) -> tuple[float, dict[str, Any]]:
        rows = [
            LiftRow(bait=bait, catch=4 + n, soak_h=soak_h, row=n)
            for n, (bait, soak_h) in enumerate(zip("ABABAB", soaks_h, strict=True), 1)
        ]
        answer = compare_baits(rows).as_dict()
        bait = answer["baits"][0]
        return bait["rate_per_trap_night"]["high"] / bait["rate_per_24h"]["high"], answer["effort"]

    equal, effort = factor([12.0] * 6)
    assert effort["exponent"] is None
    assert equal == pytest.approx(0.5)
    unequal, effort = factor([12.0, 12.0, 24.0, 24.0, 48.0, 48.0])
    # The mean soak is 28 h; catch grows less than in step with it.
    assert unequal == pytest.approx((28 / 24) ** effort["exponent"]["median"])
    assert 1 < unequal < 28 / 24

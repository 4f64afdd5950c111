"""Every two baits as cells, and how much catches differ, in words."""

import pytest

from trapline.analyses.bait_comparison import (
    BaitComparison,
    compare_baits,
    first_look,
    lift_rows,
)
from trapline.analyses.bait_verdict import verdict_in_two
from trapline.analyses.pair_words import differ_lines, pair_lines, pair_note, spread_lines
from trapline.science.intervals import Interval
from trapline.science.posterior import Spreads

COUNTS = {"fish": (9, 7, 8, 6), "liver": (1, 2, 0, 1), "corn": (4, 5, 3, 4)}
ROWS = lift_rows(
    [
        {"bait": bait, "catch": catch, "soak_h": 24, "round": at % 2, "place": f"P{n}{at // 2}"}
        for n, (bait, counts) in enumerate(COUNTS.items())
        for at, catch in enumerate(counts)
    ]
)


@pytest.fixture(scope="module")
def whole() -> BaitComparison:
    return compare_baits(ROWS)


def test_the_bait_that_is_ahead_stands_first_in_its_pair(whole: BaitComparison) -> None:
    lines = pair_lines(whole)
    assert [(line.bait, line.other) for line in lines] == [
        ("fish", "liver"), ("fish", "corn"), ("corn", "liver"),
    ]  # fmt: skip
    for line in lines:
        assert float(line.ratio.split()[0]) > 1.0
        assert line.beats.startswith(("over", "9", "8"))


def test_a_pair_has_its_p_or_the_note_says_why_not(whole: BaitComparison) -> None:
    assert whole.tests.pairs is not None
    tested = [line.p for line in pair_lines(whole)]
    assert all(0 < float(cell) <= 1 for cell in tested)
    if whole.tests.pairs.note:
        said = pair_note(whole)
        assert said.startswith("p is of each pair by itself; the smallest possible here is ")
        assert said.endswith(f". {whole.tests.pairs.note}")
        least = float(said.removesuffix(f". {whole.tests.pairs.note}").split()[-1])
        assert least == pytest.approx(min(one.p_min for one in whole.tests.pairs.pairs), rel=0.05)
        assert min(map(float, tested)) >= least
    else:
        assert "Holm" in pair_note(whole)


def test_a_first_look_says_that_the_pairs_are_not_tested_yet() -> None:
    first = first_look(ROWS)
    assert [line.p for line in pair_lines(first)] == ["–"] * 3
    assert pair_note(first, is_tested=False) == "The test of every pair has not been made yet."
    assert pair_note(first) != pair_note(first, is_tested=False)


def test_the_verdict_in_two_has_every_sentence_of_the_whole(whole: BaitComparison) -> None:
    short, rest = verdict_in_two(whole.evidence, whole.finding)
    # What was found stands apart from what would settle it.
    assert short.count("\n") <= 1
    short = short.replace("\n", " ")
    sentences = [one for part in (short, rest) for one in part.split(". ")]
    assert rest.startswith("If all baits drew alike")
    assert short.startswith("Fish")
    assert "This rests on 12 counted trap sets" in short
    assert len(" ".join((short, rest))) == len(whole.verdict)
    assert all(sentence.rstrip(".") in whole.verdict for sentence in sentences)


def test_one_bait_has_no_pairs_and_no_note() -> None:
    alone = compare_baits([row for row in ROWS if row.bait == "fish"])
    assert (pair_lines(alone), pair_note(alone)) == ((), "")
    assert (pair_lines(None), pair_note(None)) == ((), "")


def test_what_the_model_has_no_effect_of_gets_no_sentence() -> None:
    spreads = Spreads(Interval(0.5, 0.1, 1.0), Interval(4.0, 1.0, 400.0))
    (line,) = spread_lines(spreads)
    assert line == (
        "Patchiness: traps with the same bait differ by 50 % (10 to 100 %) more than chance alone "
        "makes them (k\u00a0=\u00a04.0, 1.0 to over 100)."
    )
    assert spread_lines(None) == ()


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("rounds", "Rounds: a good one (one in six) gives 2.7 times (1.1 to 7.4)"),
        ("places", "Places: a good one (one in six) gives 2.7 times (1.1 to 7.4)"),
        ("trips", "Trips: a good one (one in six) gives 2.7 times (1.1 to 7.4)"),
        ("bait_trips", "Baits from trip to trip: on one trip in three a bait"),
        ("exponent", "Soak: twice the soak gives 2.0 times (1.1 to 4.0)"),
    ],
)
def test_each_effect_of_the_model_gets_a_sentence(name: str, begins: str) -> None:
    effect = {name: Interval(1.0, 0.1, 2.0)}
    spreads = Spreads(Interval(0.5, 0.1, 1.0), Interval(4.0, 1.0, 100.0), **effect)
    lines = spread_lines(spreads)
    assert len(lines) == 2
    assert lines[1].startswith(begins)


def test_empty_traps_are_told_with_their_exact_limits(whole: BaitComparison) -> None:
    *spreads, empty = differ_lines(whole)

    assert tuple(spreads) == spread_lines(whole.spreads)
    # Clopper and Pearson: 0 of 4 is 0 to 60.24 %, 1 of 4 is 0.63 to 80.59 %.
    assert empty == (
        "Empty traps: fish 0 of 4 (0 to 60 %), liver 1 of 4 (1 to 81 %) and corn 0 of 4 "
        "(0 to 60 %)."
    )
    assert differ_lines(None) == ()


def test_of_nothing_caught_only_the_empty_traps_are_told() -> None:
    rows = lift_rows([{"bait": bait, "catch": 0, "soak_h": 24} for bait in ("fish", "liver")])

    (only,) = differ_lines(first_look(rows))
    assert only.startswith("Empty traps: fish 1 of 1")

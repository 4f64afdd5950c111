from trapline.analyses.bait_comparison import LiftRow, compare_baits, lift_rows
from trapline.analyses.counted_lifts import CompareOptions
from trapline.drawing.chart_content import bait_columns, ratio_rows
from trapline.model.bait import Bait

TABLE = [
    {"bait": "Fish", "catch": 6, "soak_h": 24},
    {"bait": "Fish", "catch": 9, "soak_h": 36},
    {"bait": "fish", "catch": 4, "soak_h": 12, "fraction_counted": 0.5},
    {"bait": "Fish", "catch": 3, "soak_h": 24, "condition": "disturbed"},
    {"bait": "None", "catch": 1, "soak_h": 24},
    {"bait": "None", "catch": 0, "soak_h": 24},
    {"bait": "None", "catch": None, "soak_h": 24},
    {"bait": "None", "catch": 2, "soak_h": 12, "fraction_counted": 0.5, "condition": "robbed"},
]
BAITS = (Bait(name="Fish", colour="#CC79A7", mark="star"),)


def _made(options: CompareOptions | None = None):
    rows, options = lift_rows(TABLE), options or CompareOptions()
    comparison = compare_baits(rows, options)
    return comparison, bait_columns(comparison, rows, options, BAITS)


def test_each_lift_that_counts_is_a_rate_per_24_hours():
    _, (fish, none) = _made()
    # 9 in 36 h is 6 a day; 4 in half of what was there, in half a day, is 16 a day.
    assert fish.rates_per_24h == (6.0, 6.0, 16.0)
    assert none.rates_per_24h == (1.0, 0.0)
    assert (fish.colour, fish.mark) == ("#CC79A7", "star")


def test_each_lift_left_out_keeps_its_reason_and_its_rate_where_it_has_one():
    comparison, (fish, none) = _made()
    assert [(one.why, one.rate_per_24h) for one in fish.left_out] == [
        ("disturbed: left out of a comparison", 3.0)
    ]
    assert [(one.why, one.rate_per_24h) for one in none.left_out] == [
        ("the catch is blank", None),
        ("robbed: no valid count", 8.0),
    ]
    assert len(comparison.excluded) == 3


def test_a_switch_that_counts_disturbed_traps_is_followed():
    _, (fish, _) = _made(CompareOptions(include_disturbed=True))
    assert fish.rates_per_24h == (6.0, 6.0, 16.0, 3.0)
    assert fish.left_out == ()


def test_intervals_and_ratios_are_those_of_the_comparison():
    comparison, (fish, none) = _made()
    assert (fish.rate, none.rate) == tuple(bait.rate_per_24h for bait in comparison.baits)
    (row,) = ratio_rows(comparison, BAITS)
    assert (row.bait, row.colour, row.mark) == ("Fish", "#CC79A7", "star")
    assert row.ratio == comparison.ratios[0].ratio


def test_old_bait_is_a_column_of_its_own_when_it_counts():
    old = LiftRow(bait="Fish", catch=2, soak_h=24.0, row=9, old_bait=True)
    rows, options = [*lift_rows(TABLE), old], CompareOptions(include_old_bait=True)
    columns = bait_columns(compare_baits(rows, options), rows, options, BAITS)
    assert [column.bait for column in columns] == ["Fish", "None", "Fish (old bait)"]
    assert columns[2].rates_per_24h == (2.0,)
    assert (columns[2].colour, columns[2].mark) == ("#CC79A7", "star")
    without = CompareOptions()
    columns = bait_columns(compare_baits(rows, without), rows, without, BAITS)
    assert [one.why for one in columns[0].left_out][1:] == ["old bait: never pooled with fresh"]


def test_without_a_catch_there_are_no_ratios():
    rows = lift_rows([{"bait": "a", "catch": 0, "soak_h": 5}, {"bait": "b", "catch": 0,
                                                               "soak_h": 5}])  # fmt: skip
    assert ratio_rows(compare_baits(rows)) == ()

"""Which lifts count, why others do not, and when places are summed over rounds."""

from typing import Any

import pytest

from trapline.analyses.counted_lifts import CompareOptions, count_lifts, place_keys
from trapline.analyses.lifts import LiftRow


def lift(bait: str = "fish", catch: int | None = 3, row: int = 1, **more: Any) -> LiftRow:
    return LiftRow(**{"bait": bait, "catch": catch, "soak_h": 24.0, "row": row, **more})


@pytest.mark.parametrize(
    ("more", "why"),
    [
        ({"condition": "disturbed"}, "disturbed"),
        ({"condition": "robbed"}, "robbed"),
        ({"condition": "lost", "catch": None, "soak_h": None}, "lost"),
        ({"condition": "not lifted"}, "not lifted"),
        ({"catch": None}, "catch is blank"),
        ({"soak_h": None}, "soak is blank"),
        ({"old_bait": True}, "old bait"),
    ],
)
def test_a_row_without_a_valid_count_is_left_out_and_listed(more: dict[str, Any], why: str) -> None:
    lifts = count_lifts([lift(), lift(row=2, **more)], CompareOptions())

    assert [counted.row.row for counted in lifts.counted] == [1]
    assert [(row.row, why in row.why) for row in lifts.excluded] == [(2, True)]


@pytest.mark.parametrize("condition", ["robbed", "lost", "not lifted"])
def test_no_switch_brings_back_what_has_no_valid_count(condition: str) -> None:
    options = CompareOptions(
        include_disturbed=True, half_soak_for_disturbed=True, include_old_bait=True
    )

    assert count_lifts([lift(condition=condition)], options).counted == ()


def test_disturbed_traps_count_whole_or_half_when_asked() -> None:
    rows = [lift(condition="disturbed")]

    (whole,) = count_lifts(rows, CompareOptions(include_disturbed=True)).counted
    half_options = CompareOptions(include_disturbed=True, half_soak_for_disturbed=True)
    (half,) = count_lifts(rows, half_options).counted
    assert (whole.soak_h, whole.exposure_days) == (24.0, 1.0)
    assert (half.soak_h, half.exposure_days) == (12.0, 0.5)


def test_half_a_count_is_half_an_exposure_but_a_whole_soak() -> None:
    (counted,) = count_lifts([lift(fraction_counted=0.5)], CompareOptions()).counted

    assert (counted.soak_h, counted.exposure_days) == (24.0, 0.5)


def test_old_bait_is_a_bait_of_its_own() -> None:
    rows = [lift(), lift(row=2, old_bait=True)]

    lifts = count_lifts(rows, CompareOptions(include_old_bait=True))
    assert lifts.baits == ("fish", "fish (old bait)")
    assert count_lifts(rows, CompareOptions()).n_traps == {"fish": 1}


def test_one_bait_written_in_two_ways_is_one_bait_and_said_so() -> None:
    lifts = count_lifts([lift("Fish head"), lift("fish  head ", row=2)], CompareOptions())

    assert lifts.baits == ("Fish head",)
    assert lifts.spellings == ("'fish head' was read as 'Fish head'.",)


def test_traps_without_bait_are_known_by_several_names() -> None:
    options = CompareOptions()

    assert all(options.is_control(name) for name in ("No bait", "NONE", "control"))
    assert not options.is_control("fish")
    assert CompareOptions(control_names=("Empty",)).is_control("empty")
    assert CompareOptions(control_names=("Empty  can\u00a0",)).is_control("empty can (old bait)")


def trial(rounds: dict[int, str], **more: Any) -> list[LiftRow]:
    """One lift at each place in each round; a text of baits per round, place by place."""
    return [
        lift(bait, 2 + place, row=10 * number + place, round=str(number), place=str(place), **more)
        for number, baits in rounds.items()
        for place, bait in enumerate(baits)
    ]


def test_the_same_number_in_two_blocks_is_two_places() -> None:
    rows = trial({1: "AB", 2: "AB"}, block="east") + trial({1: "BA", 2: "BA"}, block="west")
    counted = count_lifts(rows, CompareOptions()).counted

    assert len(set(place_keys([one.row for one in counted]) or [])) == 4


def test_the_same_number_on_two_trips_is_one_place() -> None:
    rows = trial({1: "AB"}, trip="June") + trial({1: "BA"}, trip="July")

    assert place_keys(rows) == ["0", "1", "0", "1"]


def test_no_winner_is_named_below_the_least_chance() -> None:
    assert CompareOptions(winner_chance=0.8).winner_chance == 0.975
    assert CompareOptions(winner_chance=0.99).winner_chance == 0.99

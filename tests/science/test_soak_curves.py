"""Catches as they grow with the soak: worked values, limits, and integration by steps."""

import math

import pytest

from trapline.errors import InvalidValue
from trapline.science.soak_curves import (
    crowded_trap,
    entry_and_escape_catch,
    fading_bait_catch,
    fading_bait_peak,
    saturating_catch,
    saturation_from_two_soaks,
    standardised_catch,
)


@pytest.mark.parametrize(
    ("days", "catch"), [(0.5, 1.88005), (1, 3.53919), (2, 6.29551), (3, 8.44214), (7, 13.21962)]
)
def test_entries_and_escapes_balance_out(days: float, catch: float) -> None:
    # 4 enter a day, a quarter of those inside escape a day; computed independently (numpy).
    assert entry_and_escape_catch(4, 0.25, days) == pytest.approx(catch, abs=5e-6)


@pytest.mark.parametrize(("days", "catch"), [(1, 3.28737), (1.84839, 3.77976), (5, 2.23813)])
def test_a_fading_bait_loses_what_it_caught(days: float, catch: float) -> None:
    # Computed independently with numpy: 6 a day while fresh, fading 1, escape 0.25 a day.
    assert fading_bait_catch(6, 1, 0.25, days) == pytest.approx(catch, abs=5e-6)


def test_the_peak_of_a_fading_bait_is_where_it_catches_most() -> None:
    peak = fading_bait_peak(1.0, 0.25)

    assert peak == pytest.approx(1.84839, abs=5e-6)  # ln(0.25)/(0.25 - 1)
    most = fading_bait_catch(6, 1, 0.25, peak)
    assert most > fading_bait_catch(6, 1, 0.25, peak - 0.05)
    assert most > fading_bait_catch(6, 1, 0.25, peak + 0.05)


def test_fading_as_fast_as_escaping_is_the_limit_of_nearly_as_fast() -> None:
    # a0 t exp(-p t), peak at 1/p; elementary.
    assert fading_bait_catch(6, 0.5, 0.5, 3) == pytest.approx(18 * math.exp(-1.5))
    assert fading_bait_catch(6, 0.5, 0.5 + 1e-12, 3) == pytest.approx(18 * math.exp(-1.5))
    assert fading_bait_peak(0.5, 0.5) == 2.0
    assert fading_bait_peak(0.5, 0.5 + 1e-12) == pytest.approx(2.0)


def test_a_fading_bait_agrees_with_the_sum_of_small_steps() -> None:
    inside, step = 0.0, 1e-4
    for index in range(20_000):
        time = (index + 0.5) * step
        inside += step * (6 * math.exp(-time) - 0.25 * inside)

    assert fading_bait_catch(6, 1, 0.25, 2.0) == pytest.approx(inside, rel=1e-4)


def test_a_crowded_trap_fills_towards_its_limit() -> None:
    # Computed independently: a 8, room 12, escape 0.25 a day.
    rate, limit = crowded_trap(8, 12, 0.25)

    assert rate == pytest.approx(0.916667, abs=5e-7)
    assert limit == pytest.approx(8.727273, abs=5e-7)
    assert saturating_catch(limit, rate, 1.0) == pytest.approx(5.237676, abs=5e-7)


def test_two_soaks_tell_where_the_catch_levels_off() -> None:
    # Worked by hand: 6 after 24 h and 8 after 48 h; kT = -ln(8/6 - 1) = ln 3.
    rate, limit = saturation_from_two_soaks(6, 8, 24)

    assert rate == pytest.approx(math.log(3) / 24)
    assert limit == pytest.approx(9.0)
    assert saturating_catch(limit, rate, 48) == pytest.approx(8.0)


@pytest.mark.parametrize(("first", "second"), [(6, 12), (6, 13), (6, 6), (6, 5)])
def test_catches_that_do_not_level_off_are_refused(first: float, second: float) -> None:
    with pytest.raises(InvalidValue, match="no levelling off"):
        saturation_from_two_soaks(first, second, 24)


def test_a_short_soak_is_standardised_by_time_or_by_its_curve() -> None:
    # 7 in 16 h: 10.5 in step with time, 8.8831 when it levels off at 0.05/h (numpy).
    assert standardised_catch(7, 16) == 10.5
    assert standardised_catch(7, 16, 0.05) == pytest.approx(8.8831, abs=5e-5)
    assert standardised_catch(7, 24, 0.05) == pytest.approx(7.0)


def test_an_empty_trap_stays_empty_and_no_time_catches_nothing() -> None:
    assert saturating_catch(9, 0.05, 0) == 0.0
    assert entry_and_escape_catch(0, 0.25, 5) == 0.0
    assert fading_bait_catch(6, 1, 0.25, 0) == 0.0


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_impossible_numbers_are_refused(wrong: float) -> None:
    with pytest.raises(InvalidValue):
        saturating_catch(wrong, 0.05, 24)
    with pytest.raises(InvalidValue):
        entry_and_escape_catch(4, wrong, 24)
    with pytest.raises(InvalidValue):
        fading_bait_catch(4, 1, 0.25, wrong)
    with pytest.raises(InvalidValue):
        standardised_catch(4, wrong)

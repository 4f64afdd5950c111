"""Soak and effort: worked values, clock changes, and what must be refused."""

import datetime as dt
import math
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from trapline.errors import InvalidValue
from trapline.science.effort import (
    catch_per_24h,
    corrected_effort,
    effort_hours,
    escape_hazard,
    share_still_inside,
    soak_hours,
    trap_nights,
    trip_rate,
    trip_rate_interval,
)

UTC = dt.UTC
OSLO = ZoneInfo("Europe/Oslo")


def test_a_soak_is_the_time_between_two_instants() -> None:
    set_at = dt.datetime(2026, 8, 1, 18, 30, tzinfo=UTC)

    assert soak_hours(set_at, set_at + dt.timedelta(hours=22, minutes=15)) == 22.25


@pytest.mark.parametrize(("day", "hours"), [((2025, 10, 25), 25.0), ((2026, 3, 28), 23.0)])
def test_a_soak_over_a_clock_change_counts_true_hours(
    day: tuple[int, int, int], hours: float
) -> None:
    # Summer time in the EU ends on 2025-10-26 and begins on 2026-03-29.
    first = dt.datetime(*day, 18, tzinfo=OSLO)

    assert soak_hours(first, first + dt.timedelta(days=1)) == hours


def test_two_zones_may_meet_in_one_soak() -> None:
    set_at = dt.datetime(2026, 8, 1, 12, tzinfo=OSLO)

    assert soak_hours(set_at, dt.datetime(2026, 8, 1, 12, tzinfo=UTC)) == 2.0


def test_a_lift_before_its_setting_is_refused_with_the_hours() -> None:
    moment = dt.datetime(2026, 8, 1, 12, tzinfo=UTC)

    with pytest.raises(InvalidValue, match="2 h before"):
        soak_hours(moment, moment - dt.timedelta(hours=2))
    with pytest.raises(InvalidValue, match="0 h"):
        soak_hours(moment, moment)


def test_a_time_without_a_zone_is_refused() -> None:
    with pytest.raises(InvalidValue, match="no time zone"):
        soak_hours(dt.datetime(2026, 8, 1, 12), dt.datetime(2026, 8, 2, 12, tzinfo=UTC))


def test_trap_nights_count_nights_and_not_hours() -> None:
    day = dt.date(2026, 8, 1)

    assert trap_nights([day, day], [day, dt.date(2026, 8, 4)]) == 3
    assert trap_nights([], []) == 0


def test_trap_nights_name_the_trap_with_impossible_dates() -> None:
    day = dt.date(2026, 8, 2)

    with pytest.raises(InvalidValue) as refused:
        trap_nights([day, day], [day, dt.date(2026, 8, 1)])
    assert refused.value.where == "trap 2"
    with pytest.raises(InvalidValue, match="two dates"):
        trap_nights([day], [])


@pytest.mark.parametrize(
    ("condition", "hours"),
    [("fished", 22.0), ("disturbed", 11.0), ("robbed", None), ("lost", None), ("not lifted", None)],
)
def test_the_condition_at_the_lift_decides_the_effort(condition: str, hours: float | None) -> None:
    assert effort_hours(22.0, condition) == hours


def test_an_unknown_condition_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InvalidValue) as refused:
        effort_hours(22.0, "eaten")
    assert "'eaten'" in refused.value.error
    assert "robbed" in refused.value.what_to_do


def test_seven_in_sixteen_hours_is_ten_and_a_half_per_24_h() -> None:
    # Worked by hand: 24 * 7 / 16.
    assert catch_per_24h([7, 0], [16, 12]).tolist() == [10.5, 0.0]


@pytest.mark.parametrize(
    ("catch", "soak_h"),
    [([-1], [10]), ([1], [0]), ([1], [-4]), ([1], [math.nan]), ([math.inf], [1])],
)
def test_no_rate_comes_of_an_impossible_catch_or_soak(
    catch: list[float], soak_h: list[float]
) -> None:
    with pytest.raises(InvalidValue):
        catch_per_24h(catch, soak_h)


def test_the_rate_of_a_trip_is_a_ratio_of_sums_and_no_mean_of_ratios() -> None:
    # 24 * (10 + 0) / (12 + 36) = 5; the mean of the two rates would be 10.
    assert trip_rate([10, 0], [12, 36]) == 5.0


def test_a_trip_without_traps_has_no_rate() -> None:
    with pytest.raises(InvalidValue):
        trip_rate([], [])


def test_the_bootstrap_draws_traps_and_not_animals() -> None:
    # Sixty animals: by animals the interval would be 15 +- 3.8; all came from one trap in
    # four, so drawing traps must reach from 0 to more than double.
    catch, soak_h = [60, 0, 0, 0], [24.0] * 4

    low, high = trip_rate_interval(catch, soak_h)
    assert low == 0.0
    assert high >= 30.0
    assert trip_rate_interval(catch, soak_h) == (low, high)


def test_the_bootstrap_agrees_with_the_normal_interval_of_many_traps() -> None:
    # Computed independently: mean +- 1.96 standard errors of 400 Poisson(4) counts.
    catch = np.random.default_rng(3).poisson(4, 400)

    low, high = trip_rate_interval(catch, np.full(400, 24.0))
    error = 1.96 * catch.std() / 20
    assert low == pytest.approx(catch.mean() - error, abs=0.05)
    assert high == pytest.approx(catch.mean() + error, abs=0.05)


@pytest.mark.parametrize(
    ("n_traps", "n_sprung", "intervals", "catch", "units", "per_hundred"),
    [(20, 3, 1, 37, 18.5, 200.0), (25, 10, 3, 12, 70.0, 17.142857)],
)
def test_sprung_traps_count_half_an_interval(
    n_traps: int, n_sprung: int, intervals: int, catch: int, units: float, per_hundred: float
) -> None:
    # Nelson & Clark (1973), formula from memory; values computed independently.
    effort = corrected_effort(n_traps, n_sprung, intervals=intervals)

    assert effort == units
    assert 100 * catch / effort == pytest.approx(per_hundred)


def test_an_interval_of_two_nights_doubles_the_effort() -> None:
    assert corrected_effort(20, 3, interval_length=2) == 37.0


def test_no_more_traps_can_spring_than_were_set() -> None:
    with pytest.raises(InvalidValue, match="only 4 were set"):
        corrected_effort(4, 5)


@pytest.mark.parametrize(
    ("escaped", "soak_h", "hazard"),
    [(0.22, 24, 0.01035), (0.39, 48, 0.01030), (0.20, 24, 0.00930), (0.36, 48, 0.00930)],
)
def test_published_escapes_give_a_constant_hazard(
    escaped: float, soak_h: float, hazard: float
) -> None:
    # Crayfish traps: 22 % by 24 h and 39 % by 48 h (Louisiana State University thesis,
    # 2009); 80 % and 64 % retained (Pfister & Romaire 1983).
    assert escape_hazard(escaped, soak_h) == pytest.approx(hazard, abs=6e-6)


@pytest.mark.parametrize(
    ("soak_h", "inside"), [(12, 0.9407), (24, 0.8860), (48, 0.7890), (72, 0.7061)]
)
def test_the_share_still_inside_falls_with_the_soak(soak_h: float, inside: float) -> None:
    # Computed independently with numpy at 0.0103 per hour.
    assert share_still_inside(0.0103, soak_h) == pytest.approx(inside, abs=5e-5)


def test_without_escapes_all_are_still_inside() -> None:
    assert escape_hazard(0.0, 24) == 0.0
    assert share_still_inside(0.0, 24) == 1.0


def test_a_trap_that_loses_all_has_no_hazard() -> None:
    with pytest.raises(InvalidValue, match="no upper limit"):
        escape_hazard(1.0, 24)
    with pytest.raises(InvalidValue):
        escape_hazard(1.2, 24)

"""UTC inside, the trip's clock at the edge, and the two hours a year when that clock jumps.

The clock changes are those of the tz database: Europe/Oslo puts its clock forward at 2026-03-29
01:00 UTC and back at 2026-10-25 01:00 UTC (Directive 2000/84/EC: last Sundays of March and
October); Lord Howe Island moves by half an hour.
"""

import datetime as dt
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.model.instants import (
    DoubledTime,
    computer_zone,
    hours_between,
    local_text,
    local_time,
    moment,
    now_utc,
    parse_local,
    utc_from_local,
    utc_text,
    zone,
)

OSLO = "Europe/Oslo"
ZONES = ("UTC", OSLO, "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu", "Etc/GMT+12")


def test_an_instant_is_written_in_utc_to_the_second() -> None:
    there = dt.timezone(dt.timedelta(hours=2))
    assert utc_text(dt.datetime(2026, 8, 1, 20, 30, 5, 999_999, there)) == "2026-08-01T18:30:05Z"
    assert moment("2026-08-01T18:30:05Z") == dt.datetime(2026, 8, 1, 18, 30, 5, tzinfo=dt.UTC)
    assert abs((moment(now_utc()) - dt.datetime.now(dt.UTC)).total_seconds()) < 5


def test_a_soak_over_a_clock_change_has_its_true_length() -> None:
    """From 18:00 to 06:00 by the clock on the night when it is put back: 13 hours, not 12."""
    start = utc_from_local(dt.datetime(2026, 10, 24, 18), OSLO)
    end = utc_from_local(dt.datetime(2026, 10, 25, 6), OSLO)
    assert hours_between(start, end) == 13.0
    assert hours_between(end, start) == -13.0


@pytest.mark.parametrize(
    ("local", "zone_name", "utc"),
    [
        (dt.datetime(2026, 8, 1, 20, 30), OSLO, "2026-08-01T18:30:00Z"),
        (dt.datetime(2026, 1, 1, 20, 30), OSLO, "2026-01-01T19:30:00Z"),
        (dt.datetime(2026, 1, 1, 12), "Asia/Kathmandu", "2026-01-01T06:15:00Z"),
        (dt.datetime(2026, 3, 29, 1, 59), OSLO, "2026-03-29T00:59:00Z"),
        (dt.datetime(2026, 3, 29, 3, 0), OSLO, "2026-03-29T01:00:00Z"),
        (dt.datetime(2026, 10, 25, 1, 59), OSLO, "2026-10-24T23:59:00Z"),
        (dt.datetime(2026, 10, 25, 3, 0), OSLO, "2026-10-25T02:00:00Z"),
    ],
)
def test_a_local_time_has_its_instant(local: dt.datetime, zone_name: str, utc: str) -> None:
    assert utc_from_local(local, zone_name) == utc
    assert local_time(utc, zone_name).replace(tzinfo=None) == local


@pytest.mark.parametrize(
    ("local", "zone_name"),
    [
        (dt.datetime(2026, 3, 29, 2, 0), OSLO),
        (dt.datetime(2026, 3, 29, 2, 59), OSLO),
        (dt.datetime(2026, 10, 4, 2, 15), "Australia/Lord_Howe"),
    ],
)
def test_a_time_that_the_clock_skipped_is_refused(local: dt.datetime, zone_name: str) -> None:
    with pytest.raises(InvalidValue, match="did not exist") as caught:
        utc_from_local(local, zone_name)
    assert not isinstance(caught.value, DoubledTime)
    assert f"{local:%H:%M}" in caught.value.error
    assert zone_name in caught.value.error


@pytest.mark.parametrize(
    ("local", "zone_name", "choices"),
    [
        (
            dt.datetime(2026, 10, 25, 2, 30),
            OSLO,
            ("2026-10-25T00:30:00Z", "2026-10-25T01:30:00Z"),
        ),
        (
            dt.datetime(2026, 4, 5, 1, 45),
            "Australia/Lord_Howe",
            ("2026-04-04T14:45:00Z", "2026-04-04T15:15:00Z"),
        ),
    ],
)
def test_a_time_that_the_clock_showed_twice_is_asked_about(
    local: dt.datetime, zone_name: str, choices: tuple[str, str]
) -> None:
    with pytest.raises(DoubledTime, match="came twice") as caught:
        utc_from_local(local, zone_name)
    assert caught.value.choices == choices
    assert utc_from_local(local, zone_name, later=False) == choices[0]
    assert utc_from_local(local, zone_name, later=True) == choices[1]
    shown = f"{local:%Y-%m-%d %H:%M}"
    assert {local_text(utc, zone_name) for utc in choices} == {shown}
    with pytest.raises(DoubledTime):
        parse_local(shown, zone_name, "2026-01-01")
    assert parse_local(shown, zone_name, "2026-01-01", later=True) == choices[1]


@settings(derandomize=True, deadline=None)
@given(st.datetimes(dt.datetime(1975, 1, 1), dt.datetime(2037, 1, 1)), st.sampled_from(ZONES))
def test_any_instant_survives_being_shown_and_typed_again(when: dt.datetime, name: str) -> None:
    utc = utc_text(when.replace(tzinfo=dt.UTC))
    shown = local_text(utc, name, "%Y-%m-%d %H:%M:%S")
    try:
        found: tuple[str, ...] = (parse_local(shown, name, "2000-01-01"),)
    except DoubledTime as problem:
        found = problem.choices
    assert utc in found


@pytest.mark.parametrize(
    ("typed", "utc"),
    [
        ("18:30", "2026-08-01T16:30:00Z"),
        ("1830", "2026-08-01T16:30:00Z"),
        ("18.30", "2026-08-01T16:30:00Z"),
        ("18h30", "2026-08-01T16:30:00Z"),
        (" 8:05 ", "2026-08-01T06:05:00Z"),
        ("805", "2026-08-01T06:05:00Z"),
        ("00:00", "2026-07-31T22:00:00Z"),
        ("18:30:59", "2026-08-01T16:30:59Z"),
        ("2026-12-24 18:30", "2026-12-24T17:30:00Z"),
        ("2026-12-24T18:30", "2026-12-24T17:30:00Z"),
    ],
)
def test_a_typed_time_is_understood(typed: str, utc: str) -> None:
    assert parse_local(typed, OSLO, "2026-08-01") == utc


@pytest.mark.parametrize(
    "typed",
    ["", "8", "24:00", "18:60", "18:30:60", "-1:00", "18:30 pm", "noon", "2026-02-30 18:30",
     "01/08/2026 18:30", "18:30Z", "18:3", "12345", "18:30\n19:30", "1e3", "²0:30"],
)  # fmt: skip
def test_what_is_no_time_is_refused(typed: str) -> None:
    with pytest.raises(InvalidValue, match="is not a time") as caught:
        parse_local(typed, OSLO, "2026-08-01")
    assert caught.value.where == "Time"
    assert "18:30" in caught.value.what_to_do


def test_a_bare_time_needs_a_day_that_is_one() -> None:
    with pytest.raises(InvalidValue):
        parse_local("18:30", OSLO, "some day")


def test_an_instant_is_shown_by_the_trips_clock() -> None:
    assert local_text("2026-08-01T22:30:00Z", OSLO) == "2026-08-02 00:30"
    assert local_text("2026-08-01T22:30:00Z", OSLO, "%H:%M") == "00:30"
    assert local_text(None, OSLO) == ""


@pytest.mark.parametrize(
    "name", ["", "Mars/Base", "../../etc/passwd", "/etc/localtime", "Europe", "a\0b", "x" * 999]
)
def test_a_zone_that_does_not_exist_is_refused(name: str) -> None:
    with pytest.raises(InvalidValue, match="no time zone") as caught:
        zone(name)
    assert caught.value.where == "Time zone"


@pytest.mark.parametrize(
    ("variable", "expected"), [("Europe/Oslo", "Europe/Oslo"), (":Asia/Tokyo", "Asia/Tokyo")]
)
def test_the_computers_zone_is_what_it_says(
    monkeypatch: pytest.MonkeyPatch, variable: str, expected: str
) -> None:
    monkeypatch.setenv("TZ", variable)
    assert computer_zone() == expected


@pytest.mark.parametrize("variable", ["", "Mars/Base", "CET-1CEST,M3.5.0,M10.5.0/3"])
def test_a_computer_that_does_not_tell_has_a_zone_all_the_same(
    monkeypatch: pytest.MonkeyPatch, variable: str
) -> None:
    monkeypatch.setenv("TZ", variable)
    assert str(zone(computer_zone())) == computer_zone()
    monkeypatch.setattr(Path, "is_symlink", lambda _: False)
    monkeypatch.setattr(Path, "read_text", lambda *_, **__: "no zone at all")
    assert computer_zone() == "UTC"

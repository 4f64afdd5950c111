"""Moments and local days: UTC text inside, the trip's own zone at the edge."""

import datetime as dt
import re
import zoneinfo

from trapline.errors import InvalidValue

_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)
# Beyond these a zone's offset could leave the calendar of Python, and nobody set a trap.
_YEARS = ("1900", "2199")


class DoubledTime(InvalidValue):
    """A local time that the clock showed twice; `choices` are the two instants, earlier first."""

    choices: tuple[str, str] = ("", "")


def now_utc() -> str:
    """Return the present moment as UTC text, whole seconds."""
    return utc_text(dt.datetime.now(dt.UTC))


def utc_text(moment: dt.datetime) -> str:
    """Return an aware datetime as UTC text ``2026-08-01T18:30:00Z``."""
    return moment.astimezone(dt.UTC).replace(microsecond=0).strftime("%Y-%m-%dT%H:%M:%SZ")


def moment(utc: str) -> dt.datetime:
    """Return the aware datetime of UTC text."""
    return dt.datetime.strptime(utc, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=dt.UTC)


def hours_between(start_utc: str, end_utc: str) -> float:
    """Return the hours from one instant to a later one; negative when it is earlier."""
    return (moment(end_utc) - moment(start_utc)).total_seconds() / 3600.0


def check_instant(value: str, label: str) -> None:
    """Refuse what is not UTC text of an existing moment."""
    try:
        if not isinstance(value, str) or not _INSTANT.fullmatch(value):
            raise ValueError(value)
        if not _YEARS[0] <= value[:4] <= _YEARS[1]:
            raise ValueError(value)
        moment(value)
    except ValueError as problem:
        raise InvalidValue(
            f"{label}: {value!r} is not a moment.", label, "Write it as 2026-08-01T18:30:00Z."
        ) from problem


def check_day(value: str, label: str) -> None:
    """Refuse what is not a calendar date."""
    try:
        if dt.date.fromisoformat(value).isoformat() != value:
            raise ValueError(value)
    except (ValueError, TypeError) as problem:
        raise InvalidValue(
            f"{label}: {value!r} is not a date.", label, "Write it as 2026-08-01."
        ) from problem


def zone(name: str) -> zoneinfo.ZoneInfo:
    """Return the IANA zone of that name.

    Raises
    ------
    InvalidValue
        When there is no such zone.
    """
    try:
        return zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError) as problem:
        raise InvalidValue(
            f"There is no time zone '{name}'.", "Time zone", "Write one like Europe/Oslo or UTC."
        ) from problem


def computer_zone() -> str:
    """Return the IANA name of this computer's zone, or ``UTC`` when it does not tell."""
    import os
    from pathlib import Path

    candidates = [os.environ.get("TZ", "").lstrip(":")]
    for path in (Path("/etc/timezone"), Path("/etc/localtime")):
        try:
            if path.is_symlink():
                candidates.append(str(path.resolve()).rpartition("zoneinfo/")[2])
            else:
                candidates.append(path.read_text(encoding="utf-8").strip())
        except (OSError, UnicodeDecodeError):
            continue
    for name in candidates:
        if name and len(name) < 60:
            try:
                zone(name)
            except InvalidValue:
                continue
            return name
    return "UTC"


def local_time(utc: str, zone_name: str) -> dt.datetime:
    """Return the local datetime that the trip's clock showed at an instant."""
    return moment(utc).astimezone(zone(zone_name))


def local_text(utc: str | None, zone_name: str, pattern: str = "%Y-%m-%d %H:%M") -> str:
    """Return an instant as local text for a cell; empty when there is none."""
    return local_time(utc, zone_name).strftime(pattern) if utc else ""


def utc_from_local(local: dt.datetime, zone_name: str, later: bool | None = None) -> str:
    """Return the instant of a local time.

    Parameters
    ----------
    local : datetime
        Naive local time.
    later : bool, optional
        Which of the two moments is meant when the clock showed this time twice.

    Raises
    ------
    InvalidValue
        The clock skipped this time (summer time begins).
    DoubledTime
        The clock showed it twice and `later` does not say which is meant.
    """
    where = zone(zone_name)
    first, second = local.replace(tzinfo=where, fold=0), local.replace(tzinfo=where, fold=1)
    shown = f"{local:%Y-%m-%d %H:%M}"
    back = first.astimezone(dt.UTC).astimezone(where).replace(tzinfo=None)
    if back != local:
        raise InvalidValue(
            f"{shown} did not exist in {zone_name}: the clock was put forward.",
            "Time",
            "Type the time that the clock showed.",
        )
    if first.utcoffset() != second.utcoffset():
        if later is None:
            problem = DoubledTime(
                f"{shown} came twice in {zone_name}: the clock was put back.",
                "Time",
                "Say whether the earlier or the later one is meant.",
            )
            problem.choices = (utc_text(first), utc_text(second))
            raise problem
        return utc_text(second if later else first)
    return utc_text(first)


def parse_local(text: str, zone_name: str, on_day: str, later: bool | None = None) -> str:
    """Return the instant of a typed local time: ``18:30``, ``1830`` or ``2026-08-01 18:30``.

    Parameters
    ----------
    on_day : str
        The date that a bare time belongs to.

    Raises
    ------
    InvalidValue
        Not a time, or one that a clock change skipped or doubled.
    """
    match = re.fullmatch(
        r"\s*(?:(\d{4}-\d\d-\d\d)[ T]+)?(\d{1,2})[:.h]?(\d\d)(?::(\d\d))?\s*", text
    )
    try:
        if match is None:
            raise ValueError(text)
        date = dt.date.fromisoformat(match.group(1) or on_day)
        if not int(_YEARS[0]) <= date.year <= int(_YEARS[1]):
            raise ValueError(text)
        clock = dt.time(int(match.group(2)), int(match.group(3)), int(match.group(4) or 0))
    except ValueError as problem:
        raise InvalidValue(
            f"'{text}' is not a time.", "Time", "Type it like 18:30 or 2026-08-01 18:30."
        ) from problem
    return utc_from_local(dt.datetime.combine(date, clock), zone_name, later)

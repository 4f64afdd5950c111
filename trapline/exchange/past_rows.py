"""A past trip as it stands on paper or in a spreadsheet: one row a trap lifted, cells as typed."""

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from trapline.errors import InvalidValue
from trapline.exchange.files import clean_label, clean_note, shown
from trapline.model.instants import hours_between, local_text, parse_local
from trapline.model.trapset import MOST_SOAK_H

COLUMNS: Final = (
    "Round", "Place", "Trap", "Bait", "Set", "Lift", "Count", "Condition", "By-catch", "Note",
)  # fmt: skip
# Other words for the columns, as people write them above theirs.
_ALIASES: Final = {
    "night": "Round", "site": "Place", "position": "Place", "station": "Place", "pot": "Trap",
    "trap no": "Trap", "trap number": "Trap", "set at": "Set", "set time": "Set",
    "lifted": "Lift", "lifted at": "Lift", "lift time": "Lift", "hauled": "Lift", "pulled": "Lift",
    "catch": "Count", "caught": "Count", "counted": "Count", "number": "Count",
    "bycatch": "By-catch", "by catch": "By-catch", "notes": "Note", "remarks": "Note",
}  # fmt: skip
_CONDITIONS: Final = {
    "": "fished", "fished": "fished", "ok": "fished", "good": "fished",
    "disturbed": "disturbed", "open": "disturbed", "moved": "disturbed", "tipped": "disturbed",
    "robbed": "robbed", "lost": "lost", "gone": "lost",
}  # fmt: skip
_NOT_COUNTED: Final = {"", "-", "–", "—", "not counted", "n/c", "nc", "?"}
_DOTTED: Final = re.compile(r"\s*(\d{1,2})\.(\d{1,2})\.(\d{4})\s+(.*)")
_DATED: Final = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}\.\d{1,2}\.\d{4}")
_WHICH: Final = re.compile(r"(.*\S)\s+(earlier|later)\s*", re.IGNORECASE)
# An x stands alone or behind the number, "2 x perch" or "2x perch": else it begins a name.
_NUMBER_FIRST: Final = re.compile(r"(\d+)(?:\s*×|x|\sx\s)?\s*(\D.*)", re.IGNORECASE)
_NUMBER_LAST: Final = re.compile(r"(.*?\D)(?:\s*[:=×]|\sx)?\s*(\d+)", re.IGNORECASE)
# As a spreadsheet writes whole numbers; with three noughts it might as well be thousands.
_WHOLE: Final = re.compile(r"(\d+)(?:[.,]0{0,2})?")
_MAX_COUNT: Final = 1_000_000


@dataclass(frozen=True, kw_only=True, slots=True)
class PastRow:
    """One trap lifted long ago. A count of None was not counted, which is not 0."""

    round: int
    place: str
    trap: str = ""
    bait: str = ""
    set_utc: str | None = None
    lift_utc: str | None = None
    count: int | None = None
    condition: str = "fished"
    by_catch: tuple[tuple[str, int], ...] = ()
    note: str = ""
    row: int = 0

    @property
    def soak_h(self) -> float | None:
        """Hours in the water; None where a time is not known."""
        if self.set_utc is None or self.lift_utc is None:
            return None
        return hours_between(self.set_utc, self.lift_utc)


@dataclass(frozen=True, slots=True)
class PaperRules:
    """How the times of a paper are meant.

    Attributes
    ----------
    zone : str
        The clock that they were read from.
    first_day : str
        The date of the first round; each later one is a day on, where no date is written.
    lift_days_later : int
        A lift without a date is so many days after its setting.
    """

    zone: str
    first_day: str
    lift_days_later: int = 1


def column_order(cells: Sequence[str]) -> list[str] | None:
    """Return which column stands where when a pasted line is a header, else None."""
    found = []
    for cell in cells:
        words = re.sub(r"[\s_]+", " ", cell).strip().casefold()
        own = next((name for name in COLUMNS if name.casefold() == words), None)
        found.append(own or _ALIASES.get(words, ""))
    known = [name for name in found if name]
    is_header = len(known) >= 2 and len(known) == len(set(known))
    return found if is_header else None


def is_bare_time(text: str) -> bool:
    """Whether a cell holds a time without its date."""
    words = text.strip()
    return words not in _NOT_COUNTED and not _DATED.search(words)


def understand(
    cells: Sequence[str], rules: PaperRules, *, row: int = 1, round_before: int = 1
) -> PastRow | None:
    """Return what a row of cells in the order of `COLUMNS` says; None when it is blank.

    A blank round is that of the row before.

    Raises
    ------
    InvalidValue
        `where` is the title of the cell that cannot be.
    """
    texts = [clean_note(cell) for cell in cells] + [""] * (len(COLUMNS) - len(cells))
    by_name = dict(zip(COLUMNS, texts, strict=False))
    if not any(texts):
        return None
    number = _round(by_name["Round"], round_before)
    if not by_name["Place"]:
        raise InvalidValue("The place is empty.", "Place", "Write where the trap stood.")
    condition = _condition(by_name["Condition"], by_name["Count"])
    set_utc, lift_utc = _times(by_name["Set"], by_name["Lift"], number, rules)
    count = None if condition == "lost" else _count(by_name["Count"], condition)
    by_catch = _by_catch(by_name["By-catch"])
    if condition == "lost" and by_catch:
        raise InvalidValue(
            f"A lost trap holds no by-catch, and here is '{shown(by_name['By-catch'])}'.",
            "By-catch",
            "Clear the by-catch, or write another condition.",
        )
    return PastRow(
        round=number,
        place=clean_label(by_name["Place"]),
        trap=clean_label(by_name["Trap"]),
        bait=clean_label(by_name["Bait"]),
        set_utc=set_utc,
        lift_utc=lift_utc,
        count=count,
        condition=condition,
        by_catch=by_catch,
        note=by_name["Note"],
        row=row,
    )


def _round(text: str, before: int) -> int:
    if not text:
        return before
    match = re.fullmatch(r"(?:round|night)?\s*(\d{1,4})(?:\.0*)?", text, re.IGNORECASE)
    if match is None or int(match.group(1)) < 1:
        raise InvalidValue(
            f"'{shown(text)}' is not the number of a round.", "Round", "Write 1, 2, 3 …"
        )
    return int(match.group(1))


def _condition(text: str, count: str) -> str:
    words = text.casefold()
    if not words and count.casefold() in ("lost", "robbed"):
        return count.casefold()
    if words not in _CONDITIONS:
        raise InvalidValue(
            f"'{shown(text)}' is not a condition.",
            "Condition",
            "Write fished, disturbed, robbed or lost; fished may be left blank.",
        )
    condition = _CONDITIONS[words]
    is_count = count.casefold() not in (*_NOT_COUNTED, "lost")
    if condition == "lost" and is_count:
        raise InvalidValue(
            f"A lost trap has no count, and here is '{shown(count)}'.",
            "Count",
            "Clear the count, or write another condition.",
        )
    return condition


def _count(text: str, condition: str) -> int | None:
    if text.casefold() in _NOT_COUNTED or (condition == "robbed" and text.casefold() == "robbed"):
        return None
    match = _WHOLE.fullmatch(text)
    if match is None or int(match.group(1)) > _MAX_COUNT:
        raise InvalidValue(
            f"'{shown(text)}' is not a count.",
            "Count",
            "Write a whole number, 0 for an empty trap, or leave it blank if not counted.",
        )
    return int(match.group(1))


def _times(
    set_text: str, lift_text: str, number: int, rules: PaperRules
) -> tuple[str | None, str | None]:
    day = _days_on(rules.first_day, number - 1)
    set_utc = _instant(set_text, rules.zone, day, "Set")
    set_day = local_text(set_utc, rules.zone, "%Y-%m-%d") if set_utc else day
    lift_day = _days_on(set_day, rules.lift_days_later)
    lift_utc = _instant(lift_text, rules.zone, lift_day, "Lift")
    if set_utc and lift_utc and lift_utc <= set_utc:
        raise InvalidValue(
            f"The lift at {local_text(lift_utc, rules.zone)} is not after the setting at"
            f" {local_text(set_utc, rules.zone)}.",
            "Lift",
            "Write the date before the time.",
        )
    if set_utc and lift_utc and hours_between(set_utc, lift_utc) > MOST_SOAK_H:
        raise InvalidValue(
            f"The lift at {local_text(lift_utc, rules.zone)} is years after the setting at"
            f" {local_text(set_utc, rules.zone)}.",
            "Lift",
            "Correct the year.",
        )
    return set_utc, lift_utc


def _days_on(day: str, days: int) -> str:
    try:
        return (dt.date.fromisoformat(day) + dt.timedelta(days=days)).isoformat()
    except (ValueError, OverflowError) as problem:
        raise InvalidValue(
            f"'{shown(day)}' is not a date.", "Round", "Write the first day like 2026-08-01."
        ) from problem


def _instant(text: str, zone: str, day: str, where: str) -> str | None:
    """Return a time of a cell; a word behind it says which of two equal clock times is meant."""
    if text in _NOT_COUNTED:
        return None
    which = _WHICH.fullmatch(text)
    later = which.group(2).lower() == "later" if which else None
    words = which.group(1) if which else text
    dotted = _DOTTED.fullmatch(words)
    if dotted:
        date, month, year, clock = dotted.groups()
        words = f"{year}-{int(month):02d}-{int(date):02d} {clock}"
    try:
        return parse_local(words, zone, day, later)
    except InvalidValue as problem:
        hint = problem.what_to_do
        if "came twice" in problem.error:
            hint = "Write 'earlier' or 'later' behind it."
        elif "/" in words:
            hint = "Write the date like 2026-08-01 or 1.8.2026: 1/8 is two days to two people."
        raise InvalidValue(problem.error, where, hint) from problem


def _by_catch(text: str) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for part in re.split(r"[,;+\n]", text):
        words = part.strip()
        if not words or words in _NOT_COUNTED:
            continue
        first, last = _NUMBER_FIRST.fullmatch(words), _NUMBER_LAST.fullmatch(words)
        if first:
            number, name = first.groups()
        elif last:
            name, number = last.groups()
        elif words.isdecimal():
            raise InvalidValue(
                f"'{shown(words)}' does not say of what.", "By-catch", "Write 2 perch, 1 ruffe."
            )
        else:
            number, name = "1", words
        name = clean_label(name).strip(" :=×")
        if int(number) > _MAX_COUNT or not name or re.search(r"\d", name):
            raise InvalidValue(
                f"'{shown(words)}' is not a number and a name.",
                "By-catch",
                "Write 2 perch, 1 ruffe.",
            )
        found[name] = found.get(name, 0) + int(number)
    return tuple(found.items())

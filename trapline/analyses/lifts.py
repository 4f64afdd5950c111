"""One row a trap lifted: what a comparison of baits is made from, and how a table gives it."""

import math
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from trapline.errors import InputProblem, InvalidValue
from trapline.model.trapset import MOST_SOAK_H
from trapline.science.bait_model import MAX_COUNT
from trapline.science.effort import CONDITION_SHARES

if TYPE_CHECKING:
    import pandas as pd

NEEDED: Final = ("bait", "catch", "soak_h")
_NUMBER: Final = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,2})?")
_YES_OR_NO: Final = {
    "": False, "no": False, "n": False, "false": False, "0": False,
    "yes": True, "y": True, "true": True, "1": True,
}  # fmt: skip
# A decimal comma; three digits behind it might as well be thousands.
_COMMA: Final = re.compile(r"([+-]?[0-9]+),([0-9]{1,2}|[0-9]{4,})")


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftRow:
    """One trap lifted with one bait; a blank catch or soak is None and never 0.

    Attributes
    ----------
    bait : str
        What was in the trap; a trap without bait says so in a word.
    catch : int or None
        Animals, 0 or more.
    soak_h : float or None
        Hours in the water, above 0.
    row : int
        1 is the first row of data.
    trap, place, round, block, trip : str
        Labels, empty when not known; a round is one of its trip.
    condition : str
        fished, disturbed, robbed, lost or not lifted.
    fraction_counted : float
        Part of the catch that was counted, above 0, at most 1.
    old_bait : bool
        Whether the soak began on bait of an earlier one.
    """

    bait: str
    catch: int | None
    soak_h: float | None
    row: int
    trap: str = ""
    place: str = ""
    round: str = ""
    block: str = ""
    trip: str = ""
    condition: str = "fished"
    fraction_counted: float = 1.0
    old_bait: bool = False

    def __post_init__(self) -> None:
        where = f"row {self.row}"
        if not self.bait.strip():
            raise InvalidValue("The bait is blank.", where, "Write 'none' where there was none.")
        if any(unicodedata.category(letter) == "Cc" for letter in self.bait):
            raise InvalidValue("The bait holds a control character.", where, "Type it again.")
        if self.catch is not None and not 0 <= self.catch <= MAX_COUNT:
            raise InvalidValue(
                f"The catch is {self.catch}.", where, f"Write a count from 0 to {MAX_COUNT:,}."
            )
        if self.soak_h is not None and not 0 < self.soak_h <= MOST_SOAK_H:
            raise InvalidValue(
                f"The soak is {self.soak_h:g} h.",
                where,
                f"Write hours above 0, at most {MOST_SOAK_H:,.0f}, or leave it blank where the trap"
                " did not fish.",
            )
        if self.condition not in CONDITION_SHARES:
            raise InvalidValue(
                f"The condition is '{self.condition}'.",
                where,
                f"Write one of: {', '.join(CONDITION_SHARES)}.",
            )
        if not 0 < self.fraction_counted <= 1:
            raise InvalidValue(
                f"The fraction counted is {self.fraction_counted:g}.",
                where,
                "Write a part above 0 and at most 1, like 0.5.",
            )


def lift_rows(
    table: "pd.DataFrame | Iterable[Mapping[str, Any]]",
    *,
    source: str = "",
    lines: Sequence[int] | None = None,
) -> tuple[LiftRow, ...]:
    """Return the lifts in a table, numbered from 1; rows that are blank throughout are skipped.

    Parameters
    ----------
    table : DataFrame or iterable of mapping
        Columns bait, catch, soak_h; and, where there are any, trap, place, round (or
        night), block, trip, condition, fraction_counted, old_bait (yes or no). Other columns
        are ignored. Cells are texts or numbers; empty text, None and NaN are blank.
    source : str
        Name of the file, for messages.
    lines : sequence of int, optional
        Line of the file on which each row stands; else the row's number plus 1.

    Raises
    ------
    InputProblem
        A column is missing.
    InvalidValue
        A value that cannot be; names the row and the line.

    References
    ----------
    None: a format of our own.

    Examples
    --------
    >>> rows = lift_rows([{"bait": "fish", "catch": "3", "soak_h": "22.5"}])
    >>> rows[0].catch, rows[0].soak_h, rows[0].row
    (3, 22.5, 1)
    """
    found = []
    for row, record in enumerate(_records(table, source), start=1):
        _require(record, source)
        if all(_is_blank(value) for value in record.values()):
            continue
        line = lines[row - 1] if lines is not None else row + 1
        try:
            found.append(_lift(record, row))
        except InvalidValue as problem:
            where = f"row {row} (line {line})"
            where = f"{source}, {where}" if source else where
            raise InvalidValue(problem.error, where, problem.what_to_do) from problem
    return tuple(found)


def _records(table: Any, source: str) -> Iterable[Mapping[str, Any]]:
    """Return the rows of a table of either kind; a gap of any type becomes None."""
    records: Iterable[Mapping[str, Any]] = table
    if hasattr(table, "columns"):
        _require(table.columns, source)
        records = table.astype(object).where(table.notna(), None).to_dict("records")
    return records


def _require(columns: Iterable[str], source: str) -> None:
    present = set(columns)
    missing = [name for name in NEEDED if name not in present]
    if missing:
        raise InputProblem(
            f"There is no column {' and no column '.join(missing)}.",
            source,
            f"Name the columns {', '.join(NEEDED)} in the first line.",
        )


def _lift(record: Mapping[str, Any], row: int) -> LiftRow:
    catch = _number(record["catch"], "catch")
    if catch is not None and catch != math.floor(catch):
        raise InvalidValue(
            f"The catch is {catch:g}, no whole number.", "", "Write a count, like 3; 0 for none."
        )
    fraction = _number(record.get("fraction_counted"), "fraction counted")
    condition = re.sub(r"[\s_-]+", " ", _text(record.get("condition"))).casefold() or "fished"
    return LiftRow(
        bait=_text(record["bait"]),
        catch=None if catch is None else int(catch),
        soak_h=_number(record["soak_h"], "soak"),
        row=row,
        condition=condition,
        fraction_counted=1.0 if fraction is None else fraction,
        trap=_text(record.get("trap")),
        place=_text(record.get("place")),
        round=_text(record.get("round")) or _text(record.get("night")),
        block=_text(record.get("block")),
        trip=_text(record.get("trip")),
        old_bait=_yes(record.get("old_bait")),
    )


def _is_blank(value: object) -> bool:
    return (
        value is None
        or (isinstance(value, float) and math.isnan(value))
        or (isinstance(value, str) and not value.strip())
    )


def _text(value: object) -> str:
    """Return a label; a round of 1.0, as columns with gaps become, is the round 1."""
    if _is_blank(value):
        return ""
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return str(value).strip()


def _yes(value: object) -> bool:
    """Return whether a cell says that a soak began on old bait; blank says no."""
    text = _text(value)
    if text.casefold() not in _YES_OR_NO:
        raise InvalidValue(
            f"The old bait is '{text[:40]}'.", "", "Write yes, or no where the bait was fresh."
        )
    return _YES_OR_NO[text.casefold()]


def _number(value: object, what: str) -> float | None:
    """Return a cell as a finite number, None when it is blank."""
    if _is_blank(value):
        return None
    text = str(value).strip()
    comma = _COMMA.fullmatch(text)
    if comma:
        text = f"{comma.group(1)}.{comma.group(2)}"
    if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        raise InvalidValue(
            f"The {what} is '{text[:40]}', not a number.", "", "Write a number, or leave it blank."
        )
    return float(text)

"""Rows to and from a spreadsheet over the clipboard, as tab-separated text."""

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import Final

from trapline.errors import InputProblem
from trapline.exchange.delimited import MAX_ROWS, guarded, unguarded

_MAX_CHARACTERS: Final = 10_000_000


def tsv(
    headers: Sequence[str], rows: Iterable[Sequence[str | float | None]], guard: bool = True
) -> str:
    """Return rows as tab-separated text that a spreadsheet pastes cell by cell.

    A cell is what its type says: text is guarded against being run as a formula, a number
    never is (``-33.5``) and is written with a dot. None and NaN make an empty cell.
    Without headers, only the rows are written.
    """
    stream = io.StringIO()
    # The writer quotes what occurs in its line end: a lone carriage return in a cell, unquoted,
    # would start a new row, and what follows it would be a cell without a guard.
    writer = csv.writer(stream, delimiter="\t", lineterminator="\r\n")
    if headers:
        writer.writerow([_cell(header, guard) for header in headers])
    for row in rows:
        writer.writerow([_cell(value, guard) for value in row])
    return stream.getvalue()


def _cell(value: str | float | None, guard: bool) -> str:
    if isinstance(value, str):
        return guarded(value) if guard else value
    return "" if value is None or not math.isfinite(value) else str(value)


def parse_pasted(text: str) -> list[list[str]]:
    """Return the cells of a column or table copied from a spreadsheet, ragged as they come.

    Quoted cells may hold tabs and line breaks, the guard against formulas comes off, and
    the empty line at the end that spreadsheets add is dropped. Text whose quotes do not
    pair up is taken literally, line by line.

    Raises
    ------
    InputProblem
        More text than a person pastes.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > _MAX_CHARACTERS:
        raise InputProblem(
            f"The clipboard holds {len(text):,} characters.", "clipboard", "Copy fewer rows."
        )
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter="\t", strict=True))
    except csv.Error:
        lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
        rows = [line.split("\t") if line else [] for line in lines]
    while rows and not rows[-1]:
        rows.pop()
    if len(rows) > MAX_ROWS:
        raise InputProblem(
            f"The clipboard holds {len(rows):,} rows.", "clipboard", f"Copy at most {MAX_ROWS:,}."
        )
    return [[unguarded(cell) for cell in row] or [""] for row in rows]

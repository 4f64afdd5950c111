"""Delimited text: CSV and TSV as spreadsheets, loggers and people write them.

Any table with a header line; what its columns mean is the business of ``tables``.
Line numbers are always those of the file.
"""

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from typing import Final

from trapline.errors import InputProblem
from trapline.exchange.files import decode_text, shown
from trapline.exchange.found import Refused

MAX_ROWS: Final = 50_000
_ALL_BLANK: Final = ' \t\r\n,;|"'
_MAX_COLUMNS: Final = 1_000
_MAX_LINE: Final = 1_000_000
_SAMPLE: Final = 50
# A control character that no table holds: the whole line is one cell.
_NO_DELIMITER: Final = "\x1f"
_DELIMITERS: Final = {
    ",": "comma", ";": "semicolon", "\t": "tab", "|": "bar", _NO_DELIMITER: "one column",
}  # fmt: skip
# A text that a spreadsheet would run as a formula (OWASP, "CSV Injection"), behind any
# number of apostrophes, so that guarding and taking the guard off are exact opposites.
_GUARDED: Final = re.compile("'+[=+\\-@\t\r]")
_TO_GUARD: Final = re.compile("'*[=+\\-@\t\r]")


@dataclass(frozen=True)
class Table:
    """A table as read: cells by header, and the line of the file where each row starts."""

    source: str
    headers: tuple[str, ...]
    rows: tuple[dict[str, str], ...]
    lines: tuple[int, ...]
    numbers: tuple[int, ...]
    header_line: int
    format: str
    refused: tuple[Refused, ...] = ()

    def where(self, index: int) -> str:
        """Return where row `index` of `rows` stands, for a message."""
        return f"{self.source}, line {self.lines[index]}"


def guarded(text: str) -> str:
    """Return `text` with an apostrophe before it if a spreadsheet would run it."""
    return f"'{text}" if _TO_GUARD.match(text) else text


def unguarded(text: str) -> str:
    """Return `text` without the apostrophe that :func:`guarded` put there."""
    return text[1:] if _GUARDED.match(text) else text


def read_table(
    data: bytes,
    name: str,
    *,
    max_rows: int = MAX_ROWS,
    keep_guard: bool = False,
    is_needed: Callable[[str], bool] = bool,
) -> Table:
    """Return the table in `data`; rows with too many or too few cells stand under `refused`.

    A header that is used twice is a problem where it `is_needed`, by default always; else
    the second column is named after its number.

    Raises
    ------
    InputProblem
        Not a text table, no rows under the header, or a header used twice.
    """
    text, encoding = decode_text(data, name)
    delimiter, skipped = _delimiter(text, name)
    records = _records(text, name, delimiter, skipped)
    header_line, cells = next(records, (1, []))
    if not cells or not text.strip(_ALL_BLANK):
        raise InputProblem("Every cell of the file is empty.", name, "Export it again.")
    headers = _headers(cells, name, header_line, is_needed)
    rows: list[dict[str, str]] = []
    lines: list[int] = []
    numbers: list[int] = []
    refused: list[Refused] = []
    for number, (line, found) in enumerate(records, start=1):
        if number > max_rows:
            raise InputProblem(
                f"The table has more than {max_rows:,} rows.",
                f"{name}, line {line}",
                "Split it into smaller files.",
            )
        if len(found) != len(headers) and (len(found) < len(headers) or any(found[len(headers) :])):
            refused.append(_ragged(found, len(headers), number, f"{name}, line {line}", delimiter))
            continue
        if not keep_guard:
            found = [unguarded(cell) for cell in found]
        rows.append(dict(zip(headers, found, strict=False)))
        lines.append(line)
        numbers.append(number)
    if not rows and not refused:
        raise InputProblem(
            f"The table has a header ('{shown(headers[0])}' …) and no rows under it.",
            f"{name}, line {header_line}",
            "Export it again with its rows.",
        )
    return Table(
        source=name,
        headers=tuple(headers),
        rows=tuple(rows),
        lines=tuple(lines),
        numbers=tuple(numbers),
        header_line=header_line,
        format=f"table, {_DELIMITERS[delimiter]}, {encoding}",
        refused=tuple(refused),
    )


def require_even(table: Table) -> None:
    """Raise the first ragged row of `table` as a problem, for readers that leave none out."""
    for row in table.refused:
        raise InputProblem(row.why, row.where, row.what_to_do)


def _ragged(found: list[str], wanted: int, number: int, where: str, delimiter: str) -> Refused:
    text = delimiter.join(found)
    hint = f"Give it {wanted} cells."
    if delimiter == "," and len(found) > wanted:
        hint = "Put cells that hold commas (decimal commas too) in quotes, or separate by ';'."
    return Refused(
        number,
        where,
        shown(text),
        f"The row '{shown(text, 30)}' has {len(found)} cells; the header has {wanted}.",
        hint,
    )


def doubled_header(header: str, name: str, line: int) -> InputProblem:
    """Return the problem of a header that stands over two columns."""
    return InputProblem(
        f"Two columns are called '{shown(header)}'.", f"{name}, line {line}", "Rename one of them."
    )


def _headers(
    cells: Sequence[str], name: str, line: int, is_needed: Callable[[str], bool]
) -> list[str]:
    """Return the headers, each once; an empty one is named after its column."""
    if len(cells) > _MAX_COLUMNS:
        raise InputProblem(
            f"The first line has {len(cells):,} cells; at most {_MAX_COLUMNS:,} are read.",
            f"{name}, line {line}",
            "Delete the columns that are not needed.",
        )
    headers: list[str] = []
    for column, cell in enumerate(cells, start=1):
        header = unguarded(cell) or f"column {column}"
        if header in headers and not is_needed(header):
            header = f"column {column}"
        if header in headers:
            raise doubled_header(header, name, line)
        headers.append(header)
    while len(headers) > 1 and not cells[len(headers) - 1]:  # separators at the line's end
        headers.pop()
    return headers


def _delimiter(text: str, name: str) -> tuple[str, int]:
    """Return the delimiter, and how many lines to skip before the header.

    Every candidate is tried on the first rows: the right one cuts the header into several
    cells and the rows into as many. (csv.Sniffer guesses from letters and misfires.)
    """
    head = re.match(r'"?sep=([,;\t|])"?[ \t]*(\r\n|\r|\n)', text, re.IGNORECASE)
    if head:  # the hint that spreadsheets write into the first line
        return head.group(1), 1
    best, best_score = _NO_DELIMITER, (0.0, 0)
    for candidate in (",", ";", "\t", "|"):
        sizes = _sizes(text[:_MAX_LINE], name, candidate)
        if not sizes or sizes[0] < 2:
            continue
        header, rows = sizes[0], sizes[1:]
        fitting = sum(size == header for size in rows) / len(rows) if rows else 1.0
        if not fitting and header == 2 and all(size == 1 for size in rows):
            continue  # the header of a single column merely holds this character once
        if (fitting, header) > best_score:
            best, best_score = candidate, (fitting, header)
    return best, 0


def _sizes(text: str, name: str, delimiter: str) -> list[int]:
    """Return the number of cells in each of the first rows, as far as `delimiter` reads them."""
    sizes: list[int] = []
    with suppress(InputProblem):  # a wrong delimiter trips over quotes; the right one reports it
        for _, cells in _records(text, name, delimiter, 0):
            sizes.append(len(cells))
            if len(sizes) > _SAMPLE:
                break
    return sizes


def _records(text: str, name: str, delimiter: str, skipped: int) -> Iterator[tuple[int, list[str]]]:
    """Yield each row that is not blank with the line it starts on, its cells stripped."""
    lines = _lines(text, name)
    for _ in range(skipped):
        next(lines)
    # Strict: a quote that is never closed would otherwise swallow the rest of the file.
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    while True:
        line = reader.line_num + skipped + 1
        try:
            cells = next(reader, None)
        except csv.Error as problem:
            start = next(islice(_lines(text, name), line - 1, None), "")
            raise InputProblem(
                f"The row '{shown(start.rstrip(), 30)}' cannot be read: {problem}.",
                f"{name}, line {line}",
                "Check the quotes of this row.",
            ) from problem
        if cells is None:
            return
        cells = [cell.strip() for cell in cells]
        if any(cells):
            yield line, cells


def _lines(text: str, name: str) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), start=1):
        if len(line) > _MAX_LINE:
            raise InputProblem(
                f"The line has {len(line):,} characters.",
                f"{name}, line {number}",
                "Check that the file is a table.",
            )
        yield line

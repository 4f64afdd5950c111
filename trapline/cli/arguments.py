"""Reading what was typed behind the options: lengths, files and projects."""

from pathlib import Path
from typing import TYPE_CHECKING

from trapline.errors import InvalidValue
from trapline.exchange.files import read_bytes
from trapline.units import length_text, parse_length

if TYPE_CHECKING:
    from argparse import ArgumentParser

    from trapline.model.snapshot import Snapshot


def length_m(text: str, option: str) -> float:
    """Return a typed length in metres, 0 or more.

    Raises
    ------
    InvalidValue
        It is no length or negative; names the option.
    """
    try:
        metres = parse_length(text)
    except InvalidValue as problem:
        raise InvalidValue(problem.error, option, problem.what_to_do) from problem
    if metres < 0:
        raise InvalidValue(f"'{text}' is less than nothing.", option, "Write 0 m or more.")
    return metres


def gap_limits_m(min_gap: str, max_gap: str | None) -> tuple[float, float | None]:
    """Return the minimum and maximum gap in metres.

    Raises
    ------
    InvalidValue
        One is no length, or the maximum is under the minimum.
    """
    low = length_m(min_gap, "--min-gap")
    high = None if max_gap is None else length_m(max_gap, "--max-gap")
    if high is not None and high < low:
        raise InvalidValue(
            f"The maximum gap ({length_text(high)}) is less than the minimum ({length_text(low)}).",
            "--max-gap",
            "Type a larger maximum or a smaller minimum.",
        )
    return low, high


def file_bytes(name: str) -> tuple[bytes, str]:
    """Return the bytes of a file that was named, and the name that messages call it by."""
    path = Path(name)
    return read_bytes(path), path.name


def project_snapshot(name: str) -> "Snapshot":
    """Return the project in a file as it is now; the file is only read.

    Raises
    ------
    EnvironmentProblem
        It is not there, or no project.
    """
    from trapline.store.project import Project

    with Project.open(Path(name), read_only=True) as project:
        return project.snapshot()


def add_paper(parser: "ArgumentParser") -> None:
    """Give a command the options of a PDF."""
    parser.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="else A4")
    parser.add_argument("--out", metavar="FILE.pdf", required=True, help="where to write it")


def pdf_path(name: str) -> Path:
    """Return where a PDF goes.

    Raises
    ------
    InvalidValue
        The name does not end with .pdf: another file is never overwritten by mistake.
    """
    path = Path(name)
    if path.suffix.lower() != ".pdf":
        raise InvalidValue(f"'{path.name}' is no name of a PDF.", "--out", "End it with .pdf.")
    return path

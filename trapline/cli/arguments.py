"""Reading what was typed behind the options: lengths, files and projects."""

from pathlib import Path
from typing import TYPE_CHECKING

from trapline.errors import InvalidValue
from trapline.units import length_text, parse_length

if TYPE_CHECKING:
    from argparse import ArgumentParser

    from trapline.model.snapshot import Snapshot
    from trapline.model.trip import Round, Trip


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
    from trapline.exchange.files import read_bytes

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


def writable_project(name: str) -> Path:
    """Return where a project is that a command may change.

    Raises
    ------
    InvalidValue
        It lies among the samples that came with the program: those are never written.
    """
    from trapline.folders import shipped_folder

    path = Path(name)
    if path.resolve().parent == shipped_folder("sample_projects").resolve():
        raise InvalidValue(
            f"'{path.name}' lies among the samples that come with trapline, which stay as they"
            " are.",
            str(path),
            "Work on a copy in a folder of yours: trapline samples copy NAME",
        )
    return path


def chosen_trip(snapshot: "Snapshot", name: str | None) -> "Trip":
    """Return the trip of that name or id; without one the latest.

    Raises
    ------
    InvalidValue
        There is none, or there are several of that name.
    """
    trips = snapshot.trips()
    if not trips:
        raise InvalidValue("The project has no trip yet.", "--trip", "Start one in the window.")
    found = [trip for trip in trips if name is None or name in (trip.name, trip.id)]
    if name is None or len(found) == 1:
        return found[0]
    if found:
        known = ", ".join(f"{trip.id} (from {trip.started_on})" for trip in found)
        raise InvalidValue(
            f"There are {len(found)} trips named '{name}'.",
            "--trip",
            f"Name it by its id: {known}.",
        )
    known = ", ".join(f"'{trip.name}'" for trip in trips)
    raise InvalidValue(f"There is no trip named '{name}'.", "--trip", f"Use one of: {known}.")


def chosen_round(snapshot: "Snapshot", trip: "Trip", number: int | None) -> "Round":
    """Return the round of that number; without one the last.

    Raises
    ------
    InvalidValue
        The trip has none, or none of that number.
    """
    rounds = snapshot.rounds(trip.id)
    found = [one for one in rounds if number in (None, one.number)]
    if found:
        return found[-1]
    if not rounds:
        raise InvalidValue(
            f"The trip '{trip.name}' has no round yet.", "--round", "Start one in the window."
        )
    raise InvalidValue(
        f"The trip '{trip.name}' has no round {number}.",
        "--round",
        f"It has: {', '.join(str(one.number) for one in rounds)}.",
    )


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

"""Samples: the invented projects that come with the program, copied before they are opened."""

import os
from pathlib import Path

from trapline.errors import EnvironmentProblem, InvalidValue
from trapline.folders import documents_folder, shipped_folder


def list_samples() -> list[str]:
    """Return the names of the samples, in alphabetical order."""
    return sorted(path.stem for path in shipped_folder("sample_projects").glob("*.gpkg"))


def check_sample(name: str) -> None:
    """Refuse a name that no sample has.

    Raises
    ------
    InvalidValue
        There is no such sample; says which there are.
    """
    known = list_samples()
    if name not in known:
        raise InvalidValue(
            f"There is no sample named '{name}'.",
            "sample",
            f"Use one of: {', '.join(known) or 'none came with this installation'}.",
        )


def copy_sample(name: str, folder: Path | None = None) -> Path:
    """Copy a sample under a fresh name and return the copy of its project.

    The files that belong to it (``NAME.gpx``, ``NAME_lifts.csv``) go with it. Nothing is
    overwritten, and the sample itself is only read.

    Parameters
    ----------
    name : str
        One of :func:`list_samples`.
    folder : Path, optional
        Where to; without it the user's documents.

    Raises
    ------
    InvalidValue
        There is no such sample.
    EnvironmentProblem
        The copy cannot be written.
    """
    check_sample(name)
    goal = documents_folder() if folder is None else folder
    sources = _files_of(name)
    try:
        stem = _fresh_stem(name, sources, goal)
        for source in sources:
            _copy_new(source, goal / (stem + source.name.removeprefix(name)))
    except OSError as problem:
        raise EnvironmentProblem(
            f"The sample cannot be copied ({problem.strerror}).",
            str(goal),
            "Choose a folder of yours with room in it.",
        ) from problem
    return goal / f"{stem}.gpkg"


def _files_of(name: str) -> list[Path]:
    """Return the files of a sample; one whose name fits a longer sample's belongs to that."""
    known = list_samples()

    def owner(path: Path) -> str:
        fitting = [n for n in known if path.stem == n or path.stem.startswith(f"{n}_")]
        return max(fitting, key=len, default="")

    folder = shipped_folder("sample_projects")
    return sorted(path for path in folder.iterdir() if path.is_file() and owner(path) == name)


def _fresh_stem(name: str, sources: list[Path], goal: Path) -> str:
    stem, number = name, 1
    while any((goal / (stem + source.name.removeprefix(name))).exists() for source in sources):
        number += 1
        stem = f"{name} {number}"
    return stem


def _copy_new(source: Path, goal: Path) -> None:
    """Write a copy that is whole on the disk, or none; an existing file stays as it is."""
    data = source.read_bytes()
    with goal.open("xb") as stream:
        try:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        except OSError:
            goal.unlink(missing_ok=True)
            raise

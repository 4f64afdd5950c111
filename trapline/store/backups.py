"""Copies of a project: the backups that are made when it is opened, and "Save a copy".

A copy is written by SQLite itself (``VACUUM INTO``: whole, also while others read),
under a temporary name, flushed to the disk, checked, and only then given its name.
The live file is never opened by other means: closing such a descriptor would drop
SQLite's locks (sqlite.org, "How To Corrupt An SQLite Database File", 2.2).
"""

import hashlib
import os
import re
import sqlite3
import sys
import time
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from trapline.errors import EnvironmentProblem, NotAProject, TraplineError
from trapline.model.instants import now_utc
from trapline.store.connection import Guard, connect, one_moment, plain_errors
from trapline.store.creation import ordinary_tables
from trapline.store.opening import has_sidecar, strange_parts
from trapline.store.project import Project

KEPT: Final = 10
# Where the user was looking makes no new backup.
_OUTSIDE: Final = frozenset({"app_view"})
_STALE_S: Final = 24 * 3600.0
_NAME: Final = re.compile(
    r"(\d{5,}) (\d{4}-\d\d-\d\d)T(\d\d)-(\d\d)-(\d\d)Z ([0-9a-f]{12})\.gpkg", re.ASCII
)


@dataclass(frozen=True, slots=True)
class Backup:
    """A whole earlier state of a project, as it was when it was opened at `made_utc`."""

    path: Path
    made_utc: str
    number: int
    content: str


def data_folder() -> Path:
    """Return the folder where this user's programs keep their own data, with ours in it.

    ``TRAPLINE_DATA`` in the environment replaces it. Linux: XDG Base Directory
    Specification; Windows: %LOCALAPPDATA%; macOS: Library/Application Support.
    """
    named = os.environ.get("TRAPLINE_DATA")
    if named:
        return Path(named)
    if sys.platform == "win32":
        root = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        root = Path.home() / "Library" / "Application Support"
    else:
        given = Path(os.environ.get("XDG_DATA_HOME", ""))
        root = given if given.is_absolute() else Path.home() / ".local" / "share"
    return root / "trapline"


def backup_folder(path: Path) -> Path:
    """Return the folder of a project's backups; it need not exist yet."""
    place = os.path.normcase(Path(path).resolve())
    key = hashlib.sha256(place.encode("utf-8", "surrogateescape")).hexdigest()[:12]
    # Short and plain enough for every disk.
    stem = re.sub(r"[^\w-]+", "_", Path(path).stem)[:40]
    return data_folder() / "backups" / f"{stem}-{key}"


def list_backups(path: Path) -> list[Backup]:
    """Return the backups of the project at that path, newest first."""
    try:
        names = [entry.name for entry in backup_folder(path).iterdir()]
    except OSError:
        return []
    found = []
    for name in names:
        match = _NAME.fullmatch(name)
        if match:
            number, day, *clock, content = match.groups()
            made_utc = f"{day}T{':'.join(clock)}Z"
            found.append(Backup(backup_folder(path) / name, made_utc, int(number), content))
    return sorted(found, key=lambda backup: backup.number, reverse=True)


def make_backup(project: Project) -> str:
    """Copy the project aside, unless its newest backup is the same, and drop the oldest.

    Returns
    -------
    str
        Why there is no new backup although there should be, one sentence; else empty.
    """
    try:
        with plain_errors(project.path):
            content = _content(project.connection())
        backups = list_backups(project.path)
        if backups and backups[0].content == content:
            return ""
        folder = backup_folder(project.path)
        folder.mkdir(parents=True, exist_ok=True)
        number = backups[0].number + 1 if backups else 1
        name = f"{number:05d} {now_utc().replace(':', '-')} {content}.gpkg"
        _copy(project.connection(), project.guard, folder / name, clean=False)
        for old in backups[KEPT - 1 :]:
            old.path.unlink(missing_ok=True)
        _clear_parts(folder)
    except TraplineError as problem:
        return f"No backup could be made: {problem}"
    except OSError as problem:
        return (
            f"No backup could be made in {problem.filename or 'its folder'}"
            f" ({problem.strerror or problem})."
        )
    except RuntimeError as problem:
        return f"No backup could be made: your home folder cannot be found ({problem})."
    return ""


def _clear_parts(folder: Path) -> None:
    """Remove what a program that was stopped while it copied has left, once it is surely old."""
    for left in folder.glob(".*.part*"):
        if time.time() - left.stat().st_mtime > _STALE_S:
            left.unlink(missing_ok=True)


def save_copy(project: Project, target: Path, *, replace: bool = False) -> Path:
    """Write a copy of the project to another file and return its path.

    What in a file keeps it from being written to (a trigger or view that is not
    ours) is left out of the copy.

    Parameters
    ----------
    replace : bool
        Whether a file that is already there may be replaced.

    Raises
    ------
    EnvironmentProblem
        The target is the project itself, exists, is in use, or cannot be written.
    """
    target = _target(project.path, target, replace=replace)
    _copy(project.connection(), project.guard, target, clean=True)
    return target


def restore(backup: Path, target: Path) -> Path:
    """Copy a backup to a new file, which can then be opened, and return its path.

    Raises
    ------
    EnvironmentProblem, NotAProject
        The target exists or cannot be written; the backup is damaged.
    """
    target = _target(Path(backup), target, replace=False)
    connection, guard = connect(Path(backup), read_only=True)
    with closing(connection):
        _copy(connection, guard, target, clean=True)
    return target


def _target(source: Path, target: Path, *, replace: bool) -> Path:
    """Return where a copy may be written, or refuse."""
    target = Path(target).absolute()
    if target.suffix.lower() != ".gpkg":
        target = target.with_name(f"{target.name}.gpkg")
    try:
        there = target.exists()
        is_itself = there and target.samefile(source)
    except OSError as problem:
        raise _unwritable(target, problem) from problem
    if is_itself:
        raise EnvironmentProblem(
            f"'{target.name}' is the project itself.", str(target), "Choose another name."
        )
    if there and not (replace and target.is_file()):
        raise EnvironmentProblem(
            f"'{target.name}' exists already.", str(target), "Choose another name."
        )
    if has_sidecar(target):
        # It would be taken for the copy's own and spoil it.
        raise EnvironmentProblem(
            f"Another program is using '{target.name}', or was stopped while it did: its"
            " unfinished work lies beside it.",
            str(target),
            "Choose another name.",
        )
    return target


def _content(db: sqlite3.Connection) -> str:
    """Return twelve digits that change when anything in the project does."""
    digest = hashlib.sha256()
    with one_moment(db):
        for table in ordinary_tables(db):
            if table not in _OUTSIDE:
                digest.update(f"\0{table}\0".encode())
                quoted = table.replace('"', '""')
                for row in db.execute(f'SELECT * FROM "{quoted}"'):
                    digest.update(repr(tuple(row)).encode("utf-8", "surrogatepass"))
    return digest.hexdigest()[:12]


def _copy(db: sqlite3.Connection, guard: Guard, target: Path, *, clean: bool) -> None:
    """Write the whole project of a connection to `target`, whole or not at all."""
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        try:
            part.unlink(missing_ok=True)
            _vacuum_into(db, guard, part, target)
            _check_copy(part, target, clean=clean)
            _flush(part)
            os.replace(part, target)
            _flush(target.parent)
        finally:
            for left in (part, part.with_name(part.name + "-journal")):
                with suppress(OSError):
                    left.unlink(missing_ok=True)
    except OSError as problem:
        raise _unwritable(target, problem) from problem


def _unwritable(target: Path, problem: OSError) -> EnvironmentProblem:
    return EnvironmentProblem(
        f"'{target.name}' cannot be written ({problem.strerror or problem}).",
        str(target.parent),
        "Choose another name or folder, or free some space there.",
    )


def _vacuum_into(db: sqlite3.Connection, guard: Guard, part: Path, target: Path) -> None:
    if not target.parent.is_dir():
        raise EnvironmentProblem(
            f"There is no folder '{target.parent}'.", str(target), "Choose a folder that exists."
        )
    guard.attach_allowed = True
    try:
        with plain_errors(target):
            db.execute("VACUUM INTO ?", (str(part),))
    finally:
        guard.attach_allowed = False


def _check_copy(part: Path, target: Path, *, clean: bool) -> None:
    """Make sure that the copy is whole; with `clean` leave out what is not ours to run."""
    connection, _ = connect(part)
    with closing(connection), plain_errors(target):
        if clean:
            for kind, name in strange_parts(connection):
                quoted = name.replace('"', '""')
                connection.execute(f'DROP {kind} "{quoted}"')
        check = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if check != "ok":
        raise NotAProject(
            f"The copy of the project came out damaged: {check}.",
            str(target),
            "Try another disk; the project itself was not touched.",
        )


def _flush(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk."""
    if path.is_dir() and os.name == "nt":
        return  # Windows keeps the names of a folder by itself and lets nobody flush them.
    number = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(number)
    finally:
        os.close(number)

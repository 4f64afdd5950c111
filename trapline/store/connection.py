"""Opening SQLite with the settings that keep a project whole, and translating its errors.

Rollback journal, every commit synced to the directory; no write-ahead log: a
copied main file would lose the last commit, and read-only folders would fail.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from trapline.errors import EnvironmentProblem, NotAProject, ReadOnlyProject
from trapline.store.geopackage import envelope_functions

BUSY_TIMEOUT_S = 4.0
# Functions that a trigger or view in the file may call: those of a spatial index. SQLite hands
# names to the authorizer in lower case.
_TRIGGER_FUNCTIONS = frozenset(name.lower() for name in envelope_functions())


class Guard:
    """What SQL may do on our own connection; `attach_allowed` only while a copy is made."""

    def __init__(self) -> None:
        self.attach_allowed = False

    def __call__(
        self, code: int, first: str | None, second: str | None, _db: str | None, source: str | None
    ) -> int:
        """Answer SQLite's question about one operation."""
        if code == sqlite3.SQLITE_ATTACH and not self.attach_allowed:
            return sqlite3.SQLITE_DENY
        if code == sqlite3.SQLITE_FUNCTION and source is not None:
            name = (second or first or "").lower()
            return sqlite3.SQLITE_OK if name in _TRIGGER_FUNCTIONS else sqlite3.SQLITE_DENY
        return sqlite3.SQLITE_OK


def connect(path: Path, *, read_only: bool = False) -> tuple[sqlite3.Connection, Guard]:
    """Return a connection to a project file and its guard.

    Raises
    ------
    EnvironmentProblem, NotAProject
        In plain words, whatever SQLite said.
    """
    mode = "ro" if read_only else "rw"
    with plain_errors(path):
        connection = sqlite3.connect(
            f"{path.resolve().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_TIMEOUT_S,
            isolation_level=None,
        )
    try:
        with plain_errors(path):
            _settle(connection)
    except BaseException:
        connection.close()
        raise
    guard = Guard()
    connection.set_authorizer(guard)
    return connection, guard


def _settle(connection: sqlite3.Connection) -> None:
    connection.row_factory = sqlite3.Row
    connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, 64 * 1024 * 1024)
    connection.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 1)
    for setting in (
        "synchronous=EXTRA",
        "fullfsync=ON",
        "foreign_keys=ON",
        "cell_size_check=ON",
        "mmap_size=0",
    ):
        connection.execute(f"PRAGMA {setting}")
    for name, function in envelope_functions().items():
        connection.create_function(name, 1, _callable(function), deterministic=True)


def _callable(function: object) -> Callable[..., Any]:
    assert callable(function)
    return function


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into sentences with a way out."""
    try:
        yield
    except sqlite3.DatabaseError as problem:
        code = getattr(problem, "sqlite_errorcode", 0) & 0xFF
        name = path.name
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise EnvironmentProblem(
                "Another program is writing to the project just now.",
                name,
                "Close it there, or wait a moment and try again.",
            ) from problem
        if code == sqlite3.SQLITE_FULL:
            raise EnvironmentProblem(
                "The disk is full; nothing of this step was written and all before it is safe.",
                name,
                "Free some space, or save a copy on another disk.",
            ) from problem
        if code == sqlite3.SQLITE_READONLY:
            raise ReadOnlyProject(
                "The project cannot be written to.", name, "Save a copy in a folder of yours."
            ) from problem
        if code == sqlite3.SQLITE_NOTADB:
            raise NotAProject(
                "The file is not a trapline project: it does not begin like one (byte 1).",
                name,
                "Choose a file that ends in .gpkg and was made by trapline.",
            ) from problem
        if code in (sqlite3.SQLITE_CORRUPT,):
            raise NotAProject(
                "The project file is damaged or cut off.",
                name,
                "Open its newest backup (File, Open a backup).",
            ) from problem
        if code in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM):
            raise EnvironmentProblem(
                f"The project cannot be read or written ({problem}).",
                name,
                "Check that the disk is there and that the folder is yours, then try again.",
            ) from problem
        raise

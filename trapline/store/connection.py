"""Opening SQLite with the settings that keep a project whole, and translating its errors.

Rollback journal, every commit synced to the directory; no write-ahead log: a
copied main file would lose the last commit, and read-only folders would fail.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path, PurePath
from typing import Final

from trapline.errors import (
    Conflict,
    EnvironmentProblem,
    NotAProject,
    ReadOnlyProject,
    TraplineError,
)
from trapline.store.geopackage import FEATURES, envelope_functions

BUSY_TIMEOUT_S: Final = 4.0
# What a trigger or view in the file may call and write: what those of a spatial index do.
# SQLite hands names to the authorizer in lower case.
_TRIGGER_FUNCTIONS = frozenset(name.lower() for name in envelope_functions())
_TRIGGER_TABLES = frozenset(f"rtree_{table}_geom" for table in FEATURES)
_WRITES = frozenset({sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE})


class Guard:
    """What SQL may do on our own connection; `attach_allowed` only while a copy is made."""

    def __init__(self) -> None:
        self.attach_allowed = False

    def __call__(
        self, code: int, first: str | None, second: str | None, _db: str | None, source: str | None
    ) -> int:
        """Answer SQLite's question about one operation; `source` is a trigger's or view's name."""
        allowed = True
        if code == sqlite3.SQLITE_ATTACH:
            allowed = self.attach_allowed
        elif source is not None and code == sqlite3.SQLITE_FUNCTION:
            allowed = (second or first or "").lower() in _TRIGGER_FUNCTIONS
        elif source is not None and code in _WRITES:
            allowed = (first or "").lower() in _TRIGGER_TABLES
        return sqlite3.SQLITE_OK if allowed else sqlite3.SQLITE_DENY


def connect(
    path: Path, *, read_only: bool = False, immutable: bool = False
) -> tuple[sqlite3.Connection, Guard]:
    """Return a connection to a project file and its guard.

    With `immutable` SQLite takes no locks and looks for no journal: only for a
    file that nobody can write to.

    Raises
    ------
    EnvironmentProblem, NotAProject
        In plain words, whatever SQLite said.
    """
    mode = ("mode=ro" if read_only else "mode=rw") + ("&immutable=1" if immutable else "")
    with plain_errors(path):
        connection = sqlite3.connect(
            f"{sqlite_uri(path.resolve())}?{mode}",
            uri=True,
            timeout=BUSY_TIMEOUT_S,
            isolation_level=None,
        )
        try:
            settle(connection)
            # SQLite opens the file at the first look into it.
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except BaseException:
            connection.close()
            raise
    guard = Guard()
    connection.set_authorizer(guard)
    return connection, guard


def sqlite_uri(path: PurePath) -> str:
    """Return the URI of an absolute path as SQLite reads it: a network share has no authority."""
    uri = path.as_uri()
    return uri if uri.startswith("file:///") else uri.replace("file://", "file:////", 1)


def settle(connection: sqlite3.Connection) -> None:
    """Give a connection the settings and functions that every writer of a project needs."""
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
        connection.create_function(name, 1, function, deterministic=True)


@contextmanager
def one_moment(connection: sqlite3.Connection) -> Iterator[None]:
    """Read everything inside as it is at one moment: nobody can write between two tables."""
    if connection.in_transaction:
        yield
        return
    connection.execute("BEGIN")
    try:
        yield
    finally:
        # A failing disk has ended the transaction by itself; its own error is the one to tell.
        if connection.in_transaction:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")


def cause_code(problem: BaseException) -> int:
    """Return SQLite's primary error code behind an error, 0 where there is none."""
    found = problem if isinstance(problem, sqlite3.Error) else problem.__cause__
    return getattr(found, "sqlite_errorcode", 0) & 0xFF


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into sentences with a way out."""
    try:
        yield
    except UnicodeDecodeError as problem:
        # Python could not read what SQLite said about a damaged name.
        raise _damaged_text(problem, path.name) from problem
    except sqlite3.DatabaseError as problem:
        sentence = _sentence(problem, path.name)
        if sentence is None:
            raise
        raise sentence from problem


def _sentence(problem: sqlite3.DatabaseError, name: str) -> TraplineError | None:
    """Say what SQLite's error means, or None where it can only be a mistake of the program."""
    extended = getattr(problem, "sqlite_errorcode", None)
    if extended is None:
        # Python's own complaint about a cell: text that is not UTF-8.
        if not isinstance(problem, sqlite3.OperationalError):
            return None
        return _damaged_text(problem, name)
    if extended == sqlite3.SQLITE_ERROR and str(problem).startswith("not authorized"):
        extended = sqlite3.SQLITE_AUTH  # a function that the guard refused
    say = _PRECISE.get(extended) or _FAMILIES.get(extended & 0xFF)
    if say is None:
        return None
    kind, error, what_to_do = say
    return kind(error.format(problem=problem), name, what_to_do)


def _damaged_text(problem: Exception, name: str) -> NotAProject:
    return NotAProject(f"The project file holds damaged text ({problem}).", name, _BACKUP)


_BACKUP: Final = "Open its newest backup (File, Open a backup)."
_DISK: Final = "Check that the disk is there and that the folder is yours, then try again."
_COPY: Final = "Save a copy in a folder of yours."
_Say = tuple[Callable[[str, str, str], TraplineError], str, str]

# By SQLite's extended code (https://www.sqlite.org/rescode.html), before the family's sentence.
_PRECISE: Final[dict[int, _Say]] = {
    sqlite3.SQLITE_READONLY_ROLLBACK: (
        ReadOnlyProject,
        "A program was stopped while it wrote to the project, and what it left half done can"
        " only be taken back where the file can be written.",
        "Open it once for writing, or copy it with the file ending in -journal to a folder of"
        " yours and open it there.",
    ),
    # The journal is gone, which is what commits; only the folder could not be flushed.
    sqlite3.SQLITE_IOERR_DIR_FSYNC: (
        EnvironmentProblem,
        "The step is in the file, but the disk could not confirm that it is safe there"
        " ({problem}).",
        "Save a copy on another disk now.",
    ),
    sqlite3.SQLITE_READONLY_DBMOVED: (
        EnvironmentProblem,
        "The project file was moved, renamed or deleted while it was open.",
        "Save a copy now, then close it.",
    ),
}
_FAMILIES: Final[dict[int, _Say]] = {
    sqlite3.SQLITE_BUSY: (
        EnvironmentProblem,
        "Another program is using the project just now; nothing was changed.",
        "Close it there, or wait a moment and try again.",
    ),
    sqlite3.SQLITE_LOCKED: (
        EnvironmentProblem,
        "Another part of the program is using the project just now; nothing was changed.",
        "Wait a moment and try again.",
    ),
    sqlite3.SQLITE_FULL: (
        EnvironmentProblem,
        "The disk is full; nothing of this step was written and all before it is safe.",
        "Free some space, or save a copy on another disk.",
    ),
    sqlite3.SQLITE_READONLY: (ReadOnlyProject, "The project cannot be written to.", _COPY),
    sqlite3.SQLITE_AUTH: (
        ReadOnlyProject,
        "Something in the file tried to do more than a project may ({problem}).",
        _COPY,
    ),
    sqlite3.SQLITE_NOTADB: (
        NotAProject,
        "The file is not a trapline project: it does not begin like one (byte 1).",
        "Choose a file that ends in .gpkg and was made by trapline.",
    ),
    sqlite3.SQLITE_CORRUPT: (NotAProject, "The project file is damaged or cut off.", _BACKUP),
    sqlite3.SQLITE_CANTOPEN: (
        EnvironmentProblem,
        "The project cannot be opened or written ({problem}).",
        _DISK,
    ),
    sqlite3.SQLITE_IOERR: (
        EnvironmentProblem,
        "The disk failed while the project was read or written ({problem}); nothing of this step"
        " was kept and all before it is safe.",
        "Save a copy on another disk now.",
    ),
    sqlite3.SQLITE_PERM: (EnvironmentProblem, "The project may not be opened ({problem}).", _DISK),
    sqlite3.SQLITE_PROTOCOL: (
        EnvironmentProblem,
        "The disk does not let programs take turns with the file ({problem}).",
        "Move the project from the network to a disk of this computer.",
    ),
    sqlite3.SQLITE_CONSTRAINT: (
        Conflict,
        "The project refuses this step ({problem}); nothing was changed.",
        "Look at what another program changed in it, then try again.",
    ),
}

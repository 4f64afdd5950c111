"""What is looked at before a file is trusted as a project."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from trapline.errors import EnvironmentProblem, NewerFormat, NotAProject, ReadOnlyProject
from trapline.folders import shipped_folder
from trapline.model.nouns import NOUNS
from trapline.store.connection import Guard, cause_code, connect, plain_errors
from trapline.store.creation import ordinary_tables, schema_columns
from trapline.store.migrations import SCHEMA_VERSION, format_of, meta_number, migrate
from trapline.store.rows import table_columns

# The triggers that a GIS adds with a spatial index (GeoPackage clause F.3).
_INDEX_TRIGGER: Final = r"rtree_{table}_\w+_(insert|delete|update[1-7])"
# The smallest page of an SQLite file; shorter ones it would take for an empty database.
_LEAST_BYTES: Final = 512


@dataclass(frozen=True, slots=True)
class Opening:
    """A connection that has been looked at, and why it must not write (empty: it may)."""

    connection: sqlite3.Connection
    guard: Guard
    why_read_only: str


def examine(path: Path, *, read_only: bool) -> Opening:
    """Open a file and make sure that it is a whole project of a format that we know.

    Raises
    ------
    NotAProject, NewerFormat, EnvironmentProblem
        In one sentence, with what to do.
    """
    _look_at(path)
    is_shipped = _is_shipped(path)
    connection, guard, why = _reach(path, read_only or is_shipped)
    if is_shipped and not read_only:
        why = "It is a sample that came with the program; open a fresh copy of it (File menu)."
    try:
        with plain_errors(path), _unreadable(path):
            found = _identify(connection, path)
            _check_reader(connection, path, found)
            why = why or _why_newer(found) or why_strange(connection)
            why = why or _why_not_writable(connection)
            if found < SCHEMA_VERSION:
                _bring_up(connection, path, found, why)
            _check_tables(connection, path)
            why = why or _why_writes_would_fail(connection)
    except BaseException:
        connection.close()
        raise
    return Opening(connection, guard, why)


def _is_shipped(path: Path) -> bool:
    """Whether a file lies among the samples, which stay as they came."""
    try:
        return path.resolve().parent == shipped_folder("sample_projects").resolve()
    except EnvironmentProblem:  # an installation without samples has none to keep
        return False


def _look_at(path: Path) -> None:
    """Refuse what is no file with something in it, without opening it: that could drop locks."""
    try:
        size = path.stat().st_size
        is_folder = path.is_dir()
    except OSError as problem:
        raise EnvironmentProblem(
            f"The project '{path.name}' cannot be found or reached ({problem.strerror}).",
            str(path),
            "Check the name and that the disk is there.",
        ) from problem
    if is_folder:
        wrong = "is a folder"
    elif size < _LEAST_BYTES:
        wrong = "is an empty file (0 bytes)" if size == 0 else f"has only {size} bytes"
    else:
        return
    raise NotAProject(
        f"'{path.name}' {wrong}, not a project.", str(path), "Choose a project file (.gpkg)."
    )


def _reach(path: Path, read_only: bool) -> tuple[sqlite3.Connection, Guard, str]:
    """Connect for writing where that is wanted and possible, else for reading, and say why."""
    why = "It was opened for reading only."
    if not read_only:
        try:
            return *connect(path), ""
        except EnvironmentProblem as problem:
            if cause_code(problem) not in _MAY_BE_READABLE:
                raise
        why = "The file or its folder cannot be written to."
    try:
        return *connect(path, read_only=True), why
    except EnvironmentProblem as problem:
        if cause_code(problem) not in _MAY_BE_READABLE:
            raise
        if has_sidecar(path):
            raise _out_of_reach(path) from problem
    # A file in write-ahead mode wants two more files beside it, even for reading. Where they
    # cannot be made, nobody can write to it either.
    return *connect(path, read_only=True, immutable=True), why


_MAY_BE_READABLE: Final = frozenset(
    {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR}
)


def has_sidecar(path: Path) -> bool:
    """Whether unfinished work of another program lies beside the file."""
    resolved = path.resolve()
    return any(resolved.with_name(resolved.name + end).exists() for end in ("-wal", "-journal"))


def _out_of_reach(path: Path) -> ReadOnlyProject:
    """Refuse to show a file without the part of it that lies beside it: that would be a lie."""
    return ReadOnlyProject(
        "A program was stopped while it wrote to the project, or still has it open: part of it"
        " lies beside it, and can only be fitted in where file and folder can be written to.",
        path.name,
        "Copy it, together with the files named like it that end in -wal or -journal, to a folder"
        " of yours and open it there.",
    )


@contextmanager
def _unreadable(path: Path) -> Iterator[None]:
    """Say of any other complaint of SQLite that the file cannot be read as a project."""
    try:
        yield
    except sqlite3.OperationalError as problem:
        if getattr(problem, "sqlite_errorcode", 0) != sqlite3.SQLITE_ERROR:
            raise
        raise NotAProject(
            f"'{path.name}' cannot be read as a project ({problem}).",
            str(path),
            "Open its newest backup (File, Open a backup).",
        ) from problem


def _identify(connection: sqlite3.Connection, path: Path) -> int:
    """Return the format number, or refuse what is not a whole project."""
    check = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if check != "ok":
        raise NotAProject(
            f"The project file is damaged: {check}.",
            str(path),
            "Open its newest backup (File, Open a backup).",
        )
    tables = ordinary_tables(connection)
    version = format_of(connection) if "app_meta" in tables else None
    if version is None:
        kind = "a GeoPackage" if "gpkg_contents" in tables else "a database"
        raise NotAProject(
            f"'{path.name}' is {kind}, but not a trapline project.",
            str(path),
            "Choose a project that was made by trapline.",
        )
    return version


def _check_reader(connection: sqlite3.Connection, path: Path, found: int) -> None:
    """Refuse a newer format that this version can no longer show."""
    needed = meta_number(connection, "min_reader")
    if found > SCHEMA_VERSION and (needed is None or needed > SCHEMA_VERSION):
        raise NewerFormat(
            f"'{path.name}' was written by a newer trapline (format {found};"
            f" this one reads up to {SCHEMA_VERSION}).",
            str(path),
            "Install the newer trapline. Nothing was changed.",
        )


def _why_newer(found: int) -> str:
    if found <= SCHEMA_VERSION:
        return ""
    return (
        f"It was written by a newer trapline (format {found}), which this one can show but not"
        " change."
    )


def why_strange(connection: sqlite3.Connection) -> str:
    """Say which trigger or view is none of ours nor of a spatial index; empty when all are."""
    found = strange_parts(connection)
    if not found:
        return ""
    kind, name = found[0]
    return f"The file holds a {kind} '{name}' that trapline did not make; writing could set it off."


def strange_parts(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    """The (kind, name) of triggers and views that are none of ours nor of a spatial index."""
    rows = connection.execute(
        "SELECT type, name, tbl_name FROM sqlite_master WHERE type IN ('trigger', 'view')"
    )
    return [
        (str(kind), str(name))
        for kind, name, table in rows
        if kind == "view"
        or not re.fullmatch(_INDEX_TRIGGER.format(table=re.escape(str(table))), str(name))
    ]


def _why_not_writable(connection: sqlite3.Connection) -> str:
    """Try a real write and take it back: BEGIN alone succeeds on a read-only file.

    A file that another program left in write-ahead mode is switched back.
    """
    try:
        connection.execute("BEGIN IMMEDIATE")
        # A value that differs: SQLite does not write what is there already.
        connection.execute("UPDATE app_meta SET value = '' WHERE key = 'schema_version'")
        connection.execute("ROLLBACK")
        mode = connection.execute("PRAGMA journal_mode=DELETE").fetchone()[0]
    except sqlite3.OperationalError as problem:
        code = cause_code(problem)
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        if code == sqlite3.SQLITE_FULL:
            return "The disk is full."
        if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR):
            return "The file or its folder cannot be written to."
        if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and _mode(connection) == "wal":
            return _WRITE_AHEAD
        raise
    return "" if mode == "delete" else _WRITE_AHEAD


_WRITE_AHEAD: Final = (
    "Another program has it open and keeps its latest changes outside the file (write-ahead"
    " mode); close it there to write here."
)


def _mode(connection: sqlite3.Connection) -> str:
    return str(connection.execute("PRAGMA journal_mode").fetchone()[0])


def _bring_up(connection: sqlite3.Connection, path: Path, found: int, why: str) -> None:
    """Migrate an older project, or say why that cannot be."""
    if why:
        raise EnvironmentProblem(
            f"'{path.name}' was written by an older trapline (format {found}) and must be brought"
            f" up to date before it can be shown. {why}",
            str(path),
            "Copy it to a folder of yours and open the copy.",
        )
    migrate(connection, path, found, SCHEMA_VERSION)


def _check_tables(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a project that has lost a table, a column or its own row."""
    present = set(ordinary_tables(connection))
    for table, columns in schema_columns().items():
        if table not in present:
            raise _incomplete(path, f"the table '{table}'")
        lost = sorted(columns - table_columns(connection, table))
        if lost:
            raise _incomplete(path, f"the column '{lost[0]}' of the table '{table}'")
    if connection.execute("SELECT 1 FROM project LIMIT 1").fetchone() is None:
        raise _incomplete(path, "the row of the project itself")


def _incomplete(path: Path, what: str) -> NotAProject:
    return NotAProject(
        f"'{path.name}' has lost {what}.",
        str(path),
        "Open its newest backup (File, Open a backup).",
    )


def _why_writes_would_fail(connection: sqlite3.Connection) -> str:
    """Let SQLite plan every kind of write, so that a trigger that cannot run is found now."""
    for noun in NOUNS:
        for write in (
            f"INSERT INTO {noun.table} (id) VALUES ('')",
            f"UPDATE {noun.table} SET {{}}",
            f"DELETE FROM {noun.table}",
        ):
            columns = sorted(schema_columns()[noun.table])
            setters = ", ".join(f"{name} = {name}" for name in columns)
            try:
                connection.execute("EXPLAIN " + write.format(setters)).fetchall()
            except sqlite3.DatabaseError as problem:
                return (
                    f"What another program added to the table '{noun.table}' cannot be run"
                    f" ({problem})."
                )
    return ""

"""What is looked at before a file is trusted as a project."""

import sqlite3
from dataclasses import dataclass
from pathlib import Path

from trapline.errors import EnvironmentProblem, NewerFormat, NotAProject, ReadOnlyProject
from trapline.store.connection import Guard, connect, plain_errors
from trapline.store.migrations import migrate

# The triggers that a GIS adds with a spatial index (GeoPackage clause F.3) and nothing else.
_INDEX_TRIGGER = r"rtree_{table}_geom_"


@dataclass(frozen=True, slots=True)
class Opening:
    """A connection that has been looked at, and why it must not write (empty: it may)."""

    connection: sqlite3.Connection
    guard: Guard
    why_read_only: str


def examine(path: Path, schema_version: int, *, read_only: bool) -> Opening:
    """Open a file and make sure that it is a whole project of a version that we know.

    Raises
    ------
    NotAProject, NewerFormat, EnvironmentProblem
        In one sentence, with what to do.
    """
    try:
        size = path.stat().st_size
    except OSError as problem:
        raise EnvironmentProblem(
            f"The project '{path.name}' cannot be found or opened.",
            str(path),
            "Check the name and that the disk is there.",
        ) from problem
    if path.is_dir() or size == 0:
        what = "a folder" if path.is_dir() else "empty (0 bytes)"
        raise NotAProject(f"'{path.name}' is {what}.", path.name, "Choose a project file (.gpkg).")
    why = "It was opened for reading only." if read_only else ""
    try:
        connection, guard = connect(path, read_only=read_only)
    except (EnvironmentProblem, ReadOnlyProject):
        if read_only:
            raise
        why = "The file or its folder cannot be written to."
        connection, guard = connect(path, read_only=True)
    try:
        with plain_errors(path):
            found = _identify(connection, path)
            if not why:
                why = _why_not_writable(connection)
            if not why:
                connection.execute("PRAGMA journal_mode=DELETE")
            why = why or _why_strange(connection)
            if found > schema_version:
                needed = _meta(connection, "min_reader")
                if needed is None or int(needed) > schema_version:
                    raise NewerFormat(
                        f"'{path.name}' was written by a newer trapline (format {found};"
                        f" this one reads up to {schema_version}).",
                        path.name,
                        "Install the newer trapline. Nothing was changed.",
                    )
                why = why or (
                    f"It was written by a newer trapline (format {found}), which this one can"
                    " show but not change."
                )
            elif found < schema_version and not why:
                migrate(connection, path, found, schema_version)
    except BaseException:
        connection.close()
        raise
    return Opening(connection, guard, why)


def _identify(connection: sqlite3.Connection, path: Path) -> int:
    """Return the format number, or refuse what is not a whole project."""
    check = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if check != "ok":
        raise NotAProject(
            f"The project file is damaged: {check}.",
            path.name,
            "Open its newest backup (File, Open a backup).",
        )
    version = _meta(connection, "schema_version")
    if version is None or not version.isdigit():
        kind = "a GeoPackage" if _has_table(connection, "gpkg_contents") else "a database"
        raise NotAProject(
            f"'{path.name}' is {kind}, but not a trapline project.",
            path.name,
            "Choose a project that was made by trapline.",
        )
    return int(version)


def _has_table(connection: sqlite3.Connection, name: str) -> bool:
    found = connection.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (name,))
    return found.fetchone() is not None


def _meta(connection: sqlite3.Connection, key: str) -> str | None:
    if not _has_table(connection, "app_meta"):
        return None
    row = connection.execute("SELECT value FROM app_meta WHERE key = ?", (key,)).fetchone()
    return str(row[0]) if row else None


def _why_not_writable(connection: sqlite3.Connection) -> str:
    """Try a real write and take it back: BEGIN alone succeeds on a read-only file."""
    try:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO app_meta VALUES ('probe', '')")
    except sqlite3.OperationalError as problem:
        code = getattr(problem, "sqlite_errorcode", 0) & 0xFF
        if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR):
            return "The file or its folder cannot be written to."
        raise
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
    return ""


def _why_strange(connection: sqlite3.Connection) -> str:
    """Say which trigger or view is none of ours nor of a spatial index."""
    rows = connection.execute(
        "SELECT type, name, tbl_name FROM sqlite_master WHERE type IN ('trigger', 'view')"
    )
    for kind, name, table in rows:
        if kind == "trigger" and str(name).startswith(_INDEX_TRIGGER.format(table=table)):
            continue
        return (
            f"The file holds a {kind} '{name}' that trapline did not make;"
            " writing could set it off."
        )
    return ""

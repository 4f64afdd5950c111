"""Numbered steps from one format of the project file to the next.

All run in one transaction together with the record that they ran. A migration
ends undo (its rows no longer fit) and keeps the lines of the history.
"""

import sqlite3
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Final

from trapline.errors import NotAProject
from trapline.store.history import CLOSED

Migration = Callable[[sqlite3.Connection], None]

# The format that this version writes, and the oldest format whose reader can still show it.
SCHEMA_VERSION: Final = 1
MIN_READER: Final = 1
# From format n to n + 1, under the key n. Format 1 is the first one released.
MIGRATIONS: Final[dict[int, Migration]] = {}


def migrate(
    connection: sqlite3.Connection,
    path: Path,
    found: int,
    wanted: int,
    known: dict[int, Migration] | None = None,
) -> None:
    """Bring an older project to the format `wanted`, whole or not at all.

    Raises
    ------
    NotAProject
        No step is known from its format, or one left rows that refer to nothing.
    """
    known = MIGRATIONS if known is None else known
    missing = [version for version in range(found, wanted) if version not in known]
    if missing:
        raise NotAProject(
            f"'{path.name}' has the format {missing[0]}, which this trapline cannot read.",
            path.name,
            "Open it with the version that wrote it.",
        )
    connection.execute("BEGIN IMMEDIATE")
    try:
        # Another window may have done it while this one waited for its turn.
        if format_of(connection) == found:
            _run(connection, path, [known[version] for version in range(found, wanted)])
            _write_meta(connection, "schema_version", wanted)
            _write_meta(connection, "min_reader", min(MIN_READER, wanted))
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def format_of(connection: sqlite3.Connection) -> int | None:
    """Return the number of the file's format, or None where it says none."""
    return meta_number(connection, "schema_version")


def meta_number(connection: sqlite3.Connection, key: str) -> int | None:
    """Return a whole number from app_meta, or None where there is none."""
    row = connection.execute("SELECT value FROM app_meta WHERE key = ?", (key,)).fetchone()
    text = str(row[0]) if row else ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else None


def _write_meta(connection: sqlite3.Connection, key: str, number: int) -> None:
    connection.execute("UPDATE app_meta SET value = ? WHERE key = ?", (str(number), key))


def _run(connection: sqlite3.Connection, path: Path, steps: list[Migration]) -> None:
    before = len(connection.execute("PRAGMA foreign_key_check").fetchall())
    for step in steps:
        step(connection)
    if len(connection.execute("PRAGMA foreign_key_check").fetchall()) > before:
        raise NotAProject(
            f"'{path.name}' could not be brought to the present format: a row would refer to"
            " nothing.",
            path.name,
            "Open it with the version that wrote it; nothing was changed.",
        )
    connection.execute("UPDATE app_step SET state = ?", (CLOSED,))
    connection.execute("DELETE FROM app_step_row")

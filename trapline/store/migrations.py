"""Numbered steps from one format of the project file to the next.

Each runs in one transaction together with the record that it ran. A migration
ends undo (its rows no longer fit) and keeps the lines of the history.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Final

from trapline.errors import NotAProject
from trapline.store.history import CLOSED

Migration = Callable[[sqlite3.Connection], None]

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
        No step is known from its format.
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
        for version in range(found, wanted):
            known[version](connection)
        connection.execute("UPDATE app_step SET state = ?", (CLOSED,))
        connection.execute("DELETE FROM app_step_row")
        for key in ("schema_version", "min_reader"):
            connection.execute("UPDATE app_meta SET value = ? WHERE key = ?", (str(wanted), key))
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise

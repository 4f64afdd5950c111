"""Saying what a row is still needed for, when SQLite will not let it go."""

import sqlite3
from collections import Counter

from trapline.errors import Conflict
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE


def broken_reference(db: sqlite3.Connection, changes: Changes) -> Conflict:
    """Return the refusal of a step after which some row would refer to nothing.

    Called while the step is still in the file: SQLite found the fault when it
    was to be committed, but does not say which rows.
    """
    was = {(row.table, row.id): row for row in changes.rows}
    users: Counter[str] = Counter()
    gone = None
    for table, fid, parent, number in db.execute("PRAGMA foreign_key_check").fetchall():
        if table not in BY_TABLE or parent not in BY_TABLE:
            continue
        column = _column(db, table, number)
        child_id, key = db.execute(
            f"SELECT id, {column} FROM {table} WHERE fid = ?", (fid,)
        ).fetchone()
        if (table, child_id) in was and (parent, key) not in was:
            return Conflict(
                f"{_named(table, was[table, child_id].after)} refers to a"
                f" {BY_TABLE[parent].noun} that is not there.",
                BY_TABLE[table].noun,
                f"Choose another {BY_TABLE[parent].noun}; nothing was changed.",
            )
        if gone is None and (parent, key) in was:
            gone = was[parent, key]
        if gone is not None and (parent, key) == (gone.table, gone.id):
            users[BY_TABLE[table].noun] += 1
    if gone is None:
        return Conflict(
            "The step would leave a row that refers to nothing.",
            changes.label,
            "Nothing was changed.",
        )
    by = ", ".join(f"{number} × {noun}" for noun, number in users.items())
    return Conflict(
        f"{_named(gone.table, gone.before)} is still used by: {by}.",
        BY_TABLE[gone.table].noun,
        "Delete those first or let them refer to another one; nothing was changed.",
    )


def _column(db: sqlite3.Connection, table: str, number: int) -> str:
    """The column of a table's foreign key of that number."""
    for row in db.execute(f"PRAGMA foreign_key_list({table})"):
        if row["id"] == number:
            return str(row["from"])
    raise KeyError(number)


def _named(table: str, row: Noun | None) -> str:
    """The noun with the name, label or number that the user gave it."""
    for name in ("name", "label", "number"):
        value = getattr(row, name, None)
        if value is not None:
            return f"The {BY_TABLE[table].noun} '{value}'"
    return f"A {BY_TABLE[table].noun}"

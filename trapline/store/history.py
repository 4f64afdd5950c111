"""Undo and redo as rows: what each step did, kept in the file and surviving its closing."""

import getpass
import sqlite3
from dataclasses import dataclass
from typing import Final

from trapline.errors import Conflict
from trapline.model.changes import Changes, RowChange
from trapline.model.instants import now_utc
from trapline.model.nouns import BY_TABLE
from trapline.store.rows import Columns, column_names, decode, from_json, to_json

DONE: Final = "done"
UNDONE: Final = "undone"
DROPPED: Final = "dropped"
CLOSED: Final = "closed"


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the history. `sitting` counts the times that the project was opened."""

    step: int
    label: str
    at_utc: str
    who: str
    sitting: int
    state: str


def who_am_i() -> str:
    """Return the login name that the history writes beside a step."""
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return ""


def read_columns(db: sqlite3.Connection, table: str, row_id: str) -> Columns | None:
    """Return a row as it stands in the file, with its row number; None when it is not there."""
    names = ("fid", *column_names(BY_TABLE[table]))
    row = db.execute(
        f"SELECT {', '.join(names)} FROM {table} WHERE id = ?",
        (row_id,),
    ).fetchone()
    return None if row is None else dict(zip(names, row, strict=True))


def write_columns(db: sqlite3.Connection, table: str, row_id: str, columns: Columns | None) -> None:
    """Make the row in the file be `columns`: insert, update or delete it. Never REPLACE."""
    exists = db.execute(f"SELECT 1 FROM {table} WHERE id = ?", (row_id,)).fetchone()
    if columns is None:
        db.execute(f"DELETE FROM {table} WHERE id = ?", (row_id,))
    elif exists:
        setters = ", ".join(f"{name} = :{name}" for name in columns if name != "id")
        db.execute(f"UPDATE {table} SET {setters} WHERE id = :id", columns)
    else:
        names = ", ".join(columns)
        marks = ", ".join(f":{name}" for name in columns)
        db.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", columns)


def begin_step(db: sqlite3.Connection, label: str, sitting: int) -> int:
    """Write the line of a new step, give up what could be redone, return its number."""
    db.execute("UPDATE app_step SET state = ? WHERE state = ?", (DROPPED, UNDONE))
    made = db.execute(
        "INSERT INTO app_step (label, at_utc, who, sitting, state) VALUES (?, ?, ?, ?, ?)",
        (label, now_utc(), who_am_i(), sitting, DONE),
    )
    assert made.lastrowid is not None
    return made.lastrowid


def record(
    db: sqlite3.Connection,
    step: int,
    seq: int,
    table: str,
    row_id: str,
    before: Columns | None,
    after: Columns | None,
) -> None:
    """Keep what one row was before and is after a step."""
    db.execute(
        "INSERT INTO app_step_row VALUES (?, ?, ?, ?, ?, ?)",
        (step, seq, table, row_id, to_json(before), to_json(after)),
    )


def steps(db: sqlite3.Connection, limit: int | None = None) -> list[Step]:
    """Return the lines of the history, newest first."""
    rows = db.execute(
        "SELECT step, label, at_utc, who, sitting, state FROM app_step ORDER BY step DESC LIMIT ?",
        (-1 if limit is None else limit,),
    )
    return [Step(*row) for row in rows]


def next_undo(db: sqlite3.Connection) -> Step | None:
    """Return the step that undo would take back."""
    row = db.execute(
        "SELECT step, label, at_utc, who, sitting, state FROM app_step"
        " WHERE state = ? ORDER BY step DESC LIMIT 1",
        (DONE,),
    ).fetchone()
    return Step(*row) if row else None


def next_redo(db: sqlite3.Connection) -> Step | None:
    """Return the step that redo would do again."""
    row = db.execute(
        "SELECT step, label, at_utc, who, sitting, state FROM app_step"
        " WHERE state = ? ORDER BY step LIMIT 1",
        (UNDONE,),
    ).fetchone()
    return Step(*row) if row else None


def replay(db: sqlite3.Connection, step: Step, *, back: bool) -> Changes:
    """Write the rows of a step backwards (undo) or forwards (redo).

    Raises
    ------
    Conflict
        A row is no longer what the step left: another program changed it.
    """
    order = "DESC" if back else "ASC"
    rows = db.execute(
        "SELECT table_name, row_id, before, after FROM app_step_row WHERE step = ?"
        f" ORDER BY seq {order}",
        (step.step,),
    ).fetchall()
    changed = []
    for table, row_id, before_text, after_text in rows:
        if table not in BY_TABLE:
            raise Conflict(f"The history names a table '{table}' that is not ours.", step.label)
        expected, wanted = (after_text, before_text) if back else (before_text, after_text)
        if to_json(read_columns(db, table, row_id)) != expected:
            verb = "undone" if back else "done again"
            raise Conflict(
                f"'{step.label}' cannot be {verb}: the {BY_TABLE[table].noun} it changed has since"
                " been changed by another program.",
                step.label,
                "Correct the value by hand; nothing was changed.",
            )
        columns = from_json(wanted)
        write_columns(db, table, row_id, columns)
        changed.append(row_change(table, row_id, from_json(expected), columns))
    return Changes(step.label, tuple(changed))


def row_change(table: str, row_id: str, before: Columns | None, after: Columns | None) -> RowChange:
    """Return the change of a row as nouns."""
    noun = BY_TABLE[table]
    return RowChange(
        table,
        row_id,
        None if before is None else decode(noun, before),
        None if after is None else decode(noun, after),
    )


def set_state(db: sqlite3.Connection, step: Step, state: str) -> None:
    """Mark a step done or undone."""
    db.execute("UPDATE app_step SET state = ? WHERE step = ?", (state, step.step))

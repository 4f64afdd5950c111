"""Undo and redo as rows: what each step did, kept in the file and surviving its closing."""

import getpass
import sqlite3
from dataclasses import dataclass
from typing import Final

from trapline.errors import Conflict
from trapline.model.changes import Changes, RowChange
from trapline.model.instants import now_utc
from trapline.model.nouns import BY_TABLE
from trapline.store.rows import Columns, decode, from_json, table_columns, to_json

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
    """Return a row as it stands in the file; None when it is not there.

    All its columns: the row number, and those that a GIS added too.
    """
    row = db.execute(f"SELECT * FROM {table} WHERE id = ?", (row_id,)).fetchone()
    return None if row is None else dict(row)


def write_columns(
    db: sqlite3.Connection, table: str, row_id: str, now: Columns | None, wanted: Columns | None
) -> None:
    """Make a row of the file, which is `now`, be `wanted`: insert, update or delete it."""
    if wanted is None:
        db.execute(f"DELETE FROM {table} WHERE id = ?", (row_id,))
        return
    other = {n: v for n, v in wanted.items() if now is None or n not in now or now[n] != v}
    names = ['"' + name.replace('"', '""') + '"' for name in other]
    values = tuple(other.values())
    if now is None:
        marks = ", ".join("?" * len(names))
        db.execute(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", values)
    elif other:
        setters = ", ".join(f"{name} = ?" for name in names)
        db.execute(f"UPDATE {table} SET {setters} WHERE id = ?", (*values, row_id))


def is_still(kept: str | None, now: Columns | None) -> bool:
    """Whether a row is what a step left, the step's text being `kept`.

    A column that a GIS has added since makes no difference while it is empty.
    """
    if kept is None or now is None:
        return kept is None and now is None
    known = from_json(kept) or {}
    return to_json({n: v for n, v in now.items() if n in known or v is not None}) == kept


def new_sitting(db: sqlite3.Connection) -> int:
    """Return the number of a sitting that makes its first step now."""
    return int(db.execute("SELECT ifnull(max(sitting), 0) + 1 FROM app_step").fetchone()[0])


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
    return _steps(db, "1 ORDER BY step DESC LIMIT ?", -1 if limit is None else limit)


def next_undo(db: sqlite3.Connection) -> Step | None:
    """Return the step that undo would take back."""
    found = _steps(db, "state = ? ORDER BY step DESC LIMIT 1", DONE)
    return found[0] if found else None


def next_redo(db: sqlite3.Connection) -> Step | None:
    """Return the step that redo would do again."""
    found = _steps(db, "state = ? ORDER BY step LIMIT 1", UNDONE)
    return found[0] if found else None


def numbered(db: sqlite3.Connection, step: int) -> Step:
    """Return the step of that number.

    Raises
    ------
    Conflict
        There is none.
    """
    found = _steps(db, "step = ?", step)
    if not found:
        raise Conflict(f"The history has no step {step}.", "", "Choose a line of the history.")
    return found[0]


def _steps(db: sqlite3.Connection, where: str, value: object) -> list[Step]:
    rows = db.execute(
        f"SELECT step, label, at_utc, who, sitting, state FROM app_step WHERE {where}", (value,)
    )
    return [Step(*row) for row in rows]


def replay(db: sqlite3.Connection, step: Step, *, back: bool) -> Changes:
    """Write the rows of a step backwards (undo) or forwards (redo) and mark it so.

    Raises
    ------
    Conflict
        A row is no longer what the step left: another program changed it.
    """
    changed = []
    for kept in _kept_rows(db, step, newest_first=back):
        expected, wanted = (kept.after, kept.before) if back else (kept.before, kept.after)
        now = read_columns(db, kept.table, kept.row_id)
        if not is_still(expected, now):
            verb = "undone" if back else "done again"
            raise Conflict(
                f"'{step.label}' cannot be {verb}: the {BY_TABLE[kept.table].noun} it changed has"
                " since been changed by another program.",
                step.label,
                "Correct the value by hand; nothing was changed.",
            )
        columns = from_json(wanted)
        write_columns(db, kept.table, kept.row_id, now, columns)
        changed.append(row_change(kept.table, kept.row_id, from_json(expected), columns))
    db.execute(
        "UPDATE app_step SET state = ? WHERE step = ?", (UNDONE if back else DONE, step.step)
    )
    return Changes(step.label, tuple(changed))


@dataclass(frozen=True, slots=True)
class KeptRow:
    """What a step did to one row, as the JSON text of its columns; None where it was not there."""

    table: str
    row_id: str
    before: str | None
    after: str | None


def rows_to_put_back(db: sqlite3.Connection, number: int) -> list[KeptRow]:
    """Return what a step did as a whole to each row, the latest touched first.

    Raises
    ------
    Conflict
        The step is not one that is done, or its rows were given up.
    """
    step = numbered(db, number)
    if step.state != DONE:
        why = {
            UNDONE: "it was undone",
            DROPPED: "it was undone",
            CLOSED: "it began the project or came before a change of the file's format",
        }.get(step.state, f"its state is '{step.state}'")
        raise Conflict(
            f"'{step.label}' cannot be put back: {why}.", step.label, "Choose another line."
        )
    found: dict[tuple[str, str], KeptRow] = {}
    for row in _kept_rows(db, step, newest_first=False):
        first = found.pop((row.table, row.row_id), row)
        found[row.table, row.row_id] = KeptRow(row.table, row.row_id, first.before, row.after)
    return [row for row in reversed(found.values()) if row.before != row.after]


def changes_of(db: sqlite3.Connection, number: int) -> Changes:
    """Return what a step did, row by row.

    Raises
    ------
    Conflict
        There is no such step, or its rows were given up.
    """
    step = numbered(db, number)
    rows = [
        row_change(row.table, row.row_id, from_json(row.before), from_json(row.after))
        for row in _kept_rows(db, step, newest_first=False)
    ]
    return Changes(step.label, tuple(rows))


def _kept_rows(db: sqlite3.Connection, step: Step, *, newest_first: bool) -> list[KeptRow]:
    order = "DESC" if newest_first else "ASC"
    rows = db.execute(
        "SELECT table_name, row_id, before, after FROM app_step_row WHERE step = ?"
        f" ORDER BY seq {order}",
        (step.step,),
    ).fetchall()
    columns: dict[str, frozenset[str]] = {}
    for table, _, *texts in rows:
        if table in BY_TABLE and table not in columns:
            columns[table] = table_columns(db, table)
        # The names in the JSON go into SQL: only those of columns that the table has.
        if not all(_names(text) <= columns.get(table, frozenset()) for text in texts):
            raise Conflict(
                f"The history of '{step.label}' does not fit the table '{table}' of this file.",
                step.label,
                "Correct the value by hand; nothing was changed.",
            )
    return [KeptRow(*row) for row in rows]


def _names(text: str | None) -> frozenset[str]:
    """The column names in a step's text; one that no table has where it cannot be read."""
    try:
        return frozenset(from_json(text) or {})
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return frozenset({""})


def row_change(table: str, row_id: str, before: Columns | None, after: Columns | None) -> RowChange:
    """Return the change of a row as nouns."""
    noun = BY_TABLE[table]
    return RowChange(
        table,
        row_id,
        None if before is None else decode(noun, before),
        None if after is None else decode(noun, after),
    )

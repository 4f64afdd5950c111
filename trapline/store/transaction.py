"""The one door for change: rows written, remembered and committed together."""

import sqlite3
from typing import TypeVar

from trapline.errors import Conflict
from trapline.model.changes import Changes, RowChange
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE
from trapline.model.snapshot import Snapshot
from trapline.store.history import begin_step, read_columns, record, row_change, write_columns
from trapline.store.rows import Columns, encode

N = TypeVar("N", bound=Noun)


class Change:
    """What an action may do inside ``with project.change(label) as change``.

    A row may be touched several times; the step keeps each in order.
    """

    def __init__(self, db: sqlite3.Connection, label: str, sitting: int, before: Snapshot) -> None:
        self._db = db
        self._label = label
        self._sitting = sitting
        self._snapshot = before
        self._pending: list[RowChange] = []
        self._step: int | None = None
        self._rows: list[RowChange] = []
        self._open = True

    @property
    def snapshot(self) -> Snapshot:
        """The project as it is inside this change so far."""
        if self._pending:
            self._snapshot = self._snapshot.after(Changes(self._label, tuple(self._pending)))
            self._pending = []
        return self._snapshot

    def insert(self, row: N) -> N:
        """Write a new row."""
        if read_columns(self._db, row.table, row.id) is not None:
            raise Conflict(f"There is already a {row.noun} with this key.", row.noun)
        return self._write(row)

    def update(self, row: N) -> N:
        """Write a row that exists; nothing happens where nothing differs."""
        return self._write(row)

    def delete(self, row: Noun) -> None:
        """Remove a row; what refers to it must have gone before the change ends."""
        self._put(row.table, row.id, None)

    def finish(self) -> Changes:
        """Close the door and return what was changed."""
        self._open = False
        return Changes(self._label, tuple(self._rows))

    def _write(self, row: N) -> N:
        self._put(row.table, row.id, encode(row))
        return row

    def _put(self, table: str, row_id: str, columns: Columns | None) -> None:
        if not self._open:
            raise RuntimeError("a change was used after its end")
        assert table in BY_TABLE
        before = read_columns(self._db, table, row_id)
        if before is None and columns is None:
            raise Conflict(f"The {BY_TABLE[table].noun} is no longer there.", table)
        if columns is not None and before is not None:
            columns = {"fid": before["fid"], **columns}
            if columns == before:
                return
        write_columns(self._db, table, row_id, columns)
        # Read back: what SQLite keeps is what undo will compare with.
        after = read_columns(self._db, table, row_id)
        if self._step is None:
            self._step = begin_step(self._db, self._label, self._sitting)
        record(self._db, self._step, len(self._rows), table, row_id, before, after)
        change = row_change(table, row_id, before, after)
        self._rows.append(change)
        self._pending.append(change)

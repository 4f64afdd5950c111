"""The one door for change: rows written, remembered and committed together."""

import sqlite3
from typing import TypeVar

from trapline.errors import Conflict
from trapline.model.changes import Changes, RowChange
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE
from trapline.model.snapshot import Snapshot
from trapline.store import history
from trapline.store.rows import Columns, encode, from_json

N = TypeVar("N", bound=Noun)


class Change:
    """What an action may do inside ``with project.change(label) as change``.

    A row may be touched several times; the step keeps each in order.

    Attributes
    ----------
    reordered : bool
        Whether a row came back to its old place among the others.
    """

    def __init__(self, db: sqlite3.Connection, label: str, sitting: int, before: Snapshot) -> None:
        self._db = db
        self.reordered = False
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
        """Write a new row.

        Raises
        ------
        Conflict
            There is one with its key.
        """
        now = self._now(row.table, row.id)
        if now is not None:
            raise Conflict(
                f"There is already a {row.noun} with this key.",
                row.noun,
                "Give it a key of its own.",
            )
        self._put(row.table, row.id, now, encode(row))
        return row

    def update(self, row: N) -> N:
        """Write a row that exists; nothing happens where nothing differs.

        Raises
        ------
        Conflict
            It is no longer there.
        """
        self._put(row.table, row.id, self._needed(row), encode(row))
        return row

    def delete(self, row: Noun) -> None:
        """Remove a row; what refers to it must have gone before the change ends.

        Raises
        ------
        Conflict
            It is no longer there.
        """
        self._put(row.table, row.id, self._needed(row), None)

    def put_back(self, kept: history.KeptRow, label: str) -> None:
        """Make a row what it was before an earlier step.

        Raises
        ------
        Conflict
            It is no longer what that step left.
        """
        now = self._now(kept.table, kept.row_id)
        if not history.is_still(kept.after, now):
            raise Conflict(
                f"'{label}' cannot be put back: the {BY_TABLE[kept.table].noun} it changed has been"
                " changed again since.",
                label,
                "Correct the value by hand; nothing was changed.",
            )
        self._put(kept.table, kept.row_id, now, from_json(kept.before))
        self.reordered = True

    def finish(self) -> Changes:
        """Close the door and return what was changed."""
        self._open = False
        return Changes(self._label, tuple(self._rows))

    def _needed(self, row: Noun) -> Columns:
        now = self._now(row.table, row.id)
        if now is None:
            raise Conflict(
                f"The {row.noun} is no longer there; another program deleted it.",
                row.noun,
                "Look at the project as it is now, then try again.",
            )
        return now

    def _now(self, table: str, row_id: str) -> Columns | None:
        if not self._open:
            raise RuntimeError("a change was used after its end")
        return history.read_columns(self._db, table, row_id)

    def _put(self, table: str, row_id: str, now: Columns | None, wanted: Columns | None) -> None:
        if now is not None and wanted is not None:
            # The row number and the columns that a GIS added stay as they are.
            wanted = {**now, **wanted}
            if wanted == now:
                return
        history.write_columns(self._db, table, row_id, now, wanted)
        # Read back: what SQLite keeps is what undo will compare with.
        after = history.read_columns(self._db, table, row_id)
        if self._step is None:
            self._step = history.begin_step(self._db, self._label, self._sitting)
        history.record(self._db, self._step, len(self._rows), table, row_id, now, after)
        change = history.row_change(table, row_id, now, after)
        self._rows.append(change)
        self._pending.append(change)

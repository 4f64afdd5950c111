"""The open project: one file, one door for change, one undo stack.

There is no Save: every action is committed when its change ends.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Self

from trapline.errors import Conflict, ReadOnlyProject, TraplineError
from trapline.model.changes import Changes
from trapline.model.project_info import ProjectInfo
from trapline.model.snapshot import Snapshot
from trapline.store import history
from trapline.store.connection import one_moment, plain_errors
from trapline.store.creation import write_new_project
from trapline.store.geopackage import note_contents
from trapline.store.history import Step
from trapline.store.opening import Opening, examine
from trapline.store.references import broken_reference
from trapline.store.rows import in_file_order, read_snapshot
from trapline.store.transaction import Change


class EarlierSitting(Conflict):
    """The next step to undo was made before the project was opened this time."""


class Project:
    """An open project file. Use :meth:`create` or :meth:`open`, and :meth:`close` it.

    Attributes
    ----------
    path : Path
        The file, absolute.
    read_only : bool
        True when nothing can be written; `why_read_only` says why in one sentence.
    last_changes : Changes
        What the latest change, undo or redo did.
    """

    def __init__(self, path: Path, opening: Opening) -> None:
        self.path = path
        self.read_only = opening.why_read_only != ""
        self.why_read_only = opening.why_read_only
        self.guard = opening.guard
        self.last_changes = Changes("")
        self._db = opening.connection
        self._sitting: int | None = None
        self._snapshot: Snapshot | None = None
        self._data_version = -1
        self._changing = False

    # Coming and going

    @classmethod
    def create(cls, path: Path, info: ProjectInfo) -> Self:
        """Make a new project file with its first row and open it.

        Raises
        ------
        EnvironmentProblem
            The file exists already or cannot be written; nothing is left of it then.
        """
        path = Path(path).absolute()
        write_new_project(path, info)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Self:
        """Open a project file; read-only where it cannot be written, with the reason kept.

        Raises
        ------
        NotAProject, NewerFormat, EnvironmentProblem
            In one sentence, with what to do.
        """
        path = Path(path).absolute()
        project = cls(path, examine(path, read_only=read_only))
        try:
            project.snapshot()
        except BaseException:
            project.close()
            raise
        return project

    def close(self) -> None:
        """Close the file. Nothing is left to save."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # Asking

    def snapshot(self) -> Snapshot:
        """Return the project as it is now, read anew when another program changed the file.

        Inside a change this is the project before it; see :attr:`Change.snapshot`.

        Raises
        ------
        NotAProject
            Another program wrote a value that cannot be.
        """
        with plain_errors(self.path):
            if self._snapshot is None or _version(self._db) != self._data_version:
                with one_moment(self._db):
                    version = _version(self._db)
                    self._snapshot = read_snapshot(self._db)
                    self._data_version = version
        return self._snapshot

    def history(self, limit: int | None = None) -> list[Step]:
        """Return the lines of the history, newest first."""
        with plain_errors(self.path):
            return history.steps(self._db, limit)

    def next_undo(self) -> Step | None:
        """Return the step that undo would take back."""
        with plain_errors(self.path):
            return history.next_undo(self._db)

    def next_redo(self) -> Step | None:
        """Return the step that redo would do again."""
        with plain_errors(self.path):
            return history.next_redo(self._db)

    def is_earlier(self, step: Step) -> bool:
        """Whether a step was made before the project was opened this time."""
        return step.sitting != self._sitting

    def connection(self) -> sqlite3.Connection:
        """The connection, for the other files of this room only."""
        return self._db

    # Changing

    @contextmanager
    def change(self, label: str) -> Iterator[Change]:
        """Open the one door: what is written inside is committed whole at its end, or not at all.

        Raises
        ------
        ReadOnlyProject
            The project cannot be written to.
        Conflict
            A row would refer to one that is no longer there.
        """
        with self._writing() as before:
            sitting = self._sitting or history.new_sitting(self._db)
            change = Change(self._db, label, sitting, before)
            try:
                yield change
            finally:
                changes = change.finish()
            self._commit(changes, reordered=change.reordered)
        if changes:
            self._sitting = sitting

    def undo(self, *, into_earlier_sitting: bool = True) -> Changes:
        """Take back the latest step.

        Raises
        ------
        Conflict
            There is none, or another program changed what it changed.
        EarlierSitting
            It was made in an earlier sitting and that was not allowed.
        """
        with self._writing():
            step = history.next_undo(self._db)
            if step is None:
                raise Conflict("There is nothing to undo.")
            if self.is_earlier(step) and not into_earlier_sitting:
                raise EarlierSitting(
                    f"'{step.label}' was done in an earlier sitting ({step.at_utc}).",
                    step.label,
                    "Undo it all the same, or leave it.",
                )
            self._commit(history.replay(self._db, step, back=True), reordered=True)
        return self.last_changes

    def redo(self) -> Changes:
        """Do the step again that was undone last.

        Raises
        ------
        Conflict
            There is none, or another program changed what it changed.
        """
        with self._writing():
            step = history.next_redo(self._db)
            if step is None:
                raise Conflict("There is nothing to redo.")
            self._commit(history.replay(self._db, step, back=False), reordered=True)
        return self.last_changes

    def revert(self, step_number: int) -> Changes:
        """Put back what one line of the history changed, as a new step, whatever came after it.

        Raises
        ------
        Conflict
            The line is not one that is done, or something later touched the same rows.
        """
        with plain_errors(self.path):
            step = history.numbered(self._db, step_number)
        with self.change(f"Put back: {step.label}") as change:
            for kept in history.rows_to_put_back(self._db, step_number):
                change.put_back(kept, step.label)
        return self.last_changes

    def view_state(self, key: str) -> str | None:
        """Return what was kept under `key`: where the user was looking. Outside undo."""
        with plain_errors(self.path):
            row = self._db.execute("SELECT value FROM app_view WHERE key = ?", (key,)).fetchone()
        return row[0] if row else None

    def keep_view_state(self, key: str, value: str) -> None:
        """Keep where the user was looking; silently not, where nothing can be written."""
        if self.read_only or self.view_state(key) == value:
            return
        with self._writing():
            self._db.execute("DELETE FROM app_view WHERE key = ?", (key,))
            self._db.execute("INSERT INTO app_view VALUES (?, ?)", (key, value))
            self._db.execute("COMMIT")

    # Inside

    @contextmanager
    def _writing(self) -> Iterator[Snapshot]:
        """Hold the file for one write; what is not committed inside is taken back."""
        if self.read_only:
            raise ReadOnlyProject(
                self.why_read_only, self.path.name, "Save a copy in a folder of yours."
            )
        if self._changing:
            raise RuntimeError("a change was opened inside a change")
        self._changing = True
        try:
            with plain_errors(self.path):
                self._db.execute("BEGIN IMMEDIATE")
                try:
                    yield self.snapshot()
                except TraplineError:
                    raise
                except BaseException:
                    # After a failing disk only the file itself knows what was kept.
                    self._snapshot = None
                    raise
                finally:
                    if self._db.in_transaction:
                        # The first error is the one to tell, not that of a rollback after it.
                        with suppress(sqlite3.Error):
                            self._db.execute("ROLLBACK")
        finally:
            self._changing = False

    def _commit(self, changes: Changes, *, reordered: bool = False) -> None:
        note_contents(self._db, changes)
        # Before the commit: right after it another program may have written already.
        snapshot = self.snapshot().after(changes)
        came_back = {row.table for row in changes.rows if row.before is None}
        for table in came_back if reordered else ():
            snapshot = in_file_order(self._db, snapshot, table)
        try:
            self._db.execute("COMMIT")
        except sqlite3.IntegrityError as problem:
            raise broken_reference(self._db, changes) from problem
        self._snapshot = snapshot
        self.last_changes = changes


def _version(db: sqlite3.Connection) -> int:
    """A number that changes when another connection commits, and not for its own commits."""
    return int(db.execute("PRAGMA data_version").fetchone()[0])


__all__ = ["EarlierSitting", "Project", "Step"]

"""The open project: one file, one door for change, one undo stack.

There is no Save: every action is committed when its change ends.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path
from typing import Final, Self

from trapline import __version__
from trapline.errors import Conflict, EnvironmentProblem, NotAProject, ReadOnlyProject
from trapline.model.changes import Changes
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.model.snapshot import Snapshot
from trapline.store import history
from trapline.store.connection import connect, plain_errors
from trapline.store.geopackage import APPLICATION_ID, FEATURES, SRS_WGS84, USER_VERSION
from trapline.store.history import Step
from trapline.store.opening import Opening, examine
from trapline.store.rows import column_names, decode
from trapline.store.transaction import Change

SCHEMA_VERSION: Final = 1


class EarlierSitting(Conflict):
    """The next step to undo was made before the project was opened this time."""


class Project:
    """An open project file. Use :meth:`create` or :meth:`open`, and :meth:`close` it.

    Attributes
    ----------
    path : Path
        The file.
    read_only : bool
        True when nothing can be written; `why_read_only` says why in one sentence.
    """

    def __init__(self, path: Path, opening: Opening) -> None:
        self.path = path
        self.read_only = opening.why_read_only != ""
        self.why_read_only = opening.why_read_only
        self._db = opening.connection
        self.guard = opening.guard
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
            The file exists already or cannot be written.
        """
        path = Path(path)
        if path.suffix.lower() != ".gpkg":
            raise EnvironmentProblem(
                f"'{path.name}' does not end in .gpkg.", path.name, "Choose a name like lake.gpkg."
            )
        try:
            path.open("x").close()
        except FileExistsError as problem:
            raise EnvironmentProblem(
                f"'{path.name}' exists already.", path.name, "Choose another name."
            ) from problem
        except OSError as problem:
            raise EnvironmentProblem(
                f"'{path.name}' cannot be made ({problem.strerror}).",
                path.name,
                "Choose a folder of yours.",
            ) from problem
        try:
            _write_schema(path)
            project = cls.open(path)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        with project.change("New project") as change:
            change.insert(info)
        return project

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Self:
        """Open a project file; read-only where it cannot be written, with the reason kept.

        Raises
        ------
        NotAProject, NewerFormat, EnvironmentProblem
            In one sentence, with what to do.
        """
        path = Path(path)
        opening = examine(path, SCHEMA_VERSION, read_only=read_only)
        project = cls(path, opening)
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
        """Return the project as it is now, read anew when another program changed the file."""
        with plain_errors(self.path):
            version = self._db.execute("PRAGMA data_version").fetchone()[0]
            if self._snapshot is None or version != self._data_version:
                self._snapshot = self._read()
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
        """
        with self._writing() as sitting:
            change = Change(self._db, label, sitting, self.snapshot())
            yield change
            changes = change.finish()
            self._note_contents(changes)
        if changes:
            assert self._snapshot is not None
            self._snapshot = self._snapshot.after(changes)
        self.last_changes = changes

    last_changes: Changes = Changes("")

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
            return self._replayed(step, history.UNDONE, back=True)

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
            return self._replayed(step, history.DONE, back=False)

    def view_state(self, key: str) -> str | None:
        """Return what was kept under `key`: where the user was looking. Outside undo."""
        with plain_errors(self.path):
            row = self._db.execute("SELECT value FROM app_view WHERE key = ?", (key,)).fetchone()
        return row[0] if row else None

    def keep_view_state(self, key: str, value: str) -> None:
        """Keep where the user was looking; silently not, where nothing can be written."""
        if self.read_only:
            return
        with self._writing():
            self._db.execute("DELETE FROM app_view WHERE key = ?", (key,))
            self._db.execute("INSERT INTO app_view VALUES (?, ?)", (key, value))

    # Inside

    def _read(self) -> Snapshot:
        rows = {}
        for noun in NOUNS:
            names = column_names(noun)
            found = self._db.execute(f"SELECT {', '.join(names)} FROM {noun.table} ORDER BY fid")
            decoded = (decode(noun, dict(zip(names, row, strict=True))) for row in found)
            rows[noun.table] = {row.id: row for row in decoded}
        return Snapshot(rows)

    def _replayed(self, step: Step, state: str, *, back: bool) -> Changes:
        changes = history.replay(self._db, step, back=back)
        history.set_state(self._db, step, state)
        self._note_contents(changes)
        self._snapshot = self.snapshot().after(changes)
        return changes

    @contextmanager
    def _writing(self) -> Iterator[int]:
        if self.read_only:
            raise ReadOnlyProject(
                self.why_read_only, self.path.name, "Save a copy in a folder of yours."
            )
        if self._changing:
            raise RuntimeError("a change was opened inside a change")
        self._changing = True
        kept = self._snapshot
        try:
            with plain_errors(self.path):
                self._db.execute("BEGIN IMMEDIATE")
                try:
                    yield self._sitting_number()
                    self._db.execute("COMMIT")
                except BaseException:
                    self._snapshot = kept
                    # A full disk has ended the transaction by itself.
                    if self._db.in_transaction:
                        self._db.execute("ROLLBACK")
                    raise
        finally:
            self._changing = False

    def _sitting_number(self) -> int:
        if self._sitting is None:
            row = self._db.execute("SELECT max(sitting) FROM app_step").fetchone()
            self._sitting = (row[0] or 0) + 1
        return self._sitting

    def _note_contents(self, changes: Changes) -> None:
        for table in changes.tables:
            self._db.execute(
                "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
                " WHERE table_name = ?",
                (table,),
            )
        for row in changes.rows:
            lon_deg, lat_deg = (getattr(row.after, name, None) for name in ("lon_deg", "lat_deg"))
            if row.table in FEATURES and lon_deg is not None:
                # The box of a layer may be wider than its content; it never needs to shrink.
                self._db.execute(
                    "UPDATE gpkg_contents SET min_x = min(ifnull(min_x, :x), :x),"
                    " max_x = max(ifnull(max_x, :x), :x), min_y = min(ifnull(min_y, :y), :y),"
                    " max_y = max(ifnull(max_y, :y), :y) WHERE table_name = :table",
                    {"x": lon_deg, "y": lat_deg, "table": row.table},
                )


def _write_schema(path: Path) -> None:
    connection, _ = connect(path)
    try:
        with plain_errors(path):
            connection.execute("PRAGMA journal_mode=DELETE")
            connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version={USER_VERSION}")
            script = files("trapline.store").joinpath("schema.sql").read_text("utf-8")
            connection.executescript(f"BEGIN IMMEDIATE;\n{script}\nCOMMIT;")
            connection.execute("BEGIN IMMEDIATE")
            for noun in NOUNS:
                spatial = noun.table in FEATURES
                connection.execute(
                    "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id)"
                    " VALUES (?, ?, ?, ?)",
                    (
                        noun.table,
                        "features" if spatial else "attributes",
                        noun.table,
                        SRS_WGS84 if spatial else None,
                    ),
                )
                if spatial:
                    connection.execute(
                        "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'POINT', ?, 0, 0)",
                        (noun.table, SRS_WGS84),
                    )
            meta = {
                "schema_version": str(SCHEMA_VERSION),
                "min_reader": str(SCHEMA_VERSION),
                "created_by": f"trapline {__version__}",
            }
            connection.executemany("INSERT INTO app_meta VALUES (?, ?)", meta.items())
            connection.execute("COMMIT")
    finally:
        connection.close()


__all__ = ["EarlierSitting", "NotAProject", "Project", "Step"]

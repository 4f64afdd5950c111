"""From one format to the next: whole or not at all, also when the program is killed on the way."""

import os
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.errors import Conflict, EnvironmentProblem, NotAProject
from trapline.model.bait import Bait
from trapline.store import migrations, opening
from trapline.store.connection import connect
from trapline.store.migrations import Migration, format_of, migrate
from trapline.store.project import Project

Dump = Callable[[Path], list[str]]
Outside = Callable[..., None]
InChild = Callable[[Callable[[], object]], int]


def add_smell(db: sqlite3.Connection) -> None:
    db.execute("ALTER TABLE bait ADD COLUMN smell TEXT NOT NULL DEFAULT ''")
    db.execute("UPDATE bait SET smell = 'strong'")


def split_amount(db: sqlite3.Connection) -> None:
    db.execute("ALTER TABLE bait ADD COLUMN amount_g REAL")
    db.execute("UPDATE bait SET amount_g = 150, notes = 'from format 2'")
    db.execute("CREATE TABLE later (a)")


KNOWN: dict[int, Migration] = {1: add_smell, 2: split_amount}


def steps_of(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as db:
        return [row[0] for row in db.execute("SELECT state FROM app_step")]


def test_all_steps_run_in_their_order_and_end_undo(lake_path: Path) -> None:
    with Project.open(lake_path) as project:
        labels = [step.label for step in project.history()]
    connection, _ = connect(lake_path)
    with closing(connection):
        migrate(connection, lake_path, 1, 3, KNOWN)
        assert format_of(connection) == 3
        row = connection.execute("SELECT smell, amount_g, notes FROM bait").fetchone()
        assert tuple(row) == ("strong", 150, "from format 2")
        assert connection.execute("SELECT count(*) FROM app_step_row").fetchone()[0] == 0
        kept = [row[0] for row in connection.execute("SELECT label FROM app_step ORDER BY step")]
    assert kept == labels[::-1]
    assert set(steps_of(lake_path)) == {"closed"}


def test_after_a_change_of_format_the_history_is_read_but_not_undone(
    lake_path: Path, monkeypatch: pytest.MonkeyPatch, dump: Dump
) -> None:
    for module in (migrations, opening):
        monkeypatch.setattr(module, "SCHEMA_VERSION", 2)
    monkeypatch.setitem(migrations.MIGRATIONS, 1, add_smell)
    with Project.open(lake_path) as project:
        assert [step.label for step in project.history()] == ["Fill", "New project"]
        assert project.next_undo() is None
        before = dump(lake_path)
        with pytest.raises(Conflict, match="change of the file's format"):
            project.revert(2)
        assert dump(lake_path) == before
        with project.change("Go on") as change:
            change.insert(Bait(name="Squid"))
        project.undo()


def test_a_format_without_a_known_step_is_refused(lake_path: Path, dump: Dump) -> None:
    before = dump(lake_path)
    connection, _ = connect(lake_path)
    with closing(connection), pytest.raises(NotAProject, match="format 2") as caught:
        migrate(connection, lake_path, 1, 3, {1: add_smell})
    assert caught.value.what_to_do
    assert dump(lake_path) == before


def test_a_step_that_fails_leaves_the_old_format(lake_path: Path, dump: Dump) -> None:
    def fail(db: sqlite3.Connection) -> None:
        db.execute("ALTER TABLE bait ADD COLUMN smell TEXT")
        db.execute("INSERT INTO nowhere VALUES (1)")

    before = dump(lake_path)
    connection, _ = connect(lake_path)
    with closing(connection), pytest.raises(sqlite3.OperationalError, match="nowhere"):
        migrate(connection, lake_path, 1, 2, {1: fail})
    assert dump(lake_path) == before


def test_a_step_that_breaks_a_reference_is_refused(lake_path: Path, dump: Dump) -> None:
    def lose(db: sqlite3.Connection) -> None:
        db.execute("PRAGMA defer_foreign_keys=ON")
        db.execute("DELETE FROM species")

    before = dump(lake_path)
    connection, _ = connect(lake_path)
    with closing(connection), pytest.raises(NotAProject, match="refer to nothing"):
        migrate(connection, lake_path, 1, 2, {1: lose})
    assert dump(lake_path) == before


def test_a_second_window_does_not_migrate_again(lake_path: Path) -> None:
    """It found the old format, waited for its turn, and by then it was done."""
    connection, _ = connect(lake_path)
    with closing(connection):
        migrate(connection, lake_path, 1, 2, KNOWN)
        migrate(connection, lake_path, 1, 2, KNOWN)
        assert format_of(connection) == 2


def test_an_older_format_that_cannot_be_written_to_is_explained(
    lake_path: Path, monkeypatch: pytest.MonkeyPatch, dump: Dump
) -> None:
    before = dump(lake_path)
    monkeypatch.setattr(opening, "SCHEMA_VERSION", 2)
    with pytest.raises(EnvironmentProblem, match="older trapline") as caught:
        Project.open(lake_path, read_only=True)
    assert "open the copy" in caught.value.what_to_do
    assert dump(lake_path) == before


def test_a_kill_at_any_statement_leaves_the_old_format_or_the_new(
    lake_path: Path, dump: Dump, tmp_path: Path, in_child: InChild
) -> None:
    old = dump(lake_path)
    done = tmp_path / "done.gpkg"
    done.write_bytes(lake_path.read_bytes())
    connection, _ = connect(done)
    with closing(connection):
        migrate(connection, done, 1, 3, KNOWN)
    new = dump(done)
    done.unlink()
    start = lake_path.read_bytes()
    outcomes = []
    for statement in range(1, 100):
        lake_path.write_bytes(start)
        if not killed_at(statement, lake_path, in_child):
            break
        found = dump(lake_path)  # SQLite takes back what was half done
        assert found in (old, new)
        outcomes.append(found == new)
    assert len(outcomes) > 10
    assert set(outcomes) == {False}  # the statement that is killed is not yet carried out
    assert dump(lake_path) == new
    lake_path.unlink()


def killed_at(statement: int, path: Path, in_child: InChild) -> bool:
    """Migrate in a child that dies as the statement of that number begins; whether it did."""

    def run() -> None:
        left = statement

        def count(_: str) -> None:
            nonlocal left
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)

        connection, _ = connect(path)
        connection.execute("PRAGMA cache_size=1")  # what is changed goes to the file early
        connection.set_trace_callback(count)
        migrate(connection, path, 1, 3, KNOWN)

    status = in_child(run)
    if os.WIFSIGNALED(status):
        assert os.WTERMSIG(status) == signal.SIGKILL
        return True
    assert status == 0
    return False

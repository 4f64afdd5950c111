"""The open project: its door for change, what it keeps whole, and two programs at once."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.errors import (
    Conflict,
    EnvironmentProblem,
    InvalidValue,
    NotAProject,
    ReadOnlyProject,
)
from trapline.model.bait import Bait
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.trapset import TrapSet
from trapline.store import creation, rows
from trapline.store.project import Project

Dump = Callable[[Path], list[str]]


def add_baits(project: Project, *names: str) -> None:
    with project.change("Add") as change:
        for name in names:
            change.insert(Bait(name=name))


def test_a_new_project_holds_its_name_and_nothing_to_undo(tmp_path: Path) -> None:
    with Project.create(tmp_path / "new.gpkg", ProjectInfo(name="Bay", notes="a\nb")) as project:
        assert project.snapshot().project.name == "Bay"
        assert project.next_undo() is None
        assert [step.label for step in project.history()] == ["New project"]
        with pytest.raises(Conflict, match="nothing to undo"):
            project.undo()


def test_a_new_project_never_takes_the_place_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "there.gpkg"
    path.write_bytes(b"mine")
    with pytest.raises(EnvironmentProblem, match="exists already"):
        Project.create(path, ProjectInfo(name="x"))
    assert path.read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["lake", "lake.db", "no/folder.gpkg"])
def test_a_project_that_cannot_be_made_leaves_nothing(tmp_path: Path, name: str) -> None:
    with pytest.raises(EnvironmentProblem) as caught:
        Project.create(tmp_path / name, ProjectInfo(name="x"))
    assert caught.value.where
    assert caught.value.what_to_do
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_while_a_project_is_made_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    settle = creation.connect

    def small(path: Path) -> object:
        connection, guard = settle(path)
        connection.execute("PRAGMA max_page_count=20")
        return connection, guard

    monkeypatch.setattr(creation, "connect", small)
    with pytest.raises(EnvironmentProblem, match="disk is full"):
        Project.create(tmp_path / "new.gpkg", ProjectInfo(name="x"))
    assert list(tmp_path.iterdir()) == []


def test_what_was_changed_is_there_after_closing(lake_path: Path) -> None:
    with Project.open(lake_path) as project:
        with project.change("Add a bait") as change:
            bait = change.insert(Bait(name="Squid"))
        kept = project.snapshot()
        assert project.last_changes.ids("bait") == {bait.id}
    with Project.open(lake_path) as project:
        assert project.snapshot() == kept
        assert project.snapshot().get(Bait, bait.id) == bait


def test_a_change_that_fails_in_the_middle_changes_nothing(lake: Project, dump: Dump) -> None:
    before, kept = dump(lake.path), lake.snapshot()
    with pytest.raises(InvalidValue):
        add_baits(lake, "Squid", "")
    assert dump(lake.path) == before
    assert lake.snapshot() is kept


def test_a_change_cannot_be_used_after_its_end(lake: Project, dump: Dump) -> None:
    with pytest.raises(ZeroDivisionError), lake.change("Fails") as failed:
        raise ZeroDivisionError
    with lake.change("Nothing") as done:
        pass
    before = dump(lake.path)
    for change in (failed, done):
        with pytest.raises(RuntimeError, match="after its end"):
            change.insert(Bait(name="Squid"))
    assert dump(lake.path) == before


def test_a_change_within_a_change_is_a_mistake_of_the_program(lake: Project) -> None:
    with lake.change("Outer") as change:
        change.insert(Bait(name="Squid"))
        with pytest.raises(RuntimeError, match="inside a change"), lake.change("Inner"):
            pass
    assert len(lake.snapshot().all(Bait)) == 2


def test_an_update_of_nothing_is_no_step(lake: Project) -> None:
    steps = lake.history()
    with lake.change("Nothing new") as change:
        change.update(change.snapshot.all(Bait)[0])
    assert not lake.last_changes
    assert lake.history() == steps


def test_a_row_is_inserted_once_and_updated_only_while_it_is_there(lake: Project) -> None:
    bait = lake.snapshot().all(Bait)[0]
    with pytest.raises(Conflict, match="already a bait"), lake.change("Again") as change:
        change.insert(bait)
    gone = Bait(name="Never written")
    for verb in ("update", "delete"):
        with pytest.raises(Conflict, match="no longer there"), lake.change("Gone") as change:
            getattr(change, verb)(gone)
    assert lake.snapshot().all(Bait) == (bait,)


def test_the_picture_inside_a_change_is_that_of_the_change(lake: Project) -> None:
    with lake.change("Two steps") as change:
        first = change.insert(Bait(name="One"))
        assert change.snapshot.get(Bait, first.id) == first
        change.delete(first)
        assert change.snapshot.get(Bait, first.id) is None
        assert lake.snapshot().get(Bait, first.id) is None


def test_the_order_of_rows_is_the_same_in_the_window_and_after_opening_again(
    lake: Project,
) -> None:
    with lake.change("Add") as change:
        baits = [change.insert(Bait(name=f"bait {number}")) for number in range(4)]
    with lake.change("Delete the second") as change:
        change.delete(baits[1])
    with lake.change("Add one more") as change:
        change.insert(Bait(name="last"))
    for take in (lake.undo, lake.undo, lake.redo, lake.redo, lake.undo, lake.undo):
        take()
        with Project.open(lake.path) as again:
            assert again.snapshot().all(Bait) == lake.snapshot().all(Bait)


def test_whole_numbers_that_do_not_fit_are_refused(lake: Project, dump: Dump) -> None:
    before = dump(lake.path)
    with pytest.raises(InvalidValue, match="too large"), lake.change("Block") as change:
        change.insert(TrapSet(block=2**63))
    assert dump(lake.path) == before


# Two programs on one file: two connections see each other as two processes do.


def test_each_of_two_windows_sees_what_the_other_did(lake: Project) -> None:
    with Project.open(lake.path) as other:
        with other.change("There") as change:
            bait = change.insert(Bait(name="Squid"))
        assert lake.snapshot().get(Bait, bait.id) == bait
        with lake.change("Here") as change:
            change.update(change.snapshot.need(Bait, bait.id).with_(cost="5"))
        assert other.snapshot().need(Bait, bait.id).cost == "5"
        lake.undo()
        other.undo()
        assert lake.snapshot() == other.snapshot()
        assert lake.snapshot().get(Bait, bait.id) is None


def test_a_failed_change_does_not_bring_back_an_old_picture(lake: Project) -> None:
    with Project.open(lake.path) as other, other.change("There") as change:
        bait = change.insert(Bait(name="Squid"))
    with pytest.raises(ZeroDivisionError), lake.change("Fails"):
        raise ZeroDivisionError
    assert lake.snapshot().get(Bait, bait.id) == bait


def test_a_picture_is_never_read_across_the_commit_of_another_program(
    lake: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other program tries to write between the reading of two tables."""
    refused = []
    column_names = rows.column_names

    def meddle(noun: type[Noun]) -> tuple[str, ...]:
        if noun is Place:
            with closing(sqlite3.connect(lake.path, timeout=0)) as other:
                try:
                    other.execute("UPDATE line SET name = 'torn'")
                    other.commit()
                except sqlite3.OperationalError as problem:
                    refused.append(str(problem))
        return column_names(noun)

    with closing(sqlite3.connect(lake.path)) as other:
        other.execute("UPDATE bait SET cost = '9'")
        other.commit()
    monkeypatch.setattr(rows, "column_names", meddle)
    assert lake.snapshot().all(Line)[0].name == "North bank"
    assert refused == ["database is locked"]


class MeddledWith:
    """A connection after the first of whose statements of one kind something else happens."""

    def __init__(
        self, real: sqlite3.Connection, meddle: Callable[[], None], after: str = "COMMIT"
    ) -> None:
        self._real, self._meddle, self._after = real, meddle, after

    def __getattr__(self, name: str) -> object:
        return getattr(self._real, name)

    def execute(self, statement: str, *values: object) -> sqlite3.Cursor:
        found = self._real.execute(statement, *values)
        if statement == self._after:
            self._after = "once is enough"
            self._meddle()
        return found


@pytest.mark.parametrize("act", ["change", "undo", "redo"])
def test_a_commit_of_another_program_right_after_ours_is_seen(
    lake: Project, monkeypatch: pytest.MonkeyPatch, act: str
) -> None:
    with lake.change("Ours") as change:
        bait = change.insert(Bait(name="Squid", cost="1"))
    if act == "redo":
        lake.undo()

    def meddle() -> None:
        with closing(sqlite3.connect(lake.path)) as other:
            other.execute("UPDATE bait SET cost = 'theirs'")
            other.execute("DELETE FROM app_view")
            other.commit()

    monkeypatch.setattr(lake, "_db", MeddledWith(lake.connection(), meddle))
    if act == "change":
        with lake.change("Again") as change:
            change.update(bait.with_(cost="2"))
    else:
        getattr(lake, act)()
    assert {row.cost for row in lake.snapshot().all(Bait)} == {"theirs"}
    assert (lake.snapshot().get(Bait, bait.id) is None) == (act == "undo")


def test_a_commit_that_is_interrupted_as_it_ends_is_known_to_have_happened(
    lake: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt() -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(lake, "_db", MeddledWith(lake.connection(), interrupt))
        with pytest.raises(KeyboardInterrupt), lake.change("Add") as change:
            bait = change.insert(Bait(name="Squid"))
    assert lake.snapshot().get(Bait, bait.id) == bait


def test_the_first_error_is_told_and_not_that_of_taking_back(
    lake: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> None:
        problem = sqlite3.OperationalError("disk I/O error")
        problem.sqlite_errorcode = sqlite3.SQLITE_IOERR
        raise problem

    with monkeypatch.context() as patched:
        patched.setattr(lake, "_db", MeddledWith(lake.connection(), fail, after="ROLLBACK"))
        with pytest.raises(InvalidValue):
            add_baits(lake, "Squid", "")
    with closing(sqlite3.connect(lake.path)) as other:
        other.execute("UPDATE bait SET mark = 'heart'")
        other.commit()
    with monkeypatch.context() as patched:
        patched.setattr(lake, "_db", MeddledWith(lake.connection(), fail, after="ROLLBACK"))
        with pytest.raises(NotAProject, match="heart"):
            lake.snapshot()


def test_a_busy_file_is_said_in_a_sentence_and_nothing_is_changed(
    lake: Project, dump: Dump
) -> None:
    lake.connection().execute("PRAGMA busy_timeout=50")
    before = dump(lake.path)
    with closing(sqlite3.connect(lake.path)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(EnvironmentProblem, match="Another program is using") as caught:
            lake.keep_view_state("page", "2")
        with pytest.raises(EnvironmentProblem), lake.change("Add") as change:
            change.insert(Bait(name="Squid"))
    assert caught.value.where == "lake.gpkg"
    assert caught.value.what_to_do
    assert dump(lake.path) == before


def test_a_reader_that_does_not_let_go_stops_the_commit_whole(lake: Project, dump: Dump) -> None:
    lake.connection().execute("PRAGMA busy_timeout=50")
    before = dump(lake.path)
    with closing(sqlite3.connect(lake.path, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM bait").fetchone()
        with pytest.raises(EnvironmentProblem, match="using"), lake.change("Add") as change:
            change.insert(Bait(name="Squid"))
    assert dump(lake.path) == before
    assert len(lake.snapshot().all(Bait)) == 1
    with lake.change("Again") as change:
        change.insert(Bait(name="Squid"))


def test_a_file_that_is_moved_away_is_said_in_a_sentence(lake: Project) -> None:
    lake.path.rename(lake.path.with_name("elsewhere.gpkg"))
    with pytest.raises(EnvironmentProblem, match="moved, renamed or deleted"):
        lake.keep_view_state("page", "2")


def test_view_state_is_kept_outside_undo(lake: Project) -> None:
    step = lake.next_undo()
    assert lake.view_state("page") is None
    lake.keep_view_state("page", "2")
    lake.keep_view_state("page", "3")
    assert lake.view_state("page") == "3"
    assert lake.next_undo() == step
    with Project.open(lake.path, read_only=True) as reading:
        reading.keep_view_state("page", "4")
        assert reading.view_state("page") == "3"


def test_looking_around_is_no_sitting(lake: Project) -> None:
    """Else the steps that another window makes meanwhile would count as made here."""
    lake.keep_view_state("page", "2")
    with pytest.raises(InvalidValue):
        add_baits(lake, "Squid", "")
    with Project.open(lake.path) as other, other.change("There") as change:
        change.insert(Bait(name="Squid"))
    step = lake.next_undo()
    assert step is not None
    assert lake.is_earlier(step)


def test_a_project_opened_for_reading_is_not_written_to(lake_path: Path, dump: Dump) -> None:
    before = dump(lake_path)
    with Project.open(lake_path, read_only=True) as project:
        assert project.read_only
        assert "reading only" in project.why_read_only
        for act in (project.undo, project.redo, lambda: project.revert(2)):
            with pytest.raises(ReadOnlyProject):
                act()
        with pytest.raises(ReadOnlyProject), project.change("x"):
            pass
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            project.connection().execute("DELETE FROM catch")
    assert dump(lake_path) == before

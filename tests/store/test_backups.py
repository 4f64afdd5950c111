"""Backups and copies: whole, checked, in their place, and never over the live file."""

import os
import signal
import sqlite3
import struct
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.errors import EnvironmentProblem, NotAProject
from trapline.model.bait import Bait
from trapline.store import backups
from trapline.store.backups import (
    KEPT,
    backup_folder,
    data_folder,
    list_backups,
    make_backup,
    restore,
    save_copy,
)
from trapline.store.project import Project

Dump = Callable[[Path], list[str]]
Outside = Callable[..., None]
InChild = Callable[[Callable[[], object]], int]


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "data"
    monkeypatch.setenv("TRAPLINE_DATA", str(folder))
    return folder


def add(project: Project, name: str) -> None:
    with project.change(f"Add {name}") as change:
        change.insert(Bait(name=name))


def test_a_backup_is_the_whole_project(lake: Project, dump: Dump, data: Path) -> None:
    assert make_backup(lake) == ""
    (backup,) = list_backups(lake.path)
    assert data in backup.path.parents
    assert dump(backup.path) == dump(lake.path)
    header = backup.path.read_bytes()[:100]
    assert (header[68:72], struct.unpack(">I", header[60:64])) == (b"GPKG", (10300,))
    with Project.open(backup.path) as project:
        assert project.snapshot() == lake.snapshot()
        assert [step.label for step in project.history()] == ["Fill", "New project"]


def test_opening_alone_makes_no_backup(lake: Project, data: Path) -> None:
    assert not data.exists()
    assert list_backups(lake.path) == []


def test_no_second_backup_while_nothing_changed(lake: Project, change_outside: Outside) -> None:
    for _ in range(2):
        assert make_backup(lake) == ""
    lake.keep_view_state("page", "3")
    assert make_backup(lake) == ""
    assert len(list_backups(lake.path)) == 1
    add(lake, "Squid")
    make_backup(lake)
    lake.undo()  # another state of the history
    make_backup(lake)
    change_outside(lake.path, "UPDATE bait SET notes = 'by a GIS'")
    make_backup(lake)
    assert len(list_backups(lake.path)) == 4


def test_the_newest_ten_are_kept(lake: Project) -> None:
    for number in range(KEPT + 3):
        add(lake, f"bait {number}")
        assert make_backup(lake) == ""
    found = list_backups(lake.path)
    assert [backup.number for backup in found] == list(range(KEPT + 3, 3, -1))
    assert len(list(backup_folder(lake.path).iterdir())) == KEPT == 10
    with Project.open(found[-1].path, read_only=True) as oldest:
        assert len(oldest.snapshot().all(Bait)) == 5


def test_a_clock_that_was_put_back_does_not_disturb_the_order(
    lake: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    moments = ("2030-01-01T00:00:00Z", "2020-01-01T00:00:00Z")
    for moment in moments:
        monkeypatch.setattr(backups, "now_utc", lambda moment=moment: moment)
        add(lake, moment)
        make_backup(lake)
    assert [backup.made_utc for backup in list_backups(lake.path)] == list(moments[::-1])


def test_each_project_has_its_own_backups(lake: Project, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    other = save_copy(lake, tmp_path / "other" / "lake.gpkg")
    make_backup(lake)
    assert list_backups(other) == []
    assert backup_folder(lake.path).name.startswith("lake-")


def test_foreign_files_in_the_folder_are_left_alone(lake: Project) -> None:
    folder = backup_folder(lake.path)
    folder.mkdir(parents=True)
    mine = folder / "notes.gpkg"
    mine.write_text("mine")
    fresh = folder / ".00001 x.gpkg.999.part"
    fresh.write_text("being written by another window")
    stale = folder / ".00002 x.gpkg.999.part-journal"
    stale.write_text("left by a program that was killed")
    os.utime(stale, (0, 0))
    for number in range(KEPT + 2):
        add(lake, f"bait {number}")
        make_backup(lake)
    assert mine.read_text() == "mine"
    assert fresh.exists()
    assert not stale.exists()
    assert len(list_backups(lake.path)) == KEPT


def test_a_backup_that_fails_is_a_sentence_and_not_an_error(
    lake: Project, data: Path, dump: Dump, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = dump(lake.path)
    data.write_text("a file where the folder should be")
    said = make_backup(lake)
    assert said.startswith("No backup could be made in ")
    assert str(data) in said
    assert dump(lake.path) == before
    data.unlink()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "No space left on device" in make_backup(lake)
    assert list(backup_folder(lake.path).iterdir()) == []
    monkeypatch.undo()


def test_no_home_is_a_sentence_too(lake: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    for name in ("TRAPLINE_DATA", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(Path, "home", homeless)
    monkeypatch.setattr(sys, "platform", "linux")
    assert "home folder" in make_backup(lake)


@pytest.mark.parametrize(
    ("platform", "environment", "expected"),
    [
        ("linux", {}, "HOME/.local/share/trapline"),
        ("linux", {"XDG_DATA_HOME": "/xdg"}, "/xdg/trapline"),
        ("linux", {"XDG_DATA_HOME": "not/absolute"}, "HOME/.local/share/trapline"),
        ("win32", {"LOCALAPPDATA": "/local"}, "/local/trapline"),
        ("win32", {}, "HOME/AppData/Local/trapline"),
        ("darwin", {}, "HOME/Library/Application Support/trapline"),
        ("linux", {"TRAPLINE_DATA": "/given", "XDG_DATA_HOME": "/xdg"}, "/given"),
    ],
)
def test_the_folder_is_where_each_system_keeps_such_things(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    platform: str,
    environment: dict[str, str],
    expected: str,
) -> None:
    """XDG Base Directory Specification: a relative path in XDG_DATA_HOME is to be ignored."""
    for name in ("TRAPLINE_DATA", "XDG_DATA_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    assert str(data_folder()) == expected.replace("HOME", str(tmp_path))


# Copies


def test_a_copy_is_the_whole_project_and_lives_by_itself(
    lake: Project, tmp_path: Path, dump: Dump
) -> None:
    target = save_copy(lake, tmp_path / "a copy")
    assert target == tmp_path / "a copy.gpkg"
    assert dump(target) == dump(lake.path)
    with Project.open(target) as copy:
        add(copy, "only here")
        assert len(lake.snapshot().all(Bait)) == 1
    assert sorted(path.name for path in tmp_path.glob("*")) == ["a copy.gpkg", "lake.gpkg"]


def test_a_copy_of_a_project_that_is_only_read(lake_path: Path, tmp_path: Path) -> None:
    with Project.open(lake_path, read_only=True) as project:
        target = save_copy(project, tmp_path / "copy.gpkg")
    with Project.open(target) as copy:
        add(copy, "Squid")


def test_a_copy_is_free_of_what_kept_the_project_from_being_written_to(
    lake_path: Path, tmp_path: Path, change_outside: Outside
) -> None:
    change_outside(
        lake_path,
        'CREATE TRIGGER "ev""il" AFTER UPDATE ON place BEGIN DELETE FROM catch; END',
        "CREATE VIEW odd AS SELECT 1",
    )
    with Project.open(lake_path) as project:
        assert project.read_only
        target = save_copy(project, tmp_path / "copy.gpkg")
        kept = project.snapshot()
    with Project.open(target) as copy:
        assert not copy.read_only
        assert copy.snapshot() == kept
    lake_path.unlink()


def test_a_copy_never_goes_over_the_project_itself(
    lake: Project, tmp_path: Path, dump: Dump
) -> None:
    before = dump(lake.path)
    link = tmp_path / "link.gpkg"
    link.symlink_to(lake.path)
    hard = tmp_path / "hard.gpkg"
    hard.hardlink_to(lake.path)
    for target in (lake.path, link, hard, tmp_path / "." / "lake.gpkg"):
        with pytest.raises(EnvironmentProblem, match="is the project itself"):
            save_copy(lake, target, replace=True)
    assert dump(lake.path) == before
    hard.unlink()


def test_a_file_is_replaced_only_when_that_is_wanted(lake: Project, tmp_path: Path) -> None:
    target = tmp_path / "there.gpkg"
    target.write_bytes(b"mine")
    with pytest.raises(EnvironmentProblem, match="exists already"):
        save_copy(lake, target)
    assert target.read_bytes() == b"mine"
    save_copy(lake, target, replace=True)
    with Project.open(target, read_only=True) as copy:
        assert copy.snapshot() == lake.snapshot()
    (tmp_path / "folder.gpkg").mkdir()
    with pytest.raises(EnvironmentProblem, match="exists already"):
        save_copy(lake, tmp_path / "folder.gpkg", replace=True)


@pytest.mark.parametrize("end", ["-journal", "-wal"])
def test_a_copy_is_not_put_beside_the_unfinished_work_of_another(
    lake: Project, tmp_path: Path, end: str
) -> None:
    """SQLite would take it for the copy's own ("How To Corrupt", 1.4)."""
    (tmp_path / f"copy.gpkg{end}").write_bytes(b"x")
    with pytest.raises(EnvironmentProblem, match="unfinished work"):
        save_copy(lake, tmp_path / "copy.gpkg", replace=True)
    assert not (tmp_path / "copy.gpkg").exists()


def test_a_copy_that_cannot_be_written_leaves_nothing(
    lake: Project, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(EnvironmentProblem, match="no folder"):
        save_copy(lake, tmp_path / "nowhere" / "copy.gpkg")

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    for name in ("fsync", "replace"):
        with monkeypatch.context() as patched:
            patched.setattr(os, name, fail)
            with pytest.raises(EnvironmentProblem, match="Input/output error") as caught:
                save_copy(lake, tmp_path / "copy.gpkg")
        assert caught.value.what_to_do
        assert [path.name for path in tmp_path.iterdir()] == ["lake.gpkg"]


def test_attaching_is_allowed_only_while_a_copy_is_made(
    lake: Project, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused() -> bool:
        try:
            lake.connection().execute("ATTACH ':memory:' AS other")
        except sqlite3.DatabaseError:
            return True
        lake.connection().execute("DETACH other")
        return False

    assert refused()
    save_copy(lake, tmp_path / "copy.gpkg")
    assert refused()
    with pytest.raises(EnvironmentProblem):
        save_copy(lake, tmp_path / ("x" * 300))
    assert refused()


def test_a_backup_is_put_back_as_a_new_file(lake: Project, tmp_path: Path, dump: Dump) -> None:
    make_backup(lake)
    kept = lake.snapshot()
    add(lake, "Squid")
    (backup,) = list_backups(lake.path)
    stored, live = dump(backup.path), dump(lake.path)
    with pytest.raises(EnvironmentProblem, match="exists already"):
        restore(backup.path, lake.path)
    target = restore(backup.path, tmp_path / "earlier.gpkg")
    with Project.open(target) as project:
        assert project.snapshot() == kept
        add(project, "another way")
    assert dump(backup.path) == stored
    assert dump(lake.path) == live


def test_a_damaged_backup_is_refused(lake: Project, tmp_path: Path) -> None:
    make_backup(lake)
    (backup,) = list_backups(lake.path)
    spoilt = bytearray(backup.path.read_bytes())
    spoilt[4096 : 4096 * 4] = b"\xff" * (4096 * 3)
    backup.path.write_bytes(spoilt)
    with pytest.raises(NotAProject, match="damaged"):
        restore(backup.path, tmp_path / "earlier.gpkg")
    assert not (tmp_path / "earlier.gpkg").exists()
    backup.path.unlink()


def test_another_program_can_write_between_a_copy_and_the_next_change(
    lake: Project, tmp_path: Path
) -> None:
    """No lock is left behind, and none was dropped."""
    save_copy(lake, tmp_path / "copy.gpkg")
    with closing(sqlite3.connect(lake.path, timeout=0)) as other:
        other.execute("UPDATE bait SET notes = 'x'")
        other.commit()
    assert lake.snapshot().all(Bait)[0].notes == "x"


@pytest.mark.parametrize("step", ["unlink", "VACUUM INTO", "_check_copy", "fsync", "replace"])
def test_a_kill_between_the_steps_leaves_the_project_and_no_half_copy(
    lake_path: Path, tmp_path: Path, step: str, dump: Dump, in_child: InChild
) -> None:
    before = dump(lake_path)
    target = tmp_path / "copy.gpkg"

    def die(*_: object, **__: object) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def run() -> None:
        project = Project.open(lake_path)
        if step == "VACUUM INTO":
            project.connection().set_progress_handler(die, 20)
        else:
            owners = {"unlink": Path, "_check_copy": backups}
            setattr(owners.get(step, os), step, die)
        save_copy(project, target)

    status = in_child(run)
    assert os.WIFSIGNALED(status)
    assert os.WTERMSIG(status) == signal.SIGKILL
    assert not target.exists()
    assert dump(lake_path) == before
    with Project.open(lake_path) as project:
        save_copy(project, target)
    assert dump(target) == before
    for part in tmp_path.glob(".copy*"):
        part.unlink()

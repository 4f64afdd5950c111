"""Files that cannot be written to, left in write-ahead mode, or left half written."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from trapline.errors import EnvironmentProblem, TraplineError
from trapline.model.bait import Bait
from trapline.store.creation import schema_columns
from trapline.store.project import Project

AsPlainUser = Callable[[Callable[[], Any]], Any]


def look(path: Path) -> dict[str, Any]:
    """Open, try to write, and tell: what a child hands back."""
    try:
        project = Project.open(path)
    except TraplineError as problem:
        return problem.as_dict()
    with project:
        return {
            "read_only": project.read_only,
            "why": project.why_read_only,
            "baits": [bait.name for bait in project.snapshot().all(Bait)],
            "wrote": _wrote(project),
        }


def _wrote(project: Project) -> bool:
    try:
        with project.change("Add") as change:
            change.insert(Bait(name="Squid"))
    except TraplineError:
        return False
    return True


@pytest.fixture
def lake_file(public_folder: Path, filled_bytes: bytes) -> Path:
    """A project in a folder of its own that another user may be given."""
    schema_columns()  # read now: the other user may not be allowed to
    folder = public_folder / "folder"
    folder.mkdir()
    path = folder / "lake.gpkg"
    path.write_bytes(filled_bytes)
    return path


def give(path: Path, *, folder_mode: int, file_mode: int) -> None:
    """Hand file and folder to the plain user that a child becomes, with these modes."""
    if os.geteuid() == 0:
        for one in (path, path.parent):
            os.chown(one, 65534, 65534)
    path.chmod(file_mode)
    path.parent.chmod(folder_mode)


def write_ahead(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA journal_mode=WAL").fetchone() == ("wal",)
        db.execute("UPDATE bait SET name = 'Wal'")
        db.commit()


def mode_bytes(path: Path) -> bytes:
    return path.read_bytes()[18:20]


READ_ONLY = {"read_only": True, "why": "The file or its folder cannot be written to."}


@pytest.mark.parametrize(("folder_mode", "file_mode"), [(0o755, 0o444), (0o555, 0o644)])
def test_a_read_only_file_or_folder_is_opened_for_reading(
    lake_file: Path, as_plain_user: AsPlainUser, folder_mode: int, file_mode: int
) -> None:
    before = lake_file.read_bytes()
    give(lake_file, folder_mode=folder_mode, file_mode=file_mode)
    said = as_plain_user(lambda: look(lake_file))
    assert said == {**READ_ONLY, "baits": ["Fish & oil"], "wrote": False}
    assert lake_file.read_bytes() == before
    assert os.listdir(lake_file.parent) == ["lake.gpkg"]


def test_the_same_file_is_written_where_it_may_be(
    lake_file: Path, as_plain_user: AsPlainUser
) -> None:
    """Else the test above would pass for another reason."""
    give(lake_file, folder_mode=0o755, file_mode=0o644)
    assert as_plain_user(lambda: look(lake_file))["wrote"] is True


def test_a_file_that_may_not_be_read_is_refused_in_a_sentence(
    lake_file: Path, as_plain_user: AsPlainUser
) -> None:
    give(lake_file, folder_mode=0o755, file_mode=0o000)
    said = as_plain_user(lambda: look(lake_file))
    assert "cannot be opened" in said["error"]
    assert said["where"] == "lake.gpkg"
    assert "folder is yours" in said["what_to_do"]


def test_write_ahead_mode_is_switched_back(lake_path: Path) -> None:
    write_ahead(lake_path)
    assert mode_bytes(lake_path) == b"\2\2"
    assert look(lake_path) == {"read_only": False, "why": "", "baits": ["Wal"], "wrote": True}
    assert mode_bytes(lake_path) == b"\1\1"
    assert os.listdir(lake_path.parent) == ["lake.gpkg"]


def test_write_ahead_mode_is_left_where_we_only_read(lake_path: Path) -> None:
    write_ahead(lake_path)
    before = lake_path.read_bytes()
    with Project.open(lake_path, read_only=True) as project:
        assert project.snapshot().all(Bait)[0].name == "Wal"
    assert lake_path.read_bytes() == before


@pytest.mark.parametrize(("folder_mode", "file_mode"), [(0o555, 0o444), (0o555, 0o644)])
def test_write_ahead_mode_in_a_read_only_folder_is_read_all_the_same(
    lake_file: Path, as_plain_user: AsPlainUser, folder_mode: int, file_mode: int
) -> None:
    """When nothing of it lies outside the file: SQLite alone would refuse it."""
    write_ahead(lake_file)
    give(lake_file, folder_mode=folder_mode, file_mode=file_mode)
    said = as_plain_user(lambda: look(lake_file))
    assert said == {**READ_ONLY, "baits": ["Wal"], "wrote": False}


def test_write_ahead_mode_with_its_last_changes_out_of_reach_is_refused(
    lake_file: Path, as_plain_user: AsPlainUser
) -> None:
    """Showing the file without what lies beside it would show an old state as the present one."""
    holder = sqlite3.connect(lake_file)
    holder.execute("PRAGMA journal_mode=WAL")
    holder.execute("UPDATE bait SET name = 'latest'")
    holder.commit()
    kept = {path.name: path.read_bytes() for path in lake_file.parent.iterdir()}
    holder.close()
    assert set(kept) == {"lake.gpkg", "lake.gpkg-wal", "lake.gpkg-shm"}
    del kept["lake.gpkg-shm"]  # as on a copied stick
    for name, content in kept.items():
        (lake_file.parent / name).write_bytes(content)
    (lake_file.parent / "lake.gpkg-wal").chmod(0o444)
    give(lake_file, folder_mode=0o555, file_mode=0o444)
    said = as_plain_user(lambda: look(lake_file))
    assert "-wal" in said["what_to_do"]
    assert "lies beside it" in said["error"]


def test_write_ahead_mode_that_another_program_holds_is_only_read(lake_path: Path) -> None:
    """A GIS keeps a file in that mode while it is open."""
    with closing(sqlite3.connect(lake_path)) as gis:
        gis.execute("PRAGMA journal_mode=WAL")
        gis.execute("UPDATE bait SET name = 'latest'")
        gis.commit()
        with Project.open(lake_path) as project:
            assert project.read_only
            assert "close it there" in project.why_read_only
            assert project.snapshot().all(Bait)[0].name == "latest"
            gis.execute("UPDATE bait SET name = 'later'")
            gis.commit()
            assert project.snapshot().all(Bait)[0].name == "later"
    assert look(lake_path)["wrote"] is True


def hot_journal(path: Path) -> dict[str, bytes]:
    """The files as a program leaves them that dies after it wrote half a transaction."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA cache_size=1")
        db.execute("BEGIN IMMEDIATE")
        db.execute("UPDATE place SET notes = hex(zeroblob(9000))")
        db.execute("UPDATE catch SET notes = hex(zeroblob(9000))")
        db.execute("UPDATE bait SET name = 'half done', notes = hex(zeroblob(9000))")
        kept = {one.name: one.read_bytes() for one in path.parent.iterdir()}
        db.execute("ROLLBACK")
    assert len(kept["lake.gpkg-journal"]) > 512
    assert kept["lake.gpkg"] != path.read_bytes()
    return kept


def test_what_a_killed_program_left_half_done_is_taken_back(lake_path: Path) -> None:
    for name, content in hot_journal(lake_path).items():
        (lake_path.parent / name).write_bytes(content)
    said = look(lake_path)
    assert said["baits"] == ["Fish & oil"]
    assert said["wrote"] is True
    assert os.listdir(lake_path.parent) == ["lake.gpkg"]


@pytest.mark.parametrize("file_mode", [0o444, 0o644])
def test_what_was_left_half_done_out_of_reach_is_explained(
    lake_file: Path, as_plain_user: AsPlainUser, file_mode: int
) -> None:
    for name, content in hot_journal(lake_file).items():
        (lake_file.parent / name).write_bytes(content)
    if os.geteuid() == 0:
        os.chown(lake_file.with_name("lake.gpkg-journal"), 65534, 65534)
    give(lake_file, folder_mode=0o555, file_mode=file_mode)
    said = as_plain_user(lambda: look(lake_file))
    assert "beside it" in said["error"]
    assert "-journal" in said["what_to_do"]


def test_what_was_left_half_done_is_not_touched_by_a_mere_reader(lake_path: Path) -> None:
    kept = hot_journal(lake_path)
    for name, content in kept.items():
        (lake_path.parent / name).write_bytes(content)
    with pytest.raises(EnvironmentProblem, match="beside it"):
        Project.open(lake_path, read_only=True)
    assert {one.name: one.read_bytes() for one in lake_path.parent.iterdir()} == kept
    lake_path.unlink()


def test_a_full_disk_does_not_keep_a_project_from_being_looked_at(
    lake_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The probe of writing fails; the reason is said and the project shown."""
    from trapline.store import opening

    class Full:
        """A connection on a disk without room for a journal."""

        def __init__(self, real: sqlite3.Connection) -> None:
            self._real = real

        def __getattr__(self, name: str) -> Any:
            return getattr(self._real, name)

        def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
            if statement.startswith("UPDATE app_meta"):
                problem = sqlite3.OperationalError("database or disk is full")
                problem.sqlite_errorcode = sqlite3.SQLITE_FULL
                raise problem
            return self._real.execute(statement, *values)

    real = opening.connect

    def connect(path: Path) -> tuple[Full, object]:
        connection, guard = real(path)
        return Full(connection), guard

    with monkeypatch.context() as patched:
        patched.setattr(opening, "connect", connect)
        project = Project.open(lake_path)
    with project:
        assert project.why_read_only == "The disk is full."
        assert project.snapshot().all(Bait)[0].name == "Fish & oil"

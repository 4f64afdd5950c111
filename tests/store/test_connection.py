"""The connection: its settings, what SQL may do on it, and SQLite's errors as sentences."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from trapline.errors import (
    Conflict,
    EnvironmentProblem,
    NotAProject,
    ReadOnlyProject,
    TraplineError,
)
from trapline.store.connection import connect, plain_errors, sqlite_uri
from trapline.store.project import Project

Outside = Callable[..., None]


@pytest.mark.parametrize(
    ("setting", "value"),
    [
        ("journal_mode", "delete"),
        ("synchronous", 3),  # EXTRA
        ("fullfsync", 1),
        ("foreign_keys", 1),
        ("cell_size_check", 1),
        ("mmap_size", 0),
        ("busy_timeout", 4000),
        ("application_id", 0x47504B47),
        ("user_version", 10300),
    ],
)
def test_the_settings_that_keep_a_project_whole(lake: Project, setting: str, value: object) -> None:
    assert lake.connection().execute(f"PRAGMA {setting}").fetchone()[0] == value


def test_no_other_file_can_be_attached(lake: Project, tmp_path: Path) -> None:
    with pytest.raises(sqlite3.DatabaseError, match="not authorized"):
        lake.connection().execute("ATTACH ? AS other", (str(tmp_path / "other.db"),))
    with pytest.raises(sqlite3.DatabaseError, match="authorization denied"):
        lake.connection().execute("VACUUM INTO ?", (str(tmp_path / "other.db"),))
    assert not (tmp_path / "other.db").exists()


@pytest.mark.parametrize(
    "body",
    [
        "DELETE FROM catch",
        "UPDATE bait SET name = 'x'",
        "INSERT INTO app_view VALUES ('a', 'b')",
        "SELECT hex(1)",
        "UPDATE place SET label = upper(label)",
    ],
)
def test_a_trigger_can_do_no_more_than_a_spatial_index_does(
    lake: Project, change_outside: Outside, body: str
) -> None:
    """Under whatever name it comes, also while the project is open already."""
    change_outside(
        lake.path,
        f"CREATE TRIGGER rtree_water_geom_update1 AFTER UPDATE ON water BEGIN {body}; END",
    )
    row = lake.snapshot().rows["water"]
    (water,) = row.values()
    with (
        pytest.raises(ReadOnlyProject, match="tried to do more than a project may") as caught,
        lake.change("Rename") as change,
    ):
        change.update(water.with_(notes="x"))
    assert caught.value.where == "lake.gpkg"
    assert lake.snapshot().rows["water"] == row
    lake.path.unlink()


def test_a_view_cannot_call_functions(lake: Project, change_outside: Outside) -> None:
    change_outside(lake.path, "CREATE VIEW evil AS SELECT randomblob(9) AS r")
    with pytest.raises(sqlite3.DatabaseError, match="not authorized to use"):
        lake.connection().execute("SELECT * FROM evil").fetchall()
    lake.path.unlink()


def raised(code: int) -> sqlite3.OperationalError:
    problem = sqlite3.OperationalError("what SQLite said")
    problem.sqlite_errorcode = code
    return problem


@pytest.mark.parametrize(
    ("code", "kind", "words"),
    [
        (sqlite3.SQLITE_BUSY, EnvironmentProblem, "Another program is using"),
        (sqlite3.SQLITE_BUSY_SNAPSHOT, EnvironmentProblem, "Another program is using"),
        (sqlite3.SQLITE_LOCKED, EnvironmentProblem, "just now"),
        (sqlite3.SQLITE_FULL, EnvironmentProblem, "disk is full"),
        (sqlite3.SQLITE_READONLY, ReadOnlyProject, "cannot be written to"),
        (sqlite3.SQLITE_READONLY_ROLLBACK, ReadOnlyProject, "half done"),
        (sqlite3.SQLITE_READONLY_DBMOVED, EnvironmentProblem, "moved"),
        (sqlite3.SQLITE_AUTH, ReadOnlyProject, "more than a project may"),
        (sqlite3.SQLITE_NOTADB, NotAProject, "byte 1"),
        (sqlite3.SQLITE_CORRUPT, NotAProject, "damaged"),
        (sqlite3.SQLITE_CORRUPT_INDEX, NotAProject, "damaged"),
        (sqlite3.SQLITE_CANTOPEN, EnvironmentProblem, "what SQLite said"),
        (sqlite3.SQLITE_IOERR_FSYNC, EnvironmentProblem, "disk failed"),
        (sqlite3.SQLITE_PERM, EnvironmentProblem, "may not"),
        (sqlite3.SQLITE_PROTOCOL, EnvironmentProblem, "take turns"),
        (sqlite3.SQLITE_CONSTRAINT_UNIQUE, Conflict, "refuses this step"),
    ],
)
def test_each_error_of_sqlite_is_a_sentence_with_a_way_out(
    code: int, kind: type[TraplineError], words: str
) -> None:
    with pytest.raises(kind, match=words) as caught, plain_errors(Path("/far/lake.gpkg")):
        raise raised(code)
    said = caught.value
    assert said.where == "lake.gpkg"
    assert said.what_to_do.endswith(".")
    assert isinstance(said.__cause__, sqlite3.OperationalError)


def test_a_mistake_of_the_program_stays_one(lake: Project) -> None:
    with pytest.raises(sqlite3.OperationalError), plain_errors(lake.path):
        lake.connection().execute("SELEKT 1")
    with pytest.raises(sqlite3.ProgrammingError), plain_errors(lake.path):
        lake.connection().execute("SELECT ?")


def test_text_that_is_not_utf_8_is_damage(lake: Project, change_outside: Outside) -> None:
    change_outside(lake.path, "UPDATE bait SET notes = CAST(x'ff41' AS TEXT)")
    with pytest.raises(NotAProject, match="damaged text"):
        lake.snapshot()


@pytest.mark.parametrize("name", ["50% & more#1?.gpkg", "sjø – ö.gpkg", "a b+c.gpkg"])
def test_any_file_name_is_opened(tmp_path: Path, filled_bytes: bytes, name: str) -> None:
    path = tmp_path / name
    path.write_bytes(filled_bytes)
    with Project.open(path) as project:
        project.keep_view_state("page", "1")
    assert [entry.name for entry in tmp_path.iterdir()] == [name]


def test_a_network_share_has_no_authority_in_the_uri() -> None:
    """https://www.sqlite.org/uri.html 3.1: only an empty authority or "localhost" is taken."""
    assert sqlite_uri(PurePosixPath("/a b/c.gpkg")) == "file:///a%20b/c.gpkg"
    assert sqlite_uri(PureWindowsPath(r"C:\a\c.gpkg")) == "file:///C:/a/c.gpkg"
    assert sqlite_uri(PureWindowsPath(r"\\host\share\c.gpkg")) == "file:////host/share/c.gpkg"


def test_a_file_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(EnvironmentProblem):
        connect(tmp_path / "none.gpkg")
    assert list(tmp_path.iterdir()) == []


def test_a_connection_that_fails_is_closed(tmp_path: Path) -> None:
    """An open one would hold the file; as a ResourceWarning it would fail the tests, too."""
    path = tmp_path / "noise.gpkg"
    path.write_bytes(b"noise" * 1000)
    with pytest.raises(NotAProject, match="byte 1"):
        connect(path)
    with closing(sqlite3.connect(path)) as db, pytest.raises(sqlite3.DatabaseError):
        db.execute("SELECT 1 FROM sqlite_master")

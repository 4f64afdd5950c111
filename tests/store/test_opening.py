"""What is refused at the door, and that nothing is changed by it."""

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.errors import EnvironmentProblem, NewerFormat, NotAProject, TraplineError
from trapline.store.project import Project

Dump = Callable[[Path], list[str]]
Outside = Callable[..., None]


def refused(path: Path, kind: type[TraplineError]) -> str:
    """The sentence with which a file is refused; it says what, where and what to do."""
    before = path.read_bytes() if path.is_file() else None
    names = sorted(path.parent.iterdir())
    with pytest.raises(TraplineError) as caught:
        Project.open(path)
    assert caught.type is kind
    assert path.name in caught.value.where
    assert caught.value.what_to_do.endswith(".")
    assert (path.read_bytes() if path.is_file() else None) == before
    assert sorted(path.parent.iterdir()) == names
    return str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert "cannot be found" in refused(tmp_path / "none.gpkg", EnvironmentProblem)


def test_a_folder(tmp_path: Path) -> None:
    (tmp_path / "folder.gpkg").mkdir()
    assert "is a folder" in refused(tmp_path / "folder.gpkg", NotAProject)


def test_an_empty_file(tmp_path: Path) -> None:
    path = tmp_path / "empty.gpkg"
    path.touch()
    assert "empty file (0 bytes)" in refused(path, NotAProject)


@pytest.mark.parametrize("length", [512, 4096, 100_000])
def test_random_bytes(tmp_path: Path, length: int) -> None:
    path = tmp_path / "noise.gpkg"
    path.write_bytes(random.Random(length).randbytes(length))
    assert "byte 1" in refused(path, NotAProject)


@pytest.mark.parametrize("length", [1, 15, 16, 99, 100, 511])
def test_a_file_too_short_to_be_a_database(tmp_path: Path, length: int) -> None:
    path = tmp_path / "short.gpkg"
    path.write_bytes(b"SQLite format 3\0".ljust(length, b"\0")[:length])
    assert f"has only {length} bytes" in refused(path, NotAProject)


def test_a_truncated_file_wherever_it_was_cut(tmp_path: Path, filled_bytes: bytes) -> None:
    path = tmp_path / "cut.gpkg"
    pages = range(0, len(filled_bytes), 4096)
    for length in (512, 700, *pages[1:], *(page + 2000 for page in pages)):
        path.write_bytes(filled_bytes[: min(length, len(filled_bytes) - 1)])
        said = refused(path, NotAProject)
        assert "damaged" in said, said


def test_a_database_of_another_kind(tmp_path: Path, change_outside: Outside) -> None:
    path = tmp_path / "other.gpkg"
    change_outside(path, "CREATE TABLE t (a)")
    assert "is a database, but not a trapline project" in refused(path, NotAProject)
    change_outside(path, "CREATE TABLE app_meta (key, value)")
    assert "not a trapline project" in refused(path, NotAProject)
    change_outside(path, "INSERT INTO app_meta VALUES ('schema_version', '²')")
    assert "not a trapline project" in refused(path, NotAProject)


def test_a_geopackage_of_another_program(tmp_path: Path, change_outside: Outside) -> None:
    path = tmp_path / "other.gpkg"
    change_outside(path, "CREATE TABLE gpkg_contents (table_name TEXT)")
    assert "is a GeoPackage, but not a trapline project" in refused(path, NotAProject)


def test_a_view_in_the_place_of_a_table(lake_path: Path, change_outside: Outside) -> None:
    change_outside(
        lake_path,
        "ALTER TABLE bait RENAME TO bait_",
        "CREATE VIEW bait AS SELECT * FROM bait_",
    )
    assert "has lost the table 'bait'" in refused(lake_path, NotAProject)
    change_outside(
        lake_path,
        "ALTER TABLE app_meta RENAME TO app_meta_",
        "CREATE VIEW app_meta AS SELECT * FROM app_meta_",
    )
    assert "not a trapline project" in refused(lake_path, NotAProject)


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("ALTER TABLE place DROP COLUMN depth_m", "the column 'depth_m' of the table 'place'"),
        ("ALTER TABLE bait RENAME COLUMN cost TO price", "the column 'cost' of the table 'bait'"),
        ("DROP TABLE catch", "the table 'catch'"),
        ("DROP TABLE app_step_row", "the table 'app_step_row'"),
        ("DELETE FROM project", "the row of the project itself"),
    ],
)
def test_a_project_that_has_lost_something(
    lake_path: Path, change_outside: Outside, statement: str, words: str
) -> None:
    change_outside(lake_path, statement)
    assert f"has lost {words}" in refused(lake_path, NotAProject)


def newer(path: Path, change_outside: Outside, min_reader: str) -> None:
    change_outside(
        path,
        "UPDATE app_meta SET value = '2' WHERE key = 'schema_version'",
        f"UPDATE app_meta SET value = '{min_reader}' WHERE key = 'min_reader'",
        "ALTER TABLE bait ADD COLUMN smell TEXT",
    )


@pytest.mark.parametrize("min_reader", ["2", "many", ""])
def test_a_newer_format_that_this_version_cannot_read(
    lake_path: Path, change_outside: Outside, min_reader: str
) -> None:
    newer(lake_path, change_outside, min_reader)
    said = refused(lake_path, NewerFormat)
    assert "written by a newer trapline (format 2; this one reads up to 1)" in said


def test_a_newer_format_that_this_version_can_show(
    lake_path: Path, change_outside: Outside, dump: Dump
) -> None:
    with Project.open(lake_path) as project:
        kept = project.snapshot()
    newer(lake_path, change_outside, "1")
    before = dump(lake_path)
    with Project.open(lake_path) as project:
        assert project.read_only
        assert "newer trapline (format 2)" in project.why_read_only
        assert project.snapshot() == kept
        with pytest.raises(EnvironmentProblem, match="newer trapline"):
            project.undo()
    assert dump(lake_path) == before


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        (
            "CREATE TRIGGER evil AFTER UPDATE ON place BEGIN DELETE FROM catch; END",
            "a trigger 'evil'",
        ),
        (
            "CREATE TRIGGER rtree_place_geom_insert2 AFTER INSERT ON place"
            " BEGIN DELETE FROM catch; END",
            "a trigger 'rtree_place_geom_insert2'",
        ),
        (
            "CREATE TRIGGER rtree_place_geom_insert AFTER INSERT ON place"
            " BEGIN DELETE FROM catch; END",
            "added to the table 'place' cannot be run",
        ),
        (
            "CREATE TRIGGER rtree_catch_geom_delete AFTER DELETE ON catch"
            " BEGIN SELECT no_such_function(1); END",
            "added to the table 'catch' cannot be run",
        ),
        (
            "CREATE TRIGGER rtree_bait_geom_update1 AFTER UPDATE OF cost ON bait"
            " BEGIN SELECT load_extension('x'); END",
            "added to the table 'bait' cannot be run",
        ),
        ("CREATE VIEW evil AS SELECT load_extension('x')", "a view 'evil'"),
    ],
)
def test_what_another_program_left_to_run_makes_the_project_read_only(
    lake_path: Path, change_outside: Outside, dump: Dump, statement: str, words: str
) -> None:
    change_outside(lake_path, statement)
    before = dump(lake_path)
    with Project.open(lake_path) as project:
        assert project.read_only
        assert words in project.why_read_only
        with pytest.raises(EnvironmentProblem):
            project.undo()
        project.keep_view_state("page", "1")
    assert dump(lake_path) == before
    lake_path.unlink()


def test_an_index_of_a_layer_that_is_not_ours_does_no_harm(
    lake_path: Path, change_outside: Outside
) -> None:
    change_outside(
        lake_path,
        "CREATE TABLE mine (fid INTEGER PRIMARY KEY, shape BLOB)",
        "CREATE TRIGGER rtree_mine_shape_delete AFTER DELETE ON mine BEGIN SELECT 1; END",
    )
    with Project.open(lake_path) as project:
        assert not project.read_only
    lake_path.unlink()


@pytest.mark.parametrize("seed", range(120))
def test_flipped_bytes_never_crash_and_never_open_as_something_unsound(
    tmp_path: Path, filled_bytes: bytes, seed: int
) -> None:
    """30 random bytes: refused in a sentence, or opened, and then still sound after a change."""
    rng = random.Random(seed)
    spoilt = bytearray(filled_bytes)
    for _ in range(30):
        spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
    path = tmp_path / "spoilt.gpkg"
    path.write_bytes(spoilt)
    try:
        with Project.open(path) as project:
            project.keep_view_state("page", "1")
            project.undo()
    except TraplineError as problem:
        said = problem.what_to_do
    else:
        said = "opened"
        with closing(sqlite3.connect(path)) as db:
            assert db.execute("PRAGMA quick_check").fetchall() == [("ok",)]
    assert said
    path.unlink()

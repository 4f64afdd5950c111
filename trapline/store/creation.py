"""Making a new project file: its tables and its first row, in one transaction."""

import sqlite3
from contextlib import closing
from functools import cache
from importlib.resources import files
from pathlib import Path

from trapline import __version__
from trapline.errors import EnvironmentProblem
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.store.connection import connect, plain_errors
from trapline.store.geopackage import APPLICATION_ID, FEATURES, SRS_WGS84, USER_VERSION
from trapline.store.history import CLOSED, begin_step, write_columns
from trapline.store.migrations import MIN_READER, SCHEMA_VERSION
from trapline.store.rows import encode, table_columns


def write_new_project(path: Path, info: ProjectInfo) -> None:
    """Write a new project file, whole or not at all.

    Raises
    ------
    EnvironmentProblem
        The file exists already or cannot be written.
    """
    if path.suffix.lower() != ".gpkg":
        raise EnvironmentProblem(
            f"'{path.name}' does not end in .gpkg.", path.name, "Choose a name like lake.gpkg."
        )
    reserve(path)
    try:
        connection, _ = connect(path)
        with closing(connection), plain_errors(path):
            _fill(connection, info)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def reserve(path: Path) -> None:
    """Make an empty file of that name, which must be new.

    Raises
    ------
    EnvironmentProblem
        It exists already, or the folder cannot be written to.
    """
    try:
        path.open("x").close()
    except FileExistsError as problem:
        raise EnvironmentProblem(
            f"'{path.name}' exists already.", str(path), "Choose another name."
        ) from problem
    except OSError as problem:
        raise EnvironmentProblem(
            f"'{path.name}' cannot be made ({problem.strerror}).",
            str(path),
            "Choose a folder of yours on a disk with space.",
        ) from problem


def _fill(connection: sqlite3.Connection, info: ProjectInfo) -> None:
    connection.execute("PRAGMA journal_mode=DELETE")
    connection.executescript(f"BEGIN IMMEDIATE;\n{_schema_text()}")
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={USER_VERSION}")
    for noun in NOUNS:
        _register(connection, noun.table)
    meta = {
        "schema_version": str(SCHEMA_VERSION),
        "min_reader": str(MIN_READER),
        "created_by": f"trapline {__version__}",
    }
    connection.executemany("INSERT INTO app_meta VALUES (?, ?)", meta.items())
    write_columns(connection, info.table, info.id, None, encode(info))
    # A line of the history that cannot be undone: without its row the file is no project.
    step = begin_step(connection, "New project", sitting=0)
    connection.execute("UPDATE app_step SET state = ? WHERE step = ?", (CLOSED, step))
    connection.execute("COMMIT")


def _register(connection: sqlite3.Connection, table: str) -> None:
    spatial = table in FEATURES
    connection.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, ?, ?, ?)",
        (
            table,
            "features" if spatial else "attributes",
            table,
            SRS_WGS84 if spatial else None,
        ),
    )
    if spatial:
        connection.execute(
            "INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'POINT', ?, 0, 0)",
            (table, SRS_WGS84),
        )


def _schema_text() -> str:
    return files("trapline.store").joinpath("schema.sql").read_text("utf-8")


@cache
def schema_columns() -> dict[str, frozenset[str]]:
    """The columns of every table of the present format, as schema.sql has them."""
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(_schema_text())
        return {table: table_columns(connection, table) for table in ordinary_tables(connection)}


def ordinary_tables(connection: sqlite3.Connection) -> list[str]:
    """The names of the tables that hold rows themselves: no views, no virtual tables."""
    found = connection.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND rootpage > 0"
        " AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name"
    )
    return [str(row[0]) for row in found]

"""Between a noun and its row: columns by the declared kind of each field."""

import dataclasses
import datetime as dt
import json
import sqlite3
from functools import cache
from types import MappingProxyType
from typing import Any, Final

from trapline.errors import InvalidValue, NotAProject, TraplineError
from trapline.model.fields import Noun
from trapline.model.instants import utc_text
from trapline.model.nouns import BY_TABLE, NOUNS
from trapline.model.snapshot import Snapshot
from trapline.store.geopackage import FEATURES, point_blob, point_of

Columns = dict[str, Any]
MAX_INTEGER: Final = 2**63 - 1


def table_columns(db: sqlite3.Connection, table: str) -> frozenset[str]:
    """The names of a table's columns in the file."""
    found = db.execute("SELECT name FROM pragma_table_info(?)", (table,))
    return frozenset(str(row[0]) for row in found)


def columns_of(noun: type[Noun]) -> tuple[tuple[str, MappingProxyType[Any, Any]], ...]:
    """The (column, declaration) pairs of a noun, the position apart."""
    return _columns(noun.table)


def column_names(noun: type[Noun]) -> tuple[str, ...]:
    """The column names of a noun's table, without the row number."""
    return _names(noun.table)


@cache
def _columns(table: str) -> tuple[tuple[str, MappingProxyType[Any, Any]], ...]:
    position = ("lon_deg", "lat_deg") if table in FEATURES else ()
    declared = dataclasses.fields(BY_TABLE[table])
    return tuple((item.name, item.metadata) for item in declared if item.name not in position)


@cache
def _names(table: str) -> tuple[str, ...]:
    names = tuple(name for name, _ in _columns(table))
    return (*names, "geom") if table in FEATURES else names


def encode(row: Noun) -> Columns:
    """Return the columns of a noun as SQLite stores them.

    Raises
    ------
    InvalidValue
        A whole number that SQLite cannot hold.
    """
    columns: Columns = {}
    for name, meta in columns_of(type(row)):
        value = getattr(row, name)
        kind = meta["kind"]
        if kind == "listing":
            value = json.dumps(value, ensure_ascii=False)
        elif kind == "flag" and value is not None:
            value = int(value)
        elif kind == "instant" and value is not None:
            value = value[:-1] + ".000Z"  # the spelling that the standard gives DATETIME
        elif kind == "count" and value is not None:
            value = int(value)
            if value > MAX_INTEGER:
                raise InvalidValue(
                    f"{meta['label']}: {value} is too large.", meta["label"], "Type a smaller one."
                )
        columns[name] = value
    if row.table in FEATURES:
        lon_deg, lat_deg = getattr(row, "lon_deg", None), getattr(row, "lat_deg", None)
        columns["geom"] = None if lon_deg is None else point_blob(lon_deg, lat_deg)  # type: ignore[arg-type]  # the noun refuses half a position
    return columns


def decode(noun: type[Noun], columns: Columns) -> Noun:
    """Return the noun of a row, checked as if it had been typed.

    Raises
    ------
    NotAProject
        Another program wrote a value that the noun cannot hold.
    """
    values: dict[str, Any] = {}
    try:
        for name, meta in columns_of(noun):
            value = columns[name]
            if value is None:
                # A GIS leaves empty cells NULL, also where the noun always has a value.
                value = _defaults(noun.table)[name]
            elif meta["kind"] == "listing":
                value = _tuples(json.loads(value))
            elif meta["kind"] == "flag":
                value = bool(value)
            elif meta["kind"] == "instant":
                value = _instant(value)
            values[name] = value
        if noun.table in FEATURES:
            point = point_of(columns["geom"])
            values["lon_deg"], values["lat_deg"] = point or (None, None)
        return noun(**values)
    except _UNREADABLE as problem:
        reason = problem.error if isinstance(problem, TraplineError) else str(problem)
        raise NotAProject(
            f"A row of the table '{noun.table}' cannot be read: {reason}",
            f"{noun.table}, id {columns.get('id')}",
            "Correct it with the program that wrote it, or open a backup.",
        ) from problem


# Whatever the wrong kind of value in a cell can lead to.
_UNREADABLE: Final = (
    TraplineError,
    ValueError,
    TypeError,
    KeyError,
    AttributeError,
    OverflowError,
    RecursionError,
)


@cache
def _defaults(table: str) -> dict[str, Any]:
    """What an empty cell means: the declared value, and None for a key."""
    declared = dataclasses.fields(BY_TABLE[table])
    return {
        item.name: None if item.default is dataclasses.MISSING else item.default
        for item in declared
    }


def _instant(stored: str) -> str:
    """Return the moment of a cell, also in the other spellings that a GIS may give it."""
    if stored.endswith(".000Z"):
        return stored[:-5] + "Z"
    found = dt.datetime.fromisoformat(stored)
    return utc_text(found if found.tzinfo else found.replace(tzinfo=dt.UTC))


def _tuples(value: Any) -> Any:
    return tuple(_tuples(item) for item in value) if isinstance(value, list) else value


def to_json(columns: Columns | None) -> str | None:
    """Return columns as the JSON text that a step keeps; a blob is written in hexadecimal."""
    if columns is None:
        return None
    plain = {
        name: {"hex": value.hex()} if isinstance(value, bytes) else value
        for name, value in columns.items()
    }
    return json.dumps(plain, ensure_ascii=False, sort_keys=True)


def from_json(text: str | None) -> Columns | None:
    """Return the columns of a step's JSON text."""
    if text is None:
        return None
    return {
        name: bytes.fromhex(value["hex"]) if isinstance(value, dict) else value
        for name, value in json.loads(text).items()
    }


def read_snapshot(db: sqlite3.Connection) -> Snapshot:
    """Return all rows, in the order in which they were first written.

    Raises
    ------
    NotAProject
        A row cannot be read.
    """
    rows = {}
    for noun in NOUNS:
        names = column_names(noun)
        found = db.execute(f"SELECT {', '.join(names)} FROM {noun.table} ORDER BY fid")
        decoded = (decode(noun, dict(zip(names, row, strict=True))) for row in found)
        rows[noun.table] = {row.id: row for row in decoded}
    return Snapshot(rows)


def in_file_order(db: sqlite3.Connection, snapshot: Snapshot, table: str) -> Snapshot:
    """Return the picture with the rows of one table in the order of the file again.

    An undone deletion gives a row its old place back.
    """
    rows = snapshot.rows[table]
    order = db.execute(f"SELECT id FROM {table} ORDER BY fid")
    return Snapshot({**snapshot.rows, table: {key: rows[key] for (key,) in order}})

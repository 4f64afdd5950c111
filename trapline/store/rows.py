"""Between a noun and its row: columns by the declared kind of each field."""

import dataclasses
import json
from functools import cache
from types import MappingProxyType
from typing import Any

from trapline.errors import NotAProject, TraplineError
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE
from trapline.store.geopackage import FEATURES, point_blob, point_of

Columns = dict[str, Any]


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
    """Return the columns of a noun as SQLite stores them."""
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
        elif kind == "number" and value is not None:
            value = float(value)
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
            kind = meta["kind"]
            if kind == "listing":
                value = _tuples(json.loads(value)) if value else ()
            elif kind == "flag" and value is not None:
                value = bool(value)
            elif kind == "instant" and value is not None:
                value = value.partition(".")[0].removesuffix("Z") + "Z"
            elif kind in ("text", "choice") and value is None:
                value = ""  # a GIS leaves empty cells NULL
            values[name] = value
        if noun.table in FEATURES:
            point = point_of(columns["geom"])
            values["lon_deg"], values["lat_deg"] = point or (None, None)
        return noun(**values)
    except (TraplineError, ValueError, TypeError, KeyError, AttributeError) as problem:
        reason = problem.error if isinstance(problem, TraplineError) else str(problem)
        raise NotAProject(
            f"A row of the table '{noun.table}' cannot be read: {reason}",
            f"{noun.table}, id {columns.get('id')}",
            "Correct it with the program that wrote it, or open a backup.",
        ) from problem


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

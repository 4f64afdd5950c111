"""Between nouns and rows: what goes in comes out, and what a GIS leaves is understood."""

import dataclasses
import datetime as dt
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import NotAProject
from trapline.model.fields import Noun
from trapline.model.nouns import BY_TABLE, NOUNS
from trapline.store.creation import schema_columns
from trapline.store.geopackage import FEATURES
from trapline.store.project import Project
from trapline.store.rows import column_names, decode, encode, from_json, to_json

Outside = Callable[..., None]
ZONES = ("UTC", "Europe/Oslo", "America/St_Johns", "Australia/Lord_Howe")
# Everything but control characters and halves of surrogate pairs.
LETTERS = st.characters(exclude_categories=("Cc", "Cs"))


def values_of(item: dataclasses.Field[Any]) -> st.SearchStrategy[Any]:
    """What the declaration of a field says that it can hold."""
    meta = item.metadata
    kind = meta["kind"]
    if kind == "number":
        low = meta["above"] if meta["low"] is None else meta["low"]
        numbers = st.floats(
            min_value=low,
            max_value=meta["high"],
            exclude_min=meta["above"] is not None,
            allow_nan=False,
            allow_infinity=False,
        )
        return numbers if item.default is not None else st.none() | numbers
    if kind == "count":
        counts = st.integers(
            min_value=meta["low"], max_value=2**63 - 1 if meta["high"] is None else meta["high"]
        )
        return counts if item.default is not None else st.none() | counts
    if kind == "text":
        letters = LETTERS | st.sampled_from("\n\t") if meta["lines"] > 1 else LETTERS
        words = st.text(letters, max_size=12)
        return words.filter(str.strip) if meta["required"] else words
    days = st.dates().map(str)
    ends = dt.datetime(1900, 1, 1), dt.datetime(2199, 12, 31)
    instants = st.datetimes(*ends).map(lambda moment: f"{moment:%Y-%m-%dT%H:%M:%S}Z")
    return {
        "key": st.uuids().map(str),
        "link": st.none() | st.uuids().map(str),
        "flag": st.booleans(),
        "choice": st.sampled_from(meta.get("options", ("",))),
        "day": st.none() | days,
        "instant": st.none() | instants,
        "listing": LISTINGS.get(item.name, st.nothing()),
    }[kind]


LISTINGS: dict[str, st.SearchStrategy[Any]] = {
    "shoreline": st.lists(st.tuples(st.floats(-180, 180), st.floats(-90, 90)), max_size=4).map(
        tuple
    ),
    "tags": st.lists(
        st.tuples(st.none() | st.integers(1900, 2100), st.text(LETTERS, max_size=9)), max_size=3
    ).map(tuple),
}


@st.composite
def any_noun(draw: st.DrawFn) -> Noun:
    """A row of any noun, with the values mended that must fit together."""
    noun = draw(st.sampled_from(NOUNS))
    values = {item.name: draw(values_of(item)) for item in dataclasses.fields(noun)}
    if "lon_deg" in values and None in (values["lon_deg"], values["lat_deg"]):
        values["lon_deg"] = values["lat_deg"] = None
    if "zone" in values:
        values["zone"] = draw(st.sampled_from(ZONES))
    if "colour" in values:
        values["colour"] = draw(st.from_regex(r"#[0-9a-fA-F]{6}", fullmatch=True))
    for group in (("set_utc", "disturbed_utc", "lift_utc"), ("min_gap_m", "max_gap_m")):
        known = [name for name in group if values.get(name) is not None]
        in_order = sorted(values[name] for name in known)
        values.update(zip(known, in_order, strict=True))
    if noun.table == "catch" and {values["weight_kg"], values["measure_n"]} == {None}:
        values["count"] = values["count"] or 0
    return noun(**values)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(any_noun())
def test_every_noun_comes_back_from_its_row_as_it_was(row: Noun) -> None:
    with closing(sqlite3.connect(":memory:")) as db:
        columns = encode(row)
        marks = ", ".join("?" * len(columns))
        db.execute(f"CREATE TABLE t ({', '.join(columns)})")
        db.execute(f"INSERT INTO t VALUES ({marks})", tuple(columns.values()))
        stored = dict(zip(columns, db.execute("SELECT * FROM t").fetchone(), strict=True))
    assert decode(type(row), stored) == row
    assert from_json(to_json(stored)) == stored


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.lists(any_noun(), max_size=6, unique_by=lambda row: row.id))
def test_nouns_come_back_from_the_file_itself(rows: list[Noun]) -> None:
    """In its own columns, whose types SQLite converts values to."""
    from trapline.store.creation import _schema_text

    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript(_schema_text())
        db.row_factory = sqlite3.Row
        for row in rows:
            columns = encode(row)
            names, marks = ", ".join(columns), ", ".join("?" * len(columns))
            db.execute(f"INSERT INTO {row.table} ({names}) VALUES ({marks})", [*columns.values()])
        for row in rows:
            found = db.execute(f"SELECT * FROM {row.table} WHERE id = ?", (row.id,)).fetchone()
            assert decode(type(row), dict(found)) == row


@pytest.mark.parametrize("noun", NOUNS, ids=lambda noun: noun.table)
def test_the_columns_of_a_table_are_the_fields_of_its_noun(noun: type[Noun]) -> None:
    assert schema_columns()[noun.table] == {"fid", *column_names(noun)}
    fields = {item.name for item in dataclasses.fields(noun)}
    position = {"lon_deg", "lat_deg"} if noun.table in FEATURES else set()
    assert fields - position == set(column_names(noun)) - {"geom"}


def declared(db: sqlite3.Connection, table: str) -> dict[str, str]:
    return {row[1]: row[2] for row in db.execute(f"PRAGMA table_info({table})")}


def test_column_types_follow_from_the_kind_of_each_field(lake_path: Path) -> None:
    types = {
        "text": "TEXT", "choice": "TEXT", "link": "TEXT", "key": "TEXT", "listing": "TEXT",
        "number": "REAL", "count": "INTEGER", "flag": "BOOLEAN", "day": "DATE",
        "instant": "DATETIME",
    }  # fmt: skip
    with closing(sqlite3.connect(lake_path)) as db:
        for noun in NOUNS:
            found = declared(db, noun.table)
            for item in dataclasses.fields(noun):
                if item.name in found:
                    assert found[item.name] == types[item.metadata["kind"]], item.name


def test_every_link_is_a_deferred_reference_with_an_index(lake_path: Path) -> None:
    with closing(sqlite3.connect(lake_path)) as db:
        for noun in NOUNS:
            script = db.execute(
                "SELECT sql FROM sqlite_master WHERE name = ?", (noun.table,)
            ).fetchone()[0]
            parents = {
                row[3]: (row[2], row[4])
                for row in db.execute(f"PRAGMA foreign_key_list({noun.table})")
            }
            first_of_index = {
                db.execute(f"PRAGMA index_info({row[1]})").fetchone()[2]
                for row in db.execute(f"PRAGMA index_list({noun.table})")
            }
            for item in dataclasses.fields(noun):
                if item.metadata["kind"] == "link":
                    assert parents.pop(item.name) == (item.metadata["noun"], "id")
                    assert item.name in first_of_index
                    assert f"{item.name} TEXT REFERENCES" in script
            assert not parents
            assert script.count("REFERENCES") == script.count("DEFERRABLE INITIALLY DEFERRED")


def test_empty_cells_of_a_gis_are_read_as_what_they_mean(
    lake: Project, change_outside: Outside
) -> None:
    change_outside(
        lake.path,
        "UPDATE place SET ordinal = NULL, is_stake = NULL, geom = NULL WHERE label = 'P2'",
        "UPDATE trap_set SET fraction_counted = NULL, counted = NULL, set_utc = NULL",
        "UPDATE trip SET winner_threshold = NULL",
    )
    picture = lake.snapshot()
    places = {place.label: place for place in picture.all(BY_TABLE["place"])}
    assert (places["P2"].ordinal, places["P2"].is_stake) == (1, False)
    assert places["P2"].lon_deg is None
    assert {row.fraction_counted for row in picture.all(BY_TABLE["trap_set"])} == {1.0}
    assert picture.trips()[0].winner_threshold == 0.975


@pytest.mark.parametrize(
    ("written", "means"),
    [
        ("2026-08-01T18:30:00.000Z", "2026-08-01T18:30:00Z"),
        ("2026-08-01T18:30:00Z", "2026-08-01T18:30:00Z"),
        ("2026-08-01T18:30:59.999Z", "2026-08-01T18:30:59Z"),
        ("2026-08-01T18:30:00.000+02:00", "2026-08-01T16:30:00Z"),
        ("2026-08-01T18:30:00-03:30", "2026-08-01T22:00:00Z"),
        ("2026-08-01 18:30:00", "2026-08-01T18:30:00Z"),
    ],
)
def test_moments_are_understood_as_a_gis_may_spell_them(
    lake: Project, change_outside: Outside, written: str, means: str
) -> None:
    change_outside(lake.path, f"UPDATE trap_set SET set_utc = '{written}', lift_utc = NULL")
    assert {row.set_utc for row in lake.snapshot().all(BY_TABLE["trap_set"])} == {means}
    lake.path.unlink()  # the outside readers are right not to like these spellings


@pytest.mark.parametrize(
    ("statement", "reason"),
    [
        ("UPDATE place SET depth_m = -5", "-5"),
        ("UPDATE place SET depth_m = 9e999", "inf"),
        ("UPDATE place SET depth_m = 'deep'", "deep"),
        ("UPDATE place SET geom = x'4750'", "geometry"),
        ("UPDATE place SET geom = 'text'", "geometry"),
        ("UPDATE bait SET name = ''", "Name is empty"),
        ("UPDATE bait SET name = 'a' || char(1)", "control character"),
        ("UPDATE bait SET mark = 'heart'", "heart"),
        ("UPDATE trap SET tags = '{'", "tags|Expecting"),
        ("UPDATE water SET shoreline = '[[1]]'", "unpack|position"),
        (
            "UPDATE water SET shoreline = '[[1, 1' || printf('%.400d', 0) || ']]'",
            "large|not a number",
        ),
        ("UPDATE water SET shoreline = printf('%.*c', 100000, '[')", "recursion"),
        ("UPDATE trap_set SET set_utc = 'yesterday'", "yesterday"),
        ("UPDATE trap_set SET set_utc = x'00'", "."),
        ("UPDATE round SET set_on = '2026-02-30'", "2026-02-30"),
        ("UPDATE catch SET count = 1.5", "1.5"),
    ],
)
def test_a_cell_that_cannot_be_is_named_by_table_and_row(
    lake: Project, change_outside: Outside, statement: str, reason: str
) -> None:
    change_outside(lake.path, statement)
    with pytest.raises(NotAProject, match=f"cannot be read: .*({reason})") as caught:
        lake.snapshot()
    table = statement.split()[1]
    assert caught.value.where.startswith(f"{table}, id ")
    assert caught.value.what_to_do
    lake.close()
    with pytest.raises(NotAProject, match="cannot be read"):
        Project.open(lake.path)

"""Proof: 200 random steps, undone to the start and redone to the end across openings, exactly."""

import dataclasses
import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from trapline.errors import Conflict, InvalidValue
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
from trapline.store.transaction import Change

STEPS = 200
WORDS = (
    "",
    "plain",
    'it\'s "quoted"',
    "åß∂ 钓鱼 🦞",
    "NULL",
    "0",
    "-1e9",
    " spaces ",
    "\u202eright",
)
TAGS = ((), ((2026, "AB 1"),), ((None, "C"), (2025, "D,E")))
SHORES = ((), ((10.0, 60.0), (10.5, 60.0), (10.0, 60.0)))


def value_for(rng: random.Random, item: dataclasses.Field[Any], ids: dict[str, list[str]]) -> Any:
    """A value that the field can hold, often an extreme one or none."""
    meta = item.metadata
    kind = meta["kind"]
    if kind in ("number", "count"):
        low = meta["low"] if meta["above"] is None else meta["above"] + 1e-6
        high = 10**6 if meta["high"] is None else meta["high"]
        if item.default is None and rng.random() < 0.3:
            return None
        if kind == "count":
            return rng.choice((low, high, rng.randint(low, high)))
        return rng.choice((low, high, rng.uniform(low, high), 0.1 + 0.2 if low <= 0.3 else high))
    return {
        "key": lambda: item.default_factory(),
        "text": lambda: rng.choice(WORDS),
        "choice": lambda: rng.choice(meta["options"]),
        "flag": lambda: rng.random() < 0.5,
        "link": lambda: rng.choice((None, *ids.get(meta["noun"], ()))),
        "day": lambda: rng.choice((None, f"20{rng.randint(10, 99)}-02-28")),
        "instant": lambda: rng.choice((None, f"20{rng.randint(10, 99)}-08-01T18:30:00Z")),
        "listing": lambda: rng.choice(TAGS if item.name == "tags" else SHORES),
    }[kind]()


def any_row(
    rng: random.Random, noun: type[Noun], ids: dict[str, list[str]], key: str | None = None
) -> Noun:
    """A random row of a noun; values that do not fit together are drawn again."""
    while True:
        values = {item.name: value_for(rng, item, ids) for item in dataclasses.fields(noun)}
        if "colour" in values:
            values["colour"] = f"#{rng.randrange(16**6):06X}"
        if "zone" in values:
            values["zone"] = rng.choice(("UTC", "Europe/Oslo"))
        if "lat_deg" in values and None in (values["lon_deg"], values["lat_deg"]):
            values["lon_deg"] = values["lat_deg"] = None
        if key is not None:
            values["id"] = key
        try:
            return noun(**values)
        except InvalidValue:
            continue


def touch(rng: random.Random, change: Change) -> None:
    """Insert, update, delete or replace one row of a random noun."""
    picture = change.snapshot
    ids = {table: list(rows) for table, rows in picture.rows.items()}
    noun = rng.choice(NOUNS[1:])
    rows = picture.all(noun)
    act = rng.choice(("insert", "insert", "update", "update", "delete", "replace", "project"))
    if act == "project":
        change.update(any_row(rng, ProjectInfo, ids, picture.project.id))
    elif act == "insert" or not rows:
        change.insert(any_row(rng, noun, ids))
    else:
        row = rng.choice(rows)
        if act in ("delete", "replace"):
            change.delete(row)
        if act in ("update", "replace"):
            write = change.update if act == "update" else change.insert
            write(any_row(rng, noun, ids, row.id))


def dump_rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every column of every row of every noun, row numbers too, as SQLite gives them."""
    with closing(sqlite3.connect(path)) as db:
        return {
            noun.table: db.execute(f"SELECT * FROM {noun.table} ORDER BY fid").fetchall()
            for noun in NOUNS
        }


@pytest.mark.parametrize("seed", [1, 2])
def test_random_steps_are_undone_to_the_start_and_redone_to_the_end(
    tmp_path: Path, seed: int
) -> None:
    rng = random.Random(seed)
    path = tmp_path / "lake.gpkg"
    project = Project.create(path, ProjectInfo(name="Proof"))
    dumps, pictures, refusals = [dump_rows(path)], [project.snapshot()], 0
    touched: set[tuple[str, str]] = set()
    while len(dumps) <= STEPS:
        try:
            with project.change(f"Step {len(dumps)}") as change:
                for _ in range(rng.choice((1, 1, 2, 5))):
                    touch(rng, change)
        except Conflict:
            # It deleted a row that is still used; then nothing at all may have happened.
            refusals += 1
            assert dump_rows(path) == dumps[-1]
            assert project.snapshot() == pictures[-1]
            continue
        if project.last_changes:
            dumps.append(dump_rows(path))
            pictures.append(project.snapshot())
            touched |= {
                (row.table, "insert" if row.before is None else "update" if row.after else "delete")
                for row in project.last_changes.rows
            }
        if rng.random() < 0.1:
            project.close()
            project = Project.open(path)
    # The sequence did exercise what it is to prove.
    assert touched >= {(noun.table, act) for noun in NOUNS[1:] for act in ("insert", "update")}
    assert touched >= {(noun.table, "delete") for noun in (Catch, *NOUNS[4:6])}
    assert refusals > 5

    def same(number: int) -> None:
        assert dump_rows(path) == dumps[number], number
        assert project.snapshot() == pictures[number], number
        for noun in NOUNS:
            assert project.snapshot().all(noun) == pictures[number].all(noun), number

    middle = rng.randrange(50, 150)
    for number in range(STEPS - 1, -1, -1):
        project.undo()
        same(number)
        if number == middle:
            project.close()
            project = Project.open(path)
            same(number)
    assert project.next_undo() is None
    for number in range(1, STEPS + 1):
        project.redo()
        same(number)
        if number == middle:
            project.close()
            project = Project.open(path)
            same(number)
    assert project.next_redo() is None
    project.close()

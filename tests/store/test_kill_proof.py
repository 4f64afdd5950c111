"""Proof: whatever was acknowledged is there after a kill, whole, and the file is sound."""

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.store.project import Project

KILLS = 50
TRIP = Path(__file__).with_name("killed_trip.py")


@pytest.fixture
def trips() -> Iterator[subprocess.Popen[str]]:
    """The process that runs trips; it has imported everything, so that each begins at once."""
    child = subprocess.Popen(
        [sys.executable, str(TRIP)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(TRIP.parents[2])},
    )
    yield child
    child.communicate(timeout=30)
    assert child.returncode == 0


def acknowledged(trips: subprocess.Popen[str], path: Path, rng: random.Random) -> list[str]:
    """Run a trip, kill it at a random moment, and return what it had acknowledged."""
    assert trips.stdin is not None
    assert trips.stdout is not None
    trips.stdin.write(f"{path} {rng.randrange(10**6)}\n")
    trips.stdin.flush()
    word, number = trips.stdout.readline().split()
    assert word == "pid"
    said = [trips.stdout.readline() for _ in range(rng.randrange(8))]
    # A commit takes a few milliseconds: the kill falls anywhere within one or between two.
    time.sleep(rng.uniform(0, 0.008))
    os.kill(int(number), signal.SIGKILL)
    while (line := trips.stdout.readline()) != "ended\n":
        said.append(line)
    return said


def test_every_acknowledged_change_survives_a_kill_whole(
    trips: subprocess.Popen[str], lake_path: Path
) -> None:
    rng = random.Random(20260801)
    start = lake_path.read_bytes()
    journals = 0
    for _ in range(KILLS):
        lake_path.write_bytes(start)
        said = acknowledged(trips, lake_path, rng)
        journals += lake_path.with_name("lake.gpkg-journal").exists()
        verb, number = said[-1].split() if said else ("done", "0")
        last = int(number)
        with Project.open(lake_path) as project:
            assert not project.read_only
            picture = project.snapshot()
            found = int(picture.project.notes) if picture.project.notes.isdigit() else 0
            # What was acknowledged last, or the one act after it, which had no time to say so.
            possible = {last - 1, last} if verb == "undone" else {last - 1, last, last + 1}
            if verb == "done":
                # Only an undo of this very step may have come after it.
                redo = project.next_redo()
                assert found >= last or (redo is not None and redo.label == f"step {last}")
            assert found in possible
            # A step is whole: all three of its rows are there or none is.
            assert [row.count for row in picture.all(Catch)[3:]] == list(range(1, found + 1))
            assert picture.all(Place)[0].notes == (str(found) if found else "")
            done = [step.label for step in project.history() if step.state == "done"]
            assert done == [f"step {one}" for one in range(found, 0, -1)] + ["Fill"]
            with project.change("Go on") as change:
                change.update(picture.project.with_(notes="after the kill"))
            project.undo()
            assert project.snapshot() == picture
        assert not lake_path.with_name("lake.gpkg-journal").exists()
        with closing(sqlite3.connect(lake_path)) as db:
            assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    # The kills did fall within transactions, not only between them.
    assert journals > 3

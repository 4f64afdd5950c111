"""``trapline new``."""

import json
from pathlib import Path
from typing import Any

import pytest

from trapline.cli.main import main
from trapline.model.line import Line
from trapline.model.snapshot import Snapshot
from trapline.model.water import Water
from trapline.store.project import Project

Captured = pytest.CaptureFixture[str]


def snapshot(path: Path) -> Snapshot:
    with Project.open(path, read_only=True) as project:
        return project.snapshot()


@pytest.fixture
def new(tmp_path: Path, capsys: Captured) -> Any:
    def make(*options: str) -> tuple[int, dict[str, Any], Path]:
        path = tmp_path / "trial.gpkg"
        code = main(["new", str(path), *options, "--json"])
        return code, json.loads(capsys.readouterr().out), path

    return make


def test_a_project_alone_is_called_as_its_file(new: Any) -> None:
    code, answer, path = new()
    assert (code, answer["project"], answer["trip"]) == (0, str(path), None)
    assert snapshot(path).project.name == "trial"
    assert snapshot(path).all(Water) == ()


def test_a_trip_starts_on_its_water_with_the_gaps_of_the_line(new: Any) -> None:
    code, answer, path = new(
        "--name", "Bait trials", "--water", "Mill pond", "--line-kind", "crab pots",
        "--trip", "First", "--zone", "Europe/Oslo", "--day", "2026-08-01",
    )  # fmt: skip
    # Common practice, no source: crab pots 30 m apart at least.
    assert (code, answer["min_gap_m"]) == (0, 30.0)
    made = snapshot(path)
    trip = next(row for row in made.trips() if row.name == "First")
    assert (trip.started_on, trip.zone, answer["zone"]) == ("2026-08-01", *["Europe/Oslo"] * 2)
    assert made.project.name == "Bait trials"
    assert [round.number for round in made.rounds(trip.id)] == [1]


def test_typed_gaps_stay(new: Any) -> None:
    _, answer, _ = new("--water", "Pond", "--trip", "First", "--min-gap", "33ft", "--max-gap", "40")
    assert answer["min_gap_m"] == pytest.approx(33 * 0.3048)  # the foot of 1959, exact
    assert answer["max_gap_m"] == 40.0


def test_a_water_comes_with_a_line_and_no_trip(new: Any) -> None:
    code, _, path = new("--water", "Pond", "--line", "West", "--line-kind", "string")
    (line,) = snapshot(path).all(Line)
    assert (code, line.name, line.kind) == (0, "West", "string")
    assert snapshot(path).trips() == ()


@pytest.mark.parametrize(
    ("options", "where"),
    [
        (["--min-gap", "10m"], "--trip"),
        (["--zone", "UTC"], "--trip"),
        (["--line-kind", "string"], "--water"),
        (["--trip", "First", "--min-gap", "ten"], "--min-gap"),
        (["--trip", "First", "--min-gap", "10", "--max-gap", "5"], "Maximum gap"),
        (["--trip", "First", "--zone", "Nowhere"], "Time zone"),
        (["--trip", "First", "--day", "today"], "First day"),
        (["--trip", ""], "Name"),
        (["--water", " "], "Name"),
        (["--line-kind", "raft"], "trapline new"),
    ],
)
def test_what_cannot_be_leaves_no_file(new: Any, options: list[str], where: str) -> None:
    code, answer, path = new(*options)
    assert (code, answer["where"]) == (2, where)
    assert not path.exists()


def test_a_file_that_is_there_stays(new: Any, tmp_path: Path) -> None:
    (tmp_path / "trial.gpkg").write_bytes(b"mine")
    code, answer, path = new("--water", "Pond")
    assert code == 2
    assert "exists already" in answer["error"]
    assert path.read_bytes() == b"mine"


def test_people_get_the_path(tmp_path: Path, capsys: Captured) -> None:
    assert main(["new", str(tmp_path / "a.gpkg")]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'a.gpkg'}\n"

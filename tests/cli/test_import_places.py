"""``trapline import``."""

import json
from pathlib import Path
from typing import Any

import pytest

from trapline.cli.main import main
from trapline.model.line import Line
from trapline.model.snapshot import Snapshot
from trapline.store.project import Project

Captured = pytest.CaptureFixture[str]

GPX = """<?xml version="1.0"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="a receiver">
<wpt lat="60.001" lon="10.001"><name>WPT 007</name></wpt>
<wpt lat="60.002" lon="10.002"><name>WPT 008</name></wpt>
</gpx>"""


class Trial:
    """A project with one trip, and a way to import into it."""

    def __init__(self, folder: Path, capsys: Captured) -> None:
        self.folder, self.capsys = folder, capsys
        self.path = folder / "trial.gpkg"
        main(["new", str(self.path), "--water", "Pond", "--trip", "First"])
        capsys.readouterr()

    def take(self, text: str, name: str, *options: str) -> tuple[int, dict[str, Any]]:
        (self.folder / name).write_text(text, "utf-8")
        words = ["import", str(self.path), str(self.folder / name), *options, "--json"]
        code = main(words)
        return code, json.loads(self.capsys.readouterr().out)

    def snapshot(self) -> Snapshot:
        with Project.open(self.path, read_only=True) as project:
            return project.snapshot()

    def labels(self, line: str = "Line 1") -> list[str]:
        made = self.snapshot()
        (found,) = (one for one in made.all(Line) if one.name == line)
        return [place.label for place in made.places(found.id)]


@pytest.fixture
def trial(tmp_path: Path, capsys: Captured) -> Trial:
    return Trial(tmp_path, capsys)


def test_waypoints_come_into_the_line_and_the_round_of_the_trip(trial: Trial) -> None:
    code, answer = trial.take(GPX, "unit.gpx")
    assert code == 0
    assert answer == {
        "understood": "2 of 2 waypoints understood",
        "format": "GPX 1.1",
        "columns": {},
        "line": "Line 1",
        "round": 1,
        "imported": ["WPT 007", "WPT 008"],
        "renamed": [],
        "skipped": [],
        "refused": [],
    }
    made = trial.snapshot()
    assert trial.labels() == ["WPT 007", "WPT 008"]
    assert len(made.sets(made.round_numbered(made.trips()[0].id, 1).id)) == 2


def test_the_same_file_twice_adds_nothing(trial: Trial) -> None:
    trial.take(GPX, "unit.gpx")
    code, answer = trial.take(GPX, "unit.gpx")
    assert (code, answer["imported"]) == (1, [])
    assert [row["name"] for row in answer["skipped"]] == ["WPT 007", "WPT 008"]
    assert len(trial.labels()) == 2


def test_a_name_taken_elsewhere_comes_in_under_another(trial: Trial) -> None:
    trial.take(GPX, "unit.gpx")
    code, answer = trial.take("name;lat;lon\nWPT 007;60.01;10.01\n", "places.csv")
    assert (code, answer["imported"]) == (1, ["WPT 007 2"])
    assert answer["renamed"][0]["as"] == "WPT 007 2"
    assert answer["columns"] == {"name": "label", "lat": "latitude", "lon": "longitude"}


def test_rows_that_are_not_understood_are_named_with_why(trial: Trial) -> None:
    code, answer = trial.take("name,lat,lon\nA,60,10\nB,95,10\n", "places.csv")
    assert (code, answer["imported"]) == (1, ["A"])
    (refused,) = answer["refused"]
    assert "line 3" in refused["where"]
    assert refused["error"]
    assert refused["what_to_do"]


def test_one_undo_takes_all_back(trial: Trial) -> None:
    trial.take(GPX, "unit.gpx")
    assert main(["undo", str(trial.path)]) == 0
    assert trial.labels() == []


def test_a_line_and_a_trip_can_be_named(trial: Trial) -> None:
    with Project.open(trial.path) as project:
        from trapline.actions.editing import add

        add(project, Line(name="East", water_id=project.snapshot().all(Line)[0].water_id))
    code, answer = trial.take(GPX, "unit.gpx", "--line", "East")
    assert (code, answer["line"], answer["round"]) == (0, "East", None)
    table = "name,lat,lon\nA,60,10\n"
    code, answer = trial.take(table, "t.csv", "--line", "East", "--trip", "First")
    assert (code, answer["line"], answer["round"]) == (0, "East", 1)
    assert trial.labels("East") == ["WPT 007", "WPT 008", "A"]


@pytest.mark.parametrize(
    ("text", "options", "where"),
    [
        (GPX, ["--line", "North"], "--line"),
        (GPX, ["--trip", "Second"], "--trip"),
        ("name,depth\nA,3\n", [], "places.csv, line 1"),
        ("", [], "places.csv"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_changed(
    trial: Trial, text: str, options: list[str], where: str
) -> None:
    before = trial.snapshot()
    code, answer = trial.take(text, "places.csv", *options)
    assert (code, answer["where"]) == (2, where)
    assert trial.snapshot() == before


def test_a_project_without_a_line_is_told_how_to_get_one(tmp_path: Path, capsys: Captured) -> None:
    path = tmp_path / "bare.gpkg"
    main(["new", str(path)])
    (tmp_path / "unit.gpx").write_text(GPX)
    capsys.readouterr()
    assert main(["import", str(path), str(tmp_path / "unit.gpx"), "--json"]) == 2
    assert "--water" in json.loads(capsys.readouterr().out)["what_to_do"]


def test_people_get_sentences(trial: Trial) -> None:
    table = trial.folder / "places.csv"
    table.write_text("name,lat,lon\nA,60,10\nB,95,10\n")
    assert main(["import", str(trial.path), str(table)]) == 1
    lines = trial.capsys.readouterr().out.splitlines()
    assert lines[0] == "1 of 2 rows understood (table, comma, UTF-8)."
    assert "line 3" in lines[1]
    assert lines[-1] == "Imported 1 place into line 'Line 1', round 1."

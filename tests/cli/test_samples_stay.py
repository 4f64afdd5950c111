"""Samples that came with the program are read by every command and written by none."""

import json
from pathlib import Path

import pytest

from tests.made_trips import make_trip, write_project
from trapline import folders
from trapline.cli.main import main

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def sample(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "sample_projects"
    folder.mkdir()
    path = write_project(make_trip(3), folder / "pond.gpkg")
    monkeypatch.setattr(folders, "shipped_folder", lambda name: tmp_path / name)
    return path


@pytest.mark.parametrize(
    "words",
    [["undo", "{sample}"], ["redo", "{sample}"], ["import", "{sample}", "{table}"],
     ["new", "{folder}/mine.gpkg"], ["import", "{link}", "{table}"]],
)  # fmt: skip
def test_a_command_that_writes_refuses_a_sample(
    words: list[str], sample: Path, tmp_path: Path, capsys: Captured
) -> None:
    (tmp_path / "places.csv").write_text("id,lat,lon\na,45,7\n")
    (tmp_path / "link.gpkg").symlink_to(sample)
    before = sample.read_bytes()
    names = {
        "sample": sample, "table": tmp_path / "places.csv", "folder": sample.parent,
        "link": tmp_path / "link.gpkg",
    }  # fmt: skip
    assert main([*(word.format(**names) for word in words), "--json"]) == 2
    answer = json.loads(capsys.readouterr().out)
    assert "stay as they are" in answer["error"]
    assert "trapline samples copy" in answer["what_to_do"]
    assert sample.read_bytes() == before
    assert [path.name for path in sample.parent.iterdir()] == ["pond.gpkg"]


@pytest.mark.parametrize("command", ["gaps", "compare", "check", "history"])
def test_a_command_that_reads_takes_a_sample(command: str, sample: Path, capsys: Captured) -> None:
    before = sample.read_bytes()
    assert main([command, str(sample), "--json"]) in (0, 1)
    assert "error" not in json.loads(capsys.readouterr().out)
    assert sample.read_bytes() == before

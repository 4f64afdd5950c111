"""``trapline samples``."""

import json
from pathlib import Path

import pytest

from trapline.actions import samples
from trapline.cli.main import main

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "shipped"
    folder.mkdir()
    for name in ("pond.gpkg", "lake.gpkg"):
        (folder / name).write_bytes(name.encode())
    monkeypatch.setattr(samples, "shipped_folder", lambda _: folder)
    return folder


def test_the_samples_are_listed(shipped: Path, capsys: Captured) -> None:
    assert main(["samples"]) == 0
    assert capsys.readouterr().out == "lake\npond\n"
    assert main(["samples", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"samples": ["lake", "pond"]}


def test_a_sample_is_copied_where_one_says(shipped: Path, tmp_path: Path, capsys: Captured) -> None:
    goal = tmp_path / "mine"
    goal.mkdir()
    assert main(["samples", "copy", "lake", "--to", str(goal), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"project": str(goal / "lake.gpkg")}
    assert main(["samples", "copy", "lake", "--to", str(goal)]) == 0
    assert capsys.readouterr().out == f"{goal / 'lake 2.gpkg'}\n"


@pytest.mark.parametrize("words", [["copy"], ["list", "lake"], ["copy", "sea"], ["drink"]])
def test_half_a_request_is_refused(words: list[str], shipped: Path, capsys: Captured) -> None:
    assert main(["samples", *words, "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["error"]

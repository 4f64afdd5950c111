"""``trapline undo``, ``redo`` and ``history`` on a real project file."""

import json
from pathlib import Path
from typing import Any

import pytest

from trapline.cli.main import main
from trapline.model.project_info import ProjectInfo
from trapline.model.water import Water
from trapline.store.project import Project

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def lake(tmp_path: Path) -> str:
    path = tmp_path / "lake.gpkg"
    with Project.create(path, ProjectInfo(name="Lake")) as project:
        for name in ("Pond", "Bay"):
            with project.change(f"Add water {name}") as change:
                change.insert(Water(name=name))
    return str(path)


def waters(path: str) -> list[str]:
    with Project.open(Path(path)) as project:
        return [water.name for water in project.snapshot().all(Water)]


def answer(capsys: Captured, *words: str) -> tuple[int, Any]:
    code = main([*words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_undo_takes_back_the_latest_step_and_redo_does_it_again(
    lake: str, capsys: Captured
) -> None:
    assert answer(capsys, "undo", lake) == (0, {"undone": "Add water Bay"})
    assert waters(lake) == ["Pond"]
    assert answer(capsys, "redo", lake) == (0, {"redone": "Add water Bay"})
    assert waters(lake) == ["Pond", "Bay"]


def test_undo_goes_back_step_by_step_from_one_start_to_the_next(
    lake: str, capsys: Captured
) -> None:
    assert answer(capsys, "undo", lake) == (0, {"undone": "Add water Bay"})
    assert answer(capsys, "undo", lake) == (0, {"undone": "Add water Pond"})
    code, said = answer(capsys, "undo", lake)
    assert (code, said["error"]) == (2, "There is nothing to undo.")
    assert waters(lake) == []


def test_nothing_to_redo_is_said(lake: str, capsys: Captured) -> None:
    code, said = answer(capsys, "redo", lake)
    assert (code, said["error"]) == (2, "There is nothing to redo.")
    assert said["where"] == "lake.gpkg"
    assert "trapline history" in said["what_to_do"]


def test_history_lists_the_newest_first_with_what_was_undone(lake: str, capsys: Captured) -> None:
    main(["undo", lake])
    assert capsys.readouterr().out == "Undone: Add water Bay\n"
    code, said = answer(capsys, "history", lake)
    assert code == 0
    assert [(row["label"], row["state"]) for row in said["steps"]] == [
        ("Add water Bay", "undone"),
        ("Add water Pond", "done"),
        ("New project", "closed"),
    ]
    assert answer(capsys, "history", lake, "--limit", "1")[1]["steps"] == said["steps"][:1]
    assert answer(capsys, "history", lake, "--limit", "0")[0] == 2
    assert answer(capsys, "history", lake, "--limit", str(10**20)) == (0, said)
    main(["history", lake])
    first, second, _ = capsys.readouterr().out.splitlines()
    assert first.endswith("Add water Bay (undone)")
    assert second.endswith("Add water Pond")


def test_history_does_not_write_to_the_file(lake: str, capsys: Captured) -> None:
    before = Path(lake).read_bytes()
    main(["history", lake])
    assert Path(lake).read_bytes() == before


def test_what_is_no_project_is_said(tmp_path: Path, capsys: Captured) -> None:
    (tmp_path / "empty.gpkg").touch()
    for verb in ("undo", "history"):
        code, said = answer(capsys, verb, str(tmp_path / "empty.gpkg"))
        assert code == 2
        assert "0 bytes" in said["error"]

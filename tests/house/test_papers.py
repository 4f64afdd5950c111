"""What README.md and DEVELOPERS.md name is there: files, links, commands, rooms."""

import re
from pathlib import Path
from typing import Final

import pytest

from trapline.cli.main import build_parser, main

CHECKOUT: Final = Path(__file__).resolve().parents[2]
PAPERS: Final = ("README.md", "DEVELOPERS.md", "resources/changes.md")
README: Final = (CHECKOUT / "README.md").read_text("utf-8")


def commands() -> set[str]:
    (action,) = (one for one in build_parser()._actions if one.dest == "command")
    return set(action.choices or ())


@pytest.mark.parametrize("paper", PAPERS)
def test_every_link_leads_to_a_file(paper: str) -> None:
    words = (CHECKOUT / paper).read_text("utf-8")
    links = re.findall(r"\]\(([^)#:]+)\)", words)
    assert [link for link in links if not (CHECKOUT / paper).parent.joinpath(link).exists()] == []


def test_every_system_has_two_commands_and_their_files_are_there() -> None:
    start = README.split("## Start")[1].split("\n## ")[0]
    blocks = [block.strip().splitlines() for block in re.findall(r"```\n(.*?)```", start, re.S)]
    assert [len(block) for block in blocks] == [2, 2, 2]
    named = {line.split()[-1].replace("\\", "/") for block in blocks for line in block}
    assert [name for name in named if not (CHECKOUT / name).is_file()] == []


@pytest.mark.parametrize("paper", PAPERS)
def test_every_command_that_is_named_exists(paper: str) -> None:
    words = (CHECKOUT / paper).read_text("utf-8")
    named = set(re.findall(r"`trapline ([a-z]+)", words))
    assert named <= commands()


def test_the_readme_names_every_command() -> None:
    assert {name for name in commands() if f"trapline {name}" not in README} == set()


def test_an_example_of_the_readme_gives_an_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "places.csv").write_text("id,lat,lon\na,45,7\nb,45,7.01\n")
    monkeypatch.chdir(tmp_path)
    line = re.findall(r"`trapline (gaps [^`]*)`", README)[0]
    assert main(line.split()) == 0


def test_the_map_of_the_rooms_is_complete() -> None:
    words = (CHECKOUT / "DEVELOPERS.md").read_text("utf-8")
    rooms = {
        path.name + ("/" if path.is_dir() else "")
        for path in (CHECKOUT / "trapline").iterdir()
        if not path.name.startswith("__")
    }
    assert {room for room in rooms if f"`{room}`" not in words} == set()

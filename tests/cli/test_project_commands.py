"""``sheet``, ``summary``, ``check`` and ``compare`` on a project, through the command line."""

import json
import os
import re
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication

from tests.made_trips import make_trip, write_project
from tests.reports.pdf_reading import all_words, reader, size_mm
from trapline.analyses.trip_comparison import CompareChoice, compare_trips
from trapline.cli.main import main

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def project(tmp_path: Path) -> Path:
    made = make_trip(6, 2, baits=("fish", "liver")).lifted([9, 1, 7, 2, 8, 0])
    return write_project(made, tmp_path / "t.gpkg")


def answer(capsys: Captured) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_the_sheet_is_that_of_the_round(
    qapp: QApplication, project: Path, tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / "sheet.pdf"
    asked = ["sheet", str(project), "--round", "2", "--paper", "Letter", "--out", str(out)]
    assert main([*asked, "--json"]) == 0
    assert answer(capsys) == {"pdf": str(out), "pages": 1, "trip": "Summer trial", "round": 2}
    assert size_mm(out.read_bytes()) == (216, 279)
    assert "Field sheet, round 2" in all_words(out.read_bytes())


def test_the_summary_is_that_of_the_trip(
    qapp: QApplication, project: Path, tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / "trip.pdf"
    assert (
        main(["summary", str(project), "--trip", "Summer trial", "--out", str(out), "--json"]) == 0
    )
    found = answer(capsys)
    assert (found["sets"], found["counted"], found["catch"]) == (6, 6, 27)
    assert found["pages"] == len(reader(out.read_bytes()).pages)
    # The verdict may run on over the end of a page.
    text = re.sub(r"Page \d+ of \d+ Trip summary: Summer trial", "", all_words(out.read_bytes()))
    assert " ".join(found["verdict"].split()) in " ".join(text.split())


def test_the_commands_print_without_a_display(project: Path, tmp_path: Path) -> None:
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    for command in ("sheet", "summary"):
        out = tmp_path / f"{command}.pdf"
        words = [sys.executable, "-m", "trapline", command, str(project), "--out", str(out)]
        done = subprocess.run(words, env=environment, capture_output=True, text=True, timeout=120)
        assert (done.returncode, done.stderr) == (0, "")
        assert str(out) in done.stdout
        assert "Summer trial" in all_words(out.read_bytes())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["sheet", "{project}", "--out", "x.txt"], "End it with .pdf"),
        (["sheet", "{project}", "--out", "x.pdf", "--round", "9"], "no round 9"),
        (["sheet", "{project}", "--out", "x.pdf", "--trip", "Nowhere"], "no trip named 'Nowhere'"),
        (["summary", "{project}"], "--out"),
        (["summary", "nowhere.gpkg", "--out", "x.pdf"], "nowhere.gpkg"),
        (["summary", "{project}", "--out", "{folder}/none/x.pdf"], "cannot be written"),
        (["check", "nowhere.gpkg"], "nowhere.gpkg"),
        (["compare", "{project}", "--reference", "cheese"], "no bait 'cheese'"),
        (["compare", "{project}", "--trip", "Nowhere"], "no trip named 'Nowhere'"),
    ],
)
def test_what_cannot_be_done_is_told_in_words(
    qapp: QApplication,
    project: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Captured,
    words: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    filled = [word.format(project=project, folder=tmp_path) for word in words]
    assert main(filled) == 2
    assert said in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["t.gpkg"]


def test_a_table_is_compared_as_a_whole(tmp_path: Path, capsys: Captured) -> None:
    table = tmp_path / "lifts.csv"
    table.write_text("bait,catch,soak_h\nfish,1,24\nliver,2,24\n", "utf-8")
    assert main(["compare", str(table), "--trip", "Summer trial"]) == 2
    assert "A table is compared as a whole." in capsys.readouterr().err


def test_compare_answers_as_the_window_does(project: Path, capsys: Captured) -> None:
    made = make_trip(6, 2, baits=("fish", "liver")).lifted([9, 1, 7, 2, 8, 0])
    choice = CompareChoice(round_ids=made.round_ids, reference_bait_id=made.bait_ids[0])
    assert main(["compare", str(project), "--json", "--no-settle"]) == 0
    found = answer(capsys)
    assert found == json.loads(json.dumps(compare_trips(made.snapshot, choice).as_dict()))
    assert found["winner"] == "fish"
    assert main(["compare", str(project), "--reference", "Liver", "--json", "--no-settle"]) == 0
    assert {row["reference"] for row in answer(capsys)["ratios"]} == {"liver"}


def test_compare_says_in_words_what_the_verdict_rests_on(project: Path, capsys: Captured) -> None:
    assert main(["compare", str(project), "--trip", "Summer trial"]) == 0
    said = capsys.readouterr().out
    assert "Fish is the winner" in said
    assert "Exact test, the baits of traps dealt out again" in said


def test_compare_of_a_planned_trip_is_a_sentence(tmp_path: Path, capsys: Captured) -> None:
    path = write_project(make_trip(3), tmp_path / "p.gpkg")
    assert main(["compare", str(path)]) == 0
    assert "there is nothing to compare" in capsys.readouterr().out
    assert main(["compare", str(path), "--json"]) == 0
    found = answer(capsys)
    # The same keys as any other comparison.
    lifted = write_project(make_trip(3).lifted([1, 2, 3]), tmp_path / "l.gpkg")
    main(["compare", str(lifted), "--json"])
    assert set(found) == set(answer(capsys))
    assert (found["ratios"], found["permutation"], found["winner"]) == (None, None, None)


COMMANDS = (
    ["gaps"],
    ["compare"],
    ["check"],
    ["sheet", "--out", "x.pdf"],
    ["summary", "--out", "x.pdf"],
)


@pytest.mark.parametrize("words", [words for words in COMMANDS if words != ["check"]])
def test_a_project_without_a_trip_is_told_so(
    words: list[str], tmp_path: Path, capsys: Captured
) -> None:
    path = str(tmp_path / "bare.gpkg")
    main(["new", path])
    capsys.readouterr()
    assert main([words[0], path, *words[1:], "--json"]) == 2
    found = answer(capsys)
    assert (found["error"], found["where"]) == ("The project has no trip yet.", "--trip")


@pytest.mark.parametrize("words", COMMANDS)
def test_trips_of_one_name_are_told_apart_by_their_ids(
    words: list[str], tmp_path: Path, capsys: Captured
) -> None:
    made = make_trip(2)
    trip = made.snapshot.trips()[0]
    path = str(write_project(made.with_rows(trip.with_(id="other", started_on="2025-05-01")),
                             tmp_path / "t.gpkg"))  # fmt: skip
    assert main([words[0], path, *words[1:], "--trip", trip.name, "--json"]) == 2
    found = answer(capsys)
    assert (found["error"], found["where"]) == ("There are 2 trips named 'Summer trial'.", "--trip")
    assert "trip (from 2026-07-01), other (from 2025-05-01)" in found["what_to_do"]
    if len(words) == 1:
        assert main([words[0], path, *words[1:], "--trip", "trip", "--json"]) in (0, 1)


def test_gaps_of_a_project_come_with_the_limits_of_its_trip(
    tmp_path: Path, capsys: Captured
) -> None:
    made = make_trip(3, gap_deg=0.0001)
    trip = made.snapshot.trips()[0]
    path = write_project(made.with_rows(trip.with_(max_gap_m=None)), tmp_path / "t.gpkg")
    assert main(["gaps", str(path)]) == 1
    first, *_, last = capsys.readouterr().out.splitlines()
    assert first.endswith("apart, under your 10.0 m.")
    assert last == "Positions: 3, without a position: 0, minimum gap 10.0 m, maximum gap none."


@pytest.mark.parametrize("number", [0, -1, 3, 10**20])
def test_a_round_that_is_not_there_is_told_which_are(
    number: int, project: Path, capsys: Captured
) -> None:
    assert main(["gaps", str(project), "--round", str(number), "--json"]) == 2
    found = answer(capsys)
    assert found["where"] == "--round"
    assert (f"no round {number}." in found["error"], found["what_to_do"]) == (True, "It has: 1, 2.")


def test_a_trip_without_a_round_is_told_so(tmp_path: Path, capsys: Captured) -> None:
    made = make_trip(2)
    trip = made.snapshot.trips()[0]
    path = write_project(made.with_rows(trip.with_(id="bare", name="Bare")), tmp_path / "t.gpkg")
    assert main(["gaps", str(path), "--trip", "Bare", "--json"]) == 2
    assert answer(capsys)["error"] == "The trip 'Bare' has no round yet."


def test_check_lists_what_is_open_and_finds_something(tmp_path: Path, capsys: Captured) -> None:
    made = make_trip(3, gap_deg=0.0001).lifted([1, None, 2])
    row = made.sets()[2].with_(state="set", lift_utc=None, condition="", counted=False)
    path = write_project(made.with_rows(row), tmp_path / "p.gpkg")
    assert main(["check", str(path), "--json"]) == 1
    found = answer(capsys)
    assert (found["valid"], found["problems"]) == (True, [])
    assert [one["kind"] for one in found["open"]] == ["in water", "not counted", "gap", "gap"]
    assert main(["check", str(path)]) == 1
    said = capsys.readouterr().out
    assert "Still in the water: trap T3 at P3" in said
    assert "1 trap was lifted and not counted: P2 (round 1)." in said


def test_check_finds_nothing_in_a_project_that_is_closed(tmp_path: Path, capsys: Captured) -> None:
    path = write_project(make_trip(3).lifted([1, 0, 2]), tmp_path / "p.gpkg")
    assert main(["check", str(path), "--trip", "Summer trial"]) == 0
    assert capsys.readouterr().out == "The project can be read (1 trip). Nothing is left open.\n"


def test_check_says_what_another_program_left_pointing_nowhere(
    tmp_path: Path, capsys: Captured
) -> None:
    path = write_project(make_trip(3).lifted([1, 0, 2]), tmp_path / "p.gpkg")
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE catch SET trap_set_id = 'gone' WHERE count = 2")
        other.commit()
    assert main(["check", str(path), "--json"]) == 1
    found = answer(capsys)
    assert found["valid"] is False
    assert found["problems"] == ["1 × a catch whose trap set is not there."]
    main(["check", str(path)])
    said = capsys.readouterr().out
    assert said.startswith("1 × a catch whose trap set is not there.")
    assert "newest backup" in said


def test_check_refuses_what_is_no_project(tmp_path: Path, capsys: Captured) -> None:
    path = tmp_path / "p.gpkg"
    path.write_bytes(b"not a project at all")
    assert main(["check", str(path)]) == 2
    assert "p.gpkg" in capsys.readouterr().err

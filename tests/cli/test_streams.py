"""Where the answer goes: a full disk, a closed stream, a reader that stops, a person who stops."""

import json
import os
import subprocess
import sys
from argparse import Namespace
from pathlib import Path

import pytest

from trapline.cli import gaps
from trapline.cli.main import main

Captured = pytest.CaptureFixture[str]

full = pytest.mark.skipif(
    not Path("/dev/full").exists(), reason="macOS and Windows have no /dev/full"
)
CLOSED = "import os, sys\nos.close(1)\nos.execv(sys.executable, [sys.executable, *sys.argv[1:]])"


def start(*words: str, unbuffered: bool = False, out: str | None = None) -> tuple[int, str]:
    """Run the program with its answer going to a file or nowhere; return code and complaints."""
    environment = {**os.environ, "PYTHONUNBUFFERED": "1" if unbuffered else ""}
    program = ["-m", "trapline", *words]
    if out is None:
        done = subprocess.run(
            [sys.executable, "-c", CLOSED, *program],
            env=environment, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
    else:
        with open(out, "w") as stream:
            done = subprocess.run(
                [sys.executable, *program],
                env=environment, stdout=stream, stderr=subprocess.PIPE, text=True,
            )  # fmt: skip
    return done.returncode, done.stderr


@pytest.fixture
def table(tmp_path: Path) -> str:
    path = tmp_path / "places.csv"
    path.write_text("id,lat,lon\na,45,7\nb,45,7\n")
    return str(path)


@full
@pytest.mark.parametrize("unbuffered", [False, True])
@pytest.mark.parametrize(
    "words",
    [["gaps", "{table}", "--min-gap", "1m", "--json"], ["gaps", "x", "--json"], ["--help"]],
)
def test_an_answer_that_cannot_be_written_is_not_taken_for_one(
    words: list[str], table: str, unbuffered: bool
) -> None:
    words = [word.format(table=table) for word in words]
    code, said = start(*words, unbuffered=unbuffered, out="/dev/full")
    assert code == 2
    assert "could not be written out (No space left on device)" in said
    assert len(said.splitlines()) == 1


@full
def test_words_that_nobody_can_read_still_leave_the_right_code() -> None:
    program = [sys.executable, "-m", "trapline", "fly"]
    with open("/dev/full", "w") as stream:
        assert subprocess.run(program, stdout=stream, stderr=stream).returncode == 2


def test_a_closed_output_leaves_the_code_to_tell(table: str) -> None:
    assert start("gaps", table, "--min-gap", "1m") == (1, "")
    assert start("gaps", table, "--min-gap", "0m") == (0, "")
    code, said = start("gaps", table)
    assert code == 2
    assert "--min-gap" in said


def test_who_stops_a_command_gets_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    def wait(_: Namespace) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(gaps, "run", wait)
    assert main(["gaps", "a.csv", "--min-gap", "1m", "--json"]) == 2
    out, err = capsys.readouterr()
    assert json.loads(out)["error"] == "It was stopped."
    assert err == ""


def test_a_fault_with_a_file_is_not_blamed_on_the_output(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    def fail(_: Namespace) -> int:
        raise OSError(5, "Input/output error", "lake.gpkg")

    monkeypatch.setattr(gaps, "run", fail)
    assert main(["gaps", "a.csv", "--min-gap", "1m", "--json"]) == 2
    assert "lake.gpkg" in json.loads(capsys.readouterr().out)["error"]

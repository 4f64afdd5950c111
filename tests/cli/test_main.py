"""The command line as a whole: help, errors, exit codes, JSON, and what it must not load."""

import io
import json
import os
import subprocess
import sys
from argparse import Namespace
from pathlib import Path

import pytest

from trapline import __version__
from trapline.cli import gaps, output
from trapline.cli import main as command_line
from trapline.cli.main import COMMANDS, build_parser, main

Captured = pytest.CaptureFixture[str]

WATCHED = ("PySide6", "matplotlib", "numpy", "pandas", "pyproj", "scipy", "shapely", "sqlite3")


def command_names() -> list[str]:
    (action,) = (one for one in build_parser()._actions if one.dest == "command")
    return list(action.choices or ())


def test_the_table_of_commands_is_complete() -> None:
    here = Path(command_line.__file__).parent
    modules = {path.stem for path in here.glob("*.py") if "\ndef add_parser(" in path.read_text()}
    assert modules == {command.__name__.rpartition(".")[2] for command in COMMANDS}


@pytest.mark.parametrize("name", command_names())
def test_every_command_has_help_and_json(name: str, capsys: Captured) -> None:
    assert main([name, "--help"]) == 0
    words = capsys.readouterr().out
    assert f"trapline {name}" in words
    assert "--json" in words


def test_help_lists_every_command(capsys: Captured) -> None:
    assert main(["--help"]) == 0
    words = capsys.readouterr().out
    assert [name for name in command_names() if f"    {name} " not in words] == []


def test_help_of_all_loads_nothing_slow() -> None:
    program = (
        "import sys\nfrom trapline.__main__ import main\n"
        f"for name in {['', *command_names()]!r}: main([*filter(None, [name]), '--help'])\n"
        f"sys.exit(' '.join(set({WATCHED!r}) & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def test_the_version_is_printed(capsys: Captured) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"trapline {__version__}\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["fly"], "fly"),
        ([], "COMMAND"),
        (["gaps"], "POSITIONS.csv"),
        (["gaps", "a.csv", "--min"], "--min"),
        (["lake.gpkg"], "lake.gpkg"),
        (["lake.gpkg", "more"], "lake.gpkg"),
        (["--sample", "lake", "undo", "lake.gpkg"], "--sample NAME opens the window"),
        (["undo", "lake.gpkg", "--sample=lake"], "--sample NAME opens the window"),
        (["--sample"], "--sample"),
    ],
)
def test_wrong_words_are_answered_in_one_sentence(
    words: list[str], said: str, capsys: Captured
) -> None:
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert len(err.splitlines()) == 1
    assert main([*words, "--json"]) == 2
    out, err = capsys.readouterr()
    assert set(json.loads(out)) == {"error", "where", "what_to_do"}
    assert err == ""


def test_a_fault_is_called_a_fault_and_leaves_its_trace(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    def fail(_: Namespace) -> int:
        raise KeyError("lost")

    monkeypatch.setattr(gaps, "run", fail)
    assert main(["gaps", "a.csv", "--min-gap", "1m", "--json"]) == 2
    out, err = capsys.readouterr()
    assert "KeyError: 'lost'" in json.loads(out)["error"]
    assert "Traceback" in err


def test_json_has_null_where_numbers_are_not_finite(capsys: Captured) -> None:
    output.print_json({"a": [float("nan"), 1.5], "b": {"c": float("inf")}, "d": (1, "é")})
    assert capsys.readouterr().out == '{"a": [null, 1.5], "b": {"c": null}, "d": [1, "é"]}\n'


def test_output_is_utf8_in_the_c_locale_and_survives_a_strange_file_name(tmp_path: Path) -> None:
    table = tmp_path / "plätze.csv"
    table.write_text("id,lat,lon\nÅ1,45,7\nÅ2,45,7\n", "utf-8")
    environment = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    start = [sys.executable, "-m", "trapline", "gaps"]
    done = subprocess.run(
        [*start, str(table), "--min-gap", "1m", "--json"], capture_output=True, env=environment
    )
    assert json.loads(done.stdout.decode("utf-8"))["pairs"][0]["a"] == "Å1"
    assert b"\xc3\x85" in done.stdout
    done = subprocess.run(
        [*map(os.fsencode, start), b"\xff.csv", b"--min-gap=1m", b"--json"],
        capture_output=True,
        env=environment,
    )
    assert done.returncode == 2
    assert ".csv" in json.loads(done.stdout.decode("utf-8"))["where"]


def test_a_reader_that_stops_early_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in ``trapline history lake.gpkg | head -1``."""
    program = (
        "import sys\nfrom trapline.cli import gaps, main\n"
        "def many(args):\n    for _ in range(99999): print('a line')\n    return 0\n"
        "gaps.run = many\nsys.exit(main.main(['gaps', 'a.csv', '--min-gap', '1m']))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        assert running.stdout.readline() == b"a line" + os.linesep.encode()
        running.stdout.close()
        assert running.stderr.read() == b""


def test_a_stream_that_is_not_there_is_no_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program started from a menu on Windows has no output at all."""
    monkeypatch.setattr(sys, "stdout", None)
    monkeypatch.setattr(sys, "stderr", None)
    assert main(["fly"]) == 2
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    assert main(["--version"]) == 0

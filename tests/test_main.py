"""The way in: which words open the window, which are a command, and what is said without one."""

import sys
from pathlib import Path
from types import ModuleType

import pytest

from trapline import __main__ as way_in
from trapline.actions import samples
from trapline.cli import main as command_line

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[Path | str | None]:
    """What the window was opened on, with a window that closes at once with the code 7."""
    paths: list[Path | str | None] = []

    def run(path: Path | None, *, sample: str | None = None) -> int:
        paths.append(sample or path)
        return 7

    window = ModuleType("trapline.ui.app")
    vars(window)["run"] = run
    monkeypatch.setitem(sys.modules, "trapline.ui.app", window)
    return paths


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    seen: list[list[str]] = []
    monkeypatch.setattr(command_line, "main", lambda words: seen.append(words) or 5)
    return seen


def test_no_words_open_the_window(opened: list[Path | str | None]) -> None:
    assert way_in.main([]) == 7
    assert opened == [None]


def test_an_existing_file_opens_the_window(opened: list[Path | str | None], tmp_path: Path) -> None:
    (tmp_path / "gaps").touch()
    assert way_in.main([str(tmp_path / "gaps")]) == 7
    assert opened == [tmp_path / "gaps"]


@pytest.mark.parametrize(
    "words", [["gaps"], ["gaps", "a.csv"], ["--help"], ["--sample"], ["x.gpkg"]]
)
def test_any_other_word_is_a_command(
    words: list[str], opened: list[Path | str | None], commands: list[list[str]]
) -> None:
    assert way_in.main(words) == 5
    assert (opened, commands) == ([], [words])


def test_a_file_that_is_called_like_a_command_stands_in_nobodys_way(
    opened: list[Path | str | None],
    commands: list[list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "gaps").touch()
    monkeypatch.chdir(tmp_path)
    assert way_in.main(["gaps", "places.csv"]) == 5
    assert (opened, commands) == ([], [["gaps", "places.csv"]])


@pytest.mark.parametrize("words", [["--sample", "lake"], ["--sample=lake"]])
def test_a_sample_is_handed_to_the_window_by_its_name(
    words: list[str],
    opened: list[Path | str | None],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "lake.gpkg").write_text("a project")
    monkeypatch.setattr(samples, "shipped_folder", lambda _: tmp_path)
    assert way_in.main(words) == 7
    assert opened == ["lake"]


def test_an_unknown_sample_opens_nothing(opened: list[Path | str | None], capsys: Captured) -> None:
    assert way_in.main(["--sample", "ocean"]) == 2
    assert opened == []
    assert "ocean" in capsys.readouterr().err


def test_the_window_alone_takes_a_file_and_never_a_command(
    opened: list[Path | str | None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["trapline-window", "gaps"])
    assert way_in.window() == 7
    monkeypatch.setattr(sys, "argv", ["trapline-window"])
    assert way_in.window() == 7
    assert opened == [Path("gaps"), None]


def test_without_a_display_one_sentence_is_said(
    opened: list[Path | str | None],
    monkeypatch: pytest.MonkeyPatch,
    capsys: Captured,
) -> None:
    for variable in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(variable, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr("trapline.ui.display.sys.platform", "linux")
    assert way_in.main([]) == 2
    assert opened == []
    said = capsys.readouterr().err
    assert "no display" in said
    assert len(said.splitlines()) == 1


def test_a_library_that_qt_misses_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    class Broken(ModuleType):
        def __getattr__(self, name: str) -> object:
            raise ImportError("libEGL.so.1: cannot open shared object file: No such file")

    monkeypatch.setitem(sys.modules, "trapline.ui.app", Broken("trapline.ui.app"))
    assert way_in.main([]) == 2
    assert "libEGL.so.1" in capsys.readouterr().err


def test_an_import_that_fails_otherwise_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "trapline.ui.app", ModuleType("trapline.ui.app"))
    with pytest.raises(ImportError):
        way_in.main([])

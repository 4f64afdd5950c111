from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip
from tests.ui.trip_window import window_on
from trapline import __version__
from trapline.ui.commands import help_commands
from trapline.ui.window import MainWindow


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    monkeypatch.setattr(
        help_commands, "show_text", lambda _, title, text, **__: found.append((title, text))
    )
    return found


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> MainWindow:
    return window_on(make_trip(1), qtbot, tmp_path, 0)


def test_the_keys_are_those_that_the_menus_have(
    window: MainWindow, shown: list[tuple[str, str]]
) -> None:
    window.trigger("keys")
    ((_, text),) = shown

    keys = [one.shortcut().toString() for one in window.actions_by_name.values()]
    for key in filter(None, keys):
        assert any(line.startswith(f"{key} ") for line in text.splitlines()), key
    assert "&" not in text
    for key in ("Alt+Up", "Insert", "Page Down", "Esc"):
        assert key in text


@pytest.mark.parametrize(
    ("command", "words"),
    [
        ("first_steps", "Draw fair order"),
        ("cautions", "Local rules come first"),
        ("changes", "# "),
        ("about", __version__),
    ],
)
def test_every_help_page_has_its_text(
    window: MainWindow, shown: list[tuple[str, str]], command: str, words: str
) -> None:
    window.trigger(command)
    ((_, text),) = shown

    assert words in text
    assert len(text) > 100

from pathlib import Path

import pytest
from PySide6.QtWidgets import QPlainTextEdit
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip
from tests.ui.trip_window import window_on
from trapline import __version__
from trapline.folders import shipped_folder
from trapline.ui.commands import help_commands
from trapline.ui.dialogs.text_dialog import TextDialog
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
        ("trust", "it beats each other bait with a chance of at least 97.5 %"),
    ],
)
def test_every_help_page_has_its_text(
    window: MainWindow, shown: list[tuple[str, str]], command: str, words: str
) -> None:
    window.trigger(command)
    ((_, text),) = shown

    assert words in text
    assert len(text) > 100


def test_how_far_to_trust_the_verdict_is_shown_and_not_only_told(
    window: MainWindow, shown: list[tuple[str, str]]
) -> None:
    window.trigger("trust")
    ((title, text),) = shown
    study = (shipped_folder("resources") / "study" / "verdict_study.txt").read_text("utf-8")
    assert title == "How far to trust the verdict"
    # Some lines of explanation, then the table as the study wrote it.
    told, _, table = text.partition(study)
    assert table == ""
    assert study.strip()
    assert 15 < len(told.splitlines()) <= 60
    for word in ("negative binomial", "independent", "shrinking", "97.5 %", "deals the baits out"):
        assert word in told


def test_the_help_on_the_verdict_begins_in_plain_words_and_explains_the_others(
    window: MainWindow, shown: list[tuple[str, str]]
) -> None:
    window.trigger("trust")
    ((_, text),) = shown
    plain, _, worked_out = text.partition("How it is worked out")
    assert plain.startswith("In short")
    for word in ("binomial", "prior", "posterior", "Brier", "k is", "sd of logs"):
        assert word not in plain
    for word in ("small k is patchy", "(the prior)", "A Brier score tells", '"sd of logs" says'):
        assert word in worked_out


def test_a_table_of_a_help_page_is_not_broken_into_lines(qtbot: QtBot) -> None:
    wide = TextDialog(None, "Study", "row " * 200, fixed=True)
    qtbot.addWidget(wide)
    assert wide.view.lineWrapMode() == QPlainTextEdit.LineWrapMode.NoWrap
    words = TextDialog(None, "Words", "word " * 200, fixed=False)
    qtbot.addWidget(words)
    assert words.view.lineWrapMode() == QPlainTextEdit.LineWrapMode.WidgetWidth

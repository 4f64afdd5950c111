"""How the program starts, and what happens when it is itself wrong."""

import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip
from tests.ui.trip_window import window_on
from trapline.ui.app import _BugBox
from trapline.ui.dialogs import crash


def raised(text: str) -> tuple[type[BaseException], BaseException, object]:
    try:
        raise RuntimeError(text)
    except RuntimeError:
        return sys.exc_info()  # type: ignore[return-value]  # an error is being handled


def test_a_bug_is_shown_once_however_often_it_happens(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    window = window_on(make_trip(2), qtbot, tmp_path, 0)
    box = _BugBox(window)
    shown: list[str] = []

    def show(_: object, details: str) -> None:
        shown.append(details)
        box(*raised("again, while the box is open"))

    monkeypatch.setattr(crash, "show_crash", show)
    box(*raised("first"))
    assert len(shown) == 1
    assert "RuntimeError: first" in shown[0]
    printed = capsys.readouterr().err
    assert "first" in printed
    assert "again, while the box is open" in printed

    box(*raised("later"))
    assert len(shown) == 2


def test_the_box_says_what_is_safe_in_plain_text(qtbot: QtBot, tmp_path: Path) -> None:
    window = window_on(make_trip(2), qtbot, tmp_path, 0)
    said: list[str] = []

    def read_and_close() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        said.extend([box.text(), box.informativeText(), box.detailedText()])
        box.accept()

    QTimer.singleShot(0, window, read_and_close)
    crash.show_crash(window, "Traceback <b>details</b>")

    assert "is saved" in said[0]
    assert said[2] == "Traceback <b>details</b>"


def test_a_bug_in_a_slot_leaves_the_window_working(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = window_on(make_trip(2), qtbot, tmp_path, 0)
    shown: list[str] = []
    with monkeypatch.context() as broken:
        broken.setattr(crash, "show_crash", lambda _, details: shown.append(details))
        broken.setattr(type(window.page), "refresh", lambda _: 1 / 0)
        broken.setattr(sys, "excepthook", _BugBox(window))
        window.actions_by_name["dark"].trigger()

    assert "ZeroDivisionError" in shown[0]
    window.actions_by_name["light"].trigger()
    assert len(window.page.table.grid.rows) == 2


def test_the_window_is_there_before_anything_heavy_is_loaded() -> None:
    heavy = ("numpy", "scipy", "pandas", "matplotlib", "shapely", "pyproj")
    program = f"""
import sys
from PySide6.QtCore import QSettings
from trapline.ui.app import make_application, make_window
window = make_window(make_application([]), QSettings())
window.show()
sys.exit(" ".join(set({heavy!r}) & set(sys.modules)) or 0)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )

    assert done.returncode == 0, done.stderr

"""A real window on a project that is ready for the water, worked by keys that are counted."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.actions.bench import Bench, fill
from tests.actions.wet_bench import WetBench
from trapline.model.instants import moment, utc_text
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
from trapline.ui.app import make_application, make_window
from trapline.ui.pages.lift_page import LiftPage
from trapline.ui.pages.set_page import SetPage
from trapline.ui.window import MainWindow

Key = Qt.Key
SHIFT = Qt.KeyboardModifier.ShiftModifier
CONTROL = Qt.KeyboardModifier.ControlModifier


class Clock:
    """A clock that goes on by a minute whenever it is looked at."""

    def __init__(self, now_utc: str) -> None:
        self.now = moment(now_utc)

    def __call__(self) -> str:
        self.now += dt.timedelta(minutes=1)
        return utc_text(self.now)

    def set(self, now_utc: str) -> None:
        """Turn it to a time."""
        self.now = moment(now_utc)


class WetWindow:
    """The window, the bench behind it, and the number of keys pressed so far."""

    def __init__(self, qtbot: QtBot, window: MainWindow, bench: Bench, clock: Clock) -> None:
        self.qtbot, self.window, self.bench, self.clock = qtbot, window, bench, clock
        self.n_keys = 0

    def press(self, *keys: Key | str, modifier: Any = Qt.KeyboardModifier.NoModifier) -> None:
        """Press keys where the focus is; a text is typed letter by letter."""
        for key in (one for part in keys for one in (part if isinstance(part, str) else (part,))):
            target = QApplication.focusWidget() or self.window
            self.qtbot.keyClick(target, key, modifier)
            self.n_keys += 1
            QApplication.processEvents()  # an editor takes its text when the key is dealt with

    def go_to(self, page: int) -> None:
        """Show a page by its key."""
        self.press(getattr(Key, f"Key_{page}"), modifier=CONTROL)

    @property
    def set_page(self) -> SetPage:
        page = self.window.stack.page(1)
        assert isinstance(page, SetPage)
        return page

    @property
    def lift_page(self) -> LiftPage:
        page = self.window.stack.page(2)
        assert isinstance(page, LiftPage)
        return page

    @property
    def wet(self) -> WetBench:
        """The bench's short ways, without writing anything."""
        wet = WetBench.__new__(WetBench)
        wet.bench, wet.project = self.bench, self.bench.project
        species = self.bench.snapshot.species()
        wet.target, wet.perch = species[0], species[1]
        return wet


def open_window(
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: Any,
    prepare: Callable[[WetBench], None] | None = None,
    theme: str = "light",
) -> WetWindow:
    """Return a window on a bench ready for the water; `prepare` does what came before."""
    path = tmp_path / "bench.gpkg"
    project = Project.create(path, ProjectInfo(name="Bench"))
    fill(project)
    bench = Bench(project)
    wet = WetBench(bench)
    if prepare is not None:
        prepare(wet)
    clock = Clock("2026-07-01T16:00:00Z")
    for module in (
        "ui.pages.set_page", "ui.pages.lift_deeds", "ui.pages.lift_words", "ui.pages.trap_card",
        "ui.dialogs.one_throw", "ui.dialogs.which_time",
    ):  # fmt: skip
        monkeypatch.setattr(f"trapline.{module}.now_utc", clock)
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    settings.setValue("theme", theme)
    window = make_window(make_application(["trapline"]), settings)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    window.session.open_project(project)
    QApplication.processEvents()
    return WetWindow(qtbot, window, bench, clock)


__all__ = ["CONTROL", "SHIFT", "Clock", "Key", "WetWindow", "open_window"]

"""What every test gets: a screen that is not there, folders of its own, and a look round after."""

import gc
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

# Before anything imports Qt. A test run never opens a window on the user's screen.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


@pytest.fixture(scope="session")
def settings_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("settings")


@pytest.fixture(autouse=True)
def own_folders(
    tmp_path_factory: pytest.TempPathFactory,
    settings_folder: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Path:
    """Keep what the program writes by itself away from the home of whoever runs the tests.

    Returns the folder that holds ``data`` and ``documents``; it is not `tmp_path`, which
    stays empty for the test.
    """
    folder = tmp_path_factory.mktemp("user")
    for variable, name in (("TRAPLINE_DATA", "data"), ("TRAPLINE_DOCUMENTS", "documents")):
        (folder / name).mkdir()
        monkeypatch.setenv(variable, str(folder / name))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(settings_folder))
    if "PySide6.QtCore" in sys.modules:
        from PySide6.QtCore import QSettings

        for form in (QSettings.Format.NativeFormat, QSettings.Format.IniFormat):
            QSettings.setPath(form, QSettings.Scope.UserScope, str(folder / "data"))
    return folder


class Leftovers:
    """Timers, threads and windows that were not there when the test began."""

    def __init__(self) -> None:
        self._timers: list[Any] = []
        self._threads: list[Any] = []
        self._windows_before = set(self._windows())

    def watch(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Note every timer and thread that is started from here on."""
        from PySide6.QtCore import QThread, QTimer

        for kind, kept in ((QTimer, self._timers), (QThread, self._threads)):
            started = kind.start

            def start(self: Any, *args: Any, _started: Any = started, _kept: Any = kept) -> None:
                _kept.append(self)
                _started(self, *args)

            monkeypatch.setattr(kind, "start", start)

    def found(self) -> list[str]:
        """Return one line for each thing that still runs or stands."""
        from PySide6.QtCore import QCoreApplication, QEvent
        from shiboken6 import isValid

        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        running = [
            *(timer for timer in self._timers if isValid(timer) and timer.isActive()),
            *(thread for thread in self._threads if isValid(thread) and thread.isRunning()),
        ]
        if self._new_windows():
            gc.collect()  # a window in a reference cycle is no leak
        return [repr(thing) for thing in (*running, *self._new_windows())]

    def _new_windows(self) -> list[Any]:
        return [window for window in self._windows() if window not in self._windows_before]

    @staticmethod
    def _windows() -> list[Any]:
        from PySide6.QtWidgets import QApplication

        if not isinstance(QApplication.instance(), QApplication):
            return []
        return [
            window
            for window in QApplication.topLevelWidgets()
            # Qt keeps its one tooltip for the next time.
            if window.parent() is None and window.metaObject().className() != "QTipLabel"
        ]


@pytest.fixture(autouse=True)
def leftovers(monkeypatch: pytest.MonkeyPatch) -> Iterator[Leftovers | None]:
    """Fail a test that leaves a timer or a thread running or a window standing."""
    if "PySide6.QtWidgets" not in sys.modules:
        yield None
        return
    left = Leftovers()
    left.watch(monkeypatch)
    yield left
    found = left.found()
    assert not found, "left over: " + ", ".join(found)


@pytest.fixture(scope="session", autouse=True)
def one_application(qapp: Any) -> Any:
    """Make the application of the windows before a report makes a lesser one without them."""
    return qapp


@pytest.fixture(autouse=True)
def keys_are_up() -> Iterator[None]:
    """Let go of Ctrl and Shift after a test: Qt's test keys leave them down for the next one.

    A row that is then chosen would be taken out of the selection instead.
    """
    yield
    if "PySide6.QtWidgets" not in sys.modules:
        return
    from PySide6.QtCore import Qt
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication, QWidget

    if QApplication.keyboardModifiers() != Qt.KeyboardModifier.NoModifier:
        nobody = QWidget()
        QTest.keyRelease(nobody, Qt.Key.Key_Control)
        nobody.deleteLater()

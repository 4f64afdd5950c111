"""The look round after each test finds what a test leaves behind."""

import os
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSettings, QThread, QTimer
from PySide6.QtWidgets import QWidget


def test_a_running_timer_is_found(qtbot: Any, leftovers: Any) -> None:
    timer = QTimer()
    timer.start(60_000)
    assert any("QTimer" in line for line in leftovers.found())
    timer.stop()
    assert leftovers.found() == []


def test_a_running_thread_is_found(qtbot: Any, leftovers: Any) -> None:
    thread = QThread()
    thread.start()
    assert any("QThread" in line for line in leftovers.found())
    thread.quit()
    assert thread.wait(5000)
    assert leftovers.found() == []


def test_a_standing_window_is_found_and_a_deleted_one_is_not(qtbot: Any, leftovers: Any) -> None:
    window = QWidget()
    window.setObjectName("forgotten")
    assert any("forgotten" in line for line in leftovers.found())
    window.deleteLater()
    assert leftovers.found() == []


def test_the_folders_of_a_test_are_its_own(own_folders: Path) -> None:
    assert Path(os.environ["TRAPLINE_DATA"]).is_relative_to(own_folders)
    assert Path(os.environ["TRAPLINE_DOCUMENTS"]).is_relative_to(own_folders)
    assert not own_folders.is_relative_to(Path.home() / "Documents")


def test_settings_stay_in_the_folder_of_the_test(own_folders: Path) -> None:
    settings = QSettings("trapline", "trapline")
    settings.setValue("seen", "yes")
    settings.sync()
    assert Path(settings.fileName()).is_relative_to(own_folders)
    assert Path(settings.fileName()).exists()

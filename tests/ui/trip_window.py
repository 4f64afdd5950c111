"""A real window on a made trip."""

from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, write_project
from trapline.ui.app import make_window
from trapline.ui.window import MainWindow


def window_on(made: MadeTrip, qtbot: QtBot, folder: Path, page: int) -> MainWindow:
    """Return a shown window of usual size on a page, counted from 0."""
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    settings = QSettings(str(folder / "window.ini"), QSettings.Format.IniFormat)
    window = make_window(app, settings)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    assert window.session.open_path(write_project(made, folder / "t.gpkg"))
    window.show()
    window.show_page(page)
    app.processEvents()
    return window

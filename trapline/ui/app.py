"""Starting the window program."""

import sys
import threading
import traceback
from pathlib import Path
from types import TracebackType

from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication

from trapline import __version__
from trapline.drawing.theme import apply_theme
from trapline.ui.session import Session
from trapline.ui.tasks import Tasks
from trapline.ui.window import MainWindow


def make_application(arguments: list[str]) -> QApplication:
    """Return the one QApplication, named so that settings have a home."""
    existing = QApplication.instance()
    app = existing if isinstance(existing, QApplication) else QApplication(arguments)
    app.setApplicationName("trapline")
    app.setOrganizationName("trapline")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("trapline")
    return app


def make_settings() -> QSettings:
    """Return the settings, kept as a text file of the user's."""
    return QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "trapline", "window")


def make_window(app: QApplication, settings: QSettings) -> MainWindow:
    """Return the window in the theme and at the place that the user left it."""
    theme = apply_theme(app, str(settings.value("theme", "light", type=str)))
    window = MainWindow(Session(), settings)
    window.session.setParent(window)
    window.take_theme(theme)
    geometry = settings.value("window/geometry")
    if geometry is None or not window.restoreGeometry(geometry):
        window.resize(1280, 760)
    splitter = settings.value("window/splitter")
    if splitter is not None:
        window.splitter.restoreState(splitter)
    return window


def run(path: Path | None = None, *, sample: str | None = None) -> int:
    """Open the window, on a project or on a fresh copy of an example, until it is closed."""
    app = make_application(sys.argv[:1])
    window = make_window(app, make_settings())
    tasks = Tasks(window)
    window.tasks = tasks
    sys.excepthook = _BugBox(window)
    threading.excepthook = lambda args: traceback.print_exception(args.exc_value)
    window.show()
    QTimer.singleShot(0, window, lambda: _begin(window, tasks, path, sample))
    code = app.exec()
    tasks.stop()
    sys.excepthook = sys.__excepthook__
    return code


def _begin(window: MainWindow, tasks: Tasks, path: Path | None, sample: str | None) -> None:
    """Open what was asked for after the first paint, then fetch the slow libraries."""
    if sample is not None:
        window.open_sample(sample)
    elif path is not None:
        window.open_path(path)
    tasks.preload()
    window.make_ready()


class _BugBox:
    """Show a bug in a box with its details, once at a time, and go on."""

    def __init__(self, window: MainWindow) -> None:
        self.window = window
        self.showing = False

    def __call__(
        self, kind: type[BaseException], value: BaseException, trace: TracebackType | None
    ) -> None:
        """Print the traceback and show it."""
        text = "".join(traceback.format_exception(kind, value, trace))
        sys.stderr.write(text)
        if self.showing or issubclass(kind, KeyboardInterrupt):
            return
        self.showing = True
        try:
            from trapline.ui.dialogs.crash import show_crash

            show_crash(self.window, text)
        finally:
            self.showing = False

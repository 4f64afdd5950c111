"""The main window: five pages along the course of a trip, the trips at the left.

It only arranges. Menu lines are data (menu.py), what they do is in commands/,
every change is an action, and the pages draw themselves.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, QSettings, Qt, QTimer
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QMainWindow,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import LIGHT, Theme
from trapline.model.changes import Changes
from trapline.ui.banner import Banner, NewsLine
from trapline.ui.commands.file_commands import FileCommands
from trapline.ui.commands.registry import make_handlers
from trapline.ui.dropped_files import DroppedFiles
from trapline.ui.menu_actions import enable_actions, make_actions
from trapline.ui.page_stack import PageStack
from trapline.ui.page_strip import PageStrip
from trapline.ui.pages.page import Page
from trapline.ui.pages.registry import PAGES
from trapline.ui.pages.start import StartPage
from trapline.ui.session import Session
from trapline.ui.sidebar import Sidebar
from trapline.ui.tasks import Tasks

_TITLE = "Bait trial log"
_WAY_OUT = "File, Save a copy makes one that can be changed."


class MainWindow(QMainWindow):
    """The one window of the program."""

    def __init__(self, session: Session, settings: QSettings) -> None:
        super().__init__()
        self.session = session
        self.settings = settings
        self.setObjectName("main_window")
        self.theme = LIGHT
        self.tasks: Tasks | None = None
        self.banner = Banner()
        self.news = NewsLine()
        self.sidebar = Sidebar(session)
        self.start = StartPage(session)
        self.stack = PageStack(session)
        self.stack.asked.connect(self.trigger)
        self.strip = PageStrip(session, [title for title, _ in PAGES])
        self.strip.page_chosen.connect(self.show_page)
        self._arrange()
        self.handlers = make_handlers(self)
        self.actions_by_name = make_actions(self, self._slots())
        for handler in self.handlers:
            handler.prepare(self.actions_by_name)
        self.menuBar().setCornerWidget(self.news)
        self.dropped = DroppedFiles(self)
        self.sidebar.new_button.clicked.connect(self.actions_by_name["new_trip"].trigger)
        self.strip.next_round_asked.connect(self.actions_by_name["next_round"].trigger)
        self.start.chosen.connect(self.trigger)
        self.start.recent_chosen.connect(self.open_path)
        session.project_opened.connect(self._on_project_opened)
        session.closing.connect(self.stack.commit)
        session.changed.connect(self._on_changed)
        # A trip is never chosen without its round: one of the two is enough to listen to.
        session.round_chosen.connect(self._on_looked_elsewhere)
        session.failed.connect(self.banner.show_problem)
        session.informed.connect(self._on_informed)
        self._on_project_opened(None)

    def trigger(self, name: str) -> None:
        """Run a menu command by its name: pages and the start page use it."""
        self.actions_by_name[name].trigger()

    def open_path(self, path: Path) -> None:
        """Open a project file."""
        self._files().open(path)

    def open_sample(self, name: str) -> None:
        """Open a fresh copy of an example."""
        self._files().open_sample(name)

    def _files(self) -> FileCommands:
        return next(one for one in self.handlers if isinstance(one, FileCommands))

    def take_theme(self, theme: Theme) -> None:
        """Draw what the pages paint themselves in other colours."""
        self.theme = theme
        self.stack.take_theme(theme)
        self.sidebar.refresh()
        self._refresh_page()

    def show_page(self, number: int) -> None:
        """Show one of the five pages, refreshed when something changed since it was shown."""
        self.stack.show_number(number)
        self.strip.show_current(number)
        self._refresh_page()

    @property
    def pages(self) -> list[Page]:
        """The five pages, all of them made."""
        return self.stack.all_pages()

    @property
    def page(self) -> Page:
        """The page that is shown."""
        return self.stack.page(self.stack.number)

    def make_ready(self) -> None:
        """Make the pages that were not shown yet, one each time the window has nothing to do."""
        if self.stack.make_next():
            self._refresh_page()
            QTimer.singleShot(0, self, self.make_ready)

    def _arrange(self) -> None:
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.setObjectName("splitter")
        self.splitter.addWidget(self.sidebar)
        self.splitter.addWidget(self.stack)
        self.splitter.setStretchFactor(1, 1)
        self.splitter.setSizes([210, 1000])
        self.splitter.setCollapsible(1, False)
        self.work = QWidget()
        layout = QVBoxLayout(self.work)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.strip)
        layout.addWidget(self.splitter, 1)
        self.outer = QStackedWidget()
        self.outer.addWidget(self.start)
        self.outer.addWidget(self.work)
        central = QWidget()
        whole = QVBoxLayout(central)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(0)
        whole.addWidget(self.banner)
        whole.addWidget(self.outer, 1)
        self.setCentralWidget(central)

    def _slots(self) -> dict[str, Callable[[], None]]:
        """What each command of the menus does."""
        slots: dict[str, Callable[[], None]] = {
            f"page_{number + 1}": partial(self.show_page, number) for number in range(len(PAGES))
        }
        for handler in self.handlers:
            slots.update(handler.slots())
        return slots

    # Following the session

    def _on_project_opened(self, project: object) -> None:
        self.outer.setCurrentWidget(self.work if project is not None else self.start)
        if project is None:
            self.start.show_recent(self._files().recent())
            self.setWindowTitle(_TITLE)
            self._on_looked_elsewhere(None)
        else:
            self.banner.hide()  # what it said was about another one
            if self.session.project is not None and self.session.project.read_only:
                why = self.session.project.why_read_only
                self.banner.show_notice(f"Read only. {why} {_WAY_OUT}")

    def _on_looked_elsewhere(self, _: object) -> None:
        self.stack.mark_stale()
        self._refresh_page()
        self._enable()

    def _on_changed(self, changes: Changes) -> None:
        self.banner.forget_problem()
        self.stack.mark_stale(changes)
        self._refresh_page()
        self._enable()

    def _refresh_page(self) -> None:
        if self.session.project is None:
            return
        self.stack.refresh()
        self.strip.show_attention(self.stack.attention())
        # Qt puts a star for "[*]".
        name = self.session.snapshot.project.name.replace("[*]", "[*][*]")
        locked = " (read only)" if self.session.is_read_only else ""
        self.setWindowTitle(f"{_TITLE}: {name}{locked}")

    def _enable(self) -> None:
        enable_actions(self.actions_by_name, self.session)
        for handler in self.handlers:
            handler.update(self.actions_by_name)

    def _on_informed(self, text: str) -> None:
        if self.menuBar().isNativeMenuBar():
            self.banner.show_notice(text)
        else:
            self.news.setFixedHeight(self.menuBar().height() - 2)
            self.news.show_news(text)
            self.menuBar().adjustSize()

    # Qt overrides

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and self.isActiveWindow():
            self.session.look_again()

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self.stack.leave():
            event.ignore()  # what was typed and refused stays to be seen; closing again closes
            return
        self.news.stop()
        self.settings.setValue("window/geometry", self.saveGeometry())
        self.settings.setValue("window/splitter", self.splitter.saveState())
        self.session.close_project()
        super().closeEvent(event)

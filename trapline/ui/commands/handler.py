"""What the files of this folder have in common: named slots for the lines of the menus."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction

from trapline.ui.session import Session

if TYPE_CHECKING:
    from trapline.ui.window import MainWindow


class Handler(QObject):
    """A group of menu commands; methods named ``on_NAME`` answer the command NAME."""

    def __init__(self, window: "MainWindow") -> None:
        super().__init__(window)
        self.window = window

    @property
    def session(self) -> Session:
        """The session of the window."""
        return self.window.session

    def slots(self) -> dict[str, Callable[[], None]]:
        """The commands that this group answers."""
        return {
            name.removeprefix("on_"): getattr(self, name)
            for name in dir(type(self))
            if name.startswith("on_")
        }

    def prepare(self, actions: dict[str, QAction]) -> None:
        """Called once, when the menus have been made."""

    def update(self, actions: dict[str, QAction]) -> None:
        """Called after every change: labels and states that depend on the project."""

    def take_file(self, path: Path) -> None:
        """Called when a file that is no project was dropped on the window."""

"""The menus of the window, made from the table of menu.py, and what of them can be done now."""

from collections.abc import Callable, Mapping
from functools import partial

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMainWindow, QMenu

from trapline.ui.menu import COMMANDS, SEPARATOR
from trapline.ui.session import Session


def make_actions(
    window: QMainWindow, slots: Mapping[str, Callable[[], None]]
) -> dict[str, QAction]:
    """Fill the menu bar of a window and return its actions by the names of their commands."""
    menus: dict[str, QMenu] = {}
    actions: dict[str, QAction] = {}
    for command in COMMANDS:
        menu = menus.get(command.menu)
        if menu is None:
            menu = menus[command.menu] = window.menuBar().addMenu(command.menu)
        if command.label == SEPARATOR:
            menu.addSeparator()
            continue
        action = actions[command.name] = QAction(command.label, window)
        action.setObjectName(command.name)
        if isinstance(command.key, str):
            action.setShortcut(command.key)
        elif command.key is not None:
            # All that the system uses: redo is Ctrl+Y here and Ctrl+Shift+Z there.
            action.setShortcuts(command.key)
        slot = slots.get(command.name)
        if slot is not None:
            action.triggered.connect(partial(_run, slot))
        menu.addAction(action)
    return actions


def enable_actions(actions: Mapping[str, QAction], session: Session) -> None:
    """Grey the commands that need what is not there."""
    there = {
        "project": session.project is not None,
        "writable": not session.is_read_only,
        "trip": session.trip is not None,
        "round": session.round is not None,
    }
    for command in COMMANDS:
        if command.name:
            is_ready = all(there[need] for need in command.needs.split())
            actions[command.name].setEnabled(is_ready)


def _run(slot: Callable[[], None], _checked: bool = False) -> None:
    """Run a slot without the tick that QAction.triggered hands over."""
    slot()

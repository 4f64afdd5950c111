"""A trapper without a mouse: every deed is a key event on the real window, and is counted."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtWidgets import QApplication, QDialog, QLabel, QWidget
from pytestqt.qtbot import QtBot

from tests.ui.wet_window import CONTROL, SHIFT, Clock, Key
from trapline.model.changes import Changes
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.store.project import Project
from trapline.ui.app import make_application, make_window
from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.pages.layout_page import LayoutPage
from trapline.ui.pages.lift_page import LiftPage
from trapline.ui.pages.set_page import SetPage
from trapline.ui.pages.summary_page import SummaryPage
from trapline.ui.window import MainWindow

ALT = Qt.KeyboardModifier.AltModifier
PLAIN = Qt.KeyboardModifier.NoModifier
# One press: a key, a letter, or a key with what is held down.
Press = Key | str | tuple[Key, Qt.KeyboardModifier]
Kept = dict[str, list[Any]]
T = TypeVar("T")

_CLOCKS = (
    "ui.pages.set_page", "ui.pages.lift_deeds", "ui.pages.lift_words", "ui.pages.trap_card",
    "ui.dialogs.one_throw", "ui.dialogs.which_time",
)  # fmt: skip
# How long a dialog is waited for before the test gives up, in tries of ten milliseconds.
_TRIES = 500


def rows_of(snapshot: Snapshot) -> Kept:
    """Return every row of a snapshot in its order."""
    return {table: list(there.values()) for table, there in snapshot.rows.items() if there}


def kept_in(path: Path) -> Kept:
    """Return every row of a project file, read by another connection."""
    with Project.open(path, read_only=True) as project:
        return rows_of(project.snapshot())


class Answer:
    """Keys for the next dialog, pressed as soon as it stands there."""

    def __init__(self, board: "Keyboard", presses: tuple[Press, ...]) -> None:
        self.board, self.presses = board, presses
        self.texts: list[str] = []
        self.problem = "no dialog came"
        self._tries = 0
        self._wait()

    def _wait(self) -> None:
        QTimer.singleShot(10, self.board.window, self._look)

    def _look(self) -> None:
        dialog = QApplication.activeModalWidget()
        # A dialog is modal a moment before the keys are its own.
        if not isinstance(dialog, QDialog) or not dialog.isActiveWindow():
            self._tries += 1
            if self._tries < _TRIES:
                self._wait()
            return
        # Whatever happens, the dialog is closed: nothing may wait for ever.
        try:
            self.problem = "the keys raised an error"
            self.texts = self.board.texts_in(dialog)
            self.board.press(*self.presses)
            self.problem = f"{dialog.windowTitle()!r} is still open" if dialog.isVisible() else ""
        finally:
            if dialog.isVisible():
                dialog.done(QDialog.DialogCode.Rejected)


class Keyboard:
    """The window, the clock, the keys pressed so far, and what was kept after each step."""

    def __init__(self, qtbot: QtBot, window: MainWindow, clock: Clock) -> None:
        self.qtbot, self.window, self.clock = qtbot, window, clock
        self.n_keys = 0
        self.kept: list[Kept] = []
        self.labels: list[str] = []
        self.is_noting = False

    # Keys

    def press(self, *presses: Press) -> None:
        """Press keys where the focus is; a text is typed letter by letter."""
        for one in presses:
            if isinstance(one, str):
                for letter in one:
                    self._press(letter, PLAIN)
            elif isinstance(one, tuple):
                self._press(*one)
            else:
                self._press(one, PLAIN)

    def _press(self, key: Key | str, modifier: Qt.KeyboardModifier) -> None:
        app = QApplication
        if app.activeWindow() is None:
            # When a dialog closes, a desktop makes the window active again; offscreen none does.
            (app.activeModalWidget() or self.window).activateWindow()
            app.processEvents()
        target = app.activePopupWidget() or app.focusWidget() or app.activeModalWidget()
        self.n_keys += 1
        self.qtbot.keyClick(target or self.window, key, modifier)
        app.processEvents()  # an editor takes its text when the key is dealt with

    @contextmanager
    def answering(self, *presses: Press) -> Iterator[Answer]:
        """Press keys in the one dialog that opens inside the `with`."""
        answer = Answer(self, presses)
        yield answer
        assert not answer.problem, answer.problem

    def page(self, number: int) -> None:
        """Show a page by its key, counted from 1."""
        self.press((getattr(Key, f"Key_{number}"), CONTROL))
        assert self.window.stack.number == number - 1

    def tab_to(self, goal: QWidget, most: int = 30) -> None:
        """Press Tab until a widget has the focus."""
        for _ in range(most):
            if QApplication.focusWidget() is goal:
                return
            self.press(Key.Key_Tab)
        raise AssertionError(f"Tab does not come to {goal.accessibleName()!r}")

    # Steps

    @property
    def snapshot(self) -> Snapshot:
        return self.window.session.snapshot

    def begin_noting(self) -> None:
        """Note from here on what is kept after each step; a key may make two of them."""
        self.kept, self.labels = [rows_of(self.snapshot)], []
        self.is_noting = True
        self.window.session.changed.connect(self._note_step)

    def _note_step(self, changes: Changes) -> None:
        if self.is_noting and changes.label:
            self.kept.append(rows_of(self.snapshot))
            self.labels.append(changes.label)

    def undo_all(self) -> None:
        """Take back each noted step by its key, comparing what is kept."""
        self.is_noting = False
        for n in range(len(self.labels) - 1, -1, -1):
            self.press((Key.Key_Z, CONTROL))
            assert rows_of(self.snapshot) == self.kept[n], self.labels[n]

    def redo_all(self) -> None:
        """Do each noted step again by its key, comparing what is kept."""
        (chord,) = self.window.actions_by_name["redo"].shortcut()
        for n, label in enumerate(self.labels, 1):
            self.press((chord.key(), chord.keyboardModifiers()))
            assert rows_of(self.snapshot) == self.kept[n], label
        assert not self.window.actions_by_name["redo"].isEnabled()

    # What is shown

    @staticmethod
    def texts_in(widget: QWidget) -> list[str]:
        """Return what the visible labels of a widget say."""
        return [one.text() for one in widget.findChildren(QLabel) if one.isVisible()]

    def sets(self) -> tuple[TrapSet, ...]:
        """The trap sets of the round that is looked at, along the line."""
        return self.snapshot.sets(self.window.session.round_id or "")

    def at(self, place: str) -> TrapSet:
        """The trap set at a place in the round that is looked at."""
        return next(row for row in self.sets() if self.snapshot.place_label(row) == place)

    def caught(self, place: str) -> dict[tuple[str, str], int | None]:
        """What is written down of a trap, by species and fate."""
        names = {one.id: one.name for one in self.snapshot.species()}
        return {
            (names[one.species_id or ""], one.fate): one.count
            for one in self.snapshot.catches(self.at(place).id)
        }

    @property
    def lay_out_page(self) -> LayoutPage:
        return self._page(0, LayoutPage)

    @property
    def set_page(self) -> SetPage:
        return self._page(1, SetPage)

    @property
    def lift_page(self) -> LiftPage:
        return self._page(2, LiftPage)

    @property
    def compare_page(self) -> ComparePage:
        return self._page(3, ComparePage)

    @property
    def summary_page(self) -> SummaryPage:
        return self._page(4, SummaryPage)

    def _page(self, number: int, kind: type[T]) -> T:
        page = self.window.stack.page(number)
        assert isinstance(page, kind)
        return page


def sit_down(qtbot: QtBot, folder: Path, monkeypatch: Any, now_utc: str) -> Keyboard:
    """Return a keyboard before the real window as it opens for the first time."""
    clock = Clock(now_utc)
    for module in _CLOCKS:
        monkeypatch.setattr(f"trapline.{module}.now_utc", clock)
    settings = QSettings(str(folder / "window.ini"), QSettings.Format.IniFormat)
    window = make_window(make_application(["trapline"]), settings)
    qtbot.addWidget(window)
    window.resize(1366, 768)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    QApplication.processEvents()
    return Keyboard(qtbot, window, clock)


__all__ = [
    "ALT", "CONTROL", "SHIFT", "Answer", "Key", "Keyboard", "Press", "kept_in", "rows_of",
    "sit_down",
]  # fmt: skip

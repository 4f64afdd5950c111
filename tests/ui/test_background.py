"""Work beside the window: only the latest question is answered."""

from collections.abc import Iterator
from concurrent.futures import Future
from threading import Event

import pytest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from trapline.ui.background import Background
from trapline.ui.tasks import Tasks


class Window(QWidget):
    tasks: Tasks | None = None


@pytest.fixture
def window(qtbot: QtBot) -> Iterator[Window]:
    made = Window()
    qtbot.addWidget(made)
    made.tasks = Tasks(made)
    yield made
    made.tasks.stop()


def test_an_answer_that_was_overtaken_is_dropped(window: Window, qtbot: QtBot) -> None:
    background = Background(window)
    may_go_on = Event()
    answers: list[str] = []

    def slow() -> str:
        assert may_go_on.wait(10)
        return "old"

    background.run(slow, lambda done: answers.append(done.result()))
    background.run(lambda: "new", lambda done: answers.append(done.result()))
    may_go_on.set()
    qtbot.waitUntil(lambda: bool(answers), timeout=10_000)
    qtbot.wait(20)
    assert answers == ["new"]


def test_an_error_comes_out_where_the_result_is_asked_for(window: Window, qtbot: QtBot) -> None:
    for tasks in (window.tasks, None):
        window.tasks, kept = tasks, window.tasks
        found: list[Future[int]] = []
        Background(window).run(lambda: 1 // 0, found.append)
        qtbot.waitUntil(lambda found=found: bool(found), timeout=10_000)
        with pytest.raises(ZeroDivisionError):
            found[0].result()
        window.tasks = kept or window.tasks


def test_without_a_worker_it_is_done_at_once(qtbot: QtBot) -> None:
    alone = Window()
    qtbot.addWidget(alone)
    answers: list[int] = []
    Background(alone).run(lambda: 7, lambda done: answers.append(done.result()))
    assert answers == [7]

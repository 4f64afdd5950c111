"""Work beside the window: only the latest question is answered."""

import time
from collections.abc import Iterator
from concurrent.futures import Future
from threading import Event

import pytest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from trapline.ui.background import Background, Tell
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


def test_long_work_tells_how_far_it_is_and_hands_over_its_result(
    window: Window, qtbot: QtBot
) -> None:
    heard: list[float] = []
    answers: list[str] = []

    def work(tell: Tell) -> str:
        tell(0.5)
        tell(1.0)
        return "done"

    Background(window).run_long(work, lambda done: answers.append(done.result()), heard.append)
    qtbot.waitUntil(lambda: bool(answers), timeout=10_000)
    assert answers == ["done"]
    assert heard[-1] == 1.0


@pytest.mark.parametrize("how", ["cancelled", "overtaken"])
def test_long_work_that_nobody_waits_for_ends_where_it_is(
    window: Window, qtbot: QtBot, how: str
) -> None:
    background = Background(window)
    begun, may_go_on, ended = Event(), Event(), Event()
    came_through: list[bool] = []
    answers: list[str] = []

    def work(tell: Tell) -> str:
        try:
            begun.set()
            assert may_go_on.wait(10)
            tell(0.5)
            came_through.append(True)
        finally:
            ended.set()
        return "old"

    background.run_long(work, lambda done: answers.append(done.result()), lambda _: None)
    assert begun.wait(10)
    if how == "cancelled":
        background.cancel()
    else:
        background.run(lambda: "new", lambda done: answers.append(done.result()))
    may_go_on.set()
    assert ended.wait(10)
    qtbot.waitUntil(lambda: answers == ([] if how == "cancelled" else ["new"]), timeout=10_000)
    qtbot.wait(20)
    assert (came_through, answers) == ([], [] if how == "cancelled" else ["new"])


def test_long_work_keeps_nothing_else_waiting(window: Window, qtbot: QtBot) -> None:
    may_go_on = Event()
    answers: list[str] = []
    Background(window).run_long(
        lambda _: may_go_on.wait(10), lambda _: answers.append("long"), lambda _: None
    )
    Background(window).run(lambda: "short", lambda done: answers.append(done.result()))
    try:
        qtbot.waitUntil(lambda: answers == ["short"], timeout=10_000)
    finally:
        may_go_on.set()


def test_long_work_gives_up_when_the_window_closes(window: Window) -> None:
    begun = Event()
    n_told: list[int] = []

    def endless(tell: Tell) -> None:
        for number in range(100_000):
            begun.set()
            tell(0.0)
            n_told.append(number)
            time.sleep(0.001)

    Background(window).run_long(endless, lambda _: None, lambda _: None)
    assert begun.wait(10)
    tasks = window.tasks
    assert tasks is not None
    started = time.monotonic()
    tasks.stop()
    assert time.monotonic() - started < 5.0
    assert len(n_told) < 100_000


def test_without_a_worker_long_work_is_done_at_once_and_can_be_given_up(qtbot: QtBot) -> None:
    alone = Window()
    qtbot.addWidget(alone)
    background = Background(alone)
    assert not background.is_beside
    answers: list[str] = []

    def work(tell: Tell) -> str:
        tell(1.0)
        tell(1.0)
        return "done"

    background.run_long(work, lambda done: answers.append(done.result()), lambda _: None)
    background.run_long(
        work, lambda done: answers.append(done.result()), lambda _: background.cancel()
    )
    assert answers == ["done"]

"""What a page works out beside the window: only the latest question is answered."""

import time
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from trapline.ui.tasks import Tasks

Tell = Callable[[float], None]
Then = Callable[[Future[Any]], None]

# How far long work has come is said no more often than the eye follows.
_OFTEN_S = 0.1


class _Overtaken(Exception):
    """Something newer was asked, or nobody waits any more: the work ends where it is."""


class Background(QObject):
    """Runs work in the window's workers, or at once where there are none (in tests)."""

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self._page = page
        self._latest = 0

    @property
    def is_beside(self) -> bool:
        """Whether the window has workers, so that long work keeps nobody waiting."""
        return self._tasks() is not None

    def run(self, work: Callable[[], Any], then: Then) -> None:
        """Work, then hand over the Future, unless something else was asked for meanwhile."""
        self._run(work, self._next(), then, is_long=False)

    def run_long(self, work: Callable[[Tell], Any], then: Then, told: Tell) -> None:
        """Work for long: `work` tells how far it is, 0 to 1, and `told` hears it in the window.

        Its telling is also where it ends as soon as something else is asked for.
        """
        number = self._next()
        tasks = self._tasks()
        said_at = 0.0

        def take(share: Future[Any]) -> None:
            if number == self._latest:
                told(share.result())

        def tell(share: float) -> None:
            nonlocal said_at
            if number != self._latest or (tasks is not None and tasks.is_stopped):
                raise _Overtaken
            now = time.monotonic()
            if now - said_at >= _OFTEN_S or share >= 1.0:
                said_at = now
                heard: Future[Any] = Future()
                heard.set_result(share)
                if tasks is None:
                    take(heard)
                else:
                    tasks.deliver(take, heard)

        def begun() -> Any:
            tell(0.0)  # it may have waited until nobody wants it
            return work(tell)

        self._run(begun, number, then, is_long=True)

    def cancel(self) -> None:
        """Drop what was asked for: nothing of it arrives any more."""
        self._latest += 1

    def _next(self) -> int:
        self._latest += 1
        return self._latest

    def _tasks(self) -> Tasks | None:
        tasks = getattr(self._page.window(), "tasks", None)
        return tasks if isinstance(tasks, Tasks) else None

    def _run(self, work: Callable[[], Any], number: int, then: Then, *, is_long: bool) -> None:
        def take(done: Future[Any]) -> None:
            if number == self._latest:
                then(done)

        tasks = self._tasks()
        if tasks is not None:
            tasks.run(work, take, is_long=is_long)
            return
        done: Future[Any] = Future()
        try:
            done.set_result(work())
        except Exception as problem:  # noqa: BLE001 - handed on: `then` asks for the result
            done.set_exception(problem)
        take(done)

"""What a page works out beside the window: only the latest question is answered."""

from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QWidget

from trapline.ui.tasks import Tasks


class Background(QObject):
    """Runs work in the window's worker, or at once where there is none (in tests)."""

    def __init__(self, page: QWidget) -> None:
        super().__init__(page)
        self._page = page
        self._latest = 0

    def run(self, work: Callable[[], Any], then: Callable[[Future[Any]], None]) -> None:
        """Work, then hand over the Future, unless something else was asked for meanwhile."""
        self._latest += 1
        number = self._latest

        def take(done: Future[Any]) -> None:
            if number == self._latest:
                then(done)

        tasks = getattr(self._page.window(), "tasks", None)
        if isinstance(tasks, Tasks):
            tasks.run(work, take)
            return
        done: Future[Any] = Future()
        try:
            done.set_result(work())
        except Exception as problem:  # noqa: BLE001 - handed on: `then` asks for the result
            done.set_exception(problem)
        take(done)

"""Work beside the window: plain functions in one worker thread, results by a signal."""

import importlib
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, Signal

# What is needed after the first paint, in the order in which a user meets it.
LATER = ("pyproj", "shapely", "scipy.special", "matplotlib.figure", "pandas")


class Tasks(QObject):
    """One worker thread. It never touches a widget, and it is waited for at the end.

    Signals
    -------
    finished : (function that takes the result, the Future), delivered in the window's thread
    """

    finished = Signal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="work")
        self._stopped = False
        self.finished.connect(self._on_finished)

    def run(
        self, work: Callable[[], Any], then: Callable[[Future[Any]], None] | None = None
    ) -> Future[Any]:
        """Run `work` beside the window, and then `then` with its Future in the window."""
        future = self._pool.submit(work)
        if then is not None:
            future.add_done_callback(lambda done: self._tell(then, done))
        return future

    def preload(self) -> None:
        """Import the slow libraries one by one, so that the first use does not wait."""
        for name in LATER:
            self._pool.submit(importlib.import_module, name)

    def stop(self) -> None:
        """Drop what waits and wait for what runs: a thread at exit would abort Qt."""
        self._stopped = True
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _tell(self, then: Callable[[Future[Any]], None], done: Future[Any]) -> None:
        if not self._stopped and not done.cancelled():
            self.finished.emit(then, done)

    def _on_finished(self, then: Callable[[Future[Any]], None], done: Future[Any]) -> None:
        if not self._stopped:
            then(done)

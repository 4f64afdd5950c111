"""Work beside the window: plain functions in worker threads, results by a signal."""

import importlib
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

# What is needed after the first paint, in the order in which a user meets it.
LATER = (
    "pyproj",
    "shapely",
    "scipy.special",
    "matplotlib.figure",
    "pandas",
    "scipy.sparse",
    "scipy.stats",
)


class Tasks(QObject):
    """Two worker threads: one for what is soon done, one for what takes its time.

    They never touch a widget, and they are waited for at the end.

    Signals
    -------
    finished : (function that takes the result, the Future), delivered in the window's thread
    """

    finished = Signal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        # Long work has a thread of its own: nothing else is to wait behind it.
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="work")
        self._long_pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="long work")
        self._stopped = False
        # Always by the queue: work that is done before anybody looks would else be handed over
        # ahead of what it told on its way.
        self.finished.connect(self._on_finished, Qt.ConnectionType.QueuedConnection)

    @property
    def is_stopped(self) -> bool:
        """Whether the end has come: what still runs is to give up."""
        return self._stopped

    def run(
        self,
        work: Callable[[], Any],
        then: Callable[[Future[Any]], None] | None = None,
        *,
        is_long: bool = False,
    ) -> Future[Any]:
        """Run `work` beside the window, and then `then` with its Future in the window."""
        future = (self._long_pool if is_long else self._pool).submit(work)
        if then is not None:
            future.add_done_callback(lambda done: self.deliver(then, done))
        return future

    def preload(self) -> None:
        """Import the slow libraries one by one, so that the first use does not wait."""
        for name in LATER:
            self._pool.submit(importlib.import_module, name)

    def stop(self) -> None:
        """Drop what waits and wait for what runs: a thread at exit would abort Qt."""
        self._stopped = True
        for pool in (self._pool, self._long_pool):
            pool.shutdown(wait=True, cancel_futures=True)

    def deliver(self, then: Callable[[Future[Any]], None], done: Future[Any]) -> None:
        """Have `then` called with a Future in the window's thread; from any thread."""
        if not self._stopped and not done.cancelled():
            self.finished.emit(then, done)

    def _on_finished(self, then: Callable[[Future[Any]], None], done: Future[Any]) -> None:
        if not self._stopped:
            then(done)

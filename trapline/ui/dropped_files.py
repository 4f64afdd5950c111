"""Files dropped on the window: projects are opened, places are imported."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtGui import QDragEnterEvent, QDropEvent

from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from trapline.ui.window import MainWindow


class DroppedFiles(QObject):
    """Watches a window for files of this computer."""

    def __init__(self, window: "MainWindow") -> None:
        super().__init__(window)
        self._window = window
        window.setAcceptDrops(True)
        window.installEventFilter(self)

    def take(self, paths: Sequence[Path]) -> None:
        """Open projects and import places."""
        window, session = self._window, self._window.session
        for path in paths:
            if path.suffix.lower() == ".gpkg":
                window.open_path(path)
            elif session.round is None or session.is_read_only:
                session.failed.emit(
                    InvalidValue(
                        "There is no trip to import it into.",
                        path.name,
                        "Open a project that can be written to and start a trip first.",
                    )
                )
            else:
                for handler in window.handlers:
                    handler.take_file(path)

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QDragEnterEvent) and event.type() == QEvent.Type.DragEnter:
            if any(url.isLocalFile() for url in event.mimeData().urls()):
                event.acceptProposedAction()
            return True
        if isinstance(event, QDropEvent) and event.type() == QEvent.Type.Drop:
            urls = [url for url in event.mimeData().urls() if url.isLocalFile()]
            paths = [Path(url.toLocalFile()) for url in urls]
            event.acceptProposedAction()
            # It may be asked about in a dialog: the program it comes from must not wait for that.
            QTimer.singleShot(0, self, lambda: self.take(paths))
            return True
        return super().eventFilter(watched, event)

"""Where the user's own files go by default."""

import os
from pathlib import Path

from PySide6.QtCore import QStandardPaths


def documents_folder() -> Path:
    """Return the user's documents; ``TRAPLINE_DOCUMENTS`` in the environment overrides it."""
    chosen = os.environ.get("TRAPLINE_DOCUMENTS")
    if chosen:
        return Path(chosen)
    found = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    return Path(found) if found else Path.home()

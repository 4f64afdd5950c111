"""What every page of the window has in common."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from trapline.drawing.theme import LIGHT, Theme
from trapline.ui.session import Session


class Page(QWidget):
    """One of the five pages; `refresh` is called when it is shown and when something changed.

    Class attributes
    ----------------
    title : the word on its button
    touched_by : the tables whose changes it shows; empty for all

    Signals
    -------
    asked : name of a menu command that the page's own button stands for
    """

    title = ""
    touched_by: frozenset[str] = frozenset()
    asked = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.theme: Theme = LIGHT

    def refresh(self) -> None:
        """Show the session's trip and round anew."""

    def attention(self) -> int:
        """How many things on this page still ask for attention; 0 shows no number."""
        return 0

    def leaving(self) -> None:
        """Called before another page is shown: commit what is being typed."""

    def set_theme(self, theme: Theme) -> None:
        """Take the colours for what the page paints itself."""
        self.theme = theme

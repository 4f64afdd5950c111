"""The five pages, made when they are first shown and refreshed when something changed."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QStackedWidget, QWidget

from trapline.drawing.theme import LIGHT, Theme
from trapline.model.changes import Changes
from trapline.ui.pages.page import Page
from trapline.ui.pages.registry import PAGES
from trapline.ui.session import Session
from trapline.ui.tables.grid import GridView


class PageStack(QStackedWidget):
    """One page is shown; the others wait, and are stale once something they show has changed.

    Signals
    -------
    asked : name of a menu command that a page's own button stands for
    """

    asked = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.session = session
        self.number = 0
        self._made: dict[int, Page] = {}
        self._stale: set[int] = set()
        self._theme: Theme = LIGHT

    def page(self, number: int) -> Page:
        """Return a page, made now if it never was shown."""
        if number not in self._made:
            page = self._made[number] = PAGES[number][1](self.session)
            page.set_theme(self._theme)
            page.asked.connect(self.asked)
            self.addWidget(page)
            self._stale.add(number)
        return self._made[number]

    def all_pages(self) -> list[Page]:
        """Return all five, making those that are missing."""
        return [self.page(number) for number in range(len(PAGES))]

    def make_next(self) -> bool:
        """Make one page that is missing; False when there is none."""
        for number in range(len(PAGES)):
            if number not in self._made:
                self.page(number)
                return True
        return False

    def show_number(self, number: int) -> None:
        """Show a page; the one before may first commit what is being typed."""
        if number != self.number:
            self.leave()
        self.number = number
        self.setCurrentWidget(self.page(number))

    def commit(self) -> bool:
        """Take what is being typed in a cell of the page that is shown; False when refused."""
        if self.number not in self._made:
            return True
        refused = [
            table for table in self._made[self.number].findChildren(GridView) if not table.commit()
        ]
        return not refused

    def leave(self) -> bool:
        """Let the page that is shown commit what is being typed; False when it was refused."""
        taken = self.commit()
        if self.number in self._made:
            self._made[self.number].leaving()
        return taken

    def take_theme(self, theme: Theme) -> None:
        """Draw what the pages paint themselves in other colours."""
        self._theme = theme
        for page in self._made.values():
            page.set_theme(theme)
        self.mark_stale()

    def mark_stale(self, changes: Changes | None = None) -> None:
        """Note which pages show something that changed; without changes all do."""
        for number, page in self._made.items():
            if not changes or not page.touched_by or changes.tables & page.touched_by:
                self._stale.add(number)

    def refresh(self) -> None:
        """Draw the page that is shown anew if it is stale."""
        page = self.page(self.number)
        self.setCurrentWidget(page)
        if self.number in self._stale:
            self._stale.discard(self.number)
            page.refresh()

    def attention(self) -> list[int]:
        """How many things on each page ask for attention; 0 for one that was never made."""
        made = self._made
        return [made[n].attention() if n in made else 0 for n in range(len(PAGES))]

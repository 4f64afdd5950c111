"""Pages: pieces flow down them, and each page says which of how many it is.

Everything is laid out once, in 1200ths of an inch, and painted at any scale: the
picture on the screen, the printer and the PDF break lines and pages at the same spots.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPageLayout, QPainter, QPen

from trapline.drawing.paper import MM_PER_INCH, RESOLUTION_DPI, PageSetup, ensure_gui_app
from trapline.reports.letters import NOTE, elided, font_of, text_width

Paint = Callable[[QPainter, QRectF], None]

FOOTER_MM: Final = 7.0
MARGIN_MM: Final = 12.0
ROUNDING: Final = 0.5


def mm(length_mm: float) -> float:
    """Return a length on paper in the units of the layout."""
    return length_mm / MM_PER_INCH * RESOLUTION_DPI


@dataclass(frozen=True)
class Piece:
    """What is not parted by the end of a page.

    Attributes
    ----------
    height : float
        In the units of the layout; what is wanted where `least_height` is given.
    least_height : float
        A piece that can be lower takes what the page has left, this at least.
    keeps_with_next : bool
        Never the last on its page.
    head : Piece or None
        Painted again above this piece where a page begins with it.
    is_space : bool
        Left out where a page begins.
    """

    height: float
    paint: Paint
    least_height: float | None = None
    keeps_with_next: bool = False
    head: "Piece | None" = None
    is_space: bool = False

    @property
    def needed(self) -> float:
        """The least room that it fits in."""
        return self.height if self.least_height is None else self.least_height


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece at its place on a page."""

    piece: Piece
    rect: QRectF


class Report:
    """Pages that are laid out and can be painted on any device.

    Parameters
    ----------
    setup : PageSetup
        Paper and margins.
    title : str
        Of the document; stands at the foot of each page.
    pieces : callable
        Gives the pieces for a width in the units of the layout.
    """

    def __init__(
        self, setup: PageSetup, title: str, pieces: Callable[[float, float], Iterable[Piece]]
    ) -> None:
        ensure_gui_app()
        self.setup = setup
        self.title = title
        page = setup.layout.paintRect(QPageLayout.Unit.Millimeter)
        self.width, self.height = mm(page.width()), mm(page.height())
        room = self.height - mm(FOOTER_MM)
        self.pages = place_pieces(list(pieces(self.width, room)), self.width, room)

    @property
    def n_pages(self) -> int:
        """How many pages there are, one at least."""
        return len(self.pages)

    def paint_page(self, painter: QPainter, number: int) -> None:
        """Paint a page, counted from 0, with the painter's origin at the corner of the margins."""
        scale = painter.device().logicalDpiX() / RESOLUTION_DPI
        painter.save()
        painter.scale(scale, scale)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        for placed in self.pages[number]:
            painter.save()
            placed.piece.paint(painter, placed.rect)
            painter.restore()
        self._paint_foot(painter, number)
        painter.restore()

    def picture(self, number: int, dpi: float) -> QImage:
        """Return a page with its margins as a picture on white."""
        sheet = self.setup.layout.fullRect(QPageLayout.Unit.Inch)
        image = QImage(
            round(sheet.width() * dpi), round(sheet.height() * dpi), QImage.Format.Format_RGB32
        )
        # The map measures its marks by the resolution of what it is painted on.
        image.setDotsPerMeterX(round(dpi / MM_PER_INCH * 1000))
        image.setDotsPerMeterY(round(dpi / MM_PER_INCH * 1000))
        image.fill(Qt.GlobalColor.white)
        painter = QPainter(image)
        inner = self.setup.layout.paintRect(QPageLayout.Unit.Inch)
        painter.translate(inner.left() * dpi, inner.top() * dpi)
        self.paint_page(painter, number)
        painter.end()
        return image

    def _paint_foot(self, painter: QPainter, number: int) -> None:
        words = f"Page {number + 1} of {self.n_pages}"
        painter.setFont(font_of(NOTE))
        painter.setPen(QPen(QColor(NOTE.colour)))
        width = text_width(words, NOTE)
        baseline = self.height - mm(0.8)
        painter.drawText(QPointF(self.width - width, baseline), words)
        title = elided(self.title, NOTE, self.width - width - mm(8))
        painter.drawText(QPointF(0.0, baseline), title)


def place_pieces(
    pieces: Sequence[Piece], width: float, room: float
) -> tuple[tuple[Placed, ...], ...]:
    """Return the pieces of each page, from the top of the first on.

    Pieces that keep together begin a page together where they do not fit on the one before.
    """
    pages: list[list[Placed]] = [[]]
    y = 0.0
    for group in _groups(pieces):
        if pages[-1] and y + sum(piece.needed for piece in group) > room + ROUNDING:
            pages.append([])
            y = 0.0
        for number, piece in enumerate(group):
            if pages[-1] and y + piece.needed > room + ROUNDING:  # a group higher than a page
                pages.append([])
                y = 0.0
            if not pages[-1]:
                if piece.is_space:
                    continue
                if piece.head is not None:
                    pages[-1].append(Placed(piece.head, QRectF(0.0, y, width, piece.head.height)))
                    y += piece.head.height
            after = sum(other.needed for other in group[number + 1 :])
            height = min(piece.height, max(room - y - after, piece.needed))
            pages[-1].append(Placed(piece, QRectF(0.0, y, width, height)))
            y += height
    return tuple(tuple(page) for page in pages)


def _groups(pieces: Sequence[Piece]) -> Iterator[list[Piece]]:
    group: list[Piece] = []
    for piece in pieces:
        group.append(piece)
        if not piece.keeps_with_next:
            yield group
            group = []
    if group:
        yield group

"""Tables that run over pages: the line of headers comes again at the top of each."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from trapline.drawing.map_content import MarkStyle
from trapline.drawing.marks import paint_mark
from trapline.drawing.theme import PAPER, Theme
from trapline.reports.blocks import HAIRLINE_MM, THICK_MM, ruled
from trapline.reports.letters import (
    CELL,
    CELL_STRONG,
    HEAD,
    Style,
    draw_line,
    line_height,
    longest_word,
    text_width,
    wrapped,
)
from trapline.reports.page import Piece, mm

PAD_MM = 1.2
MARK_MM = 4.4
# The rare long texts of a column may take a second line, so that the others need none.
USUAL_SHARE = 0.85


@dataclass(frozen=True, slots=True)
class TableColumn:
    """A column: as wide as said, or as its texts need between two limits."""

    title: str
    width_mm: float = 0.0
    is_right: bool = False
    is_centred: bool = False
    least_mm: float = 8.0
    most_mm: float = 60.0
    most_lines: int = 3


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in a cell; a mark of a bait may stand before the text."""

    text: str = ""
    mark: MarkStyle | None = None
    is_strong: bool = False

    @property
    def style(self) -> Style:
        """The letters of the cell."""
        return CELL_STRONG if self.is_strong else CELL


Row = Sequence[Cell | str]


@dataclass(frozen=True, slots=True)
class TableLook:
    """How a table is drawn: with boxes to write in or with lines between rows."""

    has_boxes: bool = False
    row_mm: float = 0.0
    theme: Theme = PAPER


LINED = TableLook()


def table(
    columns: Sequence[TableColumn], rows: Sequence[Row], width: float, look: TableLook = LINED
) -> list[Piece]:
    """Return the line of headers and the rows, each a piece of its own."""
    cells = [[cell if isinstance(cell, Cell) else Cell(cell) for cell in row] for row in rows]
    widths = column_widths(columns, cells, width)
    titles = [
        wrapped(column.title, HEAD, wide - 2 * mm(PAD_MM), 3)
        for column, wide in zip(columns, widths, strict=True)
    ]
    n_lines = max(len(lines) for lines in titles)
    head = Piece(
        line_height(HEAD) * n_lines + mm(1.6),
        _head_painter(columns, widths, titles, look),
        keeps_with_next=True,
    )
    return [head, *(_row_piece(columns, widths, row, look, head) for row in cells)]


def column_widths(
    columns: Sequence[TableColumn], rows: Sequence[Sequence[Cell]], width: float
) -> list[float]:
    """Return the widths, which together fill the whole width.

    Columns of a given width keep it; the others get what their texts need, and share what
    is left over or lacking in proportion to that.
    """
    pad = 2 * mm(PAD_MM)
    fixed = sum(mm(column.width_mm) for column in columns)
    free: dict[int, tuple[float, float]] = {}
    for number, column in enumerate(columns):
        if column.width_mm:
            continue
        texts = [row[number] for row in rows]
        least = max([longest_word(column.title, HEAD), mm(column.least_mm) - pad])
        wanted = max(least, _usual_width(texts))
        free[number] = (least + pad, min(wanted + pad, max(mm(column.most_mm), least + pad)))
    room = width - fixed
    wanted_sum = sum(wanted for _, wanted in free.values())
    least_sum = sum(least for least, _ in free.values())
    found = []
    for number, column in enumerate(columns):
        if number not in free:
            found.append(mm(column.width_mm))
            continue
        least, wanted = free[number]
        if wanted_sum <= room:
            found.append(wanted * room / wanted_sum)
        elif least_sum < room:
            share = (room - least_sum) / (wanted_sum - least_sum)
            found.append(least + (wanted - least) * share)
        else:
            found.append(least * room / least_sum)
    scale = width / sum(found)  # given widths that do not fill, or overfill, the page
    return [one * scale for one in found]


def _usual_width(cells: Sequence[Cell]) -> float:
    """Return the width in which most cells of a column need no second line."""
    widths = sorted(_cell_width(cell) for cell in cells)
    return widths[math.ceil(USUAL_SHARE * len(widths)) - 1] if widths else 0.0


def _cell_width(cell: Cell) -> float:
    lines = cell.text.split("\n")
    words = max(text_width(line, cell.style) for line in lines)
    return words + (mm(MARK_MM) if cell.mark else 0.0)


def _head_painter(
    columns: Sequence[TableColumn],
    widths: Sequence[float],
    titles: Sequence[tuple[str, ...]],
    look: TableLook,
) -> Callable[[QPainter, QRectF], None]:
    def paint(painter: QPainter, rect: QRectF) -> None:
        x = rect.left()
        for column, wide, lines in zip(columns, widths, titles, strict=True):
            top = rect.bottom() - mm(0.8) - line_height(HEAD) * len(lines)
            for number, line in enumerate(lines):
                left = _left(column, x, wide, text_width(line, HEAD))
                draw_line(painter, left, top + number * line_height(HEAD), line, HEAD)
            x += wide
        painter.setPen(ruled(THICK_MM))
        if look.has_boxes:
            painter.drawLine(QLineF(rect.left(), rect.top(), rect.right(), rect.top()))
        painter.drawLine(QLineF(rect.left(), rect.bottom(), rect.right(), rect.bottom()))

    return paint


def _left(column: TableColumn, x: float, wide: float, text: float) -> float:
    if column.is_right:
        return x + wide - mm(PAD_MM) - text
    if column.is_centred:
        return x + (wide - text) / 2
    return x + mm(PAD_MM)


def _row_piece(
    columns: Sequence[TableColumn],
    widths: Sequence[float],
    row: Sequence[Cell],
    look: TableLook,
    head: Piece,
) -> Piece:
    lines = []
    for column, wide, cell in zip(columns, widths, row, strict=True):
        room = wide - 2 * mm(PAD_MM) - (mm(MARK_MM) if cell.mark else 0.0)
        lines.append(wrapped(cell.text, cell.style, room, column.most_lines))
    height = max(len(one) for one in lines) * line_height(CELL) + mm(1.3)

    def paint(painter: QPainter, rect: QRectF) -> None:
        x = rect.left()
        for column, wide, cell, texts in zip(columns, widths, row, lines, strict=True):
            _paint_cell(painter, QRectF(x, rect.top(), wide, rect.height()), column, cell, texts,
                        look)  # fmt: skip
            x += wide
        painter.setPen(ruled(HAIRLINE_MM if not look.has_boxes else 0.25))
        painter.drawLine(QLineF(rect.left(), rect.bottom(), rect.right(), rect.bottom()))

    return Piece(max(height, mm(look.row_mm)), paint, head=head)


def _paint_cell(
    painter: QPainter,
    box: QRectF,
    column: TableColumn,
    cell: Cell,
    lines: tuple[str, ...],
    look: TableLook,
) -> None:
    left, wide = box.left(), box.width()
    if look.has_boxes:
        painter.setPen(ruled(0.25))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)
    if cell.mark is not None:
        y = box.center().y() if look.has_boxes else box.top() + mm(0.65) + line_height(CELL) / 2
        radius = mm(1.25)
        x = left + mm(PAD_MM) + radius * 1.2
        painter.setBrush(QColor("white"))
        paint_mark(painter, x, y, radius, cell.mark, look.theme, mm(0.2))
        left, wide = left + mm(MARK_MM), wide - mm(MARK_MM)
    block = len(lines) * line_height(CELL)
    top = box.center().y() - block / 2 if look.has_boxes else box.top() + mm(0.65)
    for number, line in enumerate(lines):
        x = _left(column, left, wide, text_width(line, cell.style))
        draw_line(painter, x, top + number * line_height(CELL), line, cell.style)

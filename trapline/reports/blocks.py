"""Blocks of a report: headings, paragraphs, facts with their labels, pictures."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from trapline.reports.letters import (
    BODY,
    HEADING,
    LABEL,
    STRONG,
    TITLE,
    Style,
    draw_line,
    elided,
    line_height,
    text_width,
    wrapped,
)
from trapline.reports.page import Piece, mm

RULE = QColor("#000000")
HAIRLINE_MM = 0.15
THICK_MM = 0.4


def ruled(width_mm: float = HAIRLINE_MM) -> QPen:
    """Return a black pen of a width on paper."""
    pen = QPen(RULE, mm(width_mm))
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen


def space(height_mm: float, *, keeps_with_next: bool = False) -> Piece:
    """Return empty room."""
    return Piece(
        mm(height_mm), lambda _painter, _rect: None, keeps_with_next=keeps_with_next, is_space=True
    )


def title(text: str, beside: str, width: float) -> list[Piece]:
    """Return the title of a report with a line below, and a few words at the right end."""
    beside_width = text_width(beside, STRONG)
    lines = wrapped(text, TITLE, width - beside_width - mm(6), 2)
    height = line_height(TITLE) * len(lines) + mm(1.6)

    def paint(painter: QPainter, rect: QRectF) -> None:
        for number, line in enumerate(lines):
            draw_line(painter, rect.left(), rect.top() + number * line_height(TITLE), line, TITLE)
        top = rect.top() + line_height(TITLE) - line_height(STRONG) - mm(0.6)
        draw_line(painter, rect.right() - beside_width, top, beside, STRONG)
        painter.setPen(ruled(THICK_MM))
        painter.drawLine(QLineF(rect.left(), rect.bottom(), rect.right(), rect.bottom()))

    return [Piece(height, paint, keeps_with_next=True), space(2.0)]


def heading(text: str, width: float, *, above_mm: float = 4.0) -> list[Piece]:
    """Return a heading that stays with what follows."""
    line = elided(text, HEADING, width)

    def paint(painter: QPainter, rect: QRectF) -> None:
        draw_line(painter, rect.left(), rect.top(), line, HEADING)

    height = line_height(HEADING) + mm(0.8)
    return [
        space(above_mm, keeps_with_next=True),
        Piece(height, paint, keeps_with_next=True),
    ]


def paragraph(
    text: str,
    width: float,
    style: Style = BODY,
    *,
    sign: str = "",
    below_mm: float = 0.8,
    keeps_with_next: bool = False,
) -> list[Piece]:
    """Return a text as lines; `sign` stands before the first, and the lines begin after it."""
    indent = text_width(sign + "  ", style) if sign else 0.0
    lines = wrapped(text, style, width - indent)
    pieces = []
    for number, line in enumerate(lines):
        is_last = number == len(lines) - 1
        # Two lines at least on each side of a page's end.
        keeps = number == 0 or number == len(lines) - 2
        pieces.append(
            Piece(
                line_height(style) + (mm(below_mm) if is_last else 0.0),
                _line_painter(line, style, indent, sign if number == 0 else ""),
                keeps_with_next=keeps_with_next if is_last else keeps,
            )
        )
    return pieces


def _line_painter(
    line: str, style: Style, indent: float, sign: str
) -> Callable[[QPainter, QRectF], None]:
    def paint(painter: QPainter, rect: QRectF) -> None:
        if sign:
            draw_line(painter, rect.left(), rect.top(), sign, style)
        draw_line(painter, rect.left() + indent, rect.top(), line, style)

    return paint


def bullets(texts: Sequence[str], width: float, style: Style = BODY) -> list[Piece]:
    """Return texts each with a dot before it."""
    return [piece for text in texts for piece in paragraph(text, width, style, sign="•")]


def facts(pairs: Sequence[tuple[str, str]], width: float, n_columns: int = 4) -> list[Piece]:
    """Return values under their labels in columns; an empty value is a line to write on."""
    gap = mm(4)
    column = (width - gap * (n_columns - 1)) / n_columns
    pieces = []
    for chunk in _chunks(pairs, n_columns):
        cells = [
            (label, wrapped(value, BODY, column, 3) if value else ()) for label, value in chunk
        ]
        n_lines = max(1, *(len(lines) for _, lines in cells))
        height = line_height(LABEL) + line_height(BODY) * n_lines + mm(1.8)
        pieces.append(Piece(height, _facts_painter(cells, column, gap)))
    return pieces


def _facts_painter(
    cells: Sequence[tuple[str, tuple[str, ...]]], column: float, gap: float
) -> Callable[[QPainter, QRectF], None]:
    def paint(painter: QPainter, rect: QRectF) -> None:
        for number, (label, lines) in enumerate(cells):
            x = rect.left() + number * (column + gap)
            draw_line(painter, x, rect.top(), elided(label, LABEL, column), LABEL)
            top = rect.top() + line_height(LABEL)
            for at, line in enumerate(lines):
                draw_line(painter, x, top + at * line_height(BODY), line, BODY)
            if not lines:
                painter.setPen(ruled())
                base = top + line_height(BODY) + mm(0.4)
                painter.drawLine(QLineF(x, base, x + column, base))

    return paint


def _chunks(pairs: Sequence[tuple[str, str]], size: int) -> Iterator[Sequence[tuple[str, str]]]:
    for start in range(0, len(pairs), size):
        yield pairs[start : start + size]


def writing_lines(label: str, n_lines: int, line_mm: float = 8.0) -> list[Piece]:
    """Return a label and empty lines to write on."""

    def paint(painter: QPainter, rect: QRectF) -> None:
        draw_line(painter, rect.left(), rect.top(), label, LABEL)
        painter.setPen(ruled())
        for number in range(1, n_lines + 1):
            y = rect.top() + mm(line_mm) * number
            painter.drawLine(QLineF(rect.left(), y, rect.right(), y))

    return [Piece(mm(line_mm) * n_lines + mm(1), paint)]


def picture(
    paint: Callable[[QPainter, QRectF], None], height: float, least_height: float | None = None
) -> Piece:
    """Return a drawing in units of the device: `paint` gets the painter without our scale."""

    def paint_unscaled(painter: QPainter, rect: QRectF) -> None:
        to_device = painter.combinedTransform()
        painter.setWorldTransform(to_device.inverted()[0] * painter.worldTransform())
        target = to_device.mapRect(rect)
        painter.setClipRect(target)
        paint(painter, target)

    return Piece(height, paint_unscaled, least_height)


def kept(pieces: Sequence[Piece]) -> list[Piece]:
    """Return the same pieces so that all of them stand on one page."""
    return [replace(piece, keeps_with_next=True) for piece in pieces[:-1]] + list(pieces[-1:])


def box_mark(painter: QPainter, centre: QPointF, side_mm: float = 2.6) -> None:
    """Paint an empty box to tick."""
    side = mm(side_mm)
    painter.setPen(ruled(0.25))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(QRectF(centre.x() - side / 2, centre.y() - side / 2, side, side))

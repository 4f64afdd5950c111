"""Letters of the reports: styles, and texts broken into lines that fit."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QTextLayout, QTextOption

from trapline.drawing.paper import RESOLUTION_DPI, paper_font

POINTS_PER_INCH: Final = 72.0


@dataclass(frozen=True, slots=True)
class Style:
    """How a text looks; sizes in points."""

    size_pt: float
    is_bold: bool = False
    colour: str = "#000000"


TITLE: Final = Style(16.0, is_bold=True)
HEADING: Final = Style(10.5, is_bold=True)
BODY: Final = Style(8.5)
STRONG: Final = Style(8.5, is_bold=True)
CELL: Final = Style(8.0)
CELL_STRONG: Final = Style(8.0, is_bold=True)
HEAD: Final = Style(7.0, is_bold=True)
LABEL: Final = Style(7.0, colour="#404040")
NOTE: Final = Style(7.5, colour="#404040")
CAPTION: Final = Style(7.5, is_bold=True)


@cache
def font_of(style: Style) -> QFont:
    """Return the font of a style, in the units of the layout: too large for hinting to matter."""
    font = paper_font(style.size_pt, bold=style.is_bold)
    font.setPixelSize(round(style.size_pt / POINTS_PER_INCH * RESOLUTION_DPI))
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font


@cache
def metrics_of(style: Style) -> QFontMetricsF:
    """Return how large the letters of a style are."""
    return QFontMetricsF(font_of(style))


def line_height(style: Style) -> float:
    """Return the distance from one line to the next."""
    return metrics_of(style).height() * 1.06


def text_width(text: str, style: Style) -> float:
    """Return how wide a text on one line is."""
    return metrics_of(style).horizontalAdvance(text)


def elided(text: str, style: Style, width: float) -> str:
    """Return a text on one line, cut with an ellipsis where it is too long."""
    return metrics_of(style).elidedText(text, Qt.TextElideMode.ElideRight, width)


def wrapped(text: str, style: Style, width: float, most_lines: int = 0) -> tuple[str, ...]:
    """Return the lines of a text; a word that is too long is parted.

    Parameters
    ----------
    most_lines : int
        Beyond so many the last one ends with an ellipsis; 0 for no limit.
    """
    lines: list[str] = []
    for part in text.split("\n"):
        lines += _broken(part, style, width)
    if most_lines and len(lines) > most_lines:
        rest = " ".join(line.strip() for line in lines[most_lines - 1 :])
        lines = [*lines[: most_lines - 1], elided(rest, style, width)]
    return tuple(lines)


def _broken(text: str, style: Style, width: float) -> list[str]:
    if text_width(text, style) <= width:
        return [text]
    layout = QTextLayout(text, font_of(style))
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    layout.setTextOption(option)
    # Positions count UTF-16 units, in which a letter may take two.
    units = text.encode("utf-16-le")
    found = []
    layout.beginLayout()
    while (line := layout.createLine()).isValid():
        line.setLineWidth(max(width, 1.0))
        start, length = line.textStart(), line.textLength()
        found.append(units[2 * start : 2 * (start + length)].decode("utf-16-le").rstrip())
    layout.endLayout()
    return found or [""]


def longest_word(text: str, style: Style) -> float:
    """Return the width of the widest word."""
    return max((text_width(word, style) for word in text.split()), default=0.0)


def draw_line(painter: QPainter, x: float, top: float, text: str, style: Style) -> None:
    """Write one line with its top at `top`."""
    painter.setFont(font_of(style))
    painter.setPen(QPen(QColor(style.colour)))
    painter.drawText(QPointF(x, top + metrics_of(style).ascent()), text)

"""The legend of a map: the marks of the baits, the states, reaches and gaps that are on it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont

from trapline.drawing.map_content import MapContent, MarkStyle
from trapline.drawing.map_ground import paint_hatch
from trapline.drawing.map_places import GAP_LINES, gap_colour
from trapline.drawing.map_sheet import Sheet
from trapline.drawing.marks import STATE_WORDS, paint_mark

NO_BAIT_CHOSEN: Final = "bait not chosen"
REACH: Final = "assumed reach, set by you: a risk map"
MEETING: Final = "reaches of different baits meet"
GAP_WORDS: Final = {
    "short": "closer than your minimum",
    "unsure": "maybe closer: error of the fixes",
    "wide": "farther than your maximum",
}
PAD_PX: Final = 10.0
SIGN_PX: Final = 26.0
BETWEEN_PX: Final = 8.0


Sign = Callable[[Sheet, QPointF], None]


@dataclass(frozen=True, slots=True)
class LegendRow:
    """One line: signs, each painted about a middle, with their words."""

    items: tuple[tuple[str, Sign], ...]


def legend_rows(content: MapContent) -> list[LegendRow]:
    """Return the rows for what is on this map, and for nothing else."""
    every = [*content.styles, *(spot.style for spot in content.unplaced)]
    states = [state for state in STATE_WORDS if any(row.state == state for row in every)]
    fished = [state for state in states if state != "stake"]
    # Where all are alike the baits are shown as they are on the map.
    shown_state = fished[0] if len(fished) == 1 else "set"
    baits = dict.fromkeys((row.bait, row.colour, row.mark) for row in every if row.state != "stake")
    items = [
        [(bait or NO_BAIT_CHOSEN, _mark_sign(MarkStyle(bait, colour, mark, shown_state)))]
        for bait, colour, mark in baits
    ]
    if len(fished) > 1:
        told = [(STATE_WORDS[state], _state_sign(state)) for state in states]
        items += [told[:3], told[3:]] if len(told) > 3 else [told]
    elif "stake" in states:
        items.append([(STATE_WORDS["stake"], _state_sign("stake"))])
    if content.plumes:
        items.append([(REACH, _reach_sign)])
    if content.meetings.size:
        items.append([(MEETING, _meeting_sign)])
    kinds = [kind for kind in GAP_LINES if any(gap.kind == kind for gap in content.gaps)]
    items += [[(GAP_WORDS[kind], _gap_sign(kind))] for kind in kinds]
    return [LegendRow(tuple(row)) for row in items]


def _mark_sign(style: MarkStyle) -> Sign:
    def paint(sheet: Sheet, middle: QPointF) -> None:
        paint_mark(
            sheet.painter, middle.x(), middle.y(), 6 * sheet.unit, style, sheet.theme, sheet.unit
        )

    return paint


def _state_sign(state: str) -> Sign:
    def paint(sheet: Sheet, middle: QPointF) -> None:
        y = middle.y() + (6 * sheet.unit if state == "stake" else 0.0)
        style = MarkStyle("", sheet.theme.link, "circle", state)
        paint_mark(sheet.painter, middle.x(), y, 5.5 * sheet.unit, style, sheet.theme, sheet.unit)

    return paint


def _gap_sign(kind: str) -> Sign:
    def paint(sheet: Sheet, middle: QPointF) -> None:
        sheet.painter.setPen(sheet.pen(gap_colour(sheet, kind), 2.0, GAP_LINES[kind]))
        away = QPointF(10 * sheet.unit, 0)
        sheet.painter.drawLine(middle - away, middle + away)

    return paint


def _reach_box(sheet: Sheet, middle: QPointF) -> QRectF:
    return QRectF(
        middle.x() - 11 * sheet.unit, middle.y() - 6 * sheet.unit, 22 * sheet.unit, 12 * sheet.unit
    )


def _reach_sign(sheet: Sheet, middle: QPointF) -> None:
    theme, painter = sheet.theme, sheet.painter
    fill = QColor(theme.link)
    fill.setAlpha(theme.plume_alpha)
    painter.setBrush(fill if theme.plume_alpha else Qt.BrushStyle.NoBrush)
    painter.setPen(sheet.pen(theme.link, 1.1))
    painter.drawEllipse(_reach_box(sheet, middle))


def _meeting_sign(sheet: Sheet, middle: QPointF) -> None:
    box = _reach_box(sheet, middle)
    paint_hatch(sheet, box)
    sheet.painter.setBrush(Qt.BrushStyle.NoBrush)
    sheet.painter.setPen(sheet.pen(sheet.theme.link, 1.0 / sheet.theme.line_scale))
    sheet.painter.drawRect(box)


def legend_box(sheet: Sheet, rows: list[LegendRow]) -> QRectF:
    """Return where the legend lies: at the upper left; empty where it would hide the map."""
    if not rows or sheet.is_compact:
        return QRectF()
    unit, rect = sheet.unit, sheet.rect
    font = sheet.font()
    widths = [_row_width(sheet, row, font) for row in rows]
    line = sheet.metrics(font).height() * 1.32
    width = max(widths) + 2 * PAD_PX * unit
    height = line * len(rows) + 1.4 * PAD_PX * unit
    if width > 0.75 * rect.width() or height > 0.6 * rect.height():
        return QRectF()
    return QRectF(rect.left() + 10 * unit, rect.top() + 10 * unit, width, height)


def note_box(sheet: Sheet) -> QRectF:
    """Return where the note on reaches stands; empty where the legend says it, or none is drawn."""
    if not sheet.content.plumes or not legend_box(sheet, legend_rows(sheet.content)).isEmpty():
        return QRectF()
    unit, font = sheet.unit, sheet.font(factor=0.9)
    # Left of the north arrow.
    width = min(float(sheet.widths([REACH], font)[0]) + unit, sheet.rect.width() - 60 * unit)
    height = sheet.metrics(font).height()
    return QRectF(sheet.rect.left() + 10 * unit, sheet.rect.top() + 8 * unit, width, height)


def _paint_note(sheet: Sheet) -> None:
    """Write what the reaches are where there is no room for a legend: they look like facts."""
    box = note_box(sheet)
    if box.isEmpty():
        return
    font = sheet.font(factor=0.9)
    metrics = sheet.metrics(font)
    words = metrics.elidedText(REACH, Qt.TextElideMode.ElideRight, box.width())
    sheet.painter.setFont(font)
    sheet.text_with_halo(box.left(), box.top() + metrics.ascent(), words, sheet.theme.map_text)


def _row_width(sheet: Sheet, row: LegendRow, font: QFont) -> float:
    words = float(sheet.widths([words for words, _ in row.items], font).sum())
    return words + (len(row.items) * (SIGN_PX + 4) + (len(row.items) - 1) * BETWEEN_PX) * sheet.unit


def paint_legend(sheet: Sheet) -> None:
    """Paint the legend on a card, unless it would hide the map."""
    rows = legend_rows(sheet.content)
    box = legend_box(sheet, rows)
    if box.isEmpty():
        _paint_note(sheet)
        return
    painter, theme, unit = sheet.painter, sheet.theme, sheet.unit
    card = QColor(theme.panel)
    if not sheet.is_paper and theme.line_scale == 1:
        card.setAlpha(235)
    painter.setPen(sheet.pen(theme.border, 1.0 / theme.line_scale))
    painter.setBrush(card)
    painter.drawRoundedRect(box, 7 * unit, 7 * unit)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    font = sheet.font()
    metrics = sheet.metrics(font)
    line = metrics.height() * 1.32
    y = box.top() + 0.7 * PAD_PX * unit + line / 2
    for row in rows:
        left = box.left() + PAD_PX * unit
        for words, paint_sign in row.items:
            paint_sign(sheet, QPointF(left + (SIGN_PX / 2 - 2) * unit, y))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setFont(font)
            painter.setPen(QColor(theme.text))
            left += (SIGN_PX + 4) * unit
            painter.drawText(QPointF(left, y + (metrics.ascent() - metrics.descent()) / 2), words)
            left += metrics.horizontalAdvance(words) + BETWEEN_PX * unit
        y += line

"""The table of baits beside their verdict."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from trapline.drawing.icons import mark_icon
from trapline.model.bait import Bait
from trapline.ui.dialogs.card_dialog import theme_of
from trapline.ui.tables.grid import Column, GridView

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.comparison_words import BaitLine

# A table of more baits than these scrolls.
_MOST_ROWS = 6
_BY_FACTOR = 6  # the number of its column


class BaitTable(GridView):
    """One row a bait: what was set, counted and caught, rate, ratio and chances."""

    def __init__(self, parent: QWidget | None = None) -> None:
        columns = [
            Column("Bait", lambda row: row.bait, decoration=self._icon),
            Column("Counted", lambda row: f"{row.n_counted} of {row.n_sets}", is_number=True,
                   tip=lambda _: "Trap sets that count, of those that were set"),
            Column("Catch", lambda row: row.catch, is_number=True),
            Column("Hours", lambda row: row.soak_h, is_number=True, tip=lambda _: "Of soak"),
            Column("Per 24 h (95 %)", lambda row: row.rate, is_number=True,
                   tip=lambda _: "Catch per trap and 24 h of soak; with a chance of 95 % it lies"
                   " within the range"),
            Column("Ratio (95 %)", lambda row: row.ratio, is_number=True,
                   tip=lambda _: "How many times as much as the reference bait; with a chance of"
                   " 95 % it lies within the range"),
            Column("Beats ×2", lambda row: row.beats_by_factor, is_number=True,
                   tip=lambda _: "The chance that it catches so many times as much as the"
                   " reference bait"),
            Column("Best", lambda row: row.chance_best, is_number=True,
                   tip=lambda _: "The chance that this bait is the best of all"),
            Column("Disturbed", lambda row: row.disturbed, is_number=True),
        ]  # fmt: skip
        super().__init__(columns, "Baits", parent)
        self._baits: Sequence[Bait] = ()
        self.horizontalHeader().setStretchLastSection(True)

    def show_baits(self, lines: "Sequence[BaitLine]", baits: Sequence[Bait], factor: float) -> None:
        """Show the baits of a comparison; `baits` are those of the project, for their marks."""
        self._baits = baits
        columns = self.grid.columns
        columns[_BY_FACTOR] = replace(columns[_BY_FACTOR], title=f"Beats ×{factor:g}")
        self.grid.headerDataChanged.emit(Qt.Orientation.Horizontal, _BY_FACTOR, _BY_FACTOR)
        self.show_rows(lines)
        self.fit_height()

    def fit_height(self) -> None:
        """Take the height of the rows, and of the bar under them where one is needed."""
        header = self.horizontalHeader()
        n_rows = min(max(len(self.grid.rows), 1), _MOST_ROWS)
        height = header.sizeHint().height() + n_rows * self.verticalHeader().defaultSectionSize()
        if header.length() > self.viewport().width():
            height += self.horizontalScrollBar().sizeHint().height()
        self.setFixedHeight(height + 2 * self.frameWidth() + 2)

    def _icon(self, row: "BaitLine") -> object:
        from trapline.drawing.chart_content import bait_looks

        names = [line.bait for line in self.grid.rows]
        colour, mark = bait_looks(names, self._baits)[row.bait]
        return mark_icon(mark, colour, theme_of(self).name)

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.fit_height()

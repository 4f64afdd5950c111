"""Every two baits of the comparison as a table."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from trapline.drawing.theme import set_role
from trapline.ui.tables.grid import Column, GridView

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.bait_comparison import BaitComparison

_TEST = 4  # the number of its column


class PairsPanel(QWidget):
    """Each pair: the ratio, the chance of more, the test; under it how far the test goes."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.table = GridView(
            [
                Column("Bait", lambda row: row.bait),
                Column("against", lambda row: row.other),
                Column("Ratio (95 %)", lambda row: row.ratio, is_number=True,
                       tip=lambda _: "How many times as much as the other bait; with a chance of"
                       " 95 % it lies within the range"),
                Column("Catches more", lambda row: row.beats, is_number=True,
                       tip=lambda _: "The chance that it catches more than the other bait"),
                Column("Test (p)", lambda row: row.p, is_number=True,
                       tip=lambda _: "How often the two would differ as much by chance alone, 0 to"
                       " 1, if they drew alike"),
            ],
            "Every pair of baits",
        )  # fmt: skip
        self.note = QLabel()
        self.note.setTextFormat(Qt.TextFormat.PlainText)
        self.note.setWordWrap(True)
        set_role(self.note, "note")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 6, 0, 0)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.note)

    def show_pairs(self, comparison: "BaitComparison | None", *, is_tested: bool) -> None:
        """Show other pairs; without tests the note says so."""
        from trapline.analyses.pair_words import pair_lines, pair_note

        lines = pair_lines(comparison)
        self.table.show_rows(lines)
        # A column of nothing but dashes asks what it is; the note says why there is no test.
        self.table.setColumnHidden(_TEST, all(line.p == "–" for line in lines))
        self.note.setText(pair_note(comparison, is_tested=is_tested))
        self.note.setVisible(bool(self.note.text()))

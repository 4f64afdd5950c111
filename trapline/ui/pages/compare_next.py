"""What would settle it, what it costs, and the next round in one step."""

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.chart_canvas import ChartCanvas, MakeFigure
from trapline.drawing.theme import Theme, set_role
from trapline.model.bait import Bait
from trapline.ui.pages.compare_stages import Answer
from trapline.ui.tables.grid import Column, GridView

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.next_trip import NextTrip

_NOT_YET = "Trials of the next rounds have not been simulated yet."
_CHART_ROWS = 4  # of height


class NextTripPanel(QScrollArea):
    """Curves, a table of what is needed, words, and a button that plans the next round.

    Signals
    -------
    asked : name of the menu command that the button stands for
    """

    asked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.plan_button = QPushButton("&Plan the next round")
        self.plan_button.setAutoDefault(False)
        self.plan_button.setToolTip("The next round of the trip, its baits drawn and rotated")
        self.settling = _paragraph()
        self.cost = _paragraph()
        self.chart = ChartCanvas()
        self.table = GridView(
            [
                Column("Better by", lambda row: row.ratio),
                Column("Rotated", lambda row: row.rounds, is_number=True,
                       tip=lambda _: "More rounds with the traps of now, each bait moving on"),
                Column("Kept", lambda row: row.rounds_kept, is_number=True,
                       tip=lambda _: "More rounds with the traps of now, each bait on its places"),
                Column("One round", lambda row: row.traps, is_number=True,
                       tip=lambda _: "Traps of each bait in one more round"),
            ],
            "More rounds, or traps of each bait, until it is named",
        )  # fmt: skip
        self.table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.table_words = _paragraph("note")
        self._arrange()
        self.plan_button.clicked.connect(lambda: self.asked.emit("plan_round"))

    def _arrange(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 6, 6, 0)
        column.setSpacing(6)
        row = QHBoxLayout()
        row.setSpacing(12)
        row.addWidget(self.chart, 3)
        side = QVBoxLayout()
        side.addWidget(self.table)
        side.addWidget(self.table_words)
        side.addWidget(self.plan_button, 0, Qt.AlignmentFlag.AlignLeft)
        side.addWidget(self.cost)
        side.addStretch(1)
        row.addLayout(side, 2)
        column.addLayout(row, 1)
        column.addWidget(self.settling)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("Next trip")
        self.setWidget(inside)

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of the chart."""
        self.chart.set_theme(theme)

    def show_answer(self, answer: Answer, *, can_plan: bool) -> None:
        """Show what would settle it, or that it is not known yet."""
        self.plan_button.setEnabled(can_plan)
        found = answer.comparison.comparison
        trip = found.settle if found is not None else None
        for part in (self.chart, self.table, self.table_words, self.cost):
            part.setVisible(trip is not None)
        if trip is None:
            self.settling.setText(_NOT_YET)
            return
        from trapline.analyses.learn_or_fill import learn_or_fill
        from trapline.analyses.needed_lines import needed_lines
        from trapline.analyses.next_trip_words import bucket_words, settle_words
        from trapline.analyses.settle import SENTENCES

        words = settle_words(trip)
        # The first of them stand in the verdict already where it is open.
        is_open = found.finding.word in ("leads", "no clear difference") if found else False
        self.settling.setText(" ".join(words[SENTENCES:] if is_open else words))
        bucket = learn_or_fill(trip.found, answer.snapshot.all(Bait))
        self.cost.setText("Learn, or fill the bucket? " + " ".join(bucket_words(bucket)))
        self.chart.set_chart(_chart(trip), words[0], _CHART_ROWS)
        lines = needed_lines(trip)
        self.table.show_rows(lines)
        header, row_px = self.table.horizontalHeader(), self.table.verticalHeader()
        bar_px = self.table.horizontalScrollBar().sizeHint().height()
        needed_px = header.sizeHint().height() + len(lines) * row_px.defaultSectionSize()
        self.table.setFixedHeight(needed_px + bar_px + 2 * self.table.frameWidth())
        self.table_words.setText(
            "More rounds with the traps of now until such a bait is named in 8 trials of 10, with "
            "baits rotated, or kept on their places, from the first round on; or traps of each "
            "bait in one more round."
        )


def _paragraph(role: str = "") -> QLabel:
    label = QLabel()
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    if role:
        set_role(label, role)
    return label


def _chart(trip: "NextTrip") -> MakeFigure:
    def make(theme: Theme) -> Any:
        from trapline.drawing.settle_chart import settle_chart

        return settle_chart(trip, theme)

    return make

"""Several trips beside each other: what each of them says of two baits, and all together."""

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from trapline.drawing.chart_canvas import ChartCanvas, MakeFigure
from trapline.drawing.theme import Theme, set_role
from trapline.model.bait import Bait
from trapline.ui.pages.compare_stages import Answer

if TYPE_CHECKING:
    from trapline.drawing.chart_content import TripsForest


class TripsPanel(QWidget):
    """The ratio of two chosen baits trip by trip, and the chance on the next trip."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._answer: Answer | None = None
        self.bait, self.other = QComboBox(), QComboBox()
        self.bait.setAccessibleName("Bait that is compared trip by trip")
        self.other.setAccessibleName("Bait that it is compared with")
        self.chart = ChartCanvas()
        self.words = QLabel()
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.words.setWordWrap(True)
        set_role(self.words, "note")
        bar = QHBoxLayout()
        bar.setSpacing(8)
        for text, box in (("Each tri&p:", self.bait), ("against", self.other)):
            label = QLabel(text)
            label.setBuddy(box)
            box.setMinimumContentsLength(8)
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            bar.addWidget(label)
            bar.addWidget(box, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 6, 0, 0)
        layout.addLayout(bar)
        layout.addWidget(self.chart, 1)
        layout.addWidget(self.words)
        for box in (self.bait, self.other):
            box.activated.connect(lambda _: self._show_pair())

    def show_answer(self, answer: Answer) -> None:
        """Show other trips; the chosen baits stay where both were compared again."""
        self._answer = answer
        found = answer.comparison.comparison
        names = list(found.compared.names) if found and found.compared else []
        pair = (self.bait.currentText(), self.other.currentText())
        if found is not None and names and not set(pair) <= set(names):
            ahead = (found.finding.bait, found.finding.runner_up)
            pair = ahead if all(ahead) else (names[0], names[-1])
        for box, chosen in zip((self.bait, self.other), pair, strict=True):
            box.clear()
            box.addItems(names)
            box.setCurrentIndex(max(0, box.findText(chosen)))
        self._show_pair()

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of the chart."""
        self.chart.set_theme(theme)

    def _show_pair(self) -> None:
        from trapline.analyses.comparison_words import chance_text
        from trapline.drawing.chart_content import trips_forest

        answer, bait, other = self._answer, self.bait.currentText(), self.other.currentText()
        if answer is None:
            return
        baits = answer.snapshot.all(Bait)
        forest = trips_forest(answer.comparison, bait, other, baits) if bait != other else None
        found = answer.comparison.comparison
        if forest is None or found is None or found.compared is None:
            self.chart.set_chart(None, "")
            self.words.setText("Choose two different baits." if bait == other else "")
            return
        words = f"Catch of {bait} as a multiple of that of {other}, trip by trip and together"
        self.chart.set_chart(_chart(forest), words, len(forest.trips) + 1)
        if not found.compared.table.has_trips:
            self.words.setText("")
            return
        chance = chance_text(found.compared.next_trip(bait, other))
        self.words.setText(
            f"Each trip by itself, and the answer over all of them, which lets baits change from "
            f"trip to trip. On the next trip like these {bait} beats {other} with a chance of "
            f"{chance}."
        )


def _chart(forest: "TripsForest") -> MakeFigure:
    def make(theme: Theme) -> Any:
        from trapline.drawing.trips_chart import trips_chart

        return trips_chart(forest, theme)

    return make

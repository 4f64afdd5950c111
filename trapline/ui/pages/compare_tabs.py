"""Under the verdict: every trap, ratios, pairs, trips, the next trip, cautions and places."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize, Signal
from PySide6.QtWidgets import QPlainTextEdit, QTabWidget, QWidget

from trapline.drawing.chart_canvas import ChartCanvas, MakeFigure
from trapline.drawing.theme import Theme
from trapline.model.bait import Bait
from trapline.ui.pages.compare_next import NextTripPanel
from trapline.ui.pages.compare_pairs import PairsPanel
from trapline.ui.pages.compare_places import PlacesPanel
from trapline.ui.pages.compare_stages import Answer
from trapline.ui.pages.compare_trips import TripsPanel

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.trip_comparison import TripComparison
    from trapline.drawing.chart_content import BaitColumn, RatioRow


class CompareTabs(QTabWidget):
    """The parts of a comparison, one behind the other; those that have nothing are not there.

    Signals
    -------
    asked : name of a menu command that a button stands for
    """

    asked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.chart = ChartCanvas()
        self.forest = ChartCanvas()
        self.pairs = PairsPanel()
        self.trips = TripsPanel()
        self.next_trip = NextTripPanel()
        self.left_out = QPlainTextEdit()
        self.left_out.setReadOnly(True)
        self.left_out.setAccessibleName("Left out, and what to take care of")
        self.places = PlacesPanel()
        for part, text in (
            (self.chart, "Every trap"),
            (self.forest, "Ratios"),
            (self.pairs, "Every pair"),
            (self.trips, "Trips"),
            (self.next_trip, "Next trip"),
            (self.left_out, "Cautions"),
            (self.places, "Places"),
        ):
            self.addTab(part, text)
        self.setDocumentMode(True)
        self.tabBar().setAccessibleName("Parts of the comparison")
        self.next_trip.asked.connect(self.asked)

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of charts and map."""
        for part in (self.chart, self.forest, self.trips, self.next_trip, self.places):
            part.set_theme(theme)

    def show_answer(self, answer: Answer, *, can_plan: bool) -> None:
        """Show what is known so far; what a first look has drawn stays as it is."""
        found = answer.comparison
        if answer.stage == "first look":
            # Nothing of these hangs on what comes later, and no map is moved under the hand.
            self._show_charts(answer)
            self.places.show_places(answer.snapshot, answer.places)
        self.chart.setAccessibleDescription(found.verdict)
        self._show_left_out(found)
        self.pairs.show_pairs(found.comparison, is_tested=answer.stage != "first look")
        has_pairs = found.comparison is not None and bool(found.comparison.pairs)
        self._show_part(self.pairs, has_pairs)
        self._show_part(self.trips, bool(found.by_trip))
        if found.by_trip:
            self.trips.show_answer(answer)
        self._show_part(self.next_trip, answer.is_compared)
        self.next_trip.show_answer(answer, can_plan=can_plan)

    def _show_part(self, part: QWidget, is_there: bool) -> None:
        self.setTabVisible(self.indexOf(part), is_there)

    def _show_charts(self, answer: Answer) -> None:
        from trapline.drawing.chart_content import bait_columns, ratio_rows

        found, baits = answer.comparison, answer.snapshot.all(Bait)
        comparison = found.comparison
        if comparison is None:
            self.chart.set_chart(None, found.problem)
            self.forest.set_chart(None, found.problem)
            return
        columns = bait_columns(comparison, found.rows, found.options, baits)
        self.chart.set_chart(_traps_chart(columns, answer.noun), comparison.verdict, len(columns))
        ratios = ratio_rows(comparison, baits)
        self._show_part(self.forest, bool(ratios))
        if comparison.ratios:
            reference = comparison.ratios[0].reference
            words = f"Catch of each bait as a multiple of that of {reference}"
            self.forest.set_chart(_forest_chart(ratios, reference), words, len(ratios))

    def _show_left_out(self, found: "TripComparison") -> None:
        from trapline.analyses.comparison_words import left_out_texts

        halved = [f"Half the soak counts: {', '.join(found.halved)}."] if found.halved else []
        weighed = [
            f"{one.bait}: {one.weight_kg:g} kg in {one.n_sets} trap sets, {one.kg_per_24h:.2g} kg"
            " per trap and 24 h."
            for one in found.weighed
        ]
        parts = []
        for caption, texts in (
            ("Left out", [*left_out_texts(found.left_out), *halved]),
            ("Weighed", weighed),
            ("Take care", found.warnings),
        ):
            if texts:
                parts.append("\n".join([caption, *(f"•  {text}" for text in texts)]))
        self.left_out.setPlainText("\n\n".join(parts) or "Every trap counts.")
        n, cautions = len(found.left_out), len(found.warnings)
        text = f"Cautions ({cautions})" if cautions else "Cautions"
        if n:
            text = f"Left out ({n}), {text.lower()}"
        self.setTabText(self.indexOf(self.left_out), text)

    # Qt overrides

    def sizeHint(self) -> QSize:
        # What it takes at least: it is given all the room there is, and the page does not scroll
        # for a chart that could be lower.
        return QSize(super().sizeHint().width(), self.minimumSizeHint().height())

    def hasHeightForWidth(self) -> bool:
        return False


def _traps_chart(columns: "Sequence[BaitColumn]", noun: str) -> MakeFigure:
    def make(theme: Theme) -> Any:
        from trapline.drawing.bait_chart import bait_chart

        return bait_chart(columns, theme, noun=noun)

    return make


def _forest_chart(ratios: "Sequence[RatioRow]", reference: str) -> MakeFigure:
    def make(theme: Theme) -> Any:
        from trapline.drawing.bait_chart import forest_chart

        return forest_chart(ratios, reference, theme)

    return make

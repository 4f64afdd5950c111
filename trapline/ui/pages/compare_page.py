"""Compare: what may be concluded about the baits, what not, and what would settle it."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedLayout,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.chart_canvas import ChartCanvas, MakeFigure
from trapline.drawing.icons import mark_icon
from trapline.drawing.theme import Theme, set_role
from trapline.errors import TraplineError
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Trip
from trapline.ui.background import Background
from trapline.ui.pages.compare_choice import CompareChoicePanel, Ticked
from trapline.ui.pages.compare_places import PlacesPanel
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.page import Page
from trapline.ui.pages.short_words import ShortLabel
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.comparison_words import BaitLine
    from trapline.analyses.place_catch import PlaceCatches
    from trapline.analyses.trip_comparison import TripComparison
    from trapline.drawing.chart_content import BaitColumn, RatioRow


# A table of more baits than these scrolls.
_MOST_ROWS = 6


@dataclass(frozen=True)
class _Answer:
    """What was worked out beside the window."""

    snapshot: Snapshot
    comparison: "TripComparison"
    places: "PlaceCatches"
    noun: str


class ComparePage(Page):
    """The verdict in plain words, the baits as a table and as charts, and the places."""

    title = "Compare"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.answer: _Answer | None = None
        self.background = Background(self)
        self.panel = CompareChoicePanel()
        # Its end says whether anything is settled.
        self.headline = ShortLabel(cut=Qt.TextElideMode.ElideMiddle)
        set_role(self.headline, "title")
        self.verdict = QLabel()
        self.verdict.setTextFormat(Qt.TextFormat.PlainText)
        self.verdict.setWordWrap(True)
        self.verdict.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.test = QLabel()
        self.test.setTextFormat(Qt.TextFormat.PlainText)
        self.test.setWordWrap(True)
        set_role(self.test, "note")
        self.table = self._make_table()
        self.chart = ChartCanvas()
        self.forest = ChartCanvas()
        self.places = PlacesPanel()
        self.left_out = QPlainTextEdit()
        self.left_out.setReadOnly(True)
        self.left_out.setAccessibleName("Left out, and what to take care of")
        self.tabs = QTabWidget()
        self.next_button = QPushButton("Trip summary")
        self.empty = EmptyPage()
        self._arrange()
        self.panel.changed.connect(self._work_out)
        self.next_button.clicked.connect(lambda: self.asked.emit("page_5"))
        self.empty.asked.connect(self.asked)

    # Page

    def refresh(self) -> None:
        """Show the baits of the trip anew."""
        session, trip = self.session, self.session.trip
        sets = session.snapshot.sets_of_trip(trip.id) if trip else ()
        if trip is None or all(row.state == "planned" for _, row in sets):
            self.empty.show_step(*_next_step(session))
            self.over.setCurrentIndex(1)
            return
        self.over.setCurrentIndex(0)
        self.panel.show_project(session.snapshot, trip)
        self._work_out()

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of charts and map."""
        super().set_theme(theme)
        for part in (self.chart, self.forest, self.places):
            part.set_theme(theme)

    # Making

    def _make_table(self) -> GridView:
        columns = [
            Column("Bait", lambda row: row.bait, decoration=self._icon),
            Column("Sets", lambda row: row.n_sets, is_number=True),
            Column("Counted", lambda row: row.n_counted, is_number=True),
            Column("Catch", lambda row: row.catch, is_number=True),
            Column("Soak (h)", lambda row: row.soak_h, is_number=True),
            Column("Per 24 h (95 %)", lambda row: row.rate, is_number=True,
                   tip=lambda _: "Catch per trap and 24 h of soak, with its 95 % interval"),
            Column("Ratio (95 %)", lambda row: row.ratio, is_number=True,
                   tip=lambda _: "How many times as much as the reference bait"),
            Column("Best", lambda row: row.chance_best, is_number=True,
                   tip=lambda _: "The chance that this bait is the best"),
            Column("Disturbed", lambda row: row.disturbed, is_number=True),
        ]  # fmt: skip
        table = GridView(columns, "Baits")
        table.horizontalHeader().setStretchLastSection(True)
        return table

    def _icon(self, row: "BaitLine") -> object:
        from trapline.drawing.chart_content import bait_looks

        baits = self.session.snapshot.all(Bait)
        names = [line.bait for line in self.table.grid.rows]
        colour, mark = bait_looks(names, baits)[row.bait]
        return mark_icon(mark, colour, self.theme.name)

    def _arrange(self) -> None:
        card = QFrame()
        set_role(card, "card")
        words = QVBoxLayout(card)
        words.setContentsMargins(14, 8, 14, 8)
        words.setSpacing(3)
        top = QHBoxLayout()
        top.addWidget(self.headline, 1)
        set_role(self.next_button, "primary")
        self.next_button.setDefault(True)
        top.addWidget(self.next_button)
        words.addLayout(top)
        words.addWidget(self.verdict)
        words.addWidget(self.test)
        self.tabs.addTab(self.chart, "Every trap")
        self.tabs.addTab(self.forest, "Ratios")
        self.tabs.addTab(self.left_out, "Left out")
        self.tabs.addTab(self.places, "Places")
        self.tabs.setDocumentMode(True)
        right = QWidget()
        whole = QVBoxLayout(right)
        whole.setContentsMargins(4, 8, 12, 8)
        whole.addWidget(card)
        whole.addWidget(self.table)
        whole.addWidget(self.tabs, 1)
        body = QSplitter(Qt.Orientation.Horizontal)
        body.addWidget(_Scrolled(self.panel, "What is compared"))
        body.addWidget(_Scrolled(right, "Comparison"))
        body.setChildrenCollapsible(False)
        body.setStretchFactor(1, 1)
        body.setSizes([270, 860])
        self.over = QStackedLayout(self)
        self.over.addWidget(body)
        self.over.addWidget(self.empty)

    # Doing

    def _work_out(self) -> None:
        """Compare what is chosen, beside the window."""
        snapshot, trip_id = self.session.snapshot, self.session.trip_id
        ticked = self.panel.ticked()
        self.background.run(lambda: _work(snapshot, trip_id, ticked), self._on_worked_out)

    def _on_worked_out(self, done: "Future[_Answer]") -> None:
        try:
            self.answer = done.result()
        except TraplineError as problem:
            self.session.failed.emit(problem)
            return
        from trapline.analyses.comparison_words import (
            bait_lines,
            finding_title,
            permutation_words,
        )

        found = self.answer.comparison
        comparison = found.comparison
        self.headline.setText(finding_title(comparison.finding if comparison else None))
        self.verdict.setText(found.verdict)
        self.test.setText(permutation_words(comparison.permutation) if comparison else "")
        self.test.setVisible(bool(self.test.text()))
        self.table.show_rows(bait_lines(found))
        self._fit_table()
        self.panel.show_switches(found.switches)
        self._show_charts(self.answer)
        self._show_left_out(found)
        self.places.show_places(self.answer.snapshot, self.answer.places)

    def _fit_table(self) -> None:
        """Give the table the height of its rows, and of the bar under them where one is needed."""
        table, header = self.table, self.table.horizontalHeader()
        n_rows = min(max(len(table.grid.rows), 1), _MOST_ROWS)
        height = header.sizeHint().height() + n_rows * table.verticalHeader().defaultSectionSize()
        if header.length() > table.viewport().width():
            height += table.horizontalScrollBar().sizeHint().height()
        table.setFixedHeight(height + 2 * table.frameWidth() + 2)

    def _show_charts(self, answer: _Answer) -> None:
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
        self.tabs.setTabEnabled(1, bool(ratios))
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
        n = len(found.left_out)
        self.tabs.setTabText(2, f"Left out and cautions ({n})" if n else "Cautions")

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit_table()


class _Scrolled(QScrollArea):
    """A part of the page that scrolls where the window is too low for it, never sideways."""

    def __init__(self, inside: QWidget, name: str) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName(name)
        self.setWidget(inside)

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        # The words inside are not cut off, however large the letters are.
        bar_px = self.verticalScrollBar().sizeHint().width()
        inside = self.widget()
        inside_px = inside.minimumSizeHint().width() if inside is not None else 0
        return QSize(inside_px + bar_px, super().minimumSizeHint().height())


def _work(snapshot: Snapshot, trip_id: str | None, ticked: Ticked) -> _Answer:
    """Work out what the page shows; runs beside the window."""
    from trapline.analyses.place_catch import catch_per_place
    from trapline.analyses.trip_comparison import CompareChoice, compare_trips
    from trapline.analyses.trip_lifts import target_of

    trip = snapshot.get(Trip, trip_id)
    target = target_of(snapshot, trip) if trip else None
    choice = CompareChoice(
        round_ids=ticked.round_ids,
        species_id=target.id if target else None,
        reference_bait_id=ticked.reference_bait_id,
        **ticked.switches,
    )
    return _Answer(
        snapshot,
        compare_trips(snapshot, choice),
        catch_per_place(snapshot, choice.round_ids, choice.species_id),
        target.name if target else "animals",
    )


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


def _next_step(session: Session) -> tuple[str, str, str]:
    """Return why there is nothing to compare, the words of the next step, and its command."""
    trip = session.trip
    if trip is None:
        return "There is no trip yet.", "New trip…", "new_trip"
    others = [one for one in session.snapshot.trips() if one.id != trip.id]
    sets = (row for one in others for _, row in session.snapshot.sets_of_trip(one.id))
    nothing = f"No trap of “{trip.name}” was set yet, so there is nothing to compare."
    if any(row.state == "lifted" for row in sets):
        nothing += " Choose an earlier trip at the left to compare its baits."
    if not session.snapshot.sets(session.round_id or ""):
        return nothing, "Lay out the line", "page_1"
    return nothing, "Set the traps", "page_2"

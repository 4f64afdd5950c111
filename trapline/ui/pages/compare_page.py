"""Compare: what may be concluded about the baits, what not, and what would settle it."""

from collections.abc import Callable
from concurrent.futures import Future
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QFrame,
    QScrollArea,
    QSplitter,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import Theme
from trapline.errors import TraplineError
from trapline.model.bait import Bait
from trapline.ui.background import Background, Tell
from trapline.ui.pages.compare_choice import CompareChoicePanel, Ticked
from trapline.ui.pages.compare_stages import (
    Answer,
    Stage,
    first_answer,
    settled_answer,
    tested_answer,
)
from trapline.ui.pages.compare_tabs import CompareTabs
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.page import Page
from trapline.ui.pages.verdict_card import VerdictCard
from trapline.ui.session import Session
from trapline.ui.tables.bait_table import BaitTable

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.trip_comparison import TripComparison

_COMPARING: Final = "Comparing…"
# By how far the answer has come: what is worked out next, and what is said when it is not.
_NEXT: Final[dict[Stage, tuple[str, str]]] = {
    "first look": (
        "Making the tests, the checks and the switches…",
        "Tests, checks and switches were not made.",
    ),
    "tested": (
        "Simulating what would settle it…",
        "What would settle it was not simulated.",
    ),
}


class ComparePage(Page):
    """The verdict in plain words, the baits as a table and as charts, and the places."""

    title = "Compare"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.answer: Answer | None = None
        self._asked: tuple[str | None, Ticked] | None = None
        self.background = Background(self)
        self.panel = CompareChoicePanel()
        self.card = VerdictCard()
        self.table = BaitTable()
        self.tabs = CompareTabs()
        self.empty = EmptyPage()
        self._arrange()
        self.panel.changed.connect(self._work_out)
        self.card.cancelled.connect(self._on_cancelled)
        self.card.go_on_asked.connect(lambda: self._go_on(is_asked=True))
        self.card.next_button.clicked.connect(lambda: self.asked.emit("page_5"))
        self.tabs.asked.connect(self.asked)
        self.empty.asked.connect(self.asked)
        session.closing.connect(self.background.cancel)

    # Page

    def refresh(self) -> None:
        """Show the baits of the trip anew."""
        session, trip = self.session, self.session.trip
        sets = session.snapshot.sets_of_trip(trip.id) if trip else ()
        if trip is None or all(row.state == "planned" for _, row in sets):
            self.background.cancel()
            self.empty.show_step(*_next_step(session))
            self.over.setCurrentIndex(1)
            return
        self.over.setCurrentIndex(0)
        self.panel.show_project(session.snapshot, trip)
        self._work_out()

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of charts and map."""
        super().set_theme(theme)
        self.tabs.set_theme(theme)

    # Making

    def _arrange(self) -> None:
        right = QWidget()
        whole = QVBoxLayout(right)
        whole.setContentsMargins(4, 8, 12, 8)
        whole.addWidget(self.card)
        whole.addWidget(self.table)
        whole.addWidget(self.tabs, 1)
        body = QSplitter(Qt.Orientation.Horizontal)
        body.addWidget(_Scrolled(self.panel, "What is compared"))
        body.addWidget(_Scrolled(right, "Comparison"))
        body.setChildrenCollapsible(False)
        body.setStretchFactor(1, 1)
        body.setSizes([250, 880])
        self.over = QStackedLayout(self)
        self.over.addWidget(body)
        self.over.addWidget(self.empty)

    # Doing

    def _work_out(self) -> None:
        """Compare what is chosen, beside the window: first what is soon known."""
        snapshot, trip_id = self.session.snapshot, self.session.trip_id
        ticked = self.panel.ticked()
        asked = (trip_id, ticked)
        if self.answer and self.answer.snapshot is snapshot and self._asked == asked:
            self._show_answer(self.answer)  # in other colours perhaps; what runs goes on
            return
        self._asked = asked
        self.answer = None
        self.panel.show_unknown("…")
        self.card.show_running(_COMPARING)
        self.background.run(lambda: first_answer(snapshot, trip_id, ticked), self._on_answered)

    def _on_answered(self, done: "Future[Answer]") -> None:
        try:
            self.answer = done.result()
        except TraplineError as problem:
            self._show_stopped()
            self.session.failed.emit(problem)
            return
        except Exception:
            self._show_stopped()  # the box that tells of a bug can be closed: go on again
            raise
        self._show_answer(self.answer)
        self._go_on()

    def _go_on(self, *, is_asked: bool = False) -> None:
        """Work out what is still due, which takes longer."""
        answer = self.answer
        if answer is None:
            self._work_out()  # it failed before
            return
        if answer.comparison.comparison is None or answer.stage == "settled":
            self.card.show_done()
            return
        words, _ = _NEXT[answer.stage]
        work: Callable[[Answer, Tell], Answer] = tested_answer
        if answer.stage == "tested":
            if not answer.is_compared:
                self.card.show_done()
                return
            if not (self.background.is_beside or is_asked):
                self._show_stopped()  # it would keep the window waiting
                return
            work = settled_answer

        def told(share: float) -> None:
            self.card.show_running(words, share)

        def begin(tell: Tell) -> Answer:
            return work(answer, tell)

        self.card.show_running(words)
        self.background.run_long(begin, self._on_answered, told)

    def _on_cancelled(self) -> None:
        self.background.cancel()
        self._show_stopped()

    def _show_stopped(self) -> None:
        """Say what was not worked out; what is shown stays."""
        answer = self.answer
        if answer is None:
            self.panel.show_unknown("not worked out")
            self.card.show_stopped("Nothing was compared anew.")
            return
        if answer.stage == "first look":
            self.panel.show_unknown("not worked out")
        self.card.show_stopped(_NEXT[answer.stage][1])

    # Showing

    def _show_answer(self, answer: Answer) -> None:
        from trapline.analyses.comparison_words import bait_lines, finding_title, words_in_two

        found = answer.comparison
        comparison = found.comparison
        short, rest = words_in_two(found)
        self.card.show_verdict(
            finding_title(comparison.finding if comparison else None),
            short,
            _why(found, rest),
        )
        self.table.show_baits(bait_lines(found), answer.snapshot.all(Bait), found.choice.factor)
        self.tabs.show_answer(answer, can_plan=not self.session.is_read_only)
        if answer.stage == "first look":
            return
        self.panel.show_switches(found.switches)
        self.session.compared = (answer.snapshot, found)


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


def _why(found: "TripComparison", rest: str) -> str:
    """Return what the verdict rests on, a line or more for each thing; empty without a verdict."""
    from trapline.analyses.comparison_words import PRIORS, dealt_words
    from trapline.analyses.pair_words import differ_lines

    comparison = found.comparison
    if comparison is None or comparison.compared is None:
        return ""
    lines = [rest, dealt_words(comparison.permutation), *differ_lines(comparison)]
    return "\n".join(line for line in (*lines, PRIORS) if line)


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

"""Summary: the pages of the trip as they will print, and what is still left open."""

from concurrent.futures import Future
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.analyses.open_ends import OpenEnd, open_ends
from trapline.drawing.theme import set_role
from trapline.errors import TraplineError
from trapline.model.snapshot import Snapshot
from trapline.reports.page import Report
from trapline.ui.background import Background
from trapline.ui.dialogs.print_dialog import PaperBox, print_chosen, save_report, zoom_button
from trapline.ui.page_pictures import PagePictures
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.page import Page
from trapline.ui.session import Session, known_comparison

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when there is something to print.
    from trapline.analyses.trip_comparison import TripComparison
    from trapline.analyses.trip_summary import TripSummary

# Gear that is not accounted for is never left out of the list, and is red.
_GEAR = ("in water", "lost")
_MOST_OPEN = 3


class SummaryPage(Page):
    """What will be printed, exactly; Print and Save as PDF."""

    title = "Summary"

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.report: Report | None = None
        self._shown: tuple[Snapshot, TripSummary] | None = None
        self._open: tuple[Snapshot, str, tuple[OpenEnd, ...]] | None = None
        self.background = Background(self)
        self.pages = PagePictures()
        self.paper = PaperBox()
        self.n_pages = QLabel()
        set_role(self.n_pages, "note")
        self.print_button = QPushButton("Print…")
        self.print_button.setAutoDefault(False)
        self.save_button = QPushButton("Save as PDF…")
        set_role(self.save_button, "primary")
        self.save_button.setDefault(True)
        self.gear, self.open_ends = QLabel(), QLabel()
        for label in (self.gear, self.open_ends):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
        set_role(self.gear, "bad")
        self.notice = QFrame()
        set_role(self.notice, "notice")
        self.empty = EmptyPage()
        self._arrange()
        self.paper.currentTextChanged.connect(self._lay_out)
        self.save_button.clicked.connect(self._on_save_clicked)
        self.print_button.clicked.connect(self._on_print_clicked)
        self.empty.asked.connect(self.asked)

    # Page

    def refresh(self) -> None:
        """Work out the trip anew and lay its pages out."""
        trip = self.session.trip
        if trip is None or not self.session.snapshot.rounds(trip.id):
            self.report = None
            self._shown = None
            self.empty.show_step("No trip yet, so there is nothing to print.", "New trip…",
                                 "new_trip")  # fmt: skip
            self.over.setCurrentIndex(1)
            return
        self.over.setCurrentIndex(0)
        self._show_open_ends()
        snapshot, trip_id = self.session.snapshot, trip.id
        known = known_comparison(self.session)
        self.background.run(lambda: _work(snapshot, trip_id, known), self._on_worked_out)

    def attention(self) -> int:
        """The things of the trip that are left open, gaps apart: they stand on Lay out."""
        return len(self._open_of_trip())

    # Making

    def _arrange(self) -> None:
        label = QLabel("P&aper")
        label.setBuddy(self.paper)
        bar = QHBoxLayout()
        bar.setContentsMargins(12, 8, 12, 6)
        bar.setSpacing(8)
        bar.addWidget(label)
        bar.addWidget(self.paper)
        bar.addSpacing(10)
        bar.addWidget(self.n_pages)
        bar.addStretch(1)
        bar.addWidget(zoom_button(self.pages, "−", -1))
        bar.addWidget(zoom_button(self.pages, "+", 1))
        bar.addSpacing(10)
        bar.addWidget(self.print_button)
        bar.addWidget(self.save_button)
        inside = QVBoxLayout(self.notice)
        inside.setContentsMargins(12, 6, 12, 6)
        inside.setSpacing(2)
        inside.addWidget(self.gear)
        inside.addWidget(self.open_ends)
        framed = QHBoxLayout()
        framed.setContentsMargins(12, 0, 12, 6)
        framed.addWidget(self.notice)
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(bar)
        column.addLayout(framed)
        column.addWidget(self.pages, 1)
        self.over = QStackedLayout(self)
        self.over.addWidget(body)
        self.over.addWidget(self.empty)

    # Doing

    def _open_of_trip(self) -> tuple[OpenEnd, ...]:
        session = self.session
        if session.trip_id is None or session.trip is None:
            return ()
        kept = self._open
        if kept is None or kept[0] is not session.snapshot or kept[1] != session.trip_id:
            found = tuple(
                one
                for one in open_ends(session.snapshot, [session.trip_id])
                if one.kind not in ("gap", "scent")
            )
            self._open = kept = (session.snapshot, session.trip_id, found)
        return kept[2]

    def _show_open_ends(self) -> None:
        found = self._open_of_trip()
        gear = [one.text for one in found if one.kind in _GEAR]
        others = [one.text for one in found if one.kind not in _GEAR]
        if len(others) > _MOST_OPEN:
            others[_MOST_OPEN:] = [f"And {len(others) - _MOST_OPEN} more."]
        for label, texts in ((self.gear, gear), (self.open_ends, others)):
            label.setText("\n".join(texts))
            label.setVisible(bool(texts))
        self.notice.setVisible(bool(found))

    def _on_worked_out(self, done: "Future[tuple[Snapshot, TripSummary]]") -> None:
        try:
            self._shown = done.result()
        except TraplineError as problem:
            self._shown = None
            self.session.failed.emit(problem)
        self._lay_out()

    def _lay_out(self) -> None:
        """Lay the pages out on the chosen paper."""
        if self._shown is None:
            self.report = None
        else:
            from trapline.reports.trip_summary import trip_summary_report

            self.report = trip_summary_report(*self._shown, self.paper.currentText())
        self.pages.set_report(self.report)
        n = self.report.n_pages if self.report else 0
        self.n_pages.setText("" if not n else f"{n} pages" if n > 1 else "1 page")
        for button in (self.print_button, self.save_button):
            button.setEnabled(self.report is not None)

    def _on_save_clicked(self) -> None:
        if self.report is None:
            return
        try:
            path = save_report(self, self.report)
        except TraplineError as problem:
            self.session.failed.emit(problem)
            return
        if path is not None:
            self.session.informed.emit(f"Saved: {path}")

    def _on_print_clicked(self) -> None:
        if self.report is None:
            return
        try:
            print_chosen(self, self.report)
        except TraplineError as problem:
            self.session.failed.emit(problem)


def _work(
    snapshot: Snapshot, trip_id: str, known: "TripComparison | None"
) -> "tuple[Snapshot, TripSummary]":
    """Work out what the pages say; runs beside the window."""
    from trapline.analyses.trip_summary import trip_summary

    return snapshot, trip_summary(snapshot, trip_id, known=known)

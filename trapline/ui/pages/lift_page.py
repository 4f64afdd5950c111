"""The Lift page: one trap at a time along the line, counted and closed by keys."""

from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.counting import counts_of, target_of
from trapline.actions.editing import edit
from trapline.actions.setting_again import waiting
from trapline.analyses.gear_ledger import gear_ledger
from trapline.analyses.lift_order import Stop, lift_order, next_in_water
from trapline.drawing.theme import Theme, set_role
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.pages.condition_panel import ConditionPanel, Draft
from trapline.ui.pages.counter import Counter
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.lift_bar import LiftBar
from trapline.ui.pages.lift_deeds import LiftDeeds
from trapline.ui.pages.lift_draft import draft_of
from trapline.ui.pages.lift_keys import press
from trapline.ui.pages.lift_words import (
    elsewhere_words,
    next_step,
    progress_words,
    species_in_order,
    zone_of,
)
from trapline.ui.pages.page import Page
from trapline.ui.pages.species_buttons import large_button
from trapline.ui.pages.trap_card import TrapCard
from trapline.ui.session import Session
from trapline.ui.tables.lift_list import LiftList

_TOUCHED: Final = frozenset({
    "trap_set", "catch", "round", "trip", "trap", "bait", "place", "species",
})  # fmt: skip


class LiftPage(Page):
    """Lift: the line at the left, the trap in the middle, how it came up at the right."""

    title = "Lift"
    touched_by = _TOUCHED

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.stops: tuple[Stop, ...] = ()
        self.current_id: str | None = None
        self.usual_by = ""
        self._round_shown: str | None = None
        self._drafts: dict[str, Draft] = {}
        self._drawn: tuple[Snapshot, str | None] | None = None
        self.deeds = LiftDeeds(self)
        self.heading, self.progress, self.standing = QLabel(), QLabel(), QLabel()
        for label, role in (
            (self.heading, "title"), (self.progress, "note"), (self.standing, "bad"),
        ):  # fmt: skip
            label.setTextFormat(Qt.TextFormat.PlainText)
            set_role(label, role)
        self.standing.setWordWrap(True)
        self.standing.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.direction = large_button("", is_name=True)
        self.direction.clicked.connect(self.turn_round)
        self.list = LiftList(session)
        self.map = MapCanvas()
        self.map.set_locator(True)
        self.card = TrapCard()
        self.counter = Counter()
        self.panel = ConditionPanel()
        self.bar = LiftBar()
        self.empty = EmptyPage()
        self._arrange()
        self.list.stop_chosen.connect(self.choose)
        self.counter.tapped.connect(self.deeds.counting.tap)
        self.counter.before_change.connect(self.commit_typed)
        self.counter.add_asked.connect(lambda: self.asked.emit("edit_species"))
        self.panel.edited.connect(self.deeds.correct)
        self.panel.left.connect(self.setFocus)
        self.bar.asked.connect(self.deeds.do)
        self.empty.asked.connect(self.asked)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Lift: count the trap with the keys")

    def _arrange(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(12)
        top.addWidget(self.heading)
        top.addWidget(self.progress)
        top.addWidget(self.standing, 1)
        self.map.setFixedHeight(170)
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addWidget(self.direction)
        left.addWidget(self.list, 1)
        left.addWidget(self.map)
        middle = QVBoxLayout()
        middle.setSpacing(8)
        middle.addWidget(self.card)
        middle.addWidget(self.counter, 1)
        columns = QGridLayout()
        columns.setHorizontalSpacing(10)
        columns.addLayout(left, 0, 0)
        columns.addLayout(middle, 0, 1)
        columns.addWidget(self.panel, 0, 2)
        for column, share in ((0, 5), (1, 11), (2, 6)):
            columns.setColumnStretch(column, share)
        work = QWidget()
        inside = QVBoxLayout(work)
        inside.setContentsMargins(12, 8, 12, 10)
        inside.setSpacing(8)
        inside.addLayout(top)
        inside.addLayout(columns, 1)
        inside.addWidget(self.bar)
        self.work = work
        self.stack = QStackedLayout(self)
        self.stack.addWidget(work)
        self.stack.addWidget(self.empty)

    # Page

    def refresh(self) -> None:
        session = self.session
        self.stops = lift_order(session.snapshot, session.round_id)
        fished = session.round
        if fished is not None and self._round_shown != fished.id:
            self._round_shown, self.current_id = fished.id, None
            self.usual_by = fished.crew
        if all(stop.trap_set.state == "planned" for stop in self.stops):
            self.empty.show_step(*next_step(session, self.stops))
            self._show(self.empty)
            return
        self._show(self.work)
        if self.current_id not in {stop.id for stop in self.stops}:
            first = next_in_water(self.stops, None) or self.stops[0]
            self.current_id = first.id
            self.counter.set_species(species_in_order(self.session.snapshot, self.row))
            self.counter.start_afresh()
            self._show_draft()
        self._show_current()
        number = fished.number if fished else ""
        self.heading.setText(f"Lift round {number}")
        self.progress.setText(progress_words(self.stops))
        self.standing.setText(elsewhere_words(session.snapshot, self.stops))
        self.direction.setText(f"{self.stops[0].place} → {self.stops[-1].place}   reverse")
        self._draw_map()

    def attention(self) -> int:
        return len(gear_ledger(self.session.snapshot).of_trip(self.session.trip_id).in_water)

    def leaving(self) -> None:
        self.commit_typed()
        self._keep_draft()

    def set_theme(self, theme: Theme) -> None:
        super().set_theme(theme)
        for part in (self.card, self.map):
            part.set_theme(theme)
        self.list.theme_name = theme.name
        letters = self.list.fontMetrics().horizontalAdvance("P12  12  not counted")
        self.list.setMinimumWidth(letters + 104)

    # The current trap

    @property
    def row(self) -> TrapSet | None:
        """The trap set that is shown, as it is now."""
        return self.session.snapshot.get(TrapSet, self.current_id)

    def choose(self, set_id: str) -> None:
        """Turn to a trap; what was typed about the one before is kept."""
        self.commit_typed()
        self._keep_draft()
        self.current_id = set_id
        self.counter.start_afresh()
        self._show_draft()
        self.refresh()

    def step(self, by: int) -> None:
        """Turn to the next trap along the line (1) or the one before (−1)."""
        at = next((n for n, stop in enumerate(self.stops) if stop.id == self.current_id), 0)
        if self.stops:
            self.choose(self.stops[max(0, min(len(self.stops) - 1, at + by))].id)

    def commit_typed(self) -> None:
        """Write down the count that is being typed."""
        row, key = self.row, self.counter.key
        count = self.counter.take_typed()
        if row is not None and count is not None:
            self.deeds.counting.write_typed(row, key, count)

    def forget_draft(self, set_id: str) -> None:
        """Forget what was typed about a trap: it is stored now."""
        self._drafts.pop(set_id, None)
        if set_id == self.current_id:
            self._show_draft()

    def turn_round(self) -> None:
        """Begin at the other end of the line."""
        fished = self.session.round
        if fished is not None:
            ends = {"first place": "last place", "last place": "first place"}
            lift_from = ends[fished.lift_from]
            label = f"Lift from the {lift_from}"
            if self.session.do(edit, Round, fished.id, label, lift_from=lift_from) is not None:
                following = next_in_water(self.stops, None)
                if following is not None:
                    self.choose(following.id)
                self.setFocus()  # the keys are the page's again, arrows too

    # Inside

    def _show(self, part: QWidget) -> None:
        """Turn to the work or to the next step; where the page has the keys, they go along."""
        focus = QApplication.focusWidget()
        had_focus = focus is not None and (focus is self or self.isAncestorOf(focus))
        if self.stack.currentWidget() is not part:
            self.stack.setCurrentWidget(part)
            if had_focus:
                self._take_focus()

    def _take_focus(self) -> None:
        is_work = self.stack.currentWidget() is self.work
        (self if is_work else self.empty.button).setFocus()

    def _keep_draft(self) -> None:
        row = self.row
        if row is not None and row.state == "set":
            self._drafts[row.id] = self.panel.draft()

    def _show_draft(self) -> None:
        row = self.row
        if row is not None:
            usual = draft_of(row, zone_of(self.session), self.usual_by)
            self.panel.show_draft(self._drafts.get(row.id, usual))

    def _show_current(self) -> None:
        stop = next((one for one in self.stops if one.id == self.current_id), None)
        if stop is None:
            return
        row, snapshot = stop.trap_set, self.session.snapshot
        target = target_of(snapshot, row)
        self.list.show_stops(self.stops, stop.id, target.id if target else None)
        self.card.show_stop(snapshot, stop, zone_of(self.session))
        self.counter.set_species(species_in_order(self.session.snapshot, self.row))
        self.counter.show_counts(counts_of(snapshot, row.id))
        if row.state == "lifted":
            self.panel.show_draft(draft_of(row, zone_of(self.session), self.usual_by))
        can_write = self.session.project is not None and not self.session.project.read_only
        self.bar.setEnabled(can_write)
        can_write = can_write and row.state != "planned"
        self.counter.setEnabled(can_write and row.condition != "lost")
        self.panel.setEnabled(can_write)
        self.bar.show_trap(row, len(waiting(snapshot, self.session.round_id or "")))
        self.session.select((row.place_id,) if row.place_id else ())
        self.map.set_current(row.place_id or "")

    def _draw_map(self) -> None:
        """Draw the locator anew when the project changed; it shows no gaps and no reaches."""
        from trapline.drawing.map_builder import build_map

        now = (self.session.snapshot, self.session.round_id)
        if self._drawn is None or self._drawn[0] is not now[0] or self._drawn[1] != now[1]:
            self._drawn = now
            self.map.set_content(build_map(*now))
        row = self.row
        self.map.set_current((row.place_id if row else "") or "")

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._take_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.stack.currentWidget() is not self.work or not press(self, event):
            super().keyPressEvent(event)

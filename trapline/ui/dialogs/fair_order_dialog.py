"""Draw fair order: tick the baits, look at the drawn table, draw again or use it."""

from collections.abc import Callable
from concurrent.futures import Future
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QSizePolicy, QWidget

from trapline.actions.fair_order import (
    new_seed,
    notes_in_words,
    open_rounds,
    propose_fair_order,
    use_draw,
)
from trapline.analyses.order_worth import OrderWorth, order_worth, worth_sentences
from trapline.analyses.smallest_p import smallest_p
from trapline.drawing.icons import mark_icon
from trapline.errors import InvalidValue, TraplineError
from trapline.model.bait import Bait
from trapline.model.kept_draw import KeptDraw, kept_draw
from trapline.model.line import Place
from trapline.model.trip import Trip
from trapline.ui.dialogs.card_dialog import Card, CardDialog, at, choose, plain_label, push_button
from trapline.ui.dialogs.fair_order_words import p_sentence
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView
from trapline.ui.tasks import Tasks

_ICON = QSize(24, 24)
KINDS = (
    ("in blocks: each bait once in every stretch", "blocks"),
    ("over the whole line", "whole line"),
)


class FairOrderDialog(CardDialog):
    """A draw for the rounds of the trip that are not set yet. What is shown is what is used."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Draw fair order", "Use this order", parent)
        assert session.trip is not None
        self.trip: Trip = session.trip
        tasks = getattr(parent, "tasks", None)
        self._tasks = tasks if isinstance(tasks, Tasks) else None
        self._ticket = 0
        self.proposal: KeptDraw | None = None
        kept = self._kept()
        self.baits = session.snapshot.all(Bait)
        self.ticks = {bait.id: self._tick(bait, kept) for bait in self.baits}
        n_rounds = len(session.snapshot.rounds(self.trip.id))
        planned = max(n_rounds, len(kept.rounds) if kept else len(self._ticked()), 1)
        self.n_rounds = QLineEdit(str(planned))
        self.kind, self.seed = QComboBox(), QLineEdit(str(new_seed()))
        choose(self.kind, list(KINDS), kept.scheme.get("kind") if kept else "blocks")
        self.at_most = QLineEdit(str(_limit_of(kept) or 1))
        self.again = push_button("&Draw again")
        self.said = plain_label(role="note")
        self.worth = plain_label()
        self.table = GridView([Column("Round", lambda row: "")], "The drawn order", self)
        self._arrange()
        self.again.clicked.connect(self._on_draw_again)
        for box in (self.n_rounds, self.seed, self.at_most):
            box.textChanged.connect(self._draw)
        self.kind.currentIndexChanged.connect(self._draw)
        for tick in self.ticks.values():
            tick.toggled.connect(self._draw)
        self._draw()
        self.again.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None) -> bool:
        """Show the dialog; True when an order was taken over."""
        dialog = FairOrderDialog(session, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Write the drawn baits into the rounds that are not set yet."""
        if self.proposal is None:
            self._say("")
            self._propose()()  # says what is wrong
            return
        self.session.do_or_raise(use_draw, self.trip.id, self.proposal)

    # Making

    def _kept(self) -> KeptDraw | None:
        try:
            return kept_draw(self.trip)
        except InvalidValue:
            return None  # another program wrote it; a new draw is the way out

    def _tick(self, bait: Bait, kept: KeptDraw | None) -> QCheckBox:
        tick = QCheckBox(bait.name.replace("&", "&&"))
        tick.setIcon(self._icon(bait))
        tick.setIconSize(_ICON)
        tick.setChecked(kept is None or bait.id in kept.bait_ids)
        return tick

    def _icon(self, bait: Bait) -> QIcon:
        return mark_icon(bait.mark, bait.colour, self.theme.name)

    def _arrange(self) -> None:
        baits = Card("Baits to compare", columns=4)
        for tick in self.ticks.values():
            baits.add(tick)
        if not self.ticks:
            baits.add(
                plain_label("No baits yet. Add at least two under Lists, Baits (Ctrl+B)."), span=4
            )
        self.most_field = self.field("Controls at &most", self.at_most, key="At most")
        draw = Card("Draw", columns=6)
        draw.add(self.field("&Rounds planned", self.n_rounds))
        draw.add(self.field("&Balanced", self.kind), span=2)
        draw.add(self.field("&Seed", self.seed))
        self.seed.setToolTip("The same seed repeats a draw")
        draw.add(self.again)
        draw.add(self.most_field)
        draw.grid.setAlignment(self.again, Qt.AlignmentFlag.AlignBottom)
        table = Card("", columns=1)
        table.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.table.setMinimumSize(760, 150)
        self.table.setIconSize(_ICON)
        table.body.addWidget(self.table, 1)
        table.body.addWidget(self.said)
        table.body.addWidget(self.worth)
        self.column(baits, draw, table)
        self.resize(self.fontMetrics().averageCharWidth() * 170, 0)

    # Drawing

    def _ticked(self) -> list[str]:
        return [key for key, tick in self.ticks.items() if tick.isChecked()]

    def _controls(self) -> list[str]:
        ticked = self._ticked()
        return [bait.id for bait in self.baits if bait.is_control and bait.id in ticked]

    def _propose(self) -> Callable[[], KeptDraw]:
        """Return the drawing of what is typed, to be run anywhere."""
        snapshot, trip_id, ticked = self.session.snapshot, self.trip.id, self._ticked()
        kind = self.kind.currentData()
        n_rounds = _whole(self.n_rounds, "Rounds planned", 1, 200)
        seed = _whole(self.seed, "Seed", 0, 2**53)
        limits = {}
        if self._controls():
            most = _whole(self.at_most, "At most", 1, 2000)
            limits = dict.fromkeys(self._controls(), most)

        def work() -> KeptDraw:
            return propose_fair_order(
                snapshot, trip_id, ticked,
                kind=kind, n_rounds=n_rounds, at_most=limits, seed=seed,
            )  # fmt: skip

        return work

    def _on_draw_again(self) -> None:
        self.seed.setText(str(new_seed()))

    def _draw(self, _: object = None) -> None:
        """Draw what is typed, beside the window where there is a worker, and show it."""
        self.clear()
        self._ticket += 1
        self.proposal = None
        self.most_field.setVisible(bool(self._controls()))
        try:
            work = self._propose()
        except TraplineError as problem:
            self._show_problem(problem)
            return
        if self._tasks is None:
            done: Future[Any] = Future()
            try:
                done.set_result(_looked_at(work()))
            except TraplineError as problem:
                done.set_exception(problem)
            self._take(self._ticket, done)
            return
        ticket = self._ticket
        self._say("Drawing…")
        self.verb.setEnabled(False)
        self._tasks.run(lambda: _looked_at(work()), lambda done: self._take(ticket, done))

    def _take(self, ticket: int, done: "Future[Any]") -> None:
        """Show a finished draw, unless something else was asked for meanwhile."""
        if ticket != self._ticket:
            return
        self.verb.setEnabled(True)
        problem = done.exception()
        if isinstance(problem, TraplineError):
            self._show_problem(problem)
            return
        self.proposal, least_p, worth = done.result()
        self._show(self.proposal, least_p, worth)

    def _show_problem(self, problem: TraplineError) -> None:
        self.table.setVisible(False)
        self._say(f"{problem.error} {problem.what_to_do}".strip())
        self.verb.setEnabled(True)

    def _show(self, kept: KeptDraw, least_p: float | None, worth: OrderWorth | None) -> None:
        snapshot = self.session.snapshot
        baits = [snapshot.need(Bait, bait_id) for bait_id in kept.bait_ids]
        labels = [place.label if (place := snapshot.get(Place, key)) else "?"
                  for key in kept.place_ids]  # fmt: skip
        fished = len(snapshot.rounds(self.trip.id)) - len(open_rounds(snapshot, self.trip.id))

        def cell(column: int) -> Callable[[tuple[int, ...]], str]:
            return lambda row: baits[row[column]].name if row[column] >= 0 else ""

        def icon(column: int) -> Callable[[tuple[int, ...]], QIcon | None]:
            return lambda row: self._icon(baits[row[column]]) if row[column] >= 0 else None

        def number(row: tuple[int, ...]) -> str:
            at_row = next(n for n, one in enumerate(kept.rounds, 1) if one is row)
            return f"{at_row}, as fished" if at_row <= fished else str(at_row)

        self.table.grid.beginResetModel()
        self.table.grid.columns = [
            Column("Round", number),
            *(Column(label, cell(n), decoration=icon(n)) for n, label in enumerate(labels)),
        ]
        self.table.grid.rows = []
        self.table.grid.endResetModel()
        self.table.setVisible(True)
        self.table.show_rows(kept.rounds)
        notes = [*notes_in_words(snapshot, kept), p_sentence(least_p)]
        hung = any(row.planned_bait_id for one in open_rounds(snapshot, self.trip.id)
                   for row in snapshot.sets(one.id))  # fmt: skip
        if hung:
            notes.append("The baits chosen before for rounds not yet set are replaced.")
        on_worth = worth_sentences(worth, [bait.name for bait in baits])
        self._say("\n".join(note for note in notes if note), "\n".join(on_worth))

    def _say(self, text: str, on_worth: str = "") -> None:
        """Write what there is to say under the table, and what the order is worth."""
        self.said.setText(text)
        self.said.setVisible(bool(text))
        self.worth.setText(on_worth)
        self.worth.setVisible(bool(on_worth))
        if self.isVisible():
            self.fit()

    # Qt overrides

    def done(self, result: int) -> None:
        self._ticket += 1  # what is still being drawn comes too late
        super().done(result)


def _looked_at(drawn: KeptDraw) -> tuple[KeptDraw, float | None, OrderWorth | None]:
    """Return a draw with the smallest p of its test and what it is worth."""
    return drawn, smallest_p(drawn), order_worth(drawn)


def _whole(box: QLineEdit, where: str, low: int, high: int) -> int:
    text = box.text().strip()
    with at(where):
        if not (text.isascii() and text.isdigit() and low <= int(text) <= high):
            raise InvalidValue(
                f"{where}: '{text}' is not a whole number from {low} to {high}.", where,
                "Correct it.",
            )  # fmt: skip
    return int(text)


def _limit_of(kept: KeptDraw | None) -> int | None:
    limits = [limit for limit in (kept.scheme.get("at_most") or ()) if limit] if kept else []
    return limits[0] if limits else None

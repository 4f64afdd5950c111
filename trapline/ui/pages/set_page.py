"""The Set page: who goes where with which bait, in the order of the line; times by one key."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QApplication,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.setting import called, set_in_sequence, set_traps, unset
from trapline.analyses.gear_ledger import gear_ledger, in_water_sentence, lost_sentence
from trapline.drawing.theme import Theme, set_role
from trapline.model.instants import now_utc
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.one_throw import OneThrow
from trapline.ui.pages.empty_page import EmptyPage
from trapline.ui.pages.page import Page
from trapline.ui.session import Session
from trapline.ui.tables.set_table import SetTable

_KEYS = (
    "N sets the selected trap now and goes on to the next. Digits type a time (1830),"
    " ? where nobody noted it. Enter edits a cell, Ctrl+V pastes a column."
)


class SetPage(Page):
    """Set: times by one key, typed, or one throw; really done beside planned."""

    title = "Set"
    touched_by = frozenset({"trap_set", "round", "trip", "trap", "bait", "place", "catch"})

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, parent)
        self.heading = QLabel()
        self.heading.setTextFormat(Qt.TextFormat.PlainText)
        set_role(self.heading, "title")
        self.progress = QLabel()
        set_role(self.progress, "note")
        self.by = QLineEdit()
        self.by.setAccessibleName("Set by")
        self.by.setMaximumWidth(170)
        self.standing = QLabel()
        self.standing.setTextFormat(Qt.TextFormat.PlainText)
        self.standing.setWordWrap(True)
        set_role(self.standing, "bad")
        self.table = SetTable(session, self.by.text)
        self.table.selectionModel().selectionChanged.connect(self._name_buttons)
        self.table.key_pressed.connect(self._on_key_pressed)
        self.table.time_typed.connect(self._on_time_typed)
        self.now_button = _push_button("Set now  (N)", self._on_now_clicked, "primary")
        self.now_button.setDefault(True)
        self.throw_button = _push_button("One throw…  (T)", self.one_throw)
        self.unset_button = _push_button("Not set after all  (U)", self.take_back)
        self.empty = EmptyPage()
        self.empty.asked.connect(self.asked)
        self._round_shown: str | None = None
        self._arrange()

    def _arrange(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(12)
        top.addWidget(self.heading)
        top.addWidget(self.progress)
        top.addStretch(1)
        label = QLabel("Set &by")
        label.setBuddy(self.by)
        top.addWidget(label)
        top.addWidget(self.by)
        bottom = QHBoxLayout()
        bottom.setSpacing(10)
        for button in (self.now_button, self.throw_button, self.unset_button):
            bottom.addWidget(button)
        bottom.addStretch(1)
        keys = QLabel(_KEYS)
        keys.setWordWrap(True)
        set_role(keys, "note")
        work = QWidget()
        inside = QVBoxLayout(work)
        inside.setContentsMargins(12, 8, 12, 10)
        inside.setSpacing(10)
        inside.addLayout(top)
        inside.addWidget(self.standing)
        inside.addWidget(self.table, 1)
        inside.addLayout(bottom)
        inside.addWidget(keys)
        self.stack = QStackedLayout(self)
        self.stack.addWidget(work)
        self.stack.addWidget(self.empty)
        self.work = work

    # Page

    def refresh(self) -> None:
        session = self.session
        sets = session.snapshot.sets(session.round_id) if session.round_id else ()
        if session.trip is None:
            self.empty.show_step("There is no trip yet.", "New trip…", "new_trip")
        elif not sets:
            self.empty.show_step(
                "The line of this round has no places yet.", "Lay out the line", "page_1"
            )
        self._show(self.work if sets else self.empty)
        self.table.refresh()
        if session.round is not None and self._round_shown != session.round_id:
            self._round_shown = session.round_id
            self.by.setText(session.round.crew)
        if sets and not self.table.selected_rows():
            first = next((row for row in sets if row.state == "planned"), sets[0])
            self.table.select_set(first.id)
        self._say_where_things_stand(sets)
        self._name_buttons()

    def attention(self) -> int:
        round_id = self.session.round_id
        sets = self.session.snapshot.sets(round_id) if round_id else ()
        return sum(row.state == "planned" for row in sets)

    def leaving(self) -> None:
        self.table.commit()

    def set_theme(self, theme: Theme) -> None:
        super().set_theme(theme)
        self.table.cells.theme_name = theme.name

    # What the keys and buttons do

    def set_now(self) -> None:
        """Set the selected planned traps now, and select the next planned one."""
        if self.table.grid.is_read_only:
            return
        chosen = [row for row in self.table.selected_sets() if row.state == "planned"]
        if not chosen:
            self._select_next(self.table.selected_sets())
            return
        ids = [row.id for row in chosen]
        if self.session.do(set_traps, ids, now_utc(), self.by.text().strip()) is not None:
            self._select_next(chosen)

    def one_throw(self) -> None:
        """Set the selected traps, or all that are planned, at a time and every n minutes."""
        planned = [row for row in self._sets() if row.state == "planned"]
        chosen = [row for row in self.table.selected_sets() if row.state == "planned"]
        rows = chosen if len(chosen) > 1 else planned
        throw = OneThrow.ask(self.session, rows, self) if rows else None
        if throw is not None:
            by = self.by.text().strip()
            self.session.do(set_in_sequence, throw.set_ids, throw.first_utc, throw.every_min, by)

    def take_back(self) -> None:
        """Say that the selected traps were not set: it never happened."""
        ids = [row.id for row in self.table.selected_sets() if row.state == "set"]
        if ids:
            self.session.do(unset, ids)

    def _on_now_clicked(self) -> None:
        step = _step_after(self._sets())
        if step is None:
            self.set_now()
        else:
            self.asked.emit(step[1])

    def _on_key_pressed(self, letter: str) -> None:
        answers = {"N": self.set_now, "T": self.one_throw, "U": self.take_back}
        if letter in answers:
            answers[letter]()

    def _on_time_typed(self, set_id: str) -> None:
        row = self.session.snapshot.get(TrapSet, set_id)
        if row is not None:
            self._select_next([row])

    # Inside

    def _show(self, part: QWidget) -> None:
        """Turn to the work or to the next step; where the page has the keys, they go along."""
        focus = QApplication.focusWidget()
        had_focus = focus is not None and self.isAncestorOf(focus)
        if self.stack.currentWidget() is not part:
            self.stack.setCurrentWidget(part)
            if had_focus:
                self._take_focus()

    def _take_focus(self) -> None:
        is_work = self.stack.currentWidget() is self.work
        (self.table if is_work else self.empty.button).setFocus()

    def _sets(self) -> tuple[TrapSet, ...]:
        round_id = self.session.round_id
        return self.session.snapshot.sets(round_id) if round_id else ()

    def _select_next(self, done: list[TrapSet]) -> None:
        """Select the next planned trap after the last of `done`, else the first one."""
        sets = self._sets()
        last = max((n for n, row in enumerate(sets) if done and row.id == done[-1].id), default=-1)
        order = [*sets[last + 1 :], *sets[: last + 1]]
        following = next((row for row in order if row.state == "planned"), None)
        if following is not None:
            self.table.select_set(following.id)

    def _say_where_things_stand(self, sets: tuple[TrapSet, ...]) -> None:
        session = self.session
        if session.round is None:
            return
        self.heading.setText(f"Set round {session.round.number}")
        planned = sum(row.state == "planned" for row in sets)
        in_water = sum(row.is_in_water for row in sets)
        parts = [f"{len(sets)} traps", f"{in_water} in the water", f"{planned} planned"]
        self.progress.setText("  ·  ".join(parts))
        ledger = gear_ledger(session.snapshot)
        elsewhere = in_water_sentence(ledger.outside_round(session.round_id), with_trip=True)
        text = "  ".join(part for part in (elsewhere, lost_sentence(ledger.lost)) if part)
        self.standing.setText(text)
        self.standing.setVisible(bool(text))

    def _name_buttons(self) -> None:
        """Say on each button what it will do with the selected rows."""
        chosen = self.table.selected_sets()
        planned = [row for row in chosen if row.state == "planned"]
        snapshot = self.session.snapshot
        if len(planned) == 1:
            name = called(snapshot, planned[0])
            where = snapshot.place_label(planned[0])
            words = f"Set {name} at {where} now" if snapshot.trap_label(planned[0]) else (
                f"Set {name} now"
            )  # fmt: skip
        else:
            words = f"Set {len(planned)} traps now" if planned else "Set now"
        step = _step_after(self._sets())
        self.now_button.setText(step[0] if step else words.replace("&", "&&") + "  (N)")
        can_write = self.session.project is not None and not self.session.project.read_only
        self.table.grid.is_read_only = not can_write
        self.now_button.setEnabled(step is not None or (can_write and bool(planned)))
        is_planned = any(row.state == "planned" for row in self._sets())
        self.throw_button.setEnabled(can_write and is_planned)
        self.unset_button.setEnabled(can_write and any(row.state == "set" for row in chosen))

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._take_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.text().isalpha() and event.modifiers() == Qt.KeyboardModifier.NoModifier:
            self._on_key_pressed(event.text().upper())
            return
        super().keyPressEvent(event)


def _push_button(text: str, slot: Callable[[], None], role: str = "") -> QPushButton:
    button = QPushButton(text)
    button.setAutoDefault(False)
    if role:
        set_role(button, role)
    button.clicked.connect(lambda: slot())
    return button


def _step_after(sets: Sequence[TrapSet]) -> tuple[str, str] | None:
    """Return the words and the command of what follows when no trap waits to be set, or None."""
    if not sets or any(row.state == "planned" for row in sets):
        return None
    if any(row.is_in_water for row in sets):
        return "Lift the traps", "page_3"
    return "Compare the baits", "page_4"

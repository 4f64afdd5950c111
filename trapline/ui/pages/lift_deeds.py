"""What the keys and buttons of the Lift page do to the trap that is shown."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from PySide6.QtWidgets import QInputDialog

from trapline.actions.gear import report_found, retire_trap
from trapline.actions.lifting import (
    UNCOUNTABLE,
    correct_lift,
    lift_and_set_again_all,
    lift_trap,
    look_and_leave,
    not_lifted_after_all,
)
from trapline.actions.setting_again import (
    is_waiting,
    move_on,
    set_again,
    take_out,
    waiting,
)
from trapline.analyses.lift_order import next_in_water
from trapline.errors import TraplineError
from trapline.model.instants import now_utc
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.question import ask
from trapline.ui.pages.lift_counting import LiftCounting
from trapline.ui.pages.lift_draft import corrections, lift_values
from trapline.ui.pages.lift_words import usual_day, zone_of

if TYPE_CHECKING:
    from trapline.ui.pages.lift_page import LiftPage

_BLANK = "Nothing counted yet: 0 for an empty trap, ? for not counted."


class LiftDeeds:
    """The deeds by name; each is one step that undo takes back."""

    def __init__(self, page: "LiftPage") -> None:
        self.page = page
        self.counting = LiftCounting(page)

    def do(self, name: str) -> None:
        """Do the deed of that name to the current trap."""
        deeds: dict[str, Callable[[], None]] = {
            "lift": self.lift,
            "again": lambda: self.lift("set again"),
            "out": lambda: self.lift("out of the water"),
            "move": self.move,
            "uncounted": self.leave_uncounted,
            "leave": self.leave_in_water,
            "again_all": self.set_all_again,
            "out_all": self.take_all_out,
            "unlift": self.put_back,
            "rest_again": self.set_rest_again,
            "found": self.found,
            "retire": self.give_up,
            "amount": self.counting.write_amount,
        }
        deeds[name]()

    # One trap

    def lift(self, then: str = "", *, counted: bool = True, to_place_id: str | None = None) -> None:
        """Lift the trap as the page says, or say what then of one that is lifted, and go on."""
        row = self.page.row
        if row is None or row.state == "planned":
            return
        if row.state == "lifted":
            self._after_lift(row, then, to_place_id)
            return
        draft = self.page.panel.draft()
        counts = self.counting.typed()
        countable = draft.condition not in UNCOUNTABLE
        if counted and countable and not counts and not self._snapshot.catches(row.id):
            self.page.counter.say(_BLANK)
            return
        if counts and not self.counting.may_be(row, counts):
            return
        try:
            values = lift_values(
                self.page,
                draft,
                zone_of(self.page.session),
                usual_day(self.page.stops, zone_of(self.page.session)),
                now_utc(),
            )
            self.page.session.do_or_raise(
                lift_trap, row.id, counted=counted, counts=counts, then=then,
                to_place_id=to_place_id, bait_action=self.page.bar.bait_action,
                after_round_id=self.page.session.round_id, **values,
            )  # fmt: skip
        except TraplineError as problem:
            self.page.panel.show_problem(problem)
            return
        self.page.counter.typed = ""
        self.page.usual_by = draft.by
        self._go_on(row)

    def _after_lift(self, row: TrapSet, then: str, to_place_id: str | None) -> None:
        self.page.commit_typed()
        again = {
            "bait_action": self.page.bar.bait_action,
            "after_round_id": self.page.session.round_id,
        }
        if then == "set again" and is_waiting(row):
            done = self._do(set_again, [row.id], **again)
        elif then == "moved" and is_waiting(row):
            done = self._do(move_on, row.id, to_place_id, **again)
        elif then == "out of the water" and is_waiting(row):
            done = self._do(take_out, [row.id])
        else:
            done = not then
        if done:
            self._go_on(row)

    def leave_uncounted(self) -> None:
        """Lift the trap without a count, which is not a 0."""
        row = self.page.row
        if row is not None and row.state == "lifted":
            self._do(correct_lift, row.id, counted=False)
            return
        self.page.counter.typed = ""
        self.lift(counted=False)

    def leave_in_water(self) -> None:
        """Note that the trap was looked at and left in the water."""
        row = self.page.row
        if row is None or not row.is_in_water:
            return
        draft = self.page.panel.draft()
        note = draft.notes.removeprefix(row.notes).strip()
        if self._do(look_and_leave, row.id, now_utc(), draft.by, note):
            self.page.forget_draft(row.id)
            self.page.step(1)

    def move(self) -> None:
        """Ask for another place and set the trap there."""
        row = self.page.row
        if row is None or row.state == "planned":
            return
        place = self._snapshot.get(Place, row.place_id)
        places = self._snapshot.places(place.line_id if place else None)
        labels = [one.label for one in places if one.id != row.place_id]
        label = choose_place(self.page, labels) if labels else None
        if label is not None:
            chosen = next(one.id for one in places if one.label == label)
            self.lift("moved", to_place_id=chosen)

    def put_back(self) -> None:
        """Say that the trap was not lifted after all."""
        if self.page.row is not None:
            self._do(not_lifted_after_all, self.page.row.id)

    def found(self) -> None:
        """Say that the lost trap was found."""
        self._close_trap(report_found, "Where and when was it found, and what was in it?")

    def give_up(self) -> None:
        """Take the lost trap off the list of what is looked for."""
        self._close_trap(retire_trap, "Why is it given up?")

    def _close_trap(self, action: Callable[..., Any], question: str) -> None:
        row = self.page.row
        trap = self._snapshot.get(Trap, row.trap_id) if row else None
        if trap is None:
            return
        note = ask_text(self.page, f"Trap {trap.number}", question)
        if note is not None:
            self._do(action, trap.id, note)

    # All that wait

    def set_all_again(self) -> None:
        """Set all lifted traps that wait again as they were, in one step."""
        ids = [row.id for row in waiting(self._snapshot, self.page.session.round_id or "")]
        if ids:
            self._do(
                set_again, ids, bait_action=self.page.bar.bait_action,
                after_round_id=self.page.session.round_id,
            )  # fmt: skip

    def take_all_out(self) -> None:
        """Say of all lifted traps that wait that they are out of the water."""
        ids = [row.id for row in waiting(self._snapshot, self.page.session.round_id or "")]
        if ids:
            self._do(take_out, ids)

    def set_rest_again(self) -> None:
        """After a question: lift what stands in the water uncounted, and set all again."""
        rows = [
            stop.trap_set
            for stop in self.page.stops
            if stop.trap_set.is_in_water or is_waiting(stop.trap_set)
        ]
        n_uncounted = sum(row.is_in_water for row in rows)
        question = (
            f"{n_uncounted} traps are still in the water. They are written down as lifted now and"
            " not counted, which is not a 0, and set again."
        )
        if rows and ask(self.page, question, f"Set {len(rows)} traps again"):
            self._do(
                lift_and_set_again_all, [row.id for row in rows], now_utc(),
                self.page.bar.bait_action, by=self.page.panel.draft().by,
                after_round_id=self.page.session.round_id,
            )  # fmt: skip

    def correct(self) -> None:
        """Write down what was changed about a trap that is lifted already."""
        row = self.page.row
        if row is None or row.state != "lifted":
            return
        try:
            draft = self.page.panel.draft()
            values = corrections(
                self.page,
                row,
                draft,
                zone_of(self.page.session),
                usual_day(self.page.stops, zone_of(self.page.session)),
            )
            if values:
                self.page.session.do_or_raise(correct_lift, row.id, **values)
        except TraplineError as problem:
            self.page.panel.show_problem(problem)

    # Inside

    @property
    def _snapshot(self) -> Snapshot:
        return self.page.session.snapshot

    def _do(self, action: Callable[..., Any], *args: Any, **values: Any) -> bool:
        return self.page.session.do(action, *args, **values) is not None

    def _go_on(self, row: TrapSet) -> None:
        """Turn to the next trap in the water; stay where none is left."""
        self.page.forget_draft(row.id)
        self.page.setFocus()  # also after a button was pressed by its own key
        following = next_in_water(self.page.stops, row.id)
        if following is not None:
            self.page.choose(following.id)
            return
        self.page.refresh()
        n_waiting = len(waiting(self._snapshot, self.page.session.round_id or ""))
        then = f" Shift+A sets all {n_waiting} again, Shift+O takes them out." if n_waiting else ""
        self.page.session.informed.emit(f"Every trap on the way is lifted.{then}")


def choose_place(page: "LiftPage", labels: list[str]) -> str | None:
    """Return the label of the place that a trap moves to, or None."""
    label, taken = QInputDialog.getItem(page, "Move", "To which place?", labels, 0, False)
    return label if taken else None


def ask_text(page: "LiftPage", title: str, question: str) -> str | None:
    """Return what the user answers, or None."""
    text, taken = QInputDialog.getText(page, title, question)
    return text.strip() if taken else None

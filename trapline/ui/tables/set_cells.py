"""The cells of the Set table: how each reads, and what typing into it does."""

from collections.abc import Callable
from typing import Any

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QWidget

from trapline.actions.fair_order import assign_traps
from trapline.actions.setting import called, record_really_done, set_at_times
from trapline.drawing.icons import mark_icon
from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.instants import local_text
from trapline.model.line import Place
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.question import ask
from trapline.ui.dialogs.which_time import short_time, typed_instant
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column

TIME_COLUMN = 6


class SetCells:
    """Reads and writes the cells of a row, which is a trap set.

    Attributes
    ----------
    parent : the widget that questions stand before
    by : says who sets
    time_typed : called with the id of a trap set whose time was typed
    """

    def __init__(
        self, session: Session, by: Callable[[], str], time_typed: Callable[[str], None]
    ) -> None:
        self.session = session
        self.by = by
        self.time_typed = time_typed
        self.parent: QWidget | None = None
        self.theme_name = "light"

    def columns(self) -> list[Column]:
        def bait_names(_: TrapSet) -> list[str]:
            return [bait.name for bait in self.session.snapshot.all(Bait)]

        def numbers(_: TrapSet) -> list[str]:
            return [trap.number for trap in self.session.snapshot.all(Trap)]

        def other_bait(row: TrapSet) -> str:
            return "warning" if row.bait_id != row.planned_bait_id else ""

        def other_place(row: TrapSet) -> str:
            return "warning" if row.place_id != row.planned_place_id else ""

        return [
            Column("Planned at", lambda row: self._name(Place, "label", row.planned_place_id)),
            Column("Trap", self.trap_number, self._write_trap, choices=numbers),
            Column("Tags", self._tags),
            Column(
                "Planned bait",
                lambda row: self._name(Bait, "name", row.planned_bait_id),
                decoration=lambda row: self._icon(row.planned_bait_id),
                stretch=True,
            ),
            Column(
                "Bait hung",
                lambda row: self._name(Bait, "name", row.bait_id),
                self._write_bait,
                choices=bait_names,
                decoration=lambda row: self._icon(row.bait_id),
                mark=other_bait,
                tip=lambda row: "not the planned bait" if other_bait(row) else "",
                stretch=True,
            ),
            Column(
                "Really at",
                lambda row: self._name(Place, "label", row.place_id),
                self._write_place,
                choices=self._place_labels,
                mark=other_place,
                tip=lambda row: "not the planned place" if other_place(row) else "",
            ),
            Column("Set at", self.time_text, self._write_time),
            Column("State", self.state_words, mark=self._state_mark),
        ]

    def trap_number(self, row: TrapSet) -> str:
        """The number of a row's trap."""
        return self._name(Trap, "number", row.trap_id)

    def time_text(self, row: TrapSet) -> str:
        """The set time as shown; a question mark where nobody noted it."""
        if row.state == "planned":
            return ""
        return short_time(row.set_utc, self._zone(), self._day()) or "?"

    def state_words(self, row: TrapSet) -> str:
        """How far a trap has come."""
        if row.state == "planned":
            return "planned"
        bait = "" if row.bait_action == "fresh" else f", bait {row.bait_action}"
        if row.is_in_water:
            looked = ", looked at" if row.condition == "not lifted" else ""
            return f"in the water{looked}{bait}"
        if row.condition == "lost":
            return "lost"
        # Day and month as on the printed pages: the baits need the room.
        return f"lifted {local_text(row.lift_utc, self._zone(), '%d %b %H:%M')}".strip()

    @staticmethod
    def _state_mark(row: TrapSet) -> str:
        return "error" if row.is_in_water or row.condition == "lost" else ""

    def _name(self, noun: type[Any], field: str, key: str | None) -> str:
        row = self.session.snapshot.get(noun, key)
        return str(getattr(row, field)) if row is not None else ""

    def _tags(self, row: TrapSet) -> str:
        trap = self.session.snapshot.get(Trap, row.trap_id)
        return trap.tag_text if trap else ""

    def _icon(self, bait_id: str | None) -> QIcon | None:
        bait = self.session.snapshot.get(Bait, bait_id)
        return mark_icon(bait.mark, bait.colour, self.theme_name) if bait else None

    def _place_labels(self, row: TrapSet) -> list[str]:
        place = self.session.snapshot.get(Place, row.place_id)
        return [one.label for one in self.session.snapshot.places(place.line_id if place else None)]

    def _zone(self) -> str:
        return self.session.trip.zone if self.session.trip else "UTC"

    def _day(self) -> str | None:
        return self.session.round.set_on if self.session.round else None

    # Cells typed into: errors go back to the cell

    def _write_time(self, row: TrapSet, text: str) -> None:
        text = text.strip()
        if not text:
            raise InvalidValue(
                "The set time is empty.",
                "Set at",
                "Type a time, ? where nobody noted it, or take the setting back (U).",
            )
        at = None if text == "?" else typed_instant(self.parent, text, self._zone(), self._day())
        if row.state == "planned":
            self.session.do_or_raise(set_at_times, {row.id: at}, self.by())
        else:
            self.session.do_or_raise(record_really_done, row.id, set_utc=at)
        self.time_typed(row.id)

    def _write_bait(self, row: TrapSet, text: str) -> None:
        bait_id = self._named(Bait, "name", text)
        self.session.do_or_raise(record_really_done, row.id, bait_id=bait_id)

    def _write_place(self, row: TrapSet, text: str) -> None:
        place_id = self._named(Place, "label", text)
        if place_id is None:
            raise InvalidValue("The place is empty.", "Really at", "Choose a place of the line.")
        snapshot = self.session.snapshot
        others = [
            one
            for one in snapshot.sets(row.round_id or "")
            if one.place_id == place_id and one.id != row.id
        ]
        if others and not self._may_swap(row, others[0], "places"):
            return
        self.session.do_or_raise(record_really_done, row.id, place_id=place_id, swap=bool(others))

    def _write_trap(self, row: TrapSet, text: str) -> None:
        trap_id = self._named(Trap, "number", text)
        others = [
            one
            for one in self.session.snapshot.sets(row.round_id or "")
            if trap_id is not None and one.trap_id == trap_id and one.id != row.id
        ]
        if not others and row.state == "planned":
            self.session.do_or_raise(assign_traps, {row.id: trap_id})
        elif not others or self._may_swap(row, others[0], "traps"):
            self.session.do_or_raise(record_really_done, row.id, trap_id=trap_id, swap=bool(others))

    def _may_swap(self, row: TrapSet, other: TrapSet, what: str) -> bool:
        snapshot = self.session.snapshot
        where = snapshot.place_label(other)
        return ask(
            self.parent,
            f"{called(snapshot, other).capitalize()} is recorded at '{where}'. Did it and"
            f" {called(snapshot, row)} (at '{snapshot.place_label(row)}') change {what}?",
            "They changed",
        )

    def _named(self, noun: type[Bait] | type[Place] | type[Trap], field: str, text: str
               ) -> str | None:  # fmt: skip
        wanted = text.strip().casefold()
        if not wanted:
            return None
        rows: tuple[Bait | Place | Trap, ...] = self.session.snapshot.all(noun)
        if noun is Place and self.session.line is not None:
            rows = self.session.snapshot.places(self.session.line.id)
        for one in rows:
            if str(getattr(one, field)).casefold() == wanted:
                return one.id
        raise InvalidValue(
            f"There is no {noun.noun} called '{text.strip()}'.",
            noun.noun.capitalize(),
            "Choose one from the list of the cell.",
        )

    def instant(self, text: str) -> str:
        """Return the instant of a typed time of the round."""
        return typed_instant(self.parent, text, self._zone(), self._day())

"""New trip, and edit trip and round: one dialog of a few cards."""

from typing import Any

from PySide6.QtWidgets import QLineEdit, QWidget

from trapline.actions.trips import edit_trip, new_trip_from, start_trip
from trapline.model.fields import Noun
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trip import Round, Trip
from trapline.ui.dialogs.card_dialog import Card, CardDialog, plain_label
from trapline.ui.dialogs.round_cards import CurrentCard, RoundCard
from trapline.ui.dialogs.trip_cards import RulesCard, WhenCard, WhereCard, day_box, day_of
from trapline.ui.session import Session


def free_name(snapshot: Snapshot, stem: str = "Trip") -> str:
    """Return ``Trip 3`` where two trips are there, or the next number that is free."""
    used = {trip.name.casefold() for trip in snapshot.trips()}
    number = len(used) + 1
    while f"{stem} {number}".casefold() in used:
        number += 1
    return f"{stem} {number}"


class TripDialog(CardDialog):
    """A new trip, or the trip and round that the session looks at."""

    def __init__(self, session: Session, parent: QWidget | None, *, new: bool) -> None:
        title = "New trip" if new else "Edit trip and round"
        super().__init__(session, title, "Start the trip" if new else "Keep the changes", parent)
        self.trip = None if new else session.trip
        self.round = None if new else session.round
        snapshot = session.snapshot
        # A new trip goes to the water of the one that is looked at, unless another is typed.
        self.where = WhereCard(self.field, snapshot, session.trip)
        self.when = WhenCard(self.field, self.trip, free_name(snapshot))
        self.rules = RulesCard(
            self.field, snapshot, self.trip or self._like(session.trip),
            self.where.line_kind.currentData(),
        )  # fmt: skip
        self.current = CurrentCard(self.field, self.round)
        self.round_card: RoundCard | None = None
        self.where.line_kind_changed.connect(self.rules.follow)
        if self.trip is not None:
            self.where.lock()
        if self.trip is not None and self.round is not None:
            self.round_card = RoundCard(self.field, self.round, self.trip.zone)
            self.round_card.show_tide(self.where.kind.currentData())
            self.where.water_kind_changed.connect(self.round_card.show_tide)
            self.column(self.where, self.rules, self.current)
            self.column(self.when, self.round_card)
        else:
            self.column(self.where, self.rules)
            self.column(self.when, self.current)
        first = self.where.water if new and not self.where.water.currentText() else self.when.name
        first.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None, *, new: bool) -> bool:
        """Show the dialog; True when a trip was started or changed."""
        dialog = TripDialog(session, parent, new=new)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Start or change the trip, in one step."""
        values = {**self.when.values(), **self.rules.values()}
        target = self.rules.target_row()
        values["target_species_id"] = target.id if target else None
        extra: tuple[Noun, ...] = (target,) if self._is_new(target) and target else ()
        if self.trip is None:
            self._start(values, extra)
            return
        round_values = self.current.values()
        if self.round_card is not None:
            round_values |= self.round_card.values(values["zone"])
        water = self.where.water_row()
        self.session.do_or_raise(
            edit_trip,
            self.trip.id,
            values,
            round_id=self.round.id if self.round else None,
            round_values=round_values,
            water_values={"kind": water.kind, "shore": water.shore},
            line_values={"kind": self.where.line_row(water).kind},
            extra=extra,
        )

    def _start(self, values: dict[str, Any], extra: tuple[Noun, ...]) -> None:
        water = self.where.water_row()
        line = self.where.line_row(water)
        trip = Trip(**values)
        self.session.do_or_raise(
            start_trip, trip, water=water, line=line,
            first_round=Round(**self.current.values()), extra=extra,
        )  # fmt: skip
        self.session.choose_trip(trip.id)

    def _is_new(self, target: Species | None) -> bool:
        return target is not None and self.session.snapshot.get(Species, target.id) is None

    @staticmethod
    def _like(last: Trip | None) -> Trip | None:
        """Return what a new trip takes over from the last one: target and reference."""
        if last is None:
            return None
        return Trip(
            name="-",
            target_species_id=last.target_species_id,
            reference_bait_id=last.reference_bait_id,
        )


class NextTripDialog(CardDialog):
    """A trip like the one that is looked at: a name and a day, and what will be the same."""

    def __init__(self, session: Session, parent: QWidget | None) -> None:
        super().__init__(session, "New trip from this one", "Start the trip", parent)
        trip = session.trip
        assert trip is not None
        self.old = trip
        rounds = session.snapshot.rounds(trip.id)
        n = len(session.snapshot.sets(rounds[-1].id)) if rounds else 0
        card = Card("", columns=2)
        self.name = QLineEdit(free_name(session.snapshot))
        self.name.selectAll()
        import datetime as dt

        self.day = day_box(dt.date.today().isoformat())
        card.add(self.field("&Name of the trip", self.name, key="Name"))
        card.add(self.field("&First day", self.day))
        card.add(
            plain_label(
                f"Like “{trip.name}”: the same {n} places and traps, the same limits, target and"
                " reference. The baits are dealt out anew and go on from there: a place gets"
                " another bait than it had last.",
                "note",
            ),
            span=2,
        )
        self.column(card)
        self.setMinimumWidth(520)
        self.name.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None) -> bool:
        """Show the dialog; True when a trip was started."""
        dialog = NextTripDialog(session, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Start the trip and look at it."""
        name, day = self.name.text().strip(), day_of(self.day)
        changes = self.session.do_or_raise(new_trip_from, self.old.id, name, started_on=day)
        (trip_id,) = changes.ids("trip")
        self.session.choose_trip(trip_id)

"""The cards of the trip dialog: where, when, and the rules of the line."""

import datetime as dt
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from PySide6.QtCore import QDate, Signal
from PySide6.QtWidgets import QComboBox, QDateEdit, QLineEdit, QPlainTextEdit

from trapline.actions.trips import with_gaps
from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.fields import field_meta
from trapline.model.instants import computer_zone
from trapline.model.line import LINE_KINDS, Line
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trip import Trip
from trapline.model.water import SHORES, WATER_KINDS, Water
from trapline.ui.dialogs.card_dialog import Card, Field, choose
from trapline.ui.dialogs.noun_form import typed_value
from trapline.units import length_text

MakeField = Callable[..., Field]
_NO_DAY = QDate(1900, 1, 1)

LINE_HINTS = {
    "shore line": "thrown by hand from the shore",
    "set apart": "crayfish or minnow traps, each on its own",
    "crab pots": "pots on their own buoys",
    "string": "pots on one rope with two ends",
}


def name_box(names: list[str], text: str) -> QComboBox:
    """Return a combo box to choose a name from or to type a new one into."""
    box = QComboBox()
    box.setEditable(True)
    box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
    box.addItems(names)
    box.setCurrentText(text)
    return box


def say_in(box: QComboBox, text: str) -> None:
    """Say in an empty combo box what it is for."""
    line = box.lineEdit()
    if line is not None:
        line.setPlaceholderText(text)


def notes_box(text: str = "", lines: int = 3) -> QPlainTextEdit:
    """Return a small box for several lines, left by the Tab key."""
    box = QPlainTextEdit(text)
    box.setTabChangesFocus(True)
    box.setFixedHeight(box.fontMetrics().lineSpacing() * lines + 16)
    return box


def day_box(day: str | None) -> QDateEdit:
    """Return an editor of a day with a calendar; the first day of 1900 stands for not known."""
    box = QDateEdit()
    box.setCalendarPopup(True)
    box.setDisplayFormat("yyyy-MM-dd")
    box.setMinimumDate(_NO_DAY)
    box.setSpecialValueText("not known")
    box.setDate(QDate.fromString(day, "yyyy-MM-dd") if day else _NO_DAY)
    return box


def day_of(box: QDateEdit) -> str | None:
    """Return the day of an editor, None where it is not known."""
    return None if box.date() == _NO_DAY else box.date().toString("yyyy-MM-dd")


class WhereCard(Card):
    """The water and the line: those that are there, or new ones by their names.

    Signals
    -------
    line_kind_changed : str
    water_kind_changed : str
    """

    line_kind_changed = Signal(str)
    water_kind_changed = Signal(str)

    def __init__(self, field: MakeField, snapshot: Snapshot, trip: Trip | None) -> None:
        super().__init__("Where")
        self.snapshot = snapshot
        water = snapshot.water_of(trip) if trip else None
        line = snapshot.get(Line, trip.line_id) if trip else None
        names = [row.name for row in snapshot.all(Water)]
        self.water = name_box(names, water.name if water else "")
        say_in(self.water, "for example: Mill pond")
        self.kind, self.shore, self.line_kind = QComboBox(), QComboBox(), QComboBox()
        choose(self.kind, [(word, word) for word in WATER_KINDS], water and water.kind)
        choose(self.shore, [(word, word) for word in SHORES], water.shore if water else SHORES[1])
        choose(
            self.line_kind, [(f"{word}: {LINE_HINTS[word]}", word) for word in LINE_KINDS],
            line.kind if line else "set apart",
        )  # fmt: skip
        self.line = name_box([], line.name if line else "Line 1")
        self.water_field = field("&Water", self.water)
        self.add(self.water_field)
        self.add(field("&Kind of water", self.kind))
        self.add(field("Kind of &shore", self.shore))
        self.shore.setToolTip("How fast plumes are assumed to mix")
        self.line_field = field("&Line", self.line)
        self.add(self.line_field)
        self.add(field("Kind of l&ine", self.line_kind), span=2)
        self._fill_lines()
        self._say_new()
        self.water.currentTextChanged.connect(self._on_water_changed)
        self.line.currentTextChanged.connect(self._on_line_changed)
        self.line_kind.currentIndexChanged.connect(
            lambda _: self.line_kind_changed.emit(self.line_kind.currentData())
        )
        self.kind.currentIndexChanged.connect(
            lambda _: self.water_kind_changed.emit(self.kind.currentData())
        )

    def lock(self) -> None:
        """Keep the trip on its water and line; only their kinds can be changed."""
        self.water.setEnabled(False)
        self.line.setEnabled(False)
        for one in (self.water_field, self.line_field):
            one.say("")

    def water_row(self) -> Water:
        """Return the water with what was chosen, a new one where the name is new."""
        name = self.water.currentText().strip()
        if not name:
            raise InvalidValue("The water has no name.", "Water", "Type what you call it.")
        known = self._water()
        kinds = {"kind": self.kind.currentData(), "shore": self.shore.currentData()}
        return known.with_(**kinds) if known else Water(name=name, **kinds)

    def line_row(self, water: Water) -> Line:
        """Return the line with what was chosen, a new one where the name is new."""
        name = self.line.currentText().strip()
        if not name:
            raise InvalidValue("The line has no name.", "Line", "Type a name, like Line 1.")
        known, kind = self._line(), self.line_kind.currentData()
        if known is not None:
            return known.with_(kind=kind)
        return Line(water_id=water.id, name=name, kind=kind)

    def _water(self) -> Water | None:
        name = self.water.currentText().strip().casefold()
        return next((row for row in self.snapshot.all(Water) if row.name.casefold() == name), None)

    def _line(self) -> Line | None:
        water, name = self._water(), self.line.currentText().strip().casefold()
        lines = self.snapshot.lines(water.id) if water else ()
        return next((row for row in lines if row.name.casefold() == name), None)

    def _fill_lines(self) -> None:
        water, text = self._water(), self.line.currentText()
        self.line.blockSignals(True)
        self.line.clear()
        self.line.addItems([row.name for row in self.snapshot.lines(water.id)] if water else [])
        self.line.setCurrentText(text)
        self.line.blockSignals(False)

    def _say_new(self) -> None:
        has_water = bool(self.water.currentText().strip())
        self.water_field.say("" if self._water() or not has_water else "a new water")
        line = self._line()
        n = len(self.snapshot.places(line.id)) if line else 0
        places = f"its {n} place{'' if n == 1 else 's'} will be fished" if n else "no places yet"
        self.line_field.say(places if line else "a new line")

    def _on_water_changed(self, _: str) -> None:
        known = self._water()
        if known is not None:
            self.kind.setCurrentText(known.kind)
            self.shore.setCurrentText(known.shore)
        self._fill_lines()
        self._on_line_changed("")

    def _on_line_changed(self, _: str) -> None:
        known = self._line()
        if known is not None:
            self.line_kind.setCurrentIndex(LINE_KINDS.index(known.kind))
        self._say_new()


class WhenCard(Card):
    """Name, first day, time zone, purpose and notes."""

    def __init__(self, field: MakeField, trip: Trip | None, name: str) -> None:
        super().__init__("When and what for")
        import zoneinfo

        self.name = QLineEdit(trip.name if trip else name)
        self.day = day_box(trip.started_on if trip else dt.date.today().isoformat())
        zone = trip.zone if trip else computer_zone()
        self.zone = name_box(sorted(zoneinfo.available_timezones()), zone)
        self.purpose = QLineEdit(trip.purpose if trip else "")
        self.purpose.setPlaceholderText("for example: liver against corn")
        self.notes = notes_box(trip.notes if trip else "", 2)
        self.add(field("&Name of the trip", self.name, key="Name"))
        self.add(field("&First day", self.day))
        self.add(field("&Purpose", self.purpose))
        self.add(field("Time &zone", self.zone))
        self.add(field("N&otes", self.notes, key="Notes"), span=2)

    def values(self) -> dict[str, Any]:
        """Return the fields of the trip."""
        return {
            "name": self.name.text().strip(),
            "started_on": day_of(self.day),
            "zone": self.zone.currentText().strip(),
            "purpose": self.purpose.text(),
            "notes": self.notes.toPlainText(),
        }


class RulesCard(Card):
    """Limits of the gaps, target species, reference bait. An empty limit is the default."""

    def __init__(
        self, field: MakeField, snapshot: Snapshot, trip: Trip | None, line_kind: str
    ) -> None:
        super().__init__("Rules of the line")
        self.snapshot = snapshot
        self.min_gap, self.max_gap = QLineEdit(), QLineEdit()
        self._min_field = field("Mini&mum gap", self.min_gap, hint="yours; 10 m, 33 ft or 11 yd")
        self._max_field = field("Ma&ximum gap", self.max_gap, hint="farther off is told, too")
        species = snapshot.get(Species, trip.target_species_id) if trip else None
        names = [row.name for row in snapshot.species("target")]
        self.target = name_box(["", *names], species.name if species else "")
        say_in(self.target, "choose, or type a new one")
        self.reference = QComboBox()
        baits = [(row.name, row.id) for row in snapshot.all(Bait)]
        choose(self.reference, [("control, else first", None), *baits],
               trip.reference_bait_id if trip else None)  # fmt: skip
        self.add(self._min_field)
        self.add(self._max_field)
        self.add(field("&Target species", self.target))
        self.add(field("&Reference bait", self.reference))
        self._kind = line_kind
        if trip is not None:
            self._show_limits(trip)
        self.follow(line_kind)
        self.min_gap.textEdited.connect(lambda _: self.follow(self._kind))
        self.max_gap.textEdited.connect(lambda _: self.follow(self._kind))

    def _show_limits(self, trip: Trip) -> None:
        """Show the limits; those that are the defaults stay open, so that they follow the kind."""
        default = with_gaps(trip.with_(min_gap_m=None, max_gap_m=None), self._kind)
        for box, value, usual in (
            (self.min_gap, trip.min_gap_m, default.min_gap_m),
            (self.max_gap, trip.max_gap_m, default.max_gap_m),
        ):
            if value is not None and value != usual:
                box.setText(f"{value:.10g} m")

    def follow(self, line_kind: str) -> None:
        """Show the limits that a kind of line has where none is typed."""
        self._kind = line_kind
        usual = Trip(name="-")
        with suppress(InvalidValue):  # said when the trip is started
            low, high = self._typed("min_gap_m"), self._typed("max_gap_m")
            usual = usual.with_(min_gap_m=low, max_gap_m=high)
        usual = with_gaps(usual, line_kind)
        assert usual.min_gap_m is not None
        assert usual.max_gap_m is not None
        self.min_gap.setPlaceholderText(f"{length_text(usual.min_gap_m)} (usual)")
        self.max_gap.setPlaceholderText(f"{length_text(usual.max_gap_m)} (usual)")

    def _typed(self, name: str) -> float | None:
        box = self.min_gap if name == "min_gap_m" else self.max_gap
        meta = field_meta(Trip, name)
        try:
            value = typed_value(box.text(), meta)
        except InvalidValue as problem:
            raise InvalidValue(problem.error, str(meta["label"]), problem.what_to_do) from problem
        return None if value is None else float(value)

    def values(self) -> dict[str, Any]:
        """Return the limits and the reference bait."""
        return {
            "min_gap_m": self._typed("min_gap_m"),
            "max_gap_m": self._typed("max_gap_m"),
            "reference_bait_id": self.reference.currentData(),
        }

    def target_row(self) -> Species | None:
        """Return the target species, a new one where the name is new; None without."""
        name = self.target.currentText().strip()
        if not name:
            return None
        known = [
            row for row in self.snapshot.all(Species) if row.name.casefold() == name.casefold()
        ]
        return known[0] if known else Species(name=name)

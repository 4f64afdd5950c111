"""Add several places: measured along a line, on a string, by rope and bearing, or without position.

What will be added is said while it is typed.
"""

from collections.abc import Callable, Sequence

from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QStackedWidget, QWidget

from trapline.actions.places import add_places, labels_from, next_label
from trapline.drawing.theme import set_role
from trapline.errors import InvalidValue
from trapline.model.current import parse_towards
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.science.coordinates import POSITION_EXAMPLE, parse_position
from trapline.ui.dialogs.card_dialog import Card, CardDialog, at, choose, plain_label
from trapline.ui.dialogs.several_ways import (
    MOST,
    Spot,
    along,
    at_position,
    between,
    by_rope,
    labelled,
    legs_of,
    nowhere,
    sentence,
)
from trapline.ui.session import Session
from trapline.units import length_text, parse_length

WAYS = (
    "Every so far along a line",
    "On a string between two ends",
    "By rope and bearing",
    "Without a position",
    "At a typed position",
)


class SpotBox(QComboBox):
    """A place or stake chosen by its name, or a position typed as latitude, longitude."""

    def __init__(self, places: Sequence[Place], chosen: str | None = None) -> None:
        super().__init__()
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self._places = {place.label.casefold(): place for place in places if place.has_position}
        self.addItems([place.label for place in self._places.values()])
        self.setCurrentText("")
        line = self.lineEdit()
        if line is not None:
            line.setPlaceholderText(f"a place, or {POSITION_EXAMPLE}")
        if chosen is not None:
            place = next((one for one in places if one.id == chosen and one.has_position), None)
            self.setCurrentText(place.label if place else "")

    def spot(self) -> Spot:
        """Return what was chosen or typed.

        Raises
        ------
        InvalidValue
            Neither a place with a position nor a position.
        """
        text = self.currentText().strip()
        place = self._places.get(text.casefold())
        if place is not None and place.lon_deg is not None and place.lat_deg is not None:
            return Spot(place.lon_deg, place.lat_deg, place)
        if not text:
            raise InvalidValue(
                "Nothing is chosen.", "", f"Choose a place, or type a position: {POSITION_EXAMPLE}."
            )
        return Spot(*parse_position(text))


class AddSeveralDialog(CardDialog):
    """Places for the line of the trip, planned in the round that is looked at."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Add several places", "Add", parent)
        line = session.line
        assert line is not None
        self.line: Line = line
        snapshot = session.snapshot
        self.places = _places_of_water(snapshot, line)
        trip = session.trip
        self.min_gap_m = (trip.min_gap_m if trip else None) or 10.0
        self.way = QComboBox()
        choose(self.way, [(text, number) for number, text in enumerate(WAYS)])
        self.n, self.first = QLineEdit("5"), QLineEdit(next_label(snapshot, line.id))
        self.stack = QStackedWidget()
        self.new_stake: Place | None = None
        chosen = session.selection[0] if len(session.selection) == 1 else None
        makers: tuple[Callable[[str | None], Card], ...] = (
            self._make_along, self._make_between, self._make_rope, self._make_nowhere,
            self._make_typed,
        )  # fmt: skip
        for maker in makers:
            card = maker(chosen)
            card.body.addStretch(1)
            self.stack.addWidget(card)
        top = Card("", columns=4)
        self.n_field = self.field("&How many", self.n, key="How many")
        top.add(self.field("&Way", self.way), span=2)
        top.add(self.n_field)
        top.add(self.field("&Name of the first", self.first, key="Place",
                           hint="others follow"))  # fmt: skip
        self.preview = plain_label(role="heading")
        self.warning = plain_label(role="warning")
        said = Card("", columns=1)
        said.add(self.preview)
        said.add(self.warning)
        self.column(top, self.stack, said)
        self.setMinimumWidth(660)
        self.way.currentIndexChanged.connect(self._on_way_chosen)
        for box in self.findChildren(QLineEdit):
            box.textChanged.connect(self._show_what_comes)
        for combo in self.findChildren(QComboBox):
            combo.currentTextChanged.connect(self._show_what_comes)
        for tick in self.findChildren(QCheckBox):
            tick.toggled.connect(self._show_what_comes)
        self._on_way_chosen(0)
        self.way.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None) -> bool:
        """Show the dialog; True when places were added."""
        if session.line is None:
            return False
        dialog = AddSeveralDialog(session, parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Add the places in one step and select them."""
        places = self.build()
        stake = [self.new_stake] if self.new_stake else []
        self.session.do_or_raise(
            add_places, self.line.id, [*stake, *places], round_id=self.session.round_id
        )
        self.session.select(tuple(place.id for place in places))

    def build(self) -> list[Place]:
        """Return the places as they will be added, after a new stake in `new_stake`.

        Raises
        ------
        InvalidValue
            Something is missing or cannot be; names its field.
        """
        self.new_stake = None
        ways = (self._along, self._between, self._rope, self._nowhere, self._typed)
        places = ways[self.way.currentData()]()
        first = self.first.text().strip()
        if not first:
            raise InvalidValue("The first place has no name.", "Place", "Type one, like P1.")
        taken: list[str] = [self.new_stake.label] if self.new_stake else []
        known = self.session.snapshot.places(self.line.id, stakes=True)
        if first.casefold() in {place.label.casefold() for place in known}:
            raise InvalidValue(f"'{first}' is there already.", "Place", "Type another name.")
        labels = labels_from(self.session.snapshot, self.line.id, first, len(places), taken)
        return labelled(places, labels)

    # Making the five ways

    def _make_along(self, chosen: str | None) -> Card:
        card = Card("", columns=2)
        self.along_from, self.along_to = SpotBox(self.places, chosen), SpotBox(self.places)
        self.along_kind, self.along_bearing = QComboBox(), QLineEdit()
        choose(self.along_kind, [("towards a place or position", True), ("on a bearing", False)])
        self.along_bearing.setPlaceholderText("225, or SW")
        self.spacing = QLineEdit(f"{self.min_gap_m:g} m")
        card.add(self.field("&From", self.along_from))
        card.add(self.field("&Spacing", self.spacing))
        card.add(self.field("&Direction", self.along_kind))
        self._along_parts = (
            self.field("&Towards", self.along_to),
            self.field("&Bearing", self.along_bearing, hint="from true north, clockwise"),
        )
        for part in self._along_parts:
            card.add(part)
        self.along_kind.currentIndexChanged.connect(self._show_along)
        self._show_along(0)
        return card

    def _show_along(self, _: int) -> None:
        towards, bearing = self._along_parts
        towards.setVisible(self.along_kind.currentData())
        bearing.setVisible(not self.along_kind.currentData())
        if hasattr(self, "n_field"):
            self._say_how_many()

    def _make_between(self, chosen: str | None) -> Card:
        card = Card("", columns=2)
        self.end_a, self.end_b = SpotBox(self.places, chosen), SpotBox(self.places)
        self.at_ends = QCheckBox("A pot hangs at &each end (else the ends are anchors)")
        self.at_ends.setChecked(True)
        card.add(self.field("End &A", self.end_a))
        card.add(self.field("End &B", self.end_b))
        card.add(self.at_ends, span=2)
        return card

    def _make_rope(self, chosen: str | None) -> Card:
        card = Card("", columns=3)
        self.origin = QComboBox()
        items: list[tuple[str, object]] = [(place.label, place.id) for place in self.places]
        stakes = [place.id for place in self.places if place.is_stake]
        first = next(iter([*stakes, *(place.id for place in self.places)]), None)
        choose(self.origin, [*items, ("a new stake…", None)], chosen or first)
        self.stake_name, self.stake_at = QLineEdit("Stake"), QLineEdit()
        self.stake_at.setPlaceholderText(POSITION_EXAMPLE)
        self.rope_bearing, self.rope_first = QLineEdit(), QLineEdit(f"{self.min_gap_m:g} m")
        self.rope_step = QLineEdit(f"{self.min_gap_m:g} m")
        self.rope_bearing.setPlaceholderText("225, or SW")
        card.add(self.field("Measured &from", self.origin))
        self._stake_parts = (
            self.field("Name of the sta&ke", self.stake_name),
            self.field("Position of the s&take", self.stake_at),
        )
        for part in self._stake_parts:
            card.add(part)
        if not items:
            self.origin.setEnabled(False)
        card.add(self.field("&Bearing of the rope", self.rope_bearing,
                            hint="from true north, clockwise"))  # fmt: skip
        card.add(self.field("&Rope to the first", self.rope_first))
        card.add(self.field("Each f&urther by", self.rope_step))
        self.origin.currentIndexChanged.connect(self._show_stake)
        self._show_stake(0)
        return card

    def _show_stake(self, _: int) -> None:
        for part in self._stake_parts:
            part.setVisible(self.origin.currentData() is None)

    def _make_nowhere(self, _: str | None) -> Card:
        card = Card("", columns=1)
        card.add(
            plain_label(
                "They stand in their order along the line, drawn evenly beside the map. Gaps are"
                " judged once they have a position, from a receiver or by rope and bearing."
            )
        )
        return card

    def _make_typed(self, _: str | None) -> Card:
        card = Card("", columns=1)
        self.typed = QLineEdit()
        self.typed.setPlaceholderText(POSITION_EXAMPLE)
        card.add(self.field("&Position", self.typed, hint="latitude, longitude"))
        return card

    # Reading them

    def _along(self) -> list[Place]:
        with at("From"):
            start = self.along_from.spot()
        spacing_m = _length(self.spacing, "Spacing")
        if self.along_kind.currentData():
            with at("Towards"):
                end = self.along_to.spot()
            n = self._count(optional=True)
            try:
                return along(start, end, None, spacing_m, n)
            except InvalidValue as problem:
                where = problem.where if problem.where == "Spacing" else "Towards"
                raise InvalidValue(problem.error, where, problem.what_to_do) from problem
        return along(start, None, _bearing(self.along_bearing, "Bearing"), spacing_m, self._count())

    def _between(self) -> list[Place]:
        with at("End A"):
            first = self.end_a.spot()
        with at("End B"):
            last = self.end_b.spot()
        n = self._count() or 1
        if n == 1 and self.at_ends.isChecked():
            with at("How many"):
                return between(first, last, n, at_ends=True)
        with at("End B"):
            return between(first, last, n, at_ends=self.at_ends.isChecked())

    def _rope(self) -> list[Place]:
        origin = self.session.snapshot.get(Place, self.origin.currentData())
        if origin is None:
            with at("Position of the stake"):
                lon_deg, lat_deg = parse_position(self.stake_at.text())
            with at("Name of the stake"):
                name = self.stake_name.text().strip()
                origin = Place(
                    label=name, is_stake=True, lon_deg=lon_deg, lat_deg=lat_deg, fix="typed"
                )
            self.new_stake = origin
        n = self._count() or 1
        bearing_deg = _bearing(self.rope_bearing, "Bearing of the rope")
        first_m = _length(self.rope_first, "Rope to the first")
        step_m = _length(self.rope_step, "Each further by") if n > 1 else 0.0
        return by_rope(origin, bearing_deg, first_m, step_m, n)

    def _nowhere(self) -> list[Place]:
        return nowhere(self._count() or 1)

    def _typed(self) -> list[Place]:
        with at("Position"):
            return at_position(Spot(*parse_position(self.typed.text())))

    def _count(self, *, optional: bool = False) -> int | None:
        text = self.n.text().strip()
        if optional and not text:
            return None
        if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST):
            raise InvalidValue(
                f"'{text}' is not a number of places." if text else "How many places is empty.",
                "How many",
                f"Type a whole number from 1 to {MOST}.",
            )
        return int(text)

    # Showing

    def _on_way_chosen(self, number: int) -> None:
        self.clear()
        self.stack.setCurrentIndex(number)
        self.n_field.setVisible(WAYS[number] != WAYS[4])
        self._say_how_many()
        self._show_what_comes()
        self.fit()

    def _say_how_many(self) -> None:
        may_be_empty = self.way.currentData() == 0 and self.along_kind.currentData()
        self.n_field.say("empty: as many as fit" if may_be_empty else "")

    def _show_what_comes(self) -> None:
        try:
            places = self.build()
        except InvalidValue as problem:
            self.preview.setText("Nothing to add yet.")
            set_role(self.warning, "note")
            self.warning.setText(f"{problem.where}: {problem.error}" if problem.where else "")
            self.verb.setText("Add")
            return
        n = len(places)
        self.preview.setText(f"{sentence(places)}.")
        self.verb.setText("Add 1 place" if n == 1 else f"Add {n} places")
        apart_m = legs_of(places)
        too_close = bool(apart_m) and min(apart_m) < self.min_gap_m - 1e-6
        set_role(self.warning, "warning")
        self.warning.setText(
            f"That is closer than the minimum gap of {length_text(self.min_gap_m)}."
            if too_close
            else ""
        )


def _places_of_water(snapshot: Snapshot, line: Line) -> list[Place]:
    """Return the places with a position of all lines of a water, those of the line first."""
    lines = [line, *(one for one in snapshot.lines(line.water_id) if one.id != line.id)]
    if line.water_id is None:
        lines = [line]
    return [
        place
        for one in lines
        for place in snapshot.places(one.id, stakes=True)
        if place.has_position
    ]


def _length(box: QLineEdit, where: str) -> float:
    with at(where):
        metres = parse_length(box.text())
        if metres <= 0:
            raise InvalidValue(f"'{box.text()}' is no distance.", where, "Type more than 0 m.")
        return metres


def _bearing(box: QLineEdit, where: str) -> float:
    with at(where):
        return parse_towards(box.text())

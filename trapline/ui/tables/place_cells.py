"""The cells of the table of places: how each reads, and what a typed text asks for."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtGui import QIcon

from trapline.analyses.spacing_check import Leg, SpacingCheck
from trapline.drawing.icons import mark_icon
from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.fields import field_meta
from trapline.model.line import Place
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A place of the line, its trap set in the round (None when left out), and its gaps."""

    place: Place
    trap_set: TrapSet | None
    nearest_m: float | None
    leg: Leg | None
    is_short: bool
    is_far: bool
    note: str


@dataclass
class Typed:
    """What typed cells ask for, to be done in one step."""

    places: dict[str, dict[str, Any]] = field(default_factory=dict)
    baits: dict[str, str | None] = field(default_factory=dict)
    traps: dict[str, str | None] = field(default_factory=dict)


def place_rows(session: Session) -> list[PlaceRow]:
    """Return the rows of the session's round in the order of the line, stakes last."""
    snapshot, checks = session.snapshot, session.checks()
    if checks is None:
        return []
    spacing = checks[0]
    by_place = {row.place_id: row for row in snapshot.sets(session.round_id or "")}
    line_ids = [session.line.id] if session.line else []
    for row in by_place.values():
        place = snapshot.get(Place, row.place_id)
        if place is not None and place.line_id not in (None, *line_ids):
            line_ids.append(place.line_id or "")
    places = [place for line_id in line_ids for place in snapshot.places(line_id, stakes=True)]
    places.sort(key=lambda place: place.is_stake)
    short = {one.set_id for gap in spacing.gaps for one in (gap.first, gap.second)}
    far = {row.trap.set_id for row in spacing.lonely}
    legs = {leg.first.set_id: leg for leg in spacing.legs}
    return [_row(place, by_place.get(place.id), spacing, short, far, legs) for place in places]


def _row(
    place: Place,
    trap_set: TrapSet | None,
    spacing: SpacingCheck,
    short: set[str],
    far: set[str],
    legs: dict[str, Leg],
) -> PlaceRow:
    key = trap_set.id if trap_set else ""
    nearest = spacing.nearest.get(key)
    if place.is_stake:
        note = "stake"
    elif trap_set is None:
        note = "not in this round"
    elif not place.has_position:
        note = "no position"
    else:
        note = "too near" if key in short else "too far" if key in far else ""
    return PlaceRow(
        place,
        trap_set,
        nearest[1] if nearest else None,
        legs.get(key),
        key in short,
        key in far,
        note,
    )


class PlaceCells:
    """Reads and writes the cells of a row. `write` does one cell, and may raise."""

    def __init__(self, session: Session, write: Callable[[PlaceRow, str, str], None]) -> None:
        self.session = session
        self.theme_name = "light"
        self._write = write

    def columns(self) -> list[Column]:
        """The columns in their order; what can be typed into is written by its title."""

        def mark(row: PlaceRow) -> str:
            return "error" if row.is_short else "warning" if row.is_far else ""

        def to_next(row: PlaceRow) -> str:
            leg = row.leg
            return f"{leg.distance_m:.2f} m  {round(leg.bearing_deg) % 360:03d}°" if leg else ""

        return [
            Column("Place", lambda row: row.place.label, self._writer("Place")),
            Column(
                "Bait", self._bait_name, self._writer("Bait"),
                choices=lambda _: [b.name for b in self.session.snapshot.all(Bait)],
                decoration=self._icon,
            ),
            Column(
                "Trap", self._trap_number, self._writer("Trap"),
                choices=lambda _: [t.number for t in self.session.snapshot.all(Trap)],
            ),
            Column(
                "Nearest m",
                lambda row: "" if row.nearest_m is None else f"{row.nearest_m:.2f}",
                mark=mark, is_number=True, tip=lambda row: row.note,
            ),
            Column("Note", lambda row: row.note, mark=mark),
            Column("To next", to_next),
            Column("Latitude", lambda row: _degrees(row.place.lat_deg), self._writer("Latitude"),
                   is_number=True),
            Column("Longitude", lambda row: _degrees(row.place.lon_deg),
                   self._writer("Longitude"), is_number=True),
            Column("How fixed", self._fix),
            Column("Depth m", lambda row: _plain(row.place.depth_m), self._writer("Depth m"),
                   is_number=True),
            Column("Bottom", lambda row: row.place.bottom, self._writer("Bottom")),
            Column("Notes", lambda row: row.place.notes, self._writer("Notes")),
        ]  # fmt: skip

    def take(self, typed: Typed, row: PlaceRow, title: str, text: str) -> None:
        """Add what a text in a cell asks for.

        Raises
        ------
        InvalidValue
            It cannot be; nothing was added.
        """
        place = row.place
        if title == "Bait":
            typed.baits[self._set_id(row)] = self._named(Bait, "name", text)
        elif title == "Trap":
            typed.traps[self._set_id(row)] = self._named(Trap, "number", text)
        elif title in ("Latitude", "Longitude"):
            typed.places.setdefault(place.id, {}).update(_position(title, text))
        else:
            name = {"Place": "label", "Depth m": "depth_m"}.get(title, title.lower())
            value = typed_value(text, field_meta(Place, name))
            typed.places.setdefault(place.id, {})[name] = value

    def check(self, typed: Typed) -> None:
        """Refuse half a position, once all cells are taken.

        Raises
        ------
        InvalidValue
            Names the place.
        """
        for place_id, fields in typed.places.items():
            place = self.session.snapshot.need(Place, place_id)
            lon_deg = fields.get("lon_deg", place.lon_deg)
            lat_deg = fields.get("lat_deg", place.lat_deg)
            if (lon_deg is None) != (lat_deg is None):
                half = lat_deg if lon_deg is None else lon_deg
                raise InvalidValue(
                    f"'{half:g}' is only half a position.",
                    place.label,
                    "Type latitude and longitude together, like 60.1234, 10.5678.",
                )

    def _writer(self, title: str) -> Callable[[PlaceRow, str], None]:
        return lambda row, text: self._write(row, title, text)

    def _bait(self, row: PlaceRow) -> Bait | None:
        return self.session.snapshot.bait_of(row.trap_set) if row.trap_set else None

    def _bait_name(self, row: PlaceRow) -> str:
        bait = self._bait(row)
        return bait.name if bait else ""

    def _trap_number(self, row: PlaceRow) -> str:
        return self.session.snapshot.trap_label(row.trap_set) if row.trap_set else ""

    def _icon(self, row: PlaceRow) -> QIcon | None:
        bait = self._bait(row)
        return mark_icon(bait.mark, bait.colour, self.theme_name) if bait else None

    def _fix(self, row: PlaceRow) -> str:
        place = row.place
        if place.fix != "rope and bearing":
            return place.fix
        origin = self.session.snapshot.get(Place, place.from_place_id)
        rope, bearing = place.rope_m or 0.0, place.bearing_deg or 0.0
        return f"{rope:g} m at {bearing:03.0f}° from {origin.label if origin else '?'}"

    def _set_id(self, row: PlaceRow) -> str:
        if row.trap_set is None:
            raise InvalidValue(
                f"'{row.place.label}' is {row.note}.", row.place.label, "Take it into the round."
            )
        return row.trap_set.id

    def _named(self, noun: type[Bait] | type[Trap], name: str, text: str) -> str | None:
        wanted = text.strip().casefold()
        if not wanted:
            return None
        for one in self.session.snapshot.all(noun):
            if str(getattr(one, name)).casefold() == wanted:
                return one.id
        raise InvalidValue(
            f"There is no {noun.noun} called '{text.strip()}'.",
            noun.noun,
            f"Add it under Lists, {noun.noun.capitalize()}s, or choose one from the list.",
        )


def _position(title: str, text: str) -> dict[str, Any]:
    """Return the fields of a place for a latitude, a longitude or both in one cell."""
    from trapline.science.coordinates import parse_degrees, parse_position

    if not text.strip():
        return {"lon_deg": None, "lat_deg": None, "fix": "not fixed", "accuracy_m": None}
    fields: dict[str, Any] = {"fix": "typed", "accuracy_m": None}
    try:
        if title == "Latitude":
            fields["lat_deg"] = parse_degrees(text, "lat")
        else:
            fields["lon_deg"] = parse_degrees(text, "lon")
    except InvalidValue:
        with suppress(InvalidValue):
            fields["lon_deg"], fields["lat_deg"] = parse_position(text)
            return fields
        raise
    return fields


def _degrees(value: float | None) -> str:
    return "" if value is None else f"{value:.7f}"


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"

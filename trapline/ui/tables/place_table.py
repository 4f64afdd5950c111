"""The places of the round as a table: by keyboard all that the map does by mouse."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QItemSelection, Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import QWidget

from trapline.actions.editing import edit, edit_each
from trapline.actions.fair_order import assign_baits, assign_traps
from trapline.actions.places import (
    clear_position,
    delete_places,
    move_place,
    order_places,
)
from trapline.analyses.spacing_check import Leg, SpacingCheck
from trapline.drawing.icons import mark_icon
from trapline.errors import InvalidValue, TraplineError
from trapline.model.bait import Bait
from trapline.model.line import Place
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView


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


def place_rows(session: Session) -> list[PlaceRow]:
    """Return the rows of the session's round in the order of the line, stakes last."""
    snapshot, checks = session.snapshot, session.checks()
    if checks is None or session.line is None:
        return []
    spacing = checks[0]
    by_place = {row.place_id: row for row in snapshot.sets(session.round_id or "")}
    line_ids = [session.line.id]
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


class PlaceTable(GridView):
    """Signals: `places_selected` (tuple of ids) when the user selects rows."""

    places_selected = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self.session = session
        super().__init__(self._columns(), "Places of the round", parent)
        self.setToolTip("")
        self.grid.refused.connect(session.failed)
        self.selectionModel().selectionChanged.connect(self._on_selection_changed)
        self.pasted.connect(self._on_pasted)
        self.delete_pressed.connect(self.delete_selected)
        self._showing = False

    # Showing

    def refresh(self) -> None:
        """Show the round's places anew, keeping the selection of the session."""
        self._showing = True
        self.show_rows(place_rows(self.session))
        self._showing = False
        self.show_selection(self.session.selection)

    def show_selection(self, place_ids: Sequence[str]) -> None:
        """Select the rows of places that were selected elsewhere."""
        wanted = set(place_ids)
        rows = [n for n, row in enumerate(self.grid.rows) if row.place.id in wanted]
        if rows != self.selected_rows():
            self._showing = True
            self.select_rows(rows)
            self._showing = False

    def selected_ids(self) -> tuple[str, ...]:
        """The ids of the selected places."""
        return tuple(self.grid.rows[number].place.id for number in self.selected_rows())

    # Changing

    def delete_selected(self) -> None:
        """Delete the selected places."""
        ids = self.selected_ids()
        if ids:
            self.session.do(delete_places, ids)

    def move_selected(self, by: int) -> None:
        """Move the selected place up (−1) or down (1) along the line."""
        rows = [row for row in self.grid.rows if not row.place.is_stake]
        selected = self.selected_rows()
        if len(selected) != 1 or self.session.line is None or selected[0] >= len(rows):
            return
        here, there = selected[0], selected[0] + by
        line_id = rows[here].place.line_id
        if not 0 <= there < len(rows) or rows[there].place.line_id != line_id:
            return
        ids = [row.place.id for row in rows if row.place.line_id == line_id]
        first = ids.index(rows[here].place.id)
        ids.insert(first + by, ids.pop(first))
        self.session.do(order_places, line_id, ids)

    def _columns(self) -> list[Column]:
        def bait_name(row: PlaceRow) -> str:
            bait = self._bait(row)
            return bait.name if bait else ""

        def trap_number(row: PlaceRow) -> str:
            trap = self.session.snapshot.get(Trap, row.trap_set.trap_id if row.trap_set else None)
            return trap.number if trap else ""

        def mark(row: PlaceRow) -> str:
            return "error" if row.is_short else "warning" if row.is_far else ""

        return [
            Column("Place", lambda row: row.place.label, self._write_label),
            Column(
                "Bait", bait_name, self._write_bait,
                choices=lambda _: [b.name for b in self.session.snapshot.all(Bait)],
                decoration=self._icon,
            ),
            Column(
                "Trap", trap_number, self._write_trap,
                choices=lambda _: [t.number for t in self.session.snapshot.all(Trap)],
            ),
            Column(
                "Nearest m",
                lambda row: "" if row.nearest_m is None else f"{row.nearest_m:.2f}",
                mark=mark, is_number=True, tip=lambda row: row.note,
            ),
            Column(
                "To next",
                lambda row: (
                    f"{row.leg.distance_m:.2f} m  {row.leg.bearing_deg:03.0f}°" if row.leg else ""
                ),
            ),
            Column("Note", lambda row: row.note, mark=mark),
            Column("Latitude", lambda row: _degrees(row.place.lat_deg), self._write_lat,
                   is_number=True),
            Column("Longitude", lambda row: _degrees(row.place.lon_deg), self._write_lon,
                   is_number=True),
            Column("How fixed", self._fix),
            Column("Depth m", lambda row: _plain(row.place.depth_m), self._writer("depth_m"),
                   is_number=True),
            Column("Bottom", lambda row: row.place.bottom, self._writer("bottom")),
            Column("Notes", lambda row: row.place.notes, self._writer("notes")),
        ]  # fmt: skip

    def _bait(self, row: PlaceRow) -> Bait | None:
        return self.session.snapshot.bait_of(row.trap_set) if row.trap_set else None

    def _icon(self, row: PlaceRow) -> QIcon | None:
        bait = self._bait(row)
        return mark_icon(bait.mark, bait.colour) if bait else None

    def _fix(self, row: PlaceRow) -> str:
        place = row.place
        if place.fix != "rope and bearing":
            return place.fix
        origin = self.session.snapshot.get(Place, place.from_place_id)
        rope, bearing = place.rope_m or 0.0, place.bearing_deg or 0.0
        return f"{rope:g} m at {bearing:03.0f}° from {origin.label if origin else '?'}"

    # Cells typed into: errors go back to the cell

    def _run(self, action: Callable[..., object], *args: object, **values: object) -> None:
        self.session.do_or_raise(action, *args, **values)

    def _write_label(self, row: PlaceRow, text: str) -> None:
        self._run(edit_each, Place, [row.place.id], lambda *_: {"label": text}, "Rename place")

    def _writer(self, name: str) -> Callable[[PlaceRow, str], None]:
        def write(row: PlaceRow, text: str) -> None:
            from trapline.model.fields import field_meta

            value = typed_value(text, field_meta(Place, name))
            self._run(edit, Place, row.place.id, **{name: value})

        return write

    def _write_lat(self, row: PlaceRow, text: str) -> None:
        self._write_position(row, text, "lat")

    def _write_lon(self, row: PlaceRow, text: str) -> None:
        self._write_position(row, text, "lon")

    def _write_position(self, row: PlaceRow, text: str, axis: str) -> None:
        from trapline.science.coordinates import parse_degrees, parse_position

        if not text.strip():
            self._run(clear_position, [row.place.id])
            return
        lon_deg: float | None
        lat_deg: float | None
        if not row.place.has_position:
            lon_deg, lat_deg = parse_position(text)
        else:
            value = parse_degrees(text, "lat" if axis == "lat" else "lon")
            lon_deg = value if axis == "lon" else row.place.lon_deg
            lat_deg = value if axis == "lat" else row.place.lat_deg
        if lon_deg is None or lat_deg is None:
            raise InvalidValue(
                f"'{text}' is only half a position.",
                row.place.label,
                "Paste latitude and longitude together, like 60.1234, 10.5678.",
            )
        self._run(move_place, row.place.id, lon_deg, lat_deg, fix="typed")

    def _write_bait(self, row: PlaceRow, text: str) -> None:
        self._run(assign_baits, {self._set_id(row): self._named(Bait, "name", text)})

    def _write_trap(self, row: PlaceRow, text: str) -> None:
        self._run(assign_traps, {self._set_id(row): self._named(Trap, "number", text)})

    def _set_id(self, row: PlaceRow) -> str:
        if row.trap_set is None:
            raise InvalidValue(
                f"'{row.place.label}' is {row.note}.", row.place.label, "Take it into the round."
            )
        return row.trap_set.id

    def _named(self, noun: type[Bait] | type[Trap], field: str, text: str) -> str | None:
        wanted = text.strip().casefold()
        if not wanted:
            return None
        for one in self.session.snapshot.all(noun):
            if str(getattr(one, field)).casefold() == wanted:
                return one.id
        raise InvalidValue(
            f"There is no {noun.noun} called '{text.strip()}'.",
            noun.noun,
            f"Add it under Lists, {noun.noun.capitalize()}s, or choose one from the list.",
        )

    def _on_pasted(self, row: int, column: int, lines: list[list[str]]) -> None:
        """Paste one column of baits or traps as one step, other columns cell by cell."""
        title = self.grid.columns[column].title
        rows = self.grid.rows[row : row + len(lines)]
        texts = [line[0] if line else "" for line in lines]
        try:
            if len(lines) > len(self.grid.rows) - row:
                raise InvalidValue(
                    f"{len(lines)} cells do not fit into {len(self.grid.rows) - row} rows.",
                    title, "Select the first row and paste again.",
                )  # fmt: skip
            if title == "Bait":
                chosen = {
                    self._set_id(one): self._named(Bait, "name", text)
                    for one, text in zip(rows, texts, strict=True)
                }
                self._run(assign_baits, chosen)
            elif title == "Trap":
                chosen = {
                    self._set_id(one): self._named(Trap, "number", text)
                    for one, text in zip(rows, texts, strict=True)
                }
                self._run(assign_traps, chosen)
            else:
                for number, text in enumerate(texts, row):
                    self.grid.write_cell(number, column, text)
        except TraplineError as problem:
            self.session.failed.emit(problem)

    def _on_selection_changed(self, _new: QItemSelection, _old: QItemSelection) -> None:
        if not self._showing:
            self.places_selected.emit(self.selected_ids())

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.modifiers() == Qt.KeyboardModifier.AltModifier and event.key() in (
            Qt.Key.Key_Up,
            Qt.Key.Key_Down,
        ):
            self.move_selected(-1 if event.key() == Qt.Key.Key_Up else 1)
            return
        super().keyPressEvent(event)


def _degrees(value: float | None) -> str:
    return "" if value is None else f"{value:.7f}"


def _plain(value: float | None) -> str:
    return "" if value is None else f"{value:g}"

"""The places of the round as a table: by keyboard all that the map does by mouse."""

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QItemSelection, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget

from trapline.actions.places import add_places, delete_places, next_label, order_places
from trapline.actions.round_table import edit_round
from trapline.errors import InvalidValue, TraplineError
from trapline.model.line import Place
from trapline.ui.session import Session
from trapline.ui.tables.grid import GridView
from trapline.ui.tables.place_cells import PlaceCells, PlaceRow, Typed, place_rows

# What a step is called in the menu and in the history, by the column that was typed into.
_STEPS = {
    "Place": "Rename place", "Bait": "Assign bait", "Trap": "Assign trap",
    "Latitude": "Move place", "Longitude": "Move place",
}  # fmt: skip
_PASTED = {
    "Place": "Rename places", "Bait": "Assign baits", "Trap": "Assign traps",
    "Latitude": "Move places", "Longitude": "Move places",
}  # fmt: skip


class PlaceTable(GridView):
    """Signals: `places_selected` (tuple of ids) when the user selects rows."""

    places_selected = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self.session = session
        self.cells = PlaceCells(session, self._write)
        super().__init__(self.cells.columns(), "Places of the round", parent)
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

    def add_place(self) -> None:
        """Add a place without a position to the end of the line, ready to be named and placed."""
        line = self.session.line_for_places()
        if line is None:
            return
        place = Place(label=next_label(self.session.snapshot, line.id))
        if self.session.do(add_places, line.id, [place], round_id=self.session.round_id):
            self.session.select((place.id,))
            self.setFocus()
            for number in self.selected_rows():
                self.setCurrentIndex(self.grid.index(number, 0))

    def delete_selected(self) -> None:
        """Delete the selected places and go on from the one after them."""
        ids, rows = self.selected_ids(), self.selected_rows()
        if ids and self.session.do(delete_places, ids) is not None and self.grid.rows:
            place = self.grid.rows[min(rows[0], len(self.grid.rows) - 1)].place
            self.session.select((place.id,))

    def move_selected(self, by: int) -> None:
        """Move the selected places up (−1) or down (1) along their line."""
        places = [self.grid.rows[number].place for number in self.selected_rows()]
        chosen = {place.id for place in places if not place.is_stake}
        line_ids = {place.line_id for place in places if not place.is_stake}
        if len(line_ids) != 1:
            return
        (line_id,) = line_ids
        ids = [place.id for place in self.session.snapshot.places(line_id)]
        before = list(ids)
        if by > 0:
            ids.reverse()
        for n in range(1, len(ids)):
            if ids[n] in chosen and ids[n - 1] not in chosen:
                ids[n - 1], ids[n] = ids[n], ids[n - 1]
        if by > 0:
            ids.reverse()
        if ids != before:
            self.session.do(order_places, line_id, ids)

    def _write(self, row: PlaceRow, title: str, text: str) -> None:
        """Do what was typed into a cell; the error goes back to the cell."""
        typed = Typed()
        self.cells.take(typed, row, title, text)
        self._run(typed, _STEPS.get(title, "Edit place"))

    def _run(self, typed: Typed, step: str) -> None:
        self.cells.check(typed)
        self.session.do_or_raise(
            edit_round, step, places=typed.places, baits=typed.baits, traps=typed.traps
        )

    def _on_pasted(self, row: int, column: int, lines: list[list[str]]) -> None:
        """Paste cells from the current one on, all of them in one step or none."""
        try:
            columns = self.grid.columns[column:]
            if lines[0] == [one.title for one in columns[: len(lines[0])]]:
                lines = lines[1:]  # the headers that this table copies
            rows = self.grid.rows[row : row + len(lines)]
            widest = max((len(line) for line in lines), default=0)
            if len(lines) > len(rows) or widest > len(columns):
                room = f"{len(rows)} × {len(columns)}"
                raise InvalidValue(
                    f"{len(lines)} × {widest} cells do not fit into {room}.",
                    columns[0].title,
                    "Select the first row and paste again.",
                )
            typed = Typed()
            for one, line in zip(rows, lines, strict=True):
                for shown, text in zip(columns, line, strict=False):
                    if text.strip() == shown.read(one).strip():
                        continue
                    if shown.write is None:
                        raise InvalidValue(
                            f"'{text}' cannot be pasted: this is worked out.",
                            f"{one.place.label}, {shown.title}",
                            "Paste the other columns only.",
                        )
                    self.cells.take(typed, one, shown.title, text)
            title = columns[0].title if widest == 1 else ""
            self._run(typed, _PASTED.get(title, "Paste cells"))
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
        if event.key() == Qt.Key.Key_Insert and not event.modifiers():
            self.add_place()
            return
        super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        # Elsewhere on the page Insert is for clicks on the map.
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Insert
            and not event.modifiers()
        ):
            event.accept()
            return True
        return super().event(event)

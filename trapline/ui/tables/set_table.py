"""The round as a table in the order of the line: what was planned beside what was done."""

from collections.abc import Callable

from PySide6.QtCore import QItemSelectionModel, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QWidget

from trapline.actions.setting import set_at_times
from trapline.errors import InvalidValue, TraplineError
from trapline.model.trapset import TrapSet
from trapline.ui.session import Session
from trapline.ui.tables.grid import GridView
from trapline.ui.tables.set_cells import TIME_COLUMN, SetCells


class SetTable(GridView):
    """Signals: `key_pressed` (a letter that the page answers), `time_typed` (trap set id)."""

    key_pressed = Signal(str)
    time_typed = Signal(object)

    def __init__(
        self, session: Session, by: Callable[[], str], parent: QWidget | None = None
    ) -> None:
        self.session = session
        self.cells = SetCells(session, by, lambda set_id: self.time_typed.emit(set_id))
        name = "Traps of the round in the order of the line"
        super().__init__(self.cells.columns(), name, parent)
        self.cells.parent = self
        self.grid.refused.connect(session.failed)
        self.pasted.connect(self._on_pasted)

    def refresh(self) -> None:
        """Show the round anew, keeping the selected rows."""
        round_id = self.session.round_id
        rows = self.session.snapshot.sets(round_id) if round_id else ()
        kept = {row.id for row in self.selected_sets()}
        self.show_rows(rows)
        numbers = [n for n, row in enumerate(rows) if row.id in kept]
        if numbers != self.selected_rows():
            self.select_rows(numbers)

    def selected_sets(self) -> list[TrapSet]:
        """The selected trap sets, along the line."""
        return [self.grid.rows[n] for n in self.selected_rows() if n < len(self.grid.rows)]

    def select_set(self, set_id: str) -> None:
        """Select one row, its time ready to be typed."""
        for number, row in enumerate(self.grid.rows):
            if row.id == set_id:
                self.select_rows([number])
                self._make_current(number)

    def _make_current(self, row: int) -> None:
        """Turn to the time of a row; the selection stays, whatever keys are held down."""
        self.selectionModel().setCurrentIndex(
            self.grid.index(row, TIME_COLUMN), QItemSelectionModel.SelectionFlag.NoUpdate
        )

    def _on_pasted(self, row: int, column: int, lines: list[list[str]]) -> None:
        """Paste a column: set times as one step, other columns cell by cell."""
        rows = self.grid.rows[row : row + len(lines)]
        texts = [line[0].strip() if line else "" for line in lines]
        try:
            if len(lines) > len(self.grid.rows) - row:
                raise InvalidValue(
                    f"{len(lines)} cells do not fit into {len(self.grid.rows) - row} rows.",
                    self.grid.columns[column].title,
                    "Select the first row and paste again.",
                )
            if column == TIME_COLUMN:
                times = {
                    one.id: None if text == "?" else self.cells.instant(text)
                    for one, text in zip(rows, texts, strict=True)
                    if text
                }
                self.session.do_or_raise(set_at_times, times, self.cells.by())
            else:
                for number, text in enumerate(texts, row):
                    self.grid.write_cell(number, column, text)
        except TraplineError as problem:
            self.session.failed.emit(problem)

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.ShiftModifier,
        )
        text = event.text()
        if self.state() == QAbstractItemView.State.EditingState:
            event.accept()  # the editor's: Enter ends it
            return
        if plain and text.isalpha():
            self.key_pressed.emit(text.upper())
            return
        current = self.currentIndex()
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if current.isValid() and plain and (text.isdigit() or is_enter):
            if self.grid.is_read_only:
                return
            # Digits are a time, whichever cell is current; so is Enter where nothing is typed.
            if text.isdigit() or not current.flags() & Qt.ItemFlag.ItemIsEditable:
                self._make_current(current.row())
        super().keyPressEvent(event)

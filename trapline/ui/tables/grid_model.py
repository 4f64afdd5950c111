"""The rows and columns of a table as Qt asks for them: columns as data, errors at the cell."""

import html
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QWidget

from trapline.errors import TraplineError
from trapline.ui.dialogs.card_dialog import theme_of

Index = QModelIndex | QPersistentModelIndex

# A column is never wider than this many letters by itself: the rest is in the tooltip.
WIDEST = 40


@dataclass(frozen=True)
class Column:
    """One column: how a row's cell reads, and what typing into it does.

    Attributes
    ----------
    read : row -> text of the cell
    write : (row, text) -> None, may raise TraplineError; None for a cell that cannot be typed in
    choices : row -> words offered in the cell, or None
    decoration : row -> QIcon or QColor before the text
    mark : row -> "error" or "warning" or "" to colour the cell, with `tip` in words
    """

    title: str
    read: Callable[[Any], str]
    write: Callable[[Any, str], None] | None = None
    choices: Callable[[Any], Sequence[str]] | None = None
    decoration: Callable[[Any], Any] | None = None
    mark: Callable[[Any], str] | None = None
    tip: Callable[[Any], str] | None = None
    is_number: bool = False
    width: int = 0
    stretch: bool = field(default=False)


@dataclass(frozen=True, slots=True)
class Refused:
    """What was typed into a cell and not taken: it stays there to be typed right."""

    row: int
    column: int
    text: str
    why: str


class GridModel(QAbstractTableModel):
    """Rows shown through columns. `refused` carries the error of a cell that was not taken."""

    refused = Signal(object)

    def __init__(self, columns: Sequence[Column], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.columns = list(columns)
        self.rows: list[Any] = []
        self.is_read_only = False
        self.wrong: Refused | None = None

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Show other rows; where their number stays, the selection stays too."""
        self.wrong = None
        if len(rows) == len(self.rows):
            self.rows = list(rows)
            if rows:
                last = self.index(len(rows) - 1, len(self.columns) - 1)
                self.dataChanged.emit(self.index(0, 0), last)
            return
        self.beginResetModel()
        self.rows = list(rows)
        self.endResetModel()

    def write_cell(self, row: int, column: int, text: str) -> None:
        """Type into a cell.

        Raises
        ------
        TraplineError
            The cell cannot take it; nothing was changed.
        """
        write = self.columns[column].write
        if write is not None:
            write(self.rows[row], text)

    # Qt overrides

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008  # Qt's own default
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008  # Qt's own default
        return 0 if parent.isValid() else len(self.columns)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        is_title = orientation == Qt.Orientation.Horizontal
        if role == Qt.ItemDataRole.TextAlignmentRole and is_title:
            # Over a column of words at its beginning, over one of numbers at its end.
            side = Qt.AlignmentFlag.AlignRight if self.columns[section].is_number else (
                Qt.AlignmentFlag.AlignLeft
            )  # fmt: skip
            return side | Qt.AlignmentFlag.AlignVCenter
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        return self.columns[section].title if is_title else str(section + 1)

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        can_type = not self.is_read_only
        if index.isValid() and can_type and self.columns[index.column()].write is not None:
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self.rows):
            return None
        column, row = self.columns[index.column()], self.rows[index.row()]
        wrong = self.wrong
        if wrong is not None and (wrong.row, wrong.column) != (index.row(), index.column()):
            wrong = None
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return wrong.text if wrong else column.read(row)
        if role == Qt.ItemDataRole.DecorationRole and column.decoration:
            return column.decoration(row)
        if role == Qt.ItemDataRole.TextAlignmentRole and column.is_number:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.ForegroundRole:
            return self._colour("error" if wrong else column.mark(row) if column.mark else "")
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole):
            tip = wrong.why if wrong else column.tip(row) if column.tip else ""
            tip = tip or (text if len(text := column.read(row)) > WIDEST else "")
            if role == Qt.ItemDataRole.ToolTipRole and tip:
                return f"<p>{html.escape(tip)}</p>"  # Qt takes what looks like HTML for HTML
            return tip or None
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole or not index.isValid():
            return False
        if str(value) == self.columns[index.column()].read(self.rows[index.row()]):
            self._forget_wrong()
            return True
        try:
            self.write_cell(index.row(), index.column(), str(value))
        except TraplineError as problem:
            self._forget_wrong()
            self.wrong = Refused(index.row(), index.column(), str(value), problem.error)
            self.dataChanged.emit(index, index)
            self.refused.emit(problem)
            return False
        self._forget_wrong()
        return True

    def _forget_wrong(self) -> None:
        if self.wrong is not None:
            cell = self.index(self.wrong.row, self.wrong.column)
            self.wrong = None
            self.dataChanged.emit(cell, cell)

    def _colour(self, mark: str) -> QColor | None:
        if not mark:
            return None
        view = self.parent()
        theme = theme_of(view if isinstance(view, QWidget) else None)
        return QColor(theme.bad if mark == "error" else theme.warning)

"""The one table of the window: columns as data, copy and paste as TSV, errors at the cell."""

import html
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)
from PySide6.QtGui import QColor, QFontMetrics, QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from trapline.errors import TraplineError
from trapline.exchange.clipboard import parse_pasted, tsv
from trapline.ui.dialogs.card_dialog import theme_of

Index = QModelIndex | QPersistentModelIndex

# Left and right of a cell's text: the style sheet's padding, its frame of focus, Qt's own margin.
_AROUND_PX = 24
# A column is never wider than this many letters by itself: the rest is in the tooltip.
_WIDEST = 40


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
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Horizontal:
            return self.columns[section].title
        return str(section + 1)

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
            tip = tip or (text if len(text := column.read(row)) > _WIDEST else "")
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


def _cell(column: Column, text: str) -> str | float:
    """Return a number as a number, so that a minus sign is not taken for a formula."""
    try:
        return float(text) if column.is_number else text
    except ValueError:
        return text


class _ChoiceDelegate(QStyledItemDelegate):
    """A drop-down in cells whose column offers words; typing still works."""

    # Qt overrides

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        model = index.model()
        if isinstance(model, GridModel):
            choices = model.columns[index.column()].choices
            if choices is not None:
                box = QComboBox(parent)
                box.setEditable(True)
                box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
                box.addItems(list(choices(model.rows[index.row()])))
                return box
        return super().createEditor(parent, option, index)

    def updateEditorGeometry(
        self, editor: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> None:
        # The whole cell: what the style leaves beside the icon cuts the letters.
        editor.setGeometry(option.rect)

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, QComboBox):
            text = str(index.data(Qt.ItemDataRole.EditRole) or "")
            editor.setCurrentIndex(editor.findText(text))
            editor.setEditText(text)
            line = editor.lineEdit()
            if line is not None:
                line.selectAll()
            return
        super().setEditorData(editor, index)

    def setModelData(self, editor: QWidget, model: Any, index: Index) -> None:
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText(), Qt.ItemDataRole.EditRole)
            return
        super().setModelData(editor, model, index)


class GridView(QTableView):
    """A table by keyboard: F2 or typing edits, Ctrl+C copies TSV, Ctrl+V pastes it.

    Signals
    -------
    pasted : (row, column, list of lines of cells), for the owner to make one action of
    delete_pressed : the Delete key, outside of a cell's editor
    """

    pasted = Signal(int, int, object)
    delete_pressed = Signal()

    def __init__(self, columns: Sequence[Column], name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.grid = GridModel(columns, self)
        self.setModel(self.grid)
        self.setAccessibleName(name)
        self.setItemDelegate(_ChoiceDelegate(self))
        self.setAlternatingRowColors(True)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.verticalHeader().setVisible(False)
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 10)
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        self._fitted: dict[int, int] = {}
        for number, column in enumerate(columns):
            if column.stretch:
                header.setSectionResizeMode(number, QHeaderView.ResizeMode.Stretch)
            elif column.width:
                self.setColumnWidth(number, column.width)

    def show_rows(self, rows: Sequence[Any]) -> None:
        """Show other rows; a column without a width is as wide as it needs, or as was chosen."""
        current = self.currentIndex()
        at = (current.row(), current.column())
        self.grid.set_rows(rows)
        if at[0] >= 0 and rows and not self.currentIndex().isValid():
            # Who works by keyboard goes on from where they were.
            self.selectionModel().setCurrentIndex(
                self.grid.index(min(at[0], len(rows) - 1), at[1]),
                QItemSelectionModel.SelectionFlag.NoUpdate,
            )
        metrics = self.fontMetrics()
        for number, column in enumerate(self.grid.columns):
            if column.stretch or column.width:
                continue
            if self._fitted.get(number, self.columnWidth(number)) == self.columnWidth(number):
                width = max(self._text_width(column, metrics), self._header_width(number))
                self.setColumnWidth(number, width)
                self._fitted[number] = width

    def _text_width(self, column: Column, metrics: QFontMetrics) -> int:
        """Return the width for the longest text: Qt would ask every cell for six things."""
        texts = sorted({column.read(row) for row in self.grid.rows}, key=len)[-4:]
        widest = max((metrics.horizontalAdvance(text) for text in texts), default=0)
        icon = self.iconSize().width() if self.iconSize().isValid() else 20
        return (
            min(widest, _WIDEST * metrics.averageCharWidth())
            + _AROUND_PX
            + (icon + 10 if column.decoration else 0)
        )

    def _header_width(self, number: int) -> int:
        return self.horizontalHeader().sectionSizeHint(number)

    def commit(self) -> bool:
        """Take what is being typed in a cell, as leaving the cell does; False when refused."""
        if self.state() != QAbstractItemView.State.EditingState:
            return True
        editor = self.indexWidget(self.currentIndex())
        if editor is None:
            return True
        self.commitData(editor)
        self.closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        return self.grid.wrong is None

    def selected_rows(self) -> list[int]:
        """The numbers of the selected rows, in order."""
        return sorted({index.row() for index in self.selectionModel().selectedRows()})

    def select_rows(self, rows: Sequence[int]) -> None:
        """Select rows without telling anyone, and bring the first into view."""
        selection = QItemSelection()
        for row in rows:
            selection.select(
                self.grid.index(row, 0), self.grid.index(row, len(self.grid.columns) - 1)
            )
        model = self.selectionModel()
        model.select(
            selection,
            QItemSelectionModel.SelectionFlag.ClearAndSelect
            | QItemSelectionModel.SelectionFlag.Rows,
        )
        if rows:
            current = self.grid.index(rows[0], max(0, self.currentIndex().column()))
            model.setCurrentIndex(current, QItemSelectionModel.SelectionFlag.NoUpdate)
            self.scrollTo(current)

    def copy_text(self) -> str:
        """The selected rows, or all of them, with their headers as TSV."""
        numbers = self.selected_rows() or range(len(self.grid.rows))
        headers = [column.title for column in self.grid.columns]
        cells = [
            [_cell(column, column.read(self.grid.rows[number])) for column in self.grid.columns]
            for number in numbers
        ]
        return tsv(headers, cells)

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == QAbstractItemView.State.EditingState:
            event.accept()  # the editor's: Enter ends it
            return
        if event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.copy_text())
            return
        if event.matches(QKeySequence.StandardKey.Paste):
            lines = parse_pasted(QGuiApplication.clipboard().text())
            if lines:
                index = self.currentIndex()
                self.pasted.emit(max(0, index.row()), max(0, index.column()), lines)
            return
        if event.key() == Qt.Key.Key_Delete:
            self.delete_pressed.emit()
            return
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.edit(self.currentIndex())
            return
        if event.matches(QKeySequence.StandardKey.Undo) or event.matches(
            QKeySequence.StandardKey.Redo
        ):
            event.ignore()  # the window's
            return
        super().keyPressEvent(event)

    def event(self, event: QEvent) -> bool:
        # Copy and paste are the table's own; undo and redo stay the window's.
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and (
                event.matches(QKeySequence.StandardKey.Copy)
                or event.matches(QKeySequence.StandardKey.Paste)
            )
        ):
            event.accept()
            return True
        return super().event(event)

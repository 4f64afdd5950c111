"""The one table of the window: columns as data, copy and paste as TSV, errors at the cell."""

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QEvent, QItemSelection, QItemSelectionModel, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from trapline.exchange.clipboard import parse_pasted, tsv
from trapline.ui.tables.grid_model import WIDEST, Column, GridModel, Index
from trapline.ui.tables.marked import MarkedDelegate

__all__ = ["Column", "GridModel", "GridView"]

# Left and right of a cell's text: the style sheet's padding, its frame of focus, Qt's own margin.
_AROUND_PX = 24
_ICON_PX = 24


def _cell(column: Column, text: str) -> str | float:
    """Return a number as a number, so that a minus sign is not taken for a formula."""
    try:
        return float(text) if column.is_number else text
    except ValueError:
        return text


class _ChoiceDelegate(MarkedDelegate):
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
        self.setIconSize(QSize(_ICON_PX, _ICON_PX))
        self.verticalHeader().setVisible(False)
        self._fit_rows()
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

    def _fit_rows(self) -> None:
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 10)

    def _text_width(self, column: Column, metrics: QFontMetrics) -> int:
        """Return the width for the longest text: Qt would ask every cell for six things."""
        texts = sorted({column.read(row) for row in self.grid.rows}, key=len)[-4:]
        widest = max((metrics.horizontalAdvance(text) for text in texts), default=0)
        return (
            min(widest, WIDEST * metrics.averageCharWidth())
            + _AROUND_PX
            + (_ICON_PX + 10 if column.decoration else 0)
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

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._fit_rows()

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

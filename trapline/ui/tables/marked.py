"""Cells whose colour says something keep it in a selected row."""

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtGui import QBrush, QColor, QPalette
from PySide6.QtWidgets import QStyledItemDelegate, QStyleOptionViewItem, QWidget

from trapline.ui.dialogs.card_dialog import theme_of


class MarkedDelegate(QStyledItemDelegate):
    """What is red stays red where it is selected, in a red that can be read there."""

    # Qt overrides

    def initStyleOption(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().initStyleOption(option, index)
        ink = index.data(Qt.ItemDataRole.ForegroundRole)
        if ink is None:
            return
        view = self.parent()
        theme = theme_of(view if isinstance(view, QWidget) else None)
        marked = {theme.bad: theme.selection_bad, theme.warning: theme.selection_warning}
        colour = marked.get(QBrush(ink).color().name())
        if colour is not None:
            option.palette.setColor(QPalette.ColorRole.HighlightedText, QColor(colour))

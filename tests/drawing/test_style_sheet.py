"""What the style sheet makes of widgets, read from their pixels in every look."""

from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QImage, QStandardItemModel
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QPushButton,
    QTableView,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)
from pytestqt.qtbot import QtBot

from trapline.drawing.theme import SCREEN_THEMES, Theme, apply_theme, set_role


@pytest.fixture(params=sorted(SCREEN_THEMES))
def theme(request: pytest.FixtureRequest, qapp: QApplication) -> Iterator[Theme]:
    before = qapp.font()
    yield apply_theme(qapp, request.param)
    apply_theme(qapp, "light")
    qapp.setStyleSheet("")
    qapp.setFont(before)


def _shown(qtbot: QtBot, widget: QWidget, width: int, height: int) -> QImage:
    qtbot.addWidget(widget)
    widget.resize(width, height)
    widget.show()
    widget.activateWindow()
    QApplication.processEvents()
    return widget.grab().toImage()


def _colours(image: QImage, left: int, top: int, width: int, height: int) -> set[str]:
    return {
        image.pixelColor(x, y).name()
        for x in range(left, left + width)
        for y in range(top, top + height)
    }


def test_the_frame_of_a_focused_table_is_whole_beside_its_rows(qtbot: QtBot, theme: Theme):
    table = QTableView()
    table.setAlternatingRowColors(True)
    table.setModel(QStandardItemModel(6, 2, table))
    table.verticalHeader().hide()
    qtbot.addWidget(table)
    table.setFocus()
    image = _shown(qtbot, table, 300, 260)
    assert table.hasFocus()
    wide = round(theme.line_scale) + 1
    assert _colours(image, 0, 40, wide, 150) == {theme.accent}


def test_a_box_in_a_tree_is_seen_whether_it_is_ticked_or_not(qtbot: QtBot, theme: Theme):
    tree = QTreeWidget()
    tree.setHeaderHidden(True)
    for state in (Qt.CheckState.Unchecked, Qt.CheckState.Checked):
        QTreeWidgetItem(tree, [""]).setCheckState(0, state)
    image = _shown(qtbot, tree, 200, 120)
    for n, colour in ((0, theme.control_border), (1, theme.accent)):
        rect = tree.visualItemRect(tree.topLevelItem(n))
        corner = tree.viewport().mapTo(tree, QPoint(rect.left(), rect.top()))
        inked = [
            (x, y)
            for x in range(corner.x(), corner.x() + 40)
            for y in range(corner.y(), corner.y() + rect.height())
            if image.pixelColor(x, y).name() == colour
        ]
        width, height = (max(one) - min(one) for one in zip(*inked, strict=True))
        # As high as it is wide: neither top nor bottom is cut off.
        assert (width > 12, abs(width - height) <= 1) == (True, True), (n, width, height)


def test_what_cannot_be_used_is_not_filled_as_if_it_were_chosen(qtbot: QtBot, theme: Theme):
    box = QCheckBox("half their soak")
    box.setEnabled(False)
    image = _shown(qtbot, box, 220, 40)
    indicator = image.pixelColor(8, 20).name()
    assert indicator == theme.window

    button = QPushButton("Set now")
    set_role(button, "primary")
    button.setEnabled(False)
    assert _shown(qtbot, button, 160, 40).pixelColor(12, 20).name() == theme.window

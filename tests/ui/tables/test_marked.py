from collections.abc import Iterator

import pytest
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QListWidget, QListWidgetItem
from pytestqt.qtbot import QtBot

from trapline.drawing.theme import SCREEN_THEMES, Theme, apply_theme
from trapline.ui.tables.grid import Column, GridView
from trapline.ui.tables.marked import MarkedDelegate


@pytest.fixture(params=sorted(SCREEN_THEMES))
def theme(request: pytest.FixtureRequest, qapp: QApplication) -> Iterator[Theme]:
    before = qapp.font()
    yield apply_theme(qapp, request.param)
    apply_theme(qapp, "light")
    qapp.setStyleSheet("")
    qapp.setFont(before)


def inks(image: QImage) -> set[str]:
    return {
        image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height())
    }


def test_red_stays_red_in_the_chosen_line_of_a_list(qtbot: QtBot, theme: Theme) -> None:
    words = QListWidget()
    words.theme = theme  # as the window has it
    words.setItemDelegate(MarkedDelegate(words))
    # Letters of full blocks: every pixel inside has the colour of the ink.
    for text, colour in (("████", theme.bad), ("████", "")):
        item = QListWidgetItem(text)
        if colour:
            item.setForeground(QColor(colour))
        words.addItem(item)
    qtbot.addWidget(words)
    words.show()
    words.setCurrentRow(0)
    assert theme.selection_bad in inks(words.viewport().grab().toImage())
    words.setCurrentRow(1)
    shown = inks(words.viewport().grab().toImage())
    assert {theme.bad, theme.selection_text} <= shown
    assert theme.selection_bad not in shown - {theme.bad}


def test_marks_of_a_table_keep_their_colours_in_a_selected_row(qtbot: QtBot, theme: Theme) -> None:
    table = GridView(
        [Column(kind, lambda _: "████", mark=lambda _, kind=kind: kind)
         for kind in ("error", "warning", "")], "Marks",
    )  # fmt: skip
    table.theme = theme
    qtbot.addWidget(table)
    table.resize(600, 200)
    table.show_rows(["only"])
    table.show()
    table.select_rows([0])
    table.setCurrentIndex(table.grid.index(0, 0))
    shown = inks(table.viewport().grab().toImage())
    assert {theme.selection_bad, theme.selection_warning, theme.selection_text} <= shown

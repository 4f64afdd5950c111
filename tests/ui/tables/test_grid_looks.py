from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from trapline.ui.tables.grid import Column, GridView


def test_a_title_stands_over_its_cells_words_left_and_numbers_right(qtbot: QtBot) -> None:
    table = GridView(
        [Column("Bait", lambda row: row[0]), Column("Catch", lambda row: row[1], is_number=True)],
        "Baits",
    )
    qtbot.addWidget(table)
    table.show_rows([("liver", "3")])
    role = Qt.ItemDataRole.TextAlignmentRole
    left, right = (
        Qt.AlignmentFlag(table.grid.headerData(n, Qt.Orientation.Horizontal, role)) for n in (0, 1)
    )
    assert left & Qt.AlignmentFlag.AlignLeft
    assert right & Qt.AlignmentFlag.AlignRight
    assert table.grid.index(0, 1).data(role) == right

from dataclasses import dataclass

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractItemView, QApplication, QComboBox, QLineEdit
from pytestqt.qtbot import QtBot

from trapline.drawing.theme import DARK, LIGHT
from trapline.errors import InvalidValue
from trapline.ui.tables.grid import Column, GridView

Key = Qt.Key
Role = Qt.ItemDataRole


@dataclass
class Row:
    name: str
    bait: str = ""


def write_name(row: Row, text: str) -> None:
    if text == "bad":
        raise InvalidValue("'bad' is no <b>name</b>.", "Name", "Type another.")
    row.name = text


def write_bait(row: Row, text: str) -> None:
    row.bait = text


@pytest.fixture
def view(qtbot: QtBot) -> GridView:
    columns = [
        Column("Name", lambda row: row.name, write_name),
        Column("Bait", lambda row: row.bait, write_bait, choices=lambda _: ["liver", "corn"]),
        Column("Length", lambda row: str(len(row.name)), is_number=True,
               mark=lambda row: "error" if len(row.name) > 5 else "",
               tip=lambda row: f"{row.name} & more" if len(row.name) > 5 else ""),
    ]  # fmt: skip
    view = GridView(columns, "Names")
    qtbot.addWidget(view)
    view.resize(500, 300)
    view.show_rows([Row("P1"), Row("P2"), Row("a <b> long name")])
    view.show()
    view.setFocus()
    view.setCurrentIndex(view.grid.index(0, 0))
    return view


def press(view: GridView, qtbot: QtBot, key: Key) -> None:
    """Press a key where the focus is; Qt takes a cell's text a moment after Enter."""
    qtbot.keyClick(QApplication.focusWidget() or view, key)
    QApplication.processEvents()


def is_editing(view: GridView) -> bool:
    return view.state() == QAbstractItemView.State.EditingState


def editor_of(view: GridView) -> QLineEdit:
    editor = view.indexWidget(view.currentIndex())
    assert isinstance(editor, QLineEdit)
    return editor


def test_a_refused_text_stays_in_its_cell_to_be_typed_right(view: GridView) -> None:
    refused: list[InvalidValue] = []
    view.grid.refused.connect(refused.append)
    cell = view.grid.index(0, 0)

    assert not view.grid.setData(cell, "bad")

    assert len(refused) == 1
    assert view.grid.rows[0].name == "P1"
    assert cell.data() == "bad"
    assert cell.data(Role.EditRole) == "bad"
    assert cell.data(Role.ForegroundRole).name() == LIGHT.bad
    assert view.grid.index(1, 0).data(Role.ForegroundRole) is None

    assert view.grid.setData(cell, "good")
    assert cell.data() == "good"
    assert cell.data(Role.ForegroundRole) is None


def test_typing_the_old_text_again_forgets_what_was_refused(view: GridView) -> None:
    cell = view.grid.index(0, 0)
    view.grid.setData(cell, "bad")

    assert view.grid.setData(cell, "P1")
    assert cell.data() == "P1"
    assert cell.data(Role.ToolTipRole) is None


def test_tooltips_show_what_looks_like_html_as_it_is(view: GridView) -> None:
    view.grid.setData(view.grid.index(0, 0), "bad")

    assert "&lt;b&gt;name&lt;/b&gt;" in view.grid.index(0, 0).data(Role.ToolTipRole)
    assert "a &lt;b&gt; long name &amp; more" in view.grid.index(2, 2).data(Role.ToolTipRole)
    assert view.grid.index(2, 2).data(Role.AccessibleDescriptionRole) == "a <b> long name & more"
    assert view.grid.index(1, 2).data(Role.ToolTipRole) is None


def test_marks_have_the_colour_of_the_theme_around_the_table(
    view: GridView, monkeypatch: pytest.MonkeyPatch
) -> None:
    cell = view.grid.index(2, 2)
    assert cell.data(Role.ForegroundRole).name() == LIGHT.bad

    view.theme = DARK  # type: ignore[attr-defined]  # a page or window around it has one
    assert cell.data(Role.ForegroundRole).name() == DARK.bad


def test_enter_in_a_cell_edits_it_and_enter_again_takes_it(view: GridView, qtbot: QtBot) -> None:
    qtbot.keyClick(view, Key.Key_Return)
    assert is_editing(view)
    qtbot.keyClicks(editor_of(view), "new")
    press(view, qtbot, Key.Key_Return)

    assert view.grid.rows[0].name == "new"
    assert not is_editing(view)


def test_escape_leaves_a_cell_as_it_was(view: GridView, qtbot: QtBot) -> None:
    qtbot.keyClick(view, Key.Key_F2)
    qtbot.keyClicks(editor_of(view), "new")
    qtbot.keyClick(editor_of(view), Key.Key_Escape)

    assert view.grid.rows[0].name == "P1"


def test_a_word_is_chosen_by_its_first_letters(view: GridView, qtbot: QtBot) -> None:
    view.setCurrentIndex(view.grid.index(1, 1))
    qtbot.keyClick(view, Key.Key_C)
    box = view.indexWidget(view.currentIndex())
    assert isinstance(box, QComboBox)
    assert box.currentText() == "corn"
    assert box.height() == view.visualRect(view.currentIndex()).height()
    press(view, qtbot, Key.Key_Return)

    assert view.grid.rows[1].bait == "corn"


def test_what_is_being_typed_can_be_taken_from_outside(view: GridView, qtbot: QtBot) -> None:
    assert view.commit()
    qtbot.keyClick(view, Key.Key_F2)
    qtbot.keyClicks(editor_of(view), "new")

    assert view.commit()
    assert view.grid.rows[0].name == "new"
    assert not is_editing(view)

    qtbot.keyClick(view, Key.Key_F2)
    qtbot.keyClicks(editor_of(view), "bad")
    assert not view.commit()


def test_columns_fit_their_longest_text_but_not_a_novel(view: GridView) -> None:
    short = view.columnWidth(0)
    view.show_rows([Row("x" * 30)])
    long = view.columnWidth(0)
    view.show_rows([Row("x" * 2000)])

    assert short < long <= view.columnWidth(0) < 600
    assert "x" * 2000 in view.grid.index(0, 0).data(Role.ToolTipRole)


def test_a_column_that_was_made_wider_by_hand_stays_so(view: GridView) -> None:
    view.setColumnWidth(0, 321)
    view.show_rows([Row("other"), Row("rows")])

    assert view.columnWidth(0) == 321


def test_the_current_cell_survives_other_rows(view: GridView) -> None:
    view.setCurrentIndex(view.grid.index(2, 1))
    view.show_rows([Row("P1"), Row("P2")])

    assert (view.currentIndex().row(), view.currentIndex().column()) == (1, 1)


def test_nothing_can_be_typed_into_a_table_that_is_only_read(view: GridView, qtbot: QtBot) -> None:
    view.grid.is_read_only = True
    qtbot.keyClick(view, Key.Key_F2)

    assert not is_editing(view)


def test_rows_are_as_high_as_larger_letters_need(view: GridView) -> None:
    before = view.rowHeight(0)
    font = view.font()
    font.setPointSizeF(font.pointSizeF() * 2)
    view.setFont(font)

    assert view.verticalHeader().defaultSectionSize() > before
    assert view.verticalHeader().defaultSectionSize() >= view.fontMetrics().height()


def test_fitting_a_thousand_rows_asks_no_cell_of_the_view(
    view: GridView, monkeypatch: pytest.MonkeyPatch
) -> None:
    n_asked = 0
    data = type(view.grid).data

    def counted(self: object, *args: object) -> object:
        nonlocal n_asked
        n_asked += 1
        return data(self, *args)  # type: ignore[arg-type]  # as Qt calls it

    monkeypatch.setattr(type(view.grid), "data", counted)
    view.show_rows([Row(f"P{n}") for n in range(1000)])

    assert n_asked < 200

"""All that the map does by mouse, done in the table by keys in the real window."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip
from tests.ui.trip_window import window_on
from trapline.model.line import Place
from trapline.ui.tables.place_table import PlaceTable
from trapline.ui.window import MainWindow

Key = Qt.Key
PLAIN = Qt.KeyboardModifier.NoModifier
ALT = Qt.KeyboardModifier.AltModifier
CONTROL = Qt.KeyboardModifier.ControlModifier


class Keyboard:
    """The Lay out page of a window, worked by keys where the focus is."""

    def __init__(self, qtbot: QtBot, window: MainWindow) -> None:
        self.qtbot, self.window = qtbot, window
        self.session = window.session
        table = window.page.table  # type: ignore[attr-defined]  # the Lay out page
        assert isinstance(table, PlaceTable)
        self.table = table
        self.table.setFocus()
        self.titles = [column.title for column in self.table.grid.columns]
        self.problems: list[str] = []
        self.session.failed.connect(lambda problem: self.problems.append(str(problem)))

    def press(self, key: Key, modifier: Qt.KeyboardModifier = PLAIN) -> None:
        self.qtbot.keyClick(self._focus(), key, modifier)
        QApplication.processEvents()  # Qt takes a cell's text a moment after Enter

    def type(self, text: str) -> None:
        """Type text into the current cell and take it with Enter."""
        self.press(Key.Key_F2)
        editor = self._focus()
        if isinstance(editor, QLineEdit):
            editor.selectAll()
        self.qtbot.keyClicks(editor, text)
        self.press(Key.Key_Return)

    def go(self, row: int, title: str = "Place") -> None:
        """Turn to a cell as arrow keys do: its row is selected."""
        self.table.setCurrentIndex(self.table.grid.index(row, self.titles.index(title)))

    def paste(self, text: str) -> None:
        QGuiApplication.clipboard().setText(text)
        self.press(Key.Key_V, CONTROL)

    def cells(self, title: str) -> list[str]:
        column = self.table.grid.columns[self.titles.index(title)]
        return [column.read(row) for row in self.table.grid.rows]

    def undo_label(self) -> str:
        return self.window.actions_by_name["undo"].text()

    def _focus(self) -> QWidget:
        return QApplication.focusWidget() or self.table


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Callable[[MadeTrip], Keyboard]:
    return lambda made: Keyboard(qtbot, window_on(made, qtbot, tmp_path, 0))


@pytest.fixture
def keyboard(opened: Callable[[MadeTrip], Keyboard]) -> Keyboard:
    return opened(make_trip(4))


def test_the_table_has_the_focus_when_a_project_is_open(keyboard: Keyboard) -> None:
    assert QApplication.focusWidget() is keyboard.table


def test_insert_adds_a_place_that_is_named_and_placed_by_typing(keyboard: Keyboard) -> None:
    keyboard.press(Key.Key_Insert)
    assert keyboard.cells("Place") == ["P1", "P2", "P3", "P4", "P5"]
    assert keyboard.table.selected_rows() == [4]
    assert keyboard.cells("Note")[4] == "no position"

    keyboard.type("Reed corner")
    keyboard.go(4, "Latitude")
    keyboard.type("45.0001, 7.0009")

    place = keyboard.session.snapshot.places("line")[4]
    assert (place.label, place.lat_deg, place.lon_deg) == ("Reed corner", 45.0001, 7.0009)
    assert place.fix == "typed"
    assert keyboard.undo_label() == "&Undo move place"


def test_insert_elsewhere_on_the_page_is_for_clicks_on_the_map(keyboard: Keyboard) -> None:
    page = keyboard.window.page
    page.canvas.setFocus()
    keyboard.press(Key.Key_Insert)
    keyboard.qtbot.waitUntil(lambda: page.canvas.is_adding)
    assert len(keyboard.cells("Place")) == 4

    keyboard.press(Key.Key_Escape)
    assert not page.canvas.is_adding


def test_each_half_of_a_position_is_typed_by_itself(keyboard: Keyboard) -> None:
    keyboard.go(1, "Longitude")
    keyboard.type("7,5")
    place = keyboard.session.snapshot.places("line")[1]
    assert (place.lon_deg, place.lat_deg) == (7.5, 45.00002)

    keyboard.go(1, "Latitude")
    keyboard.type("91")
    assert "outside" in keyboard.problems[-1]
    assert keyboard.cells("Latitude")[1] == "45.0000200"
    assert keyboard.table.grid.index(1, keyboard.titles.index("Latitude")).data() == "91"


def test_half_a_position_is_refused_where_there_is_none(opened: Callable[..., Keyboard]) -> None:
    keyboard = opened(make_trip(3, has_positions=False))
    keyboard.go(0, "Latitude")
    keyboard.type("45.5")

    assert "only half a position" in keyboard.problems[-1]
    assert not keyboard.session.snapshot.places("line")[0].has_position


def test_an_emptied_position_is_forgotten(keyboard: Keyboard) -> None:
    keyboard.go(0, "Latitude")
    keyboard.press(Key.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    editor.clear()
    keyboard.press(Key.Key_Return)

    assert not keyboard.session.snapshot.places("line")[0].has_position
    assert keyboard.cells("How fixed")[0] == "not fixed"


def test_alt_with_arrows_moves_places_along_the_line(keyboard: Keyboard) -> None:
    keyboard.go(0)
    keyboard.press(Key.Key_Down, ALT)
    assert keyboard.cells("Place") == ["P2", "P1", "P3", "P4"]
    assert keyboard.table.selected_rows() == [1]

    keyboard.press(Key.Key_Up, ALT)
    keyboard.press(Key.Key_Up, ALT)
    assert keyboard.cells("Place") == ["P1", "P2", "P3", "P4"]


def test_several_places_move_together(keyboard: Keyboard) -> None:
    keyboard.table.select_rows([1, 2])
    keyboard.press(Key.Key_Up, ALT)
    assert keyboard.cells("Place") == ["P2", "P3", "P1", "P4"]
    assert keyboard.table.selected_rows() == [0, 1]

    keyboard.press(Key.Key_Down, ALT)
    keyboard.press(Key.Key_Down, ALT)
    assert keyboard.cells("Place") == ["P1", "P4", "P2", "P3"]


def test_delete_goes_on_from_the_next_place(keyboard: Keyboard) -> None:
    keyboard.go(1)
    keyboard.press(Key.Key_Delete)
    assert keyboard.cells("Place") == ["P1", "P3", "P4"]
    assert keyboard.table.selected_rows() == [1]

    keyboard.press(Key.Key_Delete)
    keyboard.press(Key.Key_Delete)
    assert keyboard.cells("Place") == ["P1"]
    keyboard.press(Key.Key_Delete)
    assert keyboard.cells("Place") == []


def test_bait_and_trap_are_typed(keyboard: Keyboard) -> None:
    keyboard.go(0, "Bait")
    keyboard.press(Key.Key_C)
    cell = keyboard.table.currentIndex()
    assert keyboard.table.indexWidget(cell).geometry() == keyboard.table.visualRect(cell)
    keyboard.qtbot.keyClicks(QApplication.focusWidget(), "hicken")
    keyboard.press(Key.Key_Return)
    assert keyboard.cells("Bait")[0] == "chicken skin"
    assert keyboard.undo_label() == "&Undo assign bait"

    keyboard.go(0, "Trap")
    keyboard.type("T9")
    assert "no trap called 'T9'" in keyboard.problems[-1]
    keyboard.type("T2")
    assert "stands at 'P2' already" in keyboard.problems[-1]


def test_selecting_goes_both_ways(keyboard: Keyboard) -> None:
    page = keyboard.window.page
    keyboard.go(0)
    keyboard.press(Key.Key_Down)
    assert page.canvas.picture.selected == {"place-1"}

    page.canvas.setFocus()
    keyboard.press(Key.Key_PageDown)
    assert keyboard.table.selected_rows() == [2]
    assert keyboard.table.currentIndex().row() == 2


def test_undo_in_a_cell_edits_its_text_until_it_is_taken(keyboard: Keyboard) -> None:
    keyboard.go(0)
    keyboard.type("Q1")
    keyboard.press(Key.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    keyboard.qtbot.keyClicks(editor, "xyz")
    keyboard.qtbot.keyClick(editor, Key.Key_Z, CONTROL)

    assert editor.text() == "Q1"
    assert keyboard.cells("Place")[0] == "Q1"

    keyboard.qtbot.keyClick(editor, Key.Key_Escape)
    keyboard.press(Key.Key_Z, CONTROL)
    assert keyboard.cells("Place")[0] == "P1"
    keyboard.press(Key.Key_Z, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    assert keyboard.cells("Place")[0] == "Q1"


def test_undo_from_the_menu_takes_back_what_is_being_typed(keyboard: Keyboard) -> None:
    keyboard.go(0)
    keyboard.press(Key.Key_F2)
    keyboard.qtbot.keyClicks(QApplication.focusWidget(), "Q1")

    keyboard.window.actions_by_name["undo"].trigger()
    assert keyboard.cells("Place")[0] == "P1"
    keyboard.window.actions_by_name["redo"].trigger()
    assert keyboard.cells("Place")[0] == "Q1"


def test_a_pasted_block_is_one_step(keyboard: Keyboard) -> None:
    keyboard.go(1, "Place")
    keyboard.paste("A\tchicken skin\tT4\nB\tcut herring\tT3\nC\tchicken skin\tT2\n")

    assert keyboard.cells("Place") == ["P1", "A", "B", "C"]
    assert keyboard.cells("Bait")[1:] == ["chicken skin", "cut herring", "chicken skin"]
    assert keyboard.cells("Trap") == ["T1", "T4", "T3", "T2"]
    assert keyboard.undo_label() == "&Undo paste cells"

    keyboard.press(Key.Key_Z, CONTROL)
    assert keyboard.cells("Place") == ["P1", "P2", "P3", "P4"]
    assert keyboard.cells("Trap") == ["T1", "T2", "T3", "T4"]


def test_pasted_names_may_be_swapped(keyboard: Keyboard) -> None:
    keyboard.go(0, "Place")
    keyboard.paste("P2\nP1\n")

    assert keyboard.problems == []
    assert keyboard.cells("Place") == ["P2", "P1", "P3", "P4"]


def test_pasted_positions_are_taken_pair_by_pair(opened: Callable[..., Keyboard]) -> None:
    keyboard = opened(make_trip(3, has_positions=False))
    keyboard.go(0, "Latitude")
    keyboard.paste("45.1\t7.1\n45.2\t7.2\n45.3\t7.3\n")

    places = keyboard.session.snapshot.places("line")
    assert [(p.lat_deg, p.lon_deg) for p in places] == [(45.1, 7.1), (45.2, 7.2), (45.3, 7.3)]


@pytest.mark.parametrize(
    ("title", "text", "problem"),
    [
        ("Place", "A\nB\nC\nD\nE\n", "5 × 1 cells do not fit into 4 × 12"),
        ("Notes", "a\tb\n", "1 × 2 cells do not fit into 1 × 1"),
        ("Trap", "T1\t99\n", "this is worked out"),
        ("Place", "A\nB\nA\n", "already a place called 'A'"),
        ("Depth m", "3\nx\n", "not a length"),
        ("Bait", "liver\nchicken skin\n", "no bait called 'liver'"),
    ],
)
def test_a_paste_that_cannot_be_changes_nothing(
    keyboard: Keyboard, title: str, text: str, problem: str
) -> None:
    before = keyboard.session.snapshot
    keyboard.go(0, title)
    keyboard.paste(text)

    assert problem in keyboard.problems[0]
    assert keyboard.session.snapshot.rows == before.rows
    assert not keyboard.window.actions_by_name["undo"].text().startswith("&Undo paste")


def test_what_the_table_copies_it_takes_back(keyboard: Keyboard) -> None:
    keyboard.table.selectAll()
    keyboard.press(Key.Key_C, CONTROL)
    copied = QGuiApplication.clipboard().text()
    keyboard.go(0, "Place")
    keyboard.paste(copied.replace("P3", "Z3"))

    assert keyboard.problems == []
    assert keyboard.cells("Place") == ["P1", "P2", "Z3", "P4"]


def test_places_out_of_the_round_take_no_bait(keyboard: Keyboard) -> None:
    keyboard.go(2)
    keyboard.window.page._buttons["round"].click()
    assert keyboard.cells("Note")[2] == "not in this round"
    keyboard.go(2, "Bait")
    keyboard.press(Key.Key_C)
    keyboard.press(Key.Key_Return)
    assert "is not in this round" in keyboard.problems[-1]

    keyboard.go(2)
    keyboard.window.page._buttons["round"].click()
    assert keyboard.cells("Note")[2] == ""


def test_two_lines_on_a_water_stay_apart(opened: Callable[..., Keyboard]) -> None:
    from trapline.model.line import Line

    made = make_trip(3)
    other = Line(id="line2", water_id="water", name="South shore")
    strange = Place(id="strange", line_id="line2", label="P1", ordinal=1, lon_deg=7.1, lat_deg=45.1)
    keyboard = opened(made.with_rows(other, strange))
    assert keyboard.cells("Place") == ["P1", "P2", "P3"]

    keyboard.press(Key.Key_Insert)
    keyboard.go(3)
    keyboard.press(Key.Key_Up, ALT)
    assert keyboard.cells("Place") == ["P1", "P2", "P4", "P3"]
    assert keyboard.session.snapshot.need(Place, "strange").ordinal == 1

"""A past trip typed in or pasted, by keyboard, with what was understood beside it."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.wet_window import CONTROL, Key, WetWindow, open_window
from trapline.exchange.past_rows import COLUMNS
from trapline.model.species import Species
from trapline.model.trip import Trip
from trapline.model.water import Water
from trapline.ui.dialogs.past_trip import PastTripDialog

SHEET = """\
Night\tPlace\tTrap\tBait\tSet\tLift\tCatch\tCondition\tBy-catch\tNotes
1\tP1\t1\tliver\t18:00\t07:00\t4\t\t2 perch\t
\tP2\t2\tcorn\t18:02\t07:03\t0
\tP3\t3\tcorn\t18:04\t07:05\tlost
2\tP1\t1\tliver\t18:00\t07:00\t\t\t\tdark
"""


class Opened:
    """The dialog on a window, worked by keys."""

    def __init__(self, window: WetWindow) -> None:
        self.window = window
        self.dialog = PastTripDialog(window.window.session, window.window)
        self.dialog.show()
        self.dialog.activateWindow()
        QApplication.processEvents()

    def fill_head(self, name: str = "Last summer", day: str = "2025-07-01") -> None:
        self.dialog.name.setText(name)
        self.dialog.first_day.setText(day)
        self.dialog.first_day.editingFinished.emit()

    def paste(self, text: str, row: int = 0, column: int = 0) -> None:
        table = self.dialog.table
        table.setFocus()
        table.setCurrentIndex(table.grid.index(row, column))
        QGuiApplication.clipboard().setText(text)
        self.window.press(Key.Key_V, modifier=CONTROL)

    def trips(self) -> list[str]:
        return sorted(trip.name for trip in self.window.bench.snapshot.all(Trip))


@pytest.fixture
def opened(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[], Opened]]:
    dialogs = []

    def make() -> Opened:
        one = Opened(open_window(qtbot, tmp_path, monkeypatch))
        dialogs.append(one.dialog)
        return one

    yield make
    for dialog in dialogs:
        dialog.close()
        dialog.deleteLater()


def test_a_pasted_sheet_is_understood_and_recorded_as_one_step(
    opened: Callable[[], Opened],
) -> None:
    one = opened()
    one.fill_head()
    one.paste(SHEET)
    assert [line.words for line in one.dialog.table.lines[:5]] == [
        "round 1, 13 h 00 min: 4, 2 perch", "round 1, 13 h 01 min: 0",
        "round 1, 13 h 01 min: lost", "round 2, 13 h 00 min: not counted", "",
    ]  # fmt: skip
    assert one.dialog.summary.text() == "4 lifts in 2 rounds understood."
    assert one.dialog.verb.text() == "Record 4 lifts"
    steps = len(one.window.bench.project.history())
    one.dialog.verb.click()
    assert one.trips() == ["First", "Last summer"]
    assert len(one.window.bench.project.history()) == steps + 1
    assert one.window.window.session.trip is not None
    assert one.window.window.session.trip.name == "Last summer"
    one.window.window.session.undo()
    assert one.trips() == ["First"]


def test_rows_are_typed_cell_by_cell(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.fill_head()
    table = one.dialog.table
    table.setFocus()
    table.setCurrentIndex(table.grid.index(0, COLUMNS.index("Place")))
    one.window.press("P1", Key.Key_Tab, "7", Key.Key_Tab, "corn", Key.Key_Tab, "1800", Key.Key_Tab)
    one.window.press("0700", Key.Key_Tab, "0", Key.Key_Return)
    assert table.lines[0].cells[:7] == ["", "P1", "7", "corn", "1800", "0700", "0"]
    assert table.lines[0].words == "round 1, 13 h 00 min: 0"


def test_what_is_not_understood_is_red_at_its_cell_and_nothing_can_be_recorded(
    opened: Callable[[], Opened],
) -> None:
    one = opened()
    one.fill_head()
    one.paste("1\tP1\t1\tliver\t18:00\t07:00\tx7\n1\tP2\t2\tliver\t18:00\t2025-07-01 08:00\t3")
    table = one.dialog.table
    count, lift = COLUMNS.index("Count"), COLUMNS.index("Lift")
    marks = [column.mark(table.lines[0]) for column in table.grid.columns if column.mark]
    assert marks[count] == "error"
    assert marks[lift] == ""
    assert not one.dialog.verb.isEnabled()
    assert "2 not: row 1, Count: 'x7' is not a count." in one.dialog.summary.text()
    table.setCurrentIndex(table.grid.index(1, lift))
    assert "row 2, Lift: The lift at" in one.dialog.summary.text()
    one.paste("7", 0, count)
    one.window.press(Key.Key_Down)
    table.setCurrentIndex(table.grid.index(1, lift))
    one.window.press(Key.Key_Delete)
    assert one.dialog.verb.isEnabled()


def test_what_the_head_lacks_is_said_at_its_field(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.paste(SHEET)
    for name, day, wanted in (
        ("", "", "The trip has no name."),
        ("Last summer", "", "Some times have no date."),
        ("Last summer", "1 July", "is not a date"),
        ("First", "2025-07-01", "already a trip called 'First'"),
    ):
        one.dialog.name.setText(name)
        one.dialog.first_day.setText(day)
        one.dialog.verb.click()
        texts = [field.wrong.text() for field in one.dialog.fields if not field.wrong.isHidden()]
        assert any(wanted in text for text in [*texts, one.dialog.problem.text()]), wanted
    assert one.trips() == ["First"]


def test_days_are_not_needed_where_every_time_has_one(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.fill_head(day="")
    one.paste("1\tP1\t1\tliver\t2025-07-01 18:00\t2.7.2025 07:00\t4")
    one.dialog.verb.click()
    assert one.trips() == ["First", "Last summer"]


def test_a_new_water_and_species_are_typed_into_the_head(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.fill_head()
    one.dialog.water.setCurrentText("Far bay")
    one.dialog.species.setCurrentText("crab")
    one.paste(SHEET)
    one.dialog.verb.click()
    snapshot = one.window.bench.snapshot
    assert "Far bay" in [row.name for row in snapshot.all(Water)]
    assert ("crab", "target") in [(row.name, row.role) for row in snapshot.all(Species)]


def test_counts_that_look_mistyped_are_asked_about_once(
    opened: Callable[[], Opened], monkeypatch: pytest.MonkeyPatch
) -> None:
    one = opened()
    one.fill_head()
    rows = [f"1\tP{n}\t{n}\tcorn\t18:00\t07:00\t3" for n in range(1, 7)]
    one.paste("\n".join([*rows, "1\tP7\t7\tcorn\t18:00\t07:00\t300"]))
    asked: list[str] = []
    answers = iter([False, True])

    def answer(_parent: Any, question: str, _verb: str) -> bool:
        asked.append(question)
        return next(answers)

    monkeypatch.setattr("trapline.ui.dialogs.past_trip.ask", answer)
    one.dialog.verb.click()
    assert one.trips() == ["First"]
    assert "row 7: 300" in asked[0]
    one.dialog.verb.click()
    assert one.trips() == ["First", "Last summer"]


def test_lifts_without_a_date_follow_the_head(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.fill_head()
    one.paste("1\tP1\t1\tcorn\t06:00\t18:00\t3")
    assert "36 h 00 min" in one.dialog.table.lines[0].words
    one.dialog.lift.setCurrentIndex(1)
    assert "12 h 00 min" in one.dialog.table.lines[0].words


def test_more_rows_than_the_table_has_are_pasted(opened: Callable[[], Opened]) -> None:
    one = opened()
    one.fill_head()
    one.paste("\n".join(f"1\tP{n}\tt{n}\tcorn\t18:00\t07:00\t3" for n in range(280)))
    assert len(one.dialog.table.found()) == 280
    assert one.dialog.table.lines[279].found is not None


def test_the_menu_opens_the_dialog(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = open_window(qtbot, tmp_path, monkeypatch)
    asked: list[Any] = []
    monkeypatch.setattr(PastTripDialog, "ask", lambda *args: asked.append(args) or False)
    window.window.trigger("past_trip")
    assert len(asked) == 1

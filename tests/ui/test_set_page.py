"""The Set page by keyboard alone, in the real window."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from tests.actions.wet_bench import FIRST, WetBench
from tests.ui.wet_window import CONTROL, Key, WetWindow, open_window
from trapline.actions.lifting import lift_trap
from trapline.actions.setting import set_traps
from trapline.actions.trips import next_round
from trapline.model.trapset import TrapSet
from trapline.store.project import Project
from trapline.ui.dialogs.one_throw import OneThrow, Throw
from trapline.ui.tables.set_cells import TIME_COLUMN

Opener = Callable[..., WetWindow]


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    def make(prepare: Callable[[WetBench], None] | None = None, **values: Any) -> WetWindow:
        window = open_window(qtbot, tmp_path, monkeypatch, prepare, **values)
        window.go_to(2)
        return window

    return make


def states(window: WetWindow) -> list[str]:
    return [row.state for row in window.bench.snapshot.sets(window.bench.round_id)]


def test_the_line_is_set_by_one_key_a_trap(opened: Opener) -> None:
    window = opened()
    assert window.set_page.now_button.text() == "Set trap 1 at P1 now  (N)"
    before = window.n_keys
    for _ in range(7):
        window.press(Key.Key_N)
    assert window.n_keys - before == 7
    rows = window.bench.snapshot.sets(window.bench.round_id)
    assert {row.state for row in rows} == {"set"}
    # The clock goes on by a minute at each look; the line is set in its order.
    assert [row.set_utc for row in rows] == sorted(str(row.set_utc) for row in rows)
    assert len({row.set_utc for row in rows}) == 7
    assert len(window.bench.project.history()) >= 7
    assert window.set_page.attention() == 0


def test_each_key_is_one_step_for_undo(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_N, Key.Key_N)
    window.press(Key.Key_Z, modifier=CONTROL)
    assert states(window)[:3] == ["set", "planned", "planned"]


def test_a_typed_time_sets_the_trap_and_goes_on_to_the_next(opened: Opener) -> None:
    window = opened()
    window.press("1830", Key.Key_Return)
    window.press("1832", Key.Key_Return)
    rows = window.bench.snapshot.sets(window.bench.round_id)
    # Local 18:30 in Oslo's summer is 16:30 UTC (IANA time zone database).
    assert [row.set_utc for row in rows[:3]] == [
        "2026-07-01T16:30:00Z", "2026-07-01T16:32:00Z", None,
    ]  # fmt: skip
    assert window.set_page.table.selected_sets()[0].id == rows[2].id


def test_enter_on_what_cannot_be_typed_goes_to_the_time(opened: Opener) -> None:
    window = opened()
    table = window.set_page.table
    table.setCurrentIndex(table.grid.index(1, 0))
    window.press(Key.Key_Return)
    window.press("1830", Key.Key_Return)
    assert states(window)[:3] == ["planned", "set", "planned"]


def test_a_time_that_nobody_noted_is_a_question_mark(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_F2)
    window.press("?", Key.Key_Return)
    row = window.bench.snapshot.sets(window.bench.round_id)[0]
    assert (row.state, row.set_utc) == ("set", None)
    assert window.set_page.table.grid.rows[0].id == row.id
    assert window.set_page.table.cells.time_text(row) == "?"


def test_what_is_no_time_is_refused_at_the_cell(opened: Opener) -> None:
    window = opened()
    window.press("2575", Key.Key_Return)
    assert states(window)[0] == "planned"
    index = window.set_page.table.grid.index(0, TIME_COLUMN)
    from PySide6.QtCore import Qt

    assert "'2575' is not a time" in index.data(Qt.ItemDataRole.AccessibleDescriptionRole)
    assert "'2575' is not a time" in window.window.banner.label.text()


def test_a_set_time_after_the_lift_is_refused_at_the_cell(opened: Opener) -> None:
    def lifted(wet: WetBench) -> None:
        wet.set_all()
        lift_trap(wet.project, wet.row(1).id, "2026-07-02T05:30:00Z")

    window = opened(lifted)
    window.set_page.table.select_set(window.bench.snapshot.sets(window.bench.round_id)[0].id)
    window.press(Key.Key_F2)
    window.press(Key.Key_A, modifier=CONTROL)
    window.press("2026-07-03 10:00", Key.Key_Return)
    assert window.bench.snapshot.sets(window.bench.round_id)[0].set_utc == FIRST
    assert "is not after the setting" in window.window.banner.label.text()


def test_a_lift_of_the_next_morning_is_dated_as_on_paper(opened: Opener) -> None:
    def lifted(wet: WetBench) -> None:
        wet.set_all()
        lift_trap(wet.project, wet.row(1).id, "2026-07-02T05:30:00Z")

    window = opened(lifted)
    rows = window.bench.snapshot.sets(window.bench.round_id)
    # Oslo in summer is two hours ahead of UTC (IANA time zone database).
    assert window.set_page.table.cells.state_words(rows[0]) == "lifted 02 Jul 07:30"


def test_another_bait_is_typed_into_the_cell_beside_the_planned_one(opened: Opener) -> None:
    window = opened()
    planned = window.bench.snapshot.sets(window.bench.round_id)[0]
    table = window.set_page.table
    table.setCurrentIndex(table.grid.index(0, 4))
    window.press(Key.Key_Return)
    editor = QApplication.focusWidget()
    assert editor is not None
    window.press(Key.Key_A, modifier=CONTROL)
    window.press("maize cake", Key.Key_Return)
    row = window.bench.snapshot.need(TrapSet, planned.id)
    assert row.bait_id == window.bench.bait_id("maize cake")
    assert row.planned_bait_id == planned.planned_bait_id
    assert table.grid.columns[4].mark is not None
    assert table.grid.columns[4].mark(row) == "warning"


def test_two_traps_that_changed_places_are_asked_about(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened(lambda wet: wet.set_all())
    first, second = window.bench.snapshot.sets(window.bench.round_id)[:2]
    asked: list[str] = []

    def answer(yes: bool) -> None:
        monkeypatch.setattr(
            "trapline.ui.tables.set_cells.ask",
            lambda _parent, question, _verb: asked.append(question) or yes,
        )

    table = window.set_page.table
    answer(False)
    table.grid.write_cell(0, 5, "P2")
    assert window.bench.snapshot.need(TrapSet, first.id).place_id == first.place_id
    answer(True)
    table.grid.write_cell(0, 5, "P2")
    assert window.bench.snapshot.need(TrapSet, first.id).place_id == second.place_id
    assert window.bench.snapshot.need(TrapSet, second.id).place_id == first.place_id
    assert asked == ["Trap 2 is recorded at 'P2'. Did it and trap 1 (at 'P1') change places?"] * 2


def test_one_throw_sets_all_that_is_planned_every_n_minutes(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened()
    ids = [row.id for row in window.bench.snapshot.sets(window.bench.round_id)]
    offered: list[int] = []

    def ask(_session: Any, rows: list[TrapSet], _parent: Any) -> Throw:
        offered.append(len(rows))
        return Throw(tuple(reversed(ids)), FIRST, 3.0)

    monkeypatch.setattr(OneThrow, "ask", ask)
    window.press(Key.Key_T)
    rows = window.bench.snapshot.sets(window.bench.round_id)
    assert offered == [7]
    assert (rows[6].set_utc, rows[0].set_utc) == (FIRST, "2026-07-01T16:18:00Z")


def test_the_dialog_of_one_throw_foretells_what_will_be(opened: Opener) -> None:
    window = opened()
    dialog = OneThrow(window.window.session, window.set_page.table.grid.rows, window.window)
    dialog.first.setText("18:30")
    dialog.every.setText("2,5")
    dialog.every.textEdited.emit("2,5")
    assert dialog.outcome.text() == "From P1 at 18:30 to P7 at 18:45."
    dialog.backwards.setChecked(True)
    assert dialog.outcome.text() == "From P7 at 18:30 to P1 at 18:45."
    dialog.accept()
    assert dialog.throw is not None
    assert (dialog.throw.first_utc, dialog.throw.every_min) == ("2026-07-01T16:30:00Z", 2.5)
    dialog.every.setText("soon")
    dialog.every.textEdited.emit("soon")
    assert not dialog.button.isEnabled()


def test_a_setting_that_never_happened_is_taken_back_by_a_key(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_N)
    window.press(Key.Key_Up)
    window.press(Key.Key_U)
    assert states(window)[0] == "planned"


def test_a_column_of_times_is_pasted_as_one_step(opened: Opener) -> None:
    window = opened()
    steps = len(window.bench.project.history())
    QGuiApplication.clipboard().setText("18:30\r\n18:31\r\n\r\n18:33\r\n")
    window.press(Key.Key_V, modifier=CONTROL)
    assert states(window)[:5] == ["set", "set", "planned", "set", "planned"]
    assert len(window.bench.project.history()) == steps + 1
    QGuiApplication.clipboard().setText("\r\n".join(["18:30"] * 9))
    window.press(Key.Key_V, modifier=CONTROL)
    assert "do not fit" in window.window.banner.label.text()


def test_a_time_being_typed_is_taken_when_another_page_is_shown(opened: Opener) -> None:
    window = opened()
    window.press("1830")
    window.window.show_page(2)
    assert window.bench.snapshot.sets(window.bench.round_id)[0].set_utc == "2026-07-01T16:30:00Z"


def test_a_project_that_is_only_read_offers_nothing_to_press(
    opened: Opener, qtbot: QtBot, tmp_path: Path
) -> None:
    window = opened()
    path = window.bench.project.path
    window.window.session.open_project(Project.open(path, read_only=True))
    window.window.show_page(1)
    page = window.set_page
    assert not page.now_button.isEnabled()
    assert not page.throw_button.isEnabled()
    window.press(Key.Key_N)
    window.press("1830", Key.Key_Return)
    project = window.window.session.project
    assert project is not None
    assert {row.state for row in project.snapshot().all(TrapSet)} == {"planned"}


def test_letters_are_keys_and_never_begin_to_edit_a_cell(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_Q)
    assert not isinstance(QApplication.focusWidget(), QLineEdit)
    assert states(window)[0] == "planned"


def test_what_stands_in_the_water_from_another_round_is_named_in_red(opened: Opener) -> None:
    def left_over(wet: WetBench) -> None:
        set_traps(wet.project, wet.ids()[:1], FIRST)
        next_round(wet.project, wet.bench.trip_id)

    window = opened(left_over)
    label = window.set_page.standing
    assert label.isVisible()
    assert label.property("role") == "bad"
    assert "trap 1 at P1 since 2026-07-01 18:00 (First, round 1)" in label.text()


def test_a_doubled_time_is_asked_about(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    # Oslo's clocks showed 02:30 twice on 2026-10-25 (IANA time zone database).
    window = opened()
    asked: list[str] = []
    monkeypatch.setattr(
        "trapline.ui.dialogs.which_time.ask_which",
        lambda _parent, question: asked.append(question) or True,
    )
    window.set_page.table.grid.write_cell(0, TIME_COLUMN, "2026-10-25 02:30")
    row = window.bench.snapshot.sets(window.bench.round_id)[0]
    assert row.set_utc == "2026-10-25T01:30:00Z"
    assert len(asked) == 1
    assert "came twice" in asked[0]


def test_an_empty_line_names_the_next_step(opened: Opener) -> None:
    from trapline.actions.places import leave_out

    window = opened(lambda wet: leave_out(wet.project, wet.ids()) and None)
    page = window.set_page
    assert page.stack.currentWidget() is page.empty
    page.empty.button.click()
    assert window.window.page.title == "Lay out"


@pytest.mark.parametrize("theme", ["light", "sunlight"])
def test_the_table_fits_without_scrolling_sideways(opened: Opener, theme: str) -> None:
    window = opened(theme=theme)
    QApplication.processEvents()
    assert window.window.width() == 1366
    assert window.set_page.table.horizontalScrollBar().maximum() == 0

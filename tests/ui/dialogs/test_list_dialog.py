"""The lists: cells, the rest below, adding, deleting, pasting; each kept at once as one step."""

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFocusEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QCheckBox, QComboBox, QDialog, QLineEdit, QPlainTextEdit, QWidget

from tests.ui.dialogs.conftest import Desk
from trapline.actions.editing import add, delete
from trapline.actions.round_table import edit_round
from trapline.actions.waters import set_shoreline
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.model.line import Line
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.water import Water
from trapline.ui.dialogs.list_dialog import LISTS, ListDialog
from trapline.ui.dialogs.list_kinds import new_bait, next_trap
from trapline.ui.dialogs.list_panel import ListPanel


def opened(desk: Desk, name: str) -> tuple[ListDialog, ListPanel]:
    dialog = ListDialog(desk.session, name)
    desk.keep(dialog)
    dialog.show()
    return dialog, dialog.panels[0]


def type_in(panel: ListPanel, row: int, title: str, text: str) -> bool:
    grid = panel.table.grid
    column = [one.title for one in grid.columns].index(title)
    return grid.setData(grid.index(row, column), text, Qt.ItemDataRole.EditRole)


def editor(panel: ListPanel, name: str) -> QWidget:
    (found,) = [form.editors[name] for form in panel.forms if name in form.editors]
    return found


def fill(panel: ListPanel, name: str, text: str) -> None:
    box = editor(panel, name)
    assert isinstance(box, QLineEdit)
    box.setText(text)
    box.editingFinished.emit()


# Cells


def test_a_cell_is_kept_at_once_as_one_step(desk: Desk) -> None:
    _, panel = opened(desk, "baits")
    steps = desk.steps()
    assert type_in(panel, 0, "Name", "Ox liver")
    assert type_in(panel, 0, "Still m", "16 ft")
    assert desk.steps() == steps + 2
    bait = desk.snapshot.all(Bait)[0]
    assert bait.name == "Ox liver"
    assert bait.still_reach_m == pytest.approx(4.8768)  # 16 × 0.3048, the foot of 1959


@pytest.mark.parametrize(
    ("name", "title", "text", "words"),
    [
        ("baits", "Name", "corn", "already a bait"),
        ("baits", "Down m", "far", "not a length"),
        ("baits", "Form", "powder", "not known"),
        ("traps", "Entrance mm", "wide", "not a number"),
        ("traps", "Tags (year)", "AB (soon)", "not a tag"),
        ("traps", "Excluder", "maybe", "neither yes nor no"),
    ],
)
def test_a_cell_that_cannot_be_is_said_and_changes_nothing(
    desk: Desk, name: str, title: str, text: str, words: str
) -> None:
    dialog, panel = opened(desk, name)
    before = desk.snapshot
    assert not type_in(panel, 0, title, text)
    assert words in dialog.problem.text()
    assert dialog.problem.isVisible()
    assert desk.snapshot == before
    assert type_in(panel, 0, "Notes", "better")
    assert not dialog.problem.isVisible()


def test_tags_are_typed_with_their_years(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    assert type_in(panel, 0, "Tags (year)", "AB 120 (2026), C 7")
    assert desk.snapshot.all(Trap)[0].tags == ((2026, "AB 120"), (None, "C 7"))
    assert type_in(panel, 0, "Excluder", "yes")
    assert desk.snapshot.all(Trap)[0].has_excluder


def test_cells_with_few_answers_offer_them(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    by_title = {column.title: column for column in panel.table.grid.columns}
    assert by_title["State"].choices is not None
    assert list(by_title["State"].choices(None)) == ["in service", "lost", "found", "retired"]
    assert by_title["Excluder"].choices is not None
    assert list(by_title["Excluder"].choices(None)) == ["yes", "no"]
    assert by_title["Kind"].choices is None


def test_a_table_is_copied_as_it_stands(desk: Desk) -> None:
    perch = Species(name="Perch", role="by-catch", min_size_mm=200.0)
    desk.session.do(add, perch)
    _, panel = opened(desk, "species")
    panel.table.selectAll()
    lines = panel.table.copy_text().splitlines()
    assert lines[0].split("\t")[:3] == ["Common name", "Scientific name", "Role"]
    assert lines[1].split("\t")[:5] == ["Perch", "", "by-catch", "", "200.0"]


# Pasting


def test_a_pasted_column_is_one_step(desk: Desk) -> None:
    _, panel = opened(desk, "baits")
    steps = desk.steps()
    panel.table.pasted.emit(0, 0, [["corn"], ["liver"], ["fish heads"]])
    assert desk.steps() == steps + 1
    assert [bait.name for bait in desk.snapshot.all(Bait)] == [
        "corn", "liver", "fish heads", "no bait",
    ]  # fmt: skip


def test_what_is_copied_from_a_list_is_pasted_back_without_its_headers(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    lines = [line.split("\t") for line in panel.table.copy_text().splitlines()]
    lines[1][2] = "funnel"
    panel.table.pasted.emit(0, 0, lines)
    assert len(desk.snapshot.all(Trap)) == 10
    assert desk.snapshot.all(Trap)[0].kind == "funnel"


def test_a_pasted_block_fills_columns_and_adds_rows(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    steps = desk.steps()
    panel.table.pasted.emit(9, 0, [["10", "A 1 (2026)", "funnel"], ["11", "", "pot"], ["12"]])
    assert desk.steps() == steps + 1
    traps = desk.snapshot.all(Trap)[9:]
    assert [(trap.number, trap.tag_text, trap.kind) for trap in traps] == [
        ("10", "A 1 (2026)", "funnel"), ("11", "", "pot"), ("12", "", ""),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "column", "lines"),
    [
        (0, 3, [["10"], ["wide"]]),
        (0, 0, [["1"], ["1"]]),
        (9, 2, [["funnel"], ["pot"]]),
        (9, 0, [["10"], [""]]),
        (0, 8, [["a note", "and what has no column"]]),
    ],
)
def test_a_paste_that_does_not_fit_changes_nothing(
    desk: Desk, row: int, column: int, lines: list[list[str]]
) -> None:
    dialog, panel = opened(desk, "traps")
    before = desk.snapshot
    panel.table.pasted.emit(row, column, lines)
    assert dialog.problem.isVisible()
    assert desk.snapshot == before


# Below the table


def test_the_rest_of_the_chosen_row_stands_below_and_is_kept(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    panel.table.selectRow(1)
    steps = desk.steps()
    fill(panel, "half_life_h", "6")
    assert dialog.problem.text() == ""
    fill(panel, "half_life_h", "6.0")  # the same again is no step
    assert desk.steps() == steps + 1
    assert desk.snapshot.all(Bait)[1].half_life_h == 6.0
    panel.table.selectRow(0)
    box = editor(panel, "half_life_h")
    assert isinstance(box, QLineEdit)
    assert box.text() == ""


def test_choices_ticks_and_notes_are_kept_when_they_are_left(desk: Desk) -> None:
    _, panel = opened(desk, "baits")
    colour, control, notes = (editor(panel, n) for n in ("colour", "is_control", "notes"))
    assert isinstance(colour, QComboBox)
    assert isinstance(control, QCheckBox)
    assert isinstance(notes, QPlainTextEdit)
    colour.setCurrentIndex(6)
    colour.activated.emit(6)
    control.click()
    notes.setPlainText("keeps\nfor days")
    QGuiApplication.sendEvent(notes, QFocusEvent(QEvent.Type.FocusOut))
    bait = desk.snapshot.all(Bait)[0]
    assert (bait.colour, bait.is_control, bait.notes) == (COLOURS[6], True, "keeps\nfor days")


def test_a_field_that_cannot_be_is_marked_and_stays_typed(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    before = desk.snapshot
    fill(panel, "down_reach_m", "far")
    box = editor(panel, "down_reach_m")
    assert isinstance(box, QLineEdit)
    assert "Down-current" in dialog.problem.text()
    assert box.property("invalid") is True
    assert (box.text(), desk.snapshot == before) == ("far", True)
    fill(panel, "down_reach_m", "8")
    assert box.property("invalid") is False
    assert not dialog.problem.isVisible()


def test_closing_keeps_what_is_typed_and_warns_once_of_what_cannot_be(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    box = editor(panel, "side_reach_m")
    assert isinstance(box, QLineEdit)
    box.setText("wide")
    dialog.done_button.click()
    assert dialog.isVisible()
    assert "'wide'" in dialog.problem.text()
    box.setText("2")
    dialog.done_button.click()
    assert not dialog.isVisible()
    assert desk.snapshot.all(Bait)[0].side_reach_m == 2.0


def test_what_cannot_be_is_given_up_by_closing_again(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    before = desk.snapshot
    box = editor(panel, "side_reach_m")
    assert isinstance(box, QLineEdit)
    box.setText("wide")
    dialog.reject()
    dialog.reject()
    assert not dialog.isVisible()
    assert desk.snapshot == before


def test_enter_ends_the_typing_and_not_the_dialog(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    box = editor(panel, "half_life_h")
    box.setFocus()
    QTest.keyClicks(box, "5")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert dialog.isVisible()
    assert desk.snapshot.all(Bait)[0].half_life_h == 5.0


# Adding and deleting


def test_a_new_bait_looks_like_no_other_and_reaches_nowhere(desk: Desk) -> None:
    desk.session.do(delete, Bait, desk.bait_ids())
    dialog, panel = opened(desk, "baits")
    assert panel.empty.isVisible()
    for _ in range(8):
        panel.add_button.click()
    baits = desk.snapshot.all(Bait)
    assert {bait.colour for bait in baits} == set(COLOURS)
    assert {bait.mark for bait in baits} == set(MARKS)
    assert len({bait.name for bait in baits}) == 8
    assert {(b.still_reach_m, b.down_reach_m, b.side_reach_m) for b in baits} == {
        (None, None, None)
    }
    assert not panel.empty.isVisible()
    dialog.reject()


def test_sixty_four_baits_differ_before_one_repeats() -> None:
    rows = Snapshot({})
    for _ in range(64):
        rows = rows.with_rows([new_bait(rows)])
    assert len({(bait.colour, bait.mark) for bait in rows.all(Bait)}) == 64
    assert new_bait(rows).name == "New bait 65"


def test_no_bait_is_added_once(desk: Desk) -> None:
    desk.session.do(delete, Bait, [desk.bait_id("no bait")])
    dialog, _ = opened(desk, "baits")
    assert dialog.control_button.isEnabled()
    dialog.control_button.click()
    control = desk.snapshot.all(Bait)[-1]
    assert (control.name, control.form, control.is_control) == ("no bait", "none", True)
    assert not dialog.control_button.isEnabled()


def test_reaches_start_with_values_only_when_asked_and_only_where_empty(desk: Desk) -> None:
    dialog, panel = opened(desk, "baits")
    type_in(panel, 0, "Still m", "3")
    steps = desk.steps()
    dialog.reaches_button.click()
    bait = desk.snapshot.all(Bait)[0]
    assert (bait.still_reach_m, bait.down_reach_m, bait.side_reach_m) == (3.0, 10.0, 2.0)
    assert desk.steps() == steps + 1
    assert "judgement" in dialog.reaches_button.text()


def test_rows_in_use_stay_and_the_reason_is_said(desk: Desk) -> None:
    sets = desk.snapshot.sets(desk.round_id)
    desk.session.do(edit_round, "Assign bait", baits={sets[0].id: desk.bait_id("liver")})
    dialog, panel = opened(desk, "baits")
    panel.table.selectRow(0)
    panel.delete_button.click()
    assert "1 trap set uses it" in dialog.problem.text()
    assert len(desk.snapshot.all(Bait)) == 4
    panel.table.selectRow(1)
    QTest.keyClick(panel.table, Qt.Key.Key_Delete)
    assert [bait.name for bait in desk.snapshot.all(Bait)] == ["liver", "maize cake", "no bait"]


def test_several_rows_are_deleted_in_one_step(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    steps = desk.steps()
    panel.table.selectAll()
    panel.delete_button.click()
    assert desk.snapshot.all(Trap) == ()
    assert desk.steps() == steps + 1
    assert not panel.delete_button.isEnabled()


def test_a_new_trap_is_like_the_last_with_the_next_number(desk: Desk) -> None:
    _, panel = opened(desk, "traps")
    type_in(panel, 9, "Kind", "funnel")
    type_in(panel, 9, "Tags (year)", "A 1 (2026)")
    panel.add_button.click()
    trap = desk.snapshot.all(Trap)[-1]
    assert (trap.number, trap.kind, trap.tags) == ("11", "funnel", ())
    assert next_trap(Snapshot({})).number == "1"


def test_waters_and_lines_stand_on_two_tabs(desk: Desk) -> None:
    dialog, waters = opened(desk, "waters")
    lines = dialog.panels[1]
    waters.add_button.click()
    assert type_in(waters, 1, "Name", "Upper pond")
    dialog.tabs.setCurrentIndex(1)
    lines.add_button.click()
    assert type_in(lines, 1, "Water", "upper POND")
    water, line = desk.snapshot.all(Water)[1], desk.snapshot.all(Line)[1]
    assert line.water_id == water.id
    assert not type_in(lines, 1, "Water", "The sea")


def test_a_shoreline_can_be_cleared(desk: Desk) -> None:
    ring = ((10.0, 60.0), (10.1, 60.0), (10.0, 60.1))
    desk.session.do(set_shoreline, desk.water_id, ring)
    dialog, _ = opened(desk, "waters")
    dialog.shoreline_button.click()
    assert desk.snapshot.need(Water, desk.water_id).shoreline == ()


@pytest.mark.parametrize("name", LISTS)
def test_asking_shows_each_list(desk: Desk, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    shown = []
    monkeypatch.setattr(QDialog, "exec", lambda self: shown.append(self.windowTitle()))
    ListDialog.ask(desk.session, None, name)
    assert shown[0].casefold().startswith(name)


def test_a_list_that_is_gone_is_not_told_of_changes(desk: Desk) -> None:
    dialog = ListDialog(desk.session, "baits")
    dialog.show()
    dialog.reject()
    dialog.deleteLater()
    desk.qtbot.wait(10)
    # An error in what is left of it would fail the test.
    desk.session.do(delete, Bait, [desk.bait_id("corn")])
    assert len(desk.snapshot.all(Bait)) == 3

"""A whole trip through the real window by keyboard alone, then taken back and done again.

No mouse, no call of an action: every deed is a key event, dialogs too. Only the clock is
turned (a night passes between setting and lifting), and the file dialog of the system is
answered for, since it is not ours.

Keys of one plain round of 12 traps, from the page with the traps to the last lift: 38.

===========================  ====
Set page (Ctrl+2)               1
N for each trap                12
Lift page (Ctrl+3)              1
a digit and Enter a trap       24
===========================  ====

The round below has everything that can happen on a line: by-catch, an escape, a disturbed,
a lost and an uncounted trap, a slip of the fingers, and eleven traps set again; it takes 49,
"next round" (Ctrl+R) included.
"""

from pathlib import Path

import pytest
from pypdf import PdfReader
from pytestqt.qtbot import QtBot

from tests.journeys.keyboard import (
    ALT,
    CONTROL,
    SHIFT,
    Key,
    Keyboard,
    kept_in,
    sit_down,
)
from trapline.drawing.theme import LIGHT
from trapline.model.trap import Trap
from trapline.ui.pages.counter import DROPPED

EVENING, MORNING = "2026-08-15T18:40:00Z", "2026-08-16T07:00:00Z"
PLAIN_ROUND_KEYS, FULL_ROUND_KEYS = 38, 49
FISH, PERCH = "Crayfish", "Perch"


@pytest.fixture
def lake(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Keyboard:
    """The window on a copy of the lake sample, opened from the start page."""
    board = sit_down(qtbot, tmp_path, monkeypatch, EVENING)
    with board.answering(Key.Key_Return) as question:
        board.press(Key.Key_Space)
    assert "An invented example:" in question.texts
    board.begin_noting()
    return board


def path_of(board: Keyboard) -> Path:
    project = board.window.session.project
    assert project is not None
    return project.path


def set_all(board: Keyboard) -> None:
    """Plan round 5 and set all by N."""
    board.press((Key.Key_R, CONTROL))
    assert board.window.session.round is not None
    assert board.window.session.round.number == 5
    assert board.window.news.text() == "✓ Round 5 is planned for 2026-08-15."
    board.page(2)
    page = board.set_page
    assert page.heading.text() == "Set round 5"
    assert page.progress.text() == "12 traps  ·  0 in the water  ·  12 planned"
    for _ in range(12):
        board.press(Key.Key_N)
    assert page.progress.text() == "12 traps  ·  12 in the water  ·  0 planned"
    rows = board.sets()
    assert [row.state for row in rows] == ["set"] * 12
    assert [row.set_utc for row in rows] == sorted(str(row.set_utc) for row in rows)
    assert all(row.bait_id == row.planned_bait_id for row in rows)
    assert board.window.sidebar.in_water.text() == "12 traps still in the water"


def lift_with_all_that_happens(board: Keyboard) -> None:
    """Lift the twelve traps: each in its own way."""
    board.clock.set(MORNING)
    board.page(3)
    # P1: three. P2: empty. P3: two, and a perch. P4: one, and one that dropped back.
    board.press("3", Key.Key_Return)
    board.press("0", Key.Key_Return)
    board.press("2", Key.Key_Right, Key.Key_Plus, Key.Key_Return)
    board.press("1", "D", Key.Key_Return)
    # P5: disturbed, P6: lost, P7: not counted.
    board.press("1", "X", Key.Key_Return)
    board.press("L", Key.Key_Return)
    board.press(Key.Key_Question)
    # P8: back into the water at once, on what is left of the bait.
    board.press("G", "G", "4", "A")
    # P9: a slip of the fingers is asked about and taken back.
    with board.answering(Key.Key_Escape) as question:
        board.press("60", Key.Key_Return)
    assert any("60 Crayfish is" in text and "Is it right?" in text for text in question.texts)
    assert board.at("P9").state == "set"
    board.press(Key.Key_Backspace, Key.Key_Return)
    # P10 to P12: plain. Then all that wait go back as well.
    for digit in "205":
        board.press(digit, Key.Key_Return)


def check_lifts(board: Keyboard) -> None:
    kept = (FISH, "kept")
    assert board.caught("P1") == {kept: 3}
    assert board.caught("P2") == {kept: 0}
    assert board.caught("P3") == {kept: 2, (PERCH, "put back"): 1}
    assert board.caught("P4") == {kept: 1, (FISH, DROPPED): 1}
    assert board.caught("P5") == {kept: 1}
    assert board.caught("P6") == board.caught("P7") == {}
    assert board.caught("P8") == {kept: 4}
    assert [board.caught(f"P{n}") for n in (9, 10, 11, 12)] == [
        {kept: 6}, {kept: 2}, {kept: 0}, {kept: 5},
    ]  # fmt: skip
    conditions = {n: board.at(f"P{n}").condition for n in range(1, 13)}
    assert conditions == {**dict.fromkeys(range(1, 13), "fished"), 5: "disturbed", 6: "lost"}
    assert [n for n in range(1, 13) if not board.at(f"P{n}").counted] == [6, 7]
    lost = board.snapshot.need(Trap, board.at("P6").trap_id)
    assert lost.state == "lost"
    found = [board.lift_page.list.grid.columns[2].read(stop) for stop in board.lift_page.stops]
    assert found == [
        "3", "0", "2", "2", "1, disturbed", "lost", "not counted", "4", "6", "2", "0", "5",
    ]  # fmt: skip
    assert board.lift_page.progress.text() == "12 of 12 lifted  ·  0 in the water"
    assert "trap 6 at P6" in board.lift_page.standing.text()


def set_the_rest_again(board: Keyboard) -> None:
    """P8 went back at once; now the ten others that came up, by one key."""
    board.press((Key.Key_A, SHIFT))
    assert [row.afterwards for row in board.sets()] == ["set again"] * 5 + [""] + ["set again"] * 6
    session = board.window.session
    rounds = board.snapshot.rounds(session.trip_id or "")
    assert [row.number for row in rounds] == [1, 2, 3, 4, 5, 6]
    again = board.snapshot.sets(rounds[-1].id)
    assert [row.state for row in again] == ["set"] * 5 + ["planned"] + ["set"] * 6
    assert [row.bait_action for row in again if row.state == "set"] == ["left as it was"] * 11
    sidebar = board.window.sidebar
    assert sidebar.in_water.text() == "11 traps still in the water"
    item = sidebar.list.item(0)
    assert item.text().splitlines()[-2:] == ["round 6: 0 of 12 lifted", "11 in the water"]
    assert item.foreground().color().name() == LIGHT.bad


def compare(board: Keyboard) -> None:
    board.page(4)
    page = board.compare_page
    assert page.answer is not None
    assert page.answer.snapshot is board.snapshot
    lines = page.table.grid.rows
    # 167 of the four rounds before; 3 + 0 + 2 + 2 + 4 + 6 + 2 + 0 + 5 of this morning.
    assert sum(int(line.catch) for line in lines) == 167 + 24
    n_before = {line.bait: int(line.n_counted) for line in lines}
    assert page.card.headline.text()
    assert page.card.verdict.text()
    # Disturbed traps count as well: one of the second night, and P5 of this morning.
    box = page.panel.boxes["disturbed"]
    board.press((Key.Key_D, ALT))
    board.qtbot.waitUntil(box.isChecked)
    n_after = {line.bait: int(line.n_counted) for line in page.table.grid.rows}
    assert sum(n_after.values()) - sum(n_before.values()) == 2
    board.press((Key.Key_D, ALT))
    board.qtbot.waitUntil(lambda: not box.isChecked())
    assert {line.bait: int(line.n_counted) for line in page.table.grid.rows} == n_before
    assert "P6" in page.tabs.left_out.toPlainText()


def print_summary(board: Keyboard, goal: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Save the pages of the trip from the Summary page; return what the PDF says."""
    asked: list[str] = []

    def save_as(_parent: object, title: str, *_: object, **__: object) -> tuple[str, str]:
        asked.append(title)
        return str(goal), ""

    monkeypatch.setattr("PySide6.QtWidgets.QFileDialog.getSaveFileName", save_as)
    board.page(5)
    board.tab_to(board.summary_page.save_button)
    board.press(Key.Key_Space)
    assert asked == ["Save as PDF"]
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(goal).pages)


def check_pages(text: str) -> None:
    """The pages say what was done, each thing by its own word."""
    # 168 of four rounds; 25 of this morning, the disturbed trap's 1 among them.
    assert "6 rounds, 71 trap sets, 60 lifted, 56 with a valid count: 193 Crayfish" in text
    assert "5 2026-08-15 15 Aug 18:41 to 16 Aug 07:40 12 12 10 25" in text
    for place, words in {
        "P2 2": "fished 0 0.00",
        "P3 3": "fished 2 1 Perch (put back)",
        "P5 5": "disturbed 1",
        "P6 6": "lost lost",
        "P7 7": "fished not counted",
        "P9 9": "fished 6",
    }.items():
        after = text.partition(f" 5 {place}, QW")[2]
        assert words in after.partition(" 5 P")[0], place
    assert "9 dropped back at the lift" in text  # 8 of the rounds before, and P4's
    assert "Still in the water: trap 8 at P8 since 2026-08-16 07" in text
    assert "Lost and not found: trap 6 at P6" in text
    assert "Still in the water: trap 6" not in text


def test_a_whole_trip_by_keys_is_taken_back_step_by_step_and_done_again(
    lake: Keyboard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    board, path = lake, path_of(lake)
    assert path.is_relative_to(tmp_path.parent)
    first = kept_in(path)
    before = board.n_keys
    set_all(board)
    lift_with_all_that_happens(board)
    check_lifts(board)
    set_the_rest_again(board)
    assert board.n_keys - before <= FULL_ROUND_KEYS
    compare(board)
    check_pages(print_summary(board, tmp_path / "trip.pdf", monkeypatch))
    last = kept_in(path)
    assert last == board.kept[-1]

    assert len(board.labels) == 30
    assert board.labels[:2] == ["Next round", "Set trap 1"]
    assert board.labels[-1] == "Set 10 traps again"
    board.page(3)
    board.undo_all()
    assert kept_in(path) == first
    assert board.lift_page.heading.text() == "Lift round 4"
    assert not board.window.sidebar.in_water.isVisible()
    # The example as it came is the beginning.
    assert not board.window.actions_by_name["undo"].isEnabled()
    board.press((Key.Key_Z, CONTROL))
    assert kept_in(path) == first

    board.redo_all()
    assert kept_in(path) == last
    assert board.window.sidebar.in_water.text() == "11 traps still in the water"


def test_a_plain_round_of_twelve_traps_takes_38_keys(lake: Keyboard) -> None:
    board = lake
    board.press((Key.Key_R, CONTROL))
    before = board.n_keys
    board.page(2)
    for _ in range(12):
        board.press("N")
    board.clock.set(MORNING)
    board.page(3)
    for n in range(12):
        board.press(str(n % 10), Key.Key_Return)
    assert board.n_keys - before <= PLAIN_ROUND_KEYS
    assert [board.caught(f"P{n + 1}") for n in range(12)] == [
        {(FISH, "kept"): n % 10} for n in range(12)
    ]
    assert all(row.state == "lifted" and row.counted for row in board.sets())

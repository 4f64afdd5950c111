"""Rain stops a lift halfway: what stays in the water is red wherever one looks, until it is up.

By keyboard alone on the real window, with the planned trip of the shore sample: set by one
throw, lifted from the last place, left half done, finished the next day, taken back, redone.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from tests.journeys.keyboard import ALT, CONTROL, Key, Keyboard, kept_in, sit_down
from trapline.cli.main import main
from trapline.drawing.theme import SCREEN_THEMES, Theme
from trapline.ui.tables.grid import GridView

EVENING, FIRST_LIFT, NEXT_DAY = (
    "2026-08-22T18:00:00Z", "2026-08-23T17:30:00Z", "2026-08-24T17:00:00Z",
)  # fmt: skip
CRAB, GOBY = "Shore crab", "Goby"
LEFT_IN = ("K1", "K2", "K3", "K4")


@pytest.fixture
def shore(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Keyboard:
    """The window on a copy of the shore sample, opened from the start page."""
    board = sit_down(qtbot, tmp_path, monkeypatch, EVENING)
    with board.answering(Key.Key_Down, Key.Key_Return):
        board.press(Key.Key_Space)
    assert board.window.session.trip is not None
    assert board.window.session.trip.name == "Second throws"
    board.begin_noting()
    return board


def path_of(board: Keyboard) -> Path:
    project = board.window.session.project
    assert project is not None
    return project.path


def set_by_one_throw(board: Keyboard) -> None:
    """The first at 19:00, the rest every three minutes along the quay."""
    board.page(2)
    assert board.window.sidebar.in_water.isHidden()
    with board.answering((Key.Key_F, ALT), "1900", (Key.Key_M, ALT), "3", Key.Key_Return) as throw:
        board.press("T")
    assert any("From K1 at" in text for text in throw.texts)
    assert [row.set_utc for row in board.sets()] == [
        f"2026-08-22T19:{3 * n:02d}:00Z" for n in range(8)
    ]
    assert board.labels == ["Set 8 traps"]


def lift_half_from_the_last_place(board: Keyboard) -> None:
    board.clock.set(FIRST_LIFT)
    board.page(3)
    board.tab_to(board.lift_page.direction)
    board.press(Key.Key_Space)
    assert board.lift_page.direction.text().startswith("K8 → K1")
    for presses in ("3", "0", "5", "1"):
        board.press(presses, Key.Key_Return)
    # The rain is written down with the last one that came up.
    board.press(Key.Key_Up, "M", "rain", Key.Key_Return)
    assert [board.caught(f"K{n}") for n in (8, 7, 6, 5)] == [
        {(CRAB, "kept"): n} for n in (3, 0, 5, 1)
    ]
    assert board.at("K5").notes == "rain"


def red_rows(table: GridView, column: int, theme: Theme) -> list[str]:
    """The first cells of those rows whose cell in a column is red."""
    grid = table.grid
    return [
        str(grid.index(n, 0).data())
        for n in range(len(grid.rows))
        if grid.index(n, column).data(Qt.ItemDataRole.ForegroundRole) == QColor(theme.bad)
    ]


def check_that_the_rest_is_red(
    board: Keyboard, theme: Theme, capsys: pytest.CaptureFixture[str]
) -> None:
    """Sidebar, Set, Lift and Summary, and the command line."""
    sidebar = board.window.sidebar
    assert sidebar.in_water.isVisible()
    assert sidebar.in_water.text() == "4 traps still in the water"
    assert ink(sidebar.in_water) == theme.bad
    assert "4 in the water" in sidebar.list.item(0).text()
    assert sidebar.list.item(0).foreground().color().name() == theme.bad

    board.page(2)
    assert "4 in the water" in board.set_page.progress.text()
    assert red_rows(board.set_page.table, 7, theme) == list(LEFT_IN)

    board.page(3)
    assert board.lift_page.progress.text() == "4 of 8 lifted  ·  4 in the water"
    assert red_rows(board.lift_page.list, 2, theme) == list(reversed(LEFT_IN))
    assert "Lift  4" in [button.text() for button in board.window.strip.group.buttons()]

    board.page(5)
    summary = board.summary_page
    assert summary.notice.isVisible()
    assert "4 traps still in the water: trap A at K1 since" in summary.gear.text()
    assert ink(summary.gear) == theme.bad

    assert main(["check", str(path_of(board))]) == 1
    assert "4 traps still in the water: trap A at K1 since" in capsys.readouterr().out


def ink(label: QLabel) -> str:
    """The colour of a label's letters, as its style gives it."""
    return label.palette().color(label.foregroundRole()).name()


def finish_the_next_day(board: Keyboard) -> None:
    board.clock.set(NEXT_DAY)
    board.page(3)
    # The page still shows the trap with the note; Enter goes on to the next in the water.
    assert board.lift_page.bar.buttons["lift"].text() == "Next  (Enter)"
    board.press(Key.Key_Return)
    row = board.lift_page.row
    assert row is not None
    assert board.snapshot.place_label(row) == "K4"
    for presses in ("2", "0", "4", "1"):
        board.press(presses, Key.Key_Return)
    assert board.lift_page.progress.text() == "8 of 8 lifted  ·  0 in the water"


def check_that_nothing_is_left(
    board: Keyboard, theme: Theme, capsys: pytest.CaptureFixture[str]
) -> None:
    assert board.window.sidebar.in_water.isHidden()
    assert board.window.sidebar.list.item(0).foreground().color().name() != theme.bad
    board.page(2)
    assert red_rows(board.set_page.table, 7, theme) == []
    board.page(3)
    assert red_rows(board.lift_page.list, 2, theme) == []
    board.page(5)
    assert board.summary_page.gear.isHidden()
    # The scents of so short a line still meet, so that something is left to say.
    assert main(["check", str(path_of(board))]) == 1
    said = capsys.readouterr().out
    assert "in the water" not in said
    assert "All scents meet" in said


@pytest.fixture(params=sorted(SCREEN_THEMES))
def theme(request: pytest.FixtureRequest, shore: Keyboard) -> Iterator[Theme]:
    """One of the looks, chosen in the View menu by its letters."""
    letters = {"light": "g", "dark": "d", "sunlight": "h"}
    shore.press((Key.Key_V, ALT), letters[request.param])
    yield SCREEN_THEMES[request.param]
    shore.press((Key.Key_V, ALT), letters["light"])


# The offscreen platform says that it cannot do for a menu what a desktop does.
@pytest.mark.qt_log_ignore("does not support (raise|grabbing)", extend=True)
def test_what_rain_leaves_in_the_water_is_red_in_every_view(
    shore: Keyboard, theme: Theme, capsys: pytest.CaptureFixture[str]
) -> None:
    set_by_one_throw(shore)
    lift_half_from_the_last_place(shore)
    check_that_the_rest_is_red(shore, theme, capsys)
    finish_the_next_day(shore)
    check_that_nothing_is_left(shore, theme, capsys)


def test_a_trip_in_the_rain_is_taken_back_step_by_step_and_done_again(
    shore: Keyboard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    board, path, goal = shore, path_of(shore), tmp_path / "rain.pdf"
    monkeypatch.setattr(
        "PySide6.QtWidgets.QFileDialog.getSaveFileName", lambda *_, **__: (str(goal), "")
    )
    first = kept_in(path)
    set_by_one_throw(board)
    lift_half_from_the_last_place(board)
    half = len(board.labels)
    finish_the_next_day(board)
    # Printed from the menu this time: the dialog's default button saves.
    with board.answering(Key.Key_Return):
        board.press((Key.Key_P, CONTROL))
    text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(goal).pages)
    assert "1 round, 8 trap sets, 8 lifted, 8 with a valid count: 16 Shore crab" in text
    assert "22 Aug 19:00 to 24 Aug 17" in text
    assert "Still in the water" not in text
    last = kept_in(path)

    board.page(3)
    board.undo_all()
    assert kept_in(path) == first
    assert board.lift_page.empty.isVisible()
    board.redo_all()
    assert kept_in(path) == last
    assert (half, len(board.labels)) == (7, 11)


def test_an_empty_page_hands_the_keys_to_its_next_step(shore: Keyboard) -> None:
    """Nothing is set yet: from Lift and Compare, Enter leads to the Set page."""
    for number, page in ((3, shore.lift_page), (4, shore.compare_page)):
        shore.page(number)
        assert page.empty.button.hasFocus()
        shore.press(Key.Key_Return)
        assert shore.window.page is shore.set_page
        assert shore.set_page.table.hasFocus()


def test_choosing_a_trip_in_the_sidebar_leaves_the_keys_there(shore: Keyboard) -> None:
    shore.page(3)
    trips = shore.window.sidebar.list
    shore.tab_to(trips, most=60)
    shore.press(Key.Key_Down)
    assert shore.lift_page.heading.text() == "Lift round 2"
    assert trips.hasFocus()
    shore.press(Key.Key_Up)
    assert shore.lift_page.empty.isVisible()
    assert trips.hasFocus()

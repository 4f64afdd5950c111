"""Each page names what comes next, also when its own work is done."""

from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QSettings

from trapline.actions.samples import copy_sample
from trapline.actions.trips import next_round
from trapline.ui.app import make_application, make_window
from trapline.ui.window import MainWindow


@pytest.fixture
def window(qtbot: Any, tmp_path: Path) -> MainWindow:
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    window = make_window(make_application([]), settings)
    qtbot.addWidget(window)
    window.resize(1366, 740)
    window.show()
    return window


def open_sample(window: MainWindow, name: str, folder: Path) -> None:
    window.open_path(copy_sample(name, folder))


def test_a_round_that_is_home_is_to_be_compared(window: MainWindow, tmp_path: Path) -> None:
    open_sample(window, "lake_bait_trial", tmp_path)
    lay_out, set_page = window.pages[:2]
    window.show_page(0)
    button = lay_out._buttons["compare"]
    assert button.isVisible()
    assert button.isDefault()

    button.click()
    assert window.page is window.pages[3]

    window.show_page(1)
    assert set_page.now_button.text() == "Compare the baits"
    set_page.now_button.click()
    assert window.page is window.pages[3]


def test_a_planned_round_is_to_be_carried_and_set(window: MainWindow, tmp_path: Path) -> None:
    open_sample(window, "lake_bait_trial", tmp_path)
    window.session.do(next_round, window.session.trip_id)
    window.session.choose_round(None)
    window.show_page(0)
    assert not window.pages[0]._buttons["compare"].isVisible()
    assert window.pages[0]._buttons["sheet"].isDefault()

    window.show_page(1)
    set_page = window.pages[1]
    assert set_page.now_button.text().startswith("Set trap ")
    for _ in range(12):
        set_page.set_now()
    assert set_page.now_button.text() == "Lift the traps"
    set_page.now_button.click()
    assert window.page is window.pages[2]


def test_compare_points_to_an_earlier_trip_that_has_lifts(
    window: MainWindow, tmp_path: Path
) -> None:
    open_sample(window, "shore_line", tmp_path)
    window.show_page(3)
    text = window.pages[3].empty.sentence.text()

    assert text.startswith("No trap of “Second throws” was set yet")
    assert text.endswith("Choose an earlier trip at the left to compare its baits.")


def test_moving_the_place_of_a_trap_that_was_set_says_what_it_moves(
    window: MainWindow, tmp_path: Path
) -> None:
    open_sample(window, "lake_bait_trial", tmp_path)
    told: list[str] = []
    window.session.informed.connect(told.append)
    session, page = window.session, window.pages[0]
    row = session.snapshot.sets(session.round_id)[0]
    before = session.snapshot.position(row)
    page.deeds.move_place(row.place_id, -38.2011, 47.3004)

    assert session.snapshot.position(session.snapshot.sets(session.round_id)[0]) == before
    assert told == [
        "The place was moved for later rounds. In this round the trap stays where it was set."
    ]
    session.do(next_round, session.trip_id)
    session.choose_round(None)
    page.deeds.move_place(row.place_id, -38.2012, 47.3004)
    assert len(told) == 1


def test_a_lost_trap_is_named_with_its_round(window: MainWindow, tmp_path: Path) -> None:
    open_sample(window, "lake_bait_trial", tmp_path)
    window.show_page(1)

    assert window.pages[1].standing.text() == "Lost and not found: trap 4 at P4 (round 3)."


def test_next_round_waits_until_the_last_one_was_begun(window: MainWindow, tmp_path: Path) -> None:
    open_sample(window, "lake_bait_trial", tmp_path)
    assert window.strip.next_button.isEnabled()

    window.session.do(next_round, window.session.trip_id)
    assert not window.strip.next_button.isEnabled()

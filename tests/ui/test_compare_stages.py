"""The three stages of the Compare page beside the window: shown at once, cancelled, overtaken."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip
from tests.ui.trip_window import window_on
from trapline.analyses import settle, trip_comparison
from trapline.drawing.theme import SCREEN_THEMES
from trapline.errors import InvalidValue
from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.tasks import Tasks
from trapline.ui.window import MainWindow

Opener = Callable[[MadeTrip], ComparePage]
TESTING = "Making the tests, the checks and the switches…"
SIMULATING = "Simulating what would settle it…"


class Held:
    """Long work that stands still until it is let go on; it tells how far it is all the time."""

    def __init__(self) -> None:
        self.begun, self.may_end = Event(), Event()
        self.n_begun = self.n_given_up = 0

    def wait(self, progress: Callable[[float], None]) -> None:
        self.n_begun += 1
        self.begun.set()
        try:
            while not self.may_end.wait(0.005):
                progress(0.4)
        except BaseException:
            self.n_given_up += 1
            raise


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[MainWindow]:
    """A window with workers on a trip whose verdict hangs on its disturbed traps."""
    made = make_trip(8, baits=("fish", "liver")).lifted(
        [3, 3, 30, 3, 30, 3, 30, 3], conditions=["fished", "fished"] + ["disturbed", "fished"] * 3
    )
    shown = window_on(made, qtbot, tmp_path, 0)
    shown.tasks = tasks = Tasks(shown)
    yield shown
    tasks.stop()
    shown.tasks = None


@pytest.fixture
def tests_held(monkeypatch: pytest.MonkeyPatch) -> Iterator[Held]:
    held, real = Held(), trip_comparison.completed_trips

    def slow(snapshot: Any, first: Any, progress: Any = None) -> Any:
        held.wait(progress)
        return real(snapshot, first, progress)

    monkeypatch.setattr(trip_comparison, "completed_trips", slow)
    yield held
    held.may_end.set()


@pytest.fixture
def trials_held(monkeypatch: pytest.MonkeyPatch) -> Iterator[Held]:
    """Trials that wait and then find nothing to say."""
    held = Held()

    def slow(comparison: Any, *, is_quick: bool = False, progress: Any = None) -> None:
        held.wait(progress)

    monkeypatch.setattr(settle, "next_trip_of", slow)
    yield held
    held.may_end.set()


def compare(window: MainWindow) -> ComparePage:
    window.show_page(3)
    page = window.page
    assert isinstance(page, ComparePage)
    return page


def stage(page: ComparePage) -> str:
    return page.answer.stage if page.answer else ""


def until_status(qtbot: QtBot, page: ComparePage, words: str) -> None:
    qtbot.waitUntil(lambda: page.card.status.text() == words, timeout=30_000)


def test_verdict_table_and_charts_stand_while_the_tests_are_still_made(
    window: MainWindow, qtbot: QtBot, tests_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, TESTING)
    assert tests_held.begun.wait(10)
    assert page.card.headline.text() == "No clear difference"
    assert page.card.verdict.text().startswith("No clear difference between the baits.")
    assert [row.bait for row in page.table.grid.rows] == ["fish", "liver"]
    assert "If all baits" not in page.card.why.text()
    assert page.tabs.chart.accessibleDescription()
    assert page.panel.notes["disturbed"].text() == "…"
    assert page.tabs.pairs.note.text() == "The test of every pair has not been made yet."
    qtbot.waitUntil(lambda: page.card.bar.value() == 400, timeout=10_000)
    assert page.card.bar.isVisible()
    assert page.card.bar.accessibleName() == TESTING


def test_cancelled_tests_are_said_to_be_missing_and_can_be_made_after_all(
    window: MainWindow, qtbot: QtBot, tests_held: Held, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, TESTING)
    assert tests_held.begun.wait(10)
    qtbot.mouseClick(page.card.cancel_button, Qt.MouseButton.LeftButton)
    assert page.card.status.text() == "Tests, checks and switches were not made."
    assert page.card.go_on_button.isVisible()
    assert not page.card.cancel_button.isVisible()
    assert not page.card.bar.isVisible()
    assert page.panel.notes["disturbed"].text() == "not worked out"
    qtbot.waitUntil(lambda: tests_held.n_given_up == 1, timeout=10_000)
    assert page.card.headline.text() == "No clear difference"
    assert stage(page) == "first look"

    tests_held.may_end.set()
    qtbot.mouseClick(page.card.go_on_button, Qt.MouseButton.LeftButton)
    until_status(qtbot, page, SIMULATING)
    assert stage(page) == "tested"
    assert "3 trap sets: the verdict" in page.panel.notes["disturbed"].text()


def test_cancelled_trials_leave_what_is_known_and_can_be_gone_on_with(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    why = page.card.why.text()
    assert "Patchiness" in why
    page.card.cancel_button.click()
    assert page.card.status.text() == "What would settle it was not simulated."
    qtbot.waitUntil(lambda: trials_held.n_given_up == 1, timeout=10_000)
    assert stage(page) == "tested"
    assert page.card.why.text() == why
    assert "not been simulated" in page.tabs.next_trip.settling.text()

    trials_held.may_end.set()
    page.card.go_on_button.click()
    qtbot.waitUntil(lambda: stage(page) == "settled", timeout=30_000)
    for part in (page.card.status, page.card.bar, page.card.cancel_button, page.card.go_on_button):
        assert not part.isVisible()


def test_another_choice_overtakes_the_trials_of_the_one_before(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    page.panel.boxes["disturbed"].click()
    qtbot.waitUntil(lambda: trials_held.n_given_up == 1, timeout=10_000)
    qtbot.waitUntil(lambda: trials_held.n_begun == 2, timeout=30_000)
    assert page.answer is not None
    assert page.answer.comparison.choice.disturbed
    assert page.table.grid.rows[0].n_counted == "4"
    trials_held.may_end.set()
    qtbot.waitUntil(lambda: stage(page) == "settled", timeout=30_000)
    assert page.answer.comparison.choice.disturbed
    assert (trials_held.n_begun, trials_held.n_given_up) == (2, 1)


def test_other_pages_do_not_wait_for_the_trials(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    window.show_page(4)
    qtbot.waitUntil(lambda: window.page.report is not None, timeout=30_000)  # type: ignore[attr-defined]
    assert trials_held.n_given_up == 0


def test_the_window_closes_at_once_while_trials_run(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    started = time.monotonic()
    window.close()
    assert window.tasks is not None
    window.tasks.stop()
    assert time.monotonic() - started < 5.0
    assert trials_held.n_given_up == 1


def test_a_closed_project_ends_the_trials(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    window.session.close_project()
    qtbot.waitUntil(lambda: trials_held.n_given_up == 1, timeout=10_000)
    assert window.session.compared is None


def test_cancel_and_go_on_are_reached_and_pressed_by_keyboard(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    page.card.why_button.setFocus()
    qtbot.keyClick(page.card.why_button, Qt.Key.Key_Tab)
    assert page.card.cancel_button.hasFocus()
    qtbot.keyClick(page.card.cancel_button, Qt.Key.Key_Space)
    # The button that goes away hands the keyboard to the one that comes.
    assert page.card.go_on_button.hasFocus()
    trials_held.may_end.set()
    qtbot.keyClick(page.card.go_on_button, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: stage(page) == "settled", timeout=30_000)
    assert page.card.why_button.hasFocus()


def test_trials_that_cannot_be_made_are_said_and_can_be_tried_again(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(comparison: Any, *, is_quick: bool = False, progress: Any = None) -> None:
        raise InvalidValue("Far too many trap sets.", "", "Compare fewer rounds.")

    monkeypatch.setattr(settle, "next_trip_of", refuse)
    page = compare(window)
    until_status(qtbot, page, "What would settle it was not simulated.")
    assert page.card.go_on_button.isVisible()
    assert "Far too many trap sets." in window.banner.label.text()
    assert stage(page) == "tested"


def test_what_is_not_even_compared_yet_can_be_cancelled(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, trials_held: Held
) -> None:
    may_end, real = Event(), trip_comparison.first_look_at_trips

    def slow(snapshot: Any, choice: Any) -> Any:
        assert may_end.wait(10)
        return real(snapshot, choice)

    monkeypatch.setattr(trip_comparison, "first_look_at_trips", slow)
    page = compare(window)
    assert page.card.status.text() == "Comparing…"
    page.card.cancel_button.click()
    assert page.card.status.text() == "Nothing was compared anew."
    may_end.set()
    qtbot.wait(50)
    assert page.answer is None
    page.card.go_on_button.click()
    until_status(qtbot, page, SIMULATING)


def test_other_colours_and_another_round_to_look_at_begin_nothing_anew(
    window: MainWindow, qtbot: QtBot, trials_held: Held
) -> None:
    page = compare(window)
    until_status(qtbot, page, SIMULATING)
    assert trials_held.begun.wait(10)
    before = page.answer
    window.take_theme(SCREEN_THEMES["dark"])
    window.session.choose_round("round-1")
    assert page.answer is before
    assert page.card.status.text() == SIMULATING
    trials_held.may_end.set()
    qtbot.waitUntil(lambda: stage(page) == "settled", timeout=30_000)
    assert (trials_held.n_begun, trials_held.n_given_up) == (1, 0)


def test_without_workers_the_trials_wait_until_they_are_asked_for(
    qtbot: QtBot, tmp_path: Path, trials_held: Held
) -> None:
    trials_held.may_end.set()
    made = make_trip(6, baits=("fish", "liver")).lifted([9, 1, 7, 2, 8, 0])
    page = compare(window_on(made, qtbot, tmp_path, 0))
    assert stage(page) == "tested"
    assert trials_held.n_begun == 0
    page.card.go_on_button.click()
    assert trials_held.n_begun == 1
    assert stage(page) == "settled"

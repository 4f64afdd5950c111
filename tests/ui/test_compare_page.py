"""The Compare page in the real window."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip
from tests.ui.trip_window import window_on
from trapline.actions.editing import edit
from trapline.drawing.theme import SCREEN_THEMES, apply_theme
from trapline.model.bait import Bait
from trapline.model.trip import Round, Trip
from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.tasks import Tasks
from trapline.ui.window import MainWindow

TWO = ("fish", "liver")
Opener = Callable[[MadeTrip], ComparePage]


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Opener:
    def make(made: MadeTrip) -> ComparePage:
        page = window_on(made, qtbot, tmp_path, 3).page
        assert isinstance(page, ComparePage)
        return page

    return make


def trial() -> MadeTrip:
    return make_trip(6, 2, baits=TWO).lifted([9, 1, 7, 2, 8, 0])


def disturbed() -> MadeTrip:
    """A trip whose verdict hangs on its disturbed traps."""
    return make_trip(12, baits=TWO).lifted(
        [3, 3, 30, 3, 30, 3, 30, 3, 30, 3, 30, 3],
        conditions=["fished", "fished"] + ["disturbed", "fished"] * 5,
    )


def cells(page: ComparePage) -> list[list[str]]:
    grid = page.table.grid
    return [[column.read(row) for column in grid.columns] for row in grid.rows]


def window_of(page: ComparePage) -> MainWindow:
    window = page.window()
    assert isinstance(window, MainWindow)
    return window


def test_the_verdict_stands_on_top_in_plain_words(opened: Opener) -> None:
    page = opened(trial())
    assert page.card.headline.text() == "Fish is the winner"
    assert page.card.verdict.text().startswith("Fish is the winner: it beats liver")
    assert page.card.verdict.isVisible()


def test_the_table_has_a_row_for_each_bait(opened: Opener) -> None:
    page = opened(trial())
    first, second = cells(page)
    assert first[:4] == ["fish", "3 of 3", "24", "72.0"]
    assert first[5:7] == ["reference", "–"]
    assert second[:4] == ["liver", "3 of 3", "3", "72.0"]
    assert "to" in second[5]
    assert second[6] == "under 1 %"
    assert first[8] == "0 of 3"


def test_a_switch_shows_at_once_that_the_verdict_hangs_on_it(opened: Opener) -> None:
    page = opened(disturbed())
    note = page.panel.notes["disturbed"]
    assert "5 trap sets: the verdict changes: fish would" in note.text()
    assert note.property("role") == "warning"
    assert page.panel.boxes["disturbed"].accessibleDescription() == note.text()
    before = page.card.headline.text()
    page.panel.boxes["disturbed"].click()
    assert page.card.headline.text() != before
    assert cells(page)[0][1] == "6 of 6"


def test_half_a_soak_can_be_chosen_only_where_disturbed_traps_count(opened: Opener) -> None:
    page = opened(disturbed())
    boxes = page.panel.boxes
    assert not boxes["half_soak"].isEnabled()
    boxes["disturbed"].click()
    assert boxes["half_soak"].isEnabled()
    assert cells(page)[0][3] == "144.0"
    boxes["half_soak"].click()
    assert cells(page)[0][3] == "84.0"
    assert "Half the soak counts: P3, round 1" in page.tabs.left_out.toPlainText()


def test_what_is_left_out_is_listed_with_its_reason(opened: Opener) -> None:
    page = opened(disturbed())
    text = page.tabs.left_out.toPlainText()
    assert "5 disturbed, left out of a comparison: P3, round 1 (fish)" in text
    assert page.tabs.tabText(page.tabs.indexOf(page.tabs.left_out)) == "Left out (5), cautions (2)"


def test_rounds_are_ticked_and_can_be_left_out(opened: Opener) -> None:
    page = opened(trial().lifted([0, 9, 1, 8, 0, 9], 2))
    tree = page.panel.rounds
    trip = tree.topLevelItem(0)
    assert trip is not None
    assert page.panel.round_ids() == ("round-1", "round-2")
    assert cells(page)[0][1] == "6 of 6"
    second = trip.child(1)
    assert second is not None
    second.setCheckState(0, Qt.CheckState.Unchecked)
    assert page.panel.round_ids() == ("round-1",)
    assert cells(page)[0][1] == "3 of 3"
    assert trip.checkState(0) == Qt.CheckState.PartiallyChecked


def test_another_trip_can_be_taken_in(opened: Opener) -> None:
    made = trial().lifted([0, 9, 1, 8, 0, 9], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    second = made.snapshot.need(Round, made.round_ids[1])
    made = made.with_rows(
        trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01"),
        second.with_(trip_id="trip-2", number=1),
    )
    page = opened(made)
    # The newest trip is shown first, with its own rounds only.
    assert page.panel.round_ids() == ("round-2",)
    other = page.panel.rounds.topLevelItem(1)
    assert other is not None
    assert other.text(0) == "Summer trial"
    other.setCheckState(0, Qt.CheckState.Checked)
    assert page.panel.round_ids() == ("round-1", "round-2")
    assert cells(page)[0][1] == "6 of 6"
    assert "in 2 rounds of 2 trips" in page.card.verdict.text()


def test_the_reference_bait_can_be_changed(opened: Opener) -> None:
    page = opened(trial())
    box = page.panel.reference
    box.setCurrentIndex(box.findText("liver"))
    box.activated.emit(box.currentIndex())
    assert [row[5] == "reference" for row in cells(page)] == [False, True]


def test_a_choice_stays_when_something_is_changed_and_goes_with_the_trip(opened: Opener) -> None:
    page = opened(disturbed())
    page.panel.boxes["disturbed"].click()
    session = page.session
    session.do(edit, Bait, "bait-0", name="perch")
    assert page.panel.boxes["disturbed"].isChecked()
    assert cells(page)[0][0] == "perch"


def test_the_places_are_ranked_and_go_together_with_the_map(opened: Opener) -> None:
    page = opened(trial())
    page.tabs.setCurrentWidget(page.tabs.places)
    rows = page.tabs.places.table.grid.rows
    assert [row.place for row in rows[:3]] == ["P1", "P5", "P3"]
    page.tabs.places.table.selectRow(1)
    assert set(page.tabs.places.canvas.picture.selected) == {"place-4"}
    assert "owe its catch to its bait" in page.tabs.places.caution.text()


def test_a_planned_trip_names_the_next_step(opened: Opener) -> None:
    page = opened(make_trip(3))
    assert page.over.currentWidget() is page.empty
    assert "nothing to compare" in page.empty.sentence.text()
    with_signal: list[str] = []
    page.asked.connect(with_signal.append)
    page.empty.button.click()
    assert with_signal == ["page_2"]


def test_nothing_ticked_is_a_sentence_and_no_crash(opened: Opener) -> None:
    page = opened(trial())
    trip = page.panel.rounds.topLevelItem(0)
    assert trip is not None
    trip.setCheckState(0, Qt.CheckState.Unchecked)
    assert page.card.headline.text() == "Nothing to compare yet"
    assert "No trap of these rounds was set yet" in page.card.verdict.text()
    assert cells(page) == []
    page.grab()


def test_there_is_one_primary_button_and_it_goes_on_to_the_summary(opened: Opener) -> None:
    page = opened(trial())
    buttons = page.findChildren(QPushButton)
    assert [b.text() for b in buttons if b.isDefault() and b.isVisible()] == ["Trip summary"]
    assert [b.text() for b in buttons if b.autoDefault() and not b.isDefault()] == []
    page.card.next_button.click()
    assert window_of(page).page.title == "Summary"


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_the_page_fits_a_small_screen_in_every_look(opened: Opener, theme: str) -> None:
    page = opened(disturbed())
    window = window_of(page)
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    try:
        window.take_theme(apply_theme(app, theme))
        app.processEvents()
        hint = window.minimumSizeHint()
        assert hint.width() <= 1366
        assert hint.height() <= 768
        for tab in range(page.tabs.count()):
            page.tabs.setCurrentIndex(tab)
            assert not page.grab().isNull()
    finally:
        apply_theme(app, "light")


def test_the_work_is_done_beside_the_window_and_only_the_latest_counts(
    opened: Opener, qtbot: QtBot
) -> None:
    page = opened(disturbed())
    window = window_of(page)
    window.tasks = Tasks(window)
    try:
        for _ in range(3):
            page.panel.boxes["disturbed"].click()
        assert page.panel.boxes["disturbed"].isChecked()
        qtbot.waitUntil(lambda: bool(cells(page)) and cells(page)[0][1] == "6 of 6", timeout=20_000)
    finally:
        window.tasks.stop()
        window.tasks = None


def test_the_map_of_the_catch_shows_the_places_as_large_as_it_has_room(opened: Opener) -> None:
    page = opened(trial())
    panel = page.tabs.places
    page.tabs.setCurrentWidget(panel)
    QApplication.processEvents()
    seen = panel.canvas.picture.view.metres_per_px
    panel.canvas.fit()
    # As if it were fitted now, with room for the rates beside the outer places.
    assert seen == pytest.approx(panel.canvas.picture.view.metres_per_px / 0.8, rel=0.05)

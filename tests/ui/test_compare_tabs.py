"""What stands under the verdict: the choice, the pairs, the trips, and the next trip."""

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QLabel
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip, write_project
from tests.ui.trip_window import window_on
from trapline.actions.trips import next_round
from trapline.analyses import settle
from trapline.analyses.bait_comparison import BaitComparison
from trapline.analyses.comparison_words import chance_text
from trapline.model.bait import Bait
from trapline.model.kept_draw import kept_draw
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.ui.menu import COMMANDS
from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.pages.summary_page import SummaryPage
from trapline.ui.window import MainWindow

Opener = Callable[[MadeTrip], ComparePage]
THREE = ("fish", "liver", "corn")


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Opener:
    def make(made: MadeTrip) -> ComparePage:
        page = window_on(made, qtbot, tmp_path, 3).page
        assert isinstance(page, ComparePage)
        return page

    return make


def trial() -> MadeTrip:
    return make_trip(9, baits=THREE).lifted([9, 4, 1, 7, 5, 2, 8, 3, 0])


def unequal_soaks() -> MadeTrip:
    """Fish soaked for three days and liver for one."""
    made = make_trip(8, baits=("fish", "liver")).lifted([9, 5, 8, 6, 9, 5, 8, 6])
    longer: list[TrapSet] = [
        row.with_(lift_utc="2026-07-04T10:00:00Z") for row in made.sets() if row.bait_id == "bait-0"
    ]
    return made.with_rows(*longer)


def two_trips() -> MadeTrip:
    """On the second trip the baits change places."""
    made = make_trip(9, 2, baits=THREE).lifted([9, 4, 1, 7, 5, 2, 8, 3, 0])
    made = made.lifted([2, 8, 1, 1, 9, 0, 2, 7, 1], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    second = made.snapshot.need(Round, made.round_ids[1])
    return made.with_rows(
        trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01"),
        second.with_(trip_id="trip-2", number=1),
    )


def window_of(page: ComparePage) -> MainWindow:
    window = page.window()
    assert isinstance(window, MainWindow)
    return window


def shown_tabs(page: ComparePage) -> list[str]:
    tabs = page.tabs
    return [tabs.tabText(n) for n in range(tabs.count()) if tabs.isTabVisible(n)]


def take_all_trips(page: ComparePage) -> None:
    page.panel.rounds.blockSignals(True)  # compared once, not at every tick
    for at in range(page.panel.rounds.topLevelItemCount()):
        item = page.panel.rounds.topLevelItem(at)
        assert item is not None
        item.setCheckState(0, Qt.CheckState.Checked)
    page.panel.rounds.blockSignals(False)
    page.panel.changed.emit()


def choose_soak(page: ComparePage, name: str) -> None:
    box = page.panel.soak
    box.setCurrentIndex(box.findData(name))
    box.activated.emit(box.currentIndex())


def test_why_it_is_no_surer_is_folded_until_it_is_asked_for(opened: Opener) -> None:
    page = opened(trial())
    card = page.card
    assert not card.why.isVisible()
    assert "If all baits drew alike" not in card.verdict.text()
    card.why_button.click()
    assert card.why.isVisible()
    why = card.why.text()
    assert why.startswith("If all baits drew alike, differences among them as large as these")
    assert "Exact test, the baits of traps dealt out again" in why
    assert "Patchiness: traps with the same bait differ by" in why
    assert "independent prior" in why
    assert "shrinking prior" in why
    card.why_button.click()
    assert not card.why.isVisible()


def test_the_headline_and_the_chart_are_seen_with_the_longest_verdict(opened: Opener) -> None:
    page = opened(two_trips())
    take_all_trips(page)
    window_of(page).resize(1366, 720)
    for part in (page.card.headline, page.tabs.chart):
        rect = part.rect()
        below = part.mapTo(page, rect.bottomLeft()).y()
        assert below <= page.height()


def test_alike_soaks_make_no_difference_to_how_catch_grows(opened: Opener) -> None:
    page = opened(trial())
    assert page.panel.notes["soak"].text() == "all soaks are alike"


def test_how_the_catch_grows_with_the_soak_can_be_chosen(opened: Opener) -> None:
    page = opened(unequal_soaks())
    note = page.panel.notes["soak"]
    assert note.text().startswith("In step: the verdict ")
    assert "\nLevelling off: the verdict " in note.text()
    assert page.panel.soak.accessibleDescription() == note.text()
    usual = page.table.grid.rows[1].ratio
    choose_soak(page, "linear_soak")
    assert page.answer is not None
    assert page.answer.comparison.options.soak == "linear"
    assert page.table.grid.rows[1].ratio != usual
    assert note.text().startswith("As usual: the verdict ")
    choose_soak(page, "saturating_soak")
    assert page.answer.comparison.options.soak == "saturating"
    assert note.text().startswith("As usual: the verdict ")
    assert "In step" not in note.text()


def test_the_verdict_that_hangs_on_the_soak_is_marked_at_once(opened: Opener) -> None:
    page = opened(unequal_soaks())
    assert page.answer is not None
    changes = {one.name: one.changes for one in page.answer.comparison.switches}
    # In step, three days of fish are three times as much soak for the same catch.
    assert changes["linear_soak"]
    assert page.panel.notes["soak"].property("role") == "warning"
    assert "In step: the verdict changes: liver would" in page.panel.notes["soak"].text()


def test_the_factor_has_its_chance_in_the_table(opened: Opener) -> None:
    page = opened(trial())
    header = page.table.grid.columns[6].title
    assert header == "Beats ×2"
    at_two = [row.beats_by_factor for row in page.table.grid.rows]
    assert at_two[0] == "–"
    page.panel.reference.setCurrentIndex(page.panel.reference.findText("corn"))
    page.panel.reference.activated.emit(page.panel.reference.currentIndex())
    chances = []
    for factor, title in ((1.1, "Beats ×1.1"), (20.0, "Beats ×20")):
        page.panel.factor.setValue(factor)
        assert page.table.grid.columns[6].title == title
        assert page.answer is not None
        found = page.answer.comparison.comparison
        assert found is not None
        assert found.compared is not None
        chances.append(found.compared.beats_by("fish", "corn", factor))
        assert page.table.grid.rows[0].beats_by_factor == chance_text(chances[-1])
    assert chances[0] > 0.9 > 0.1 > chances[1]


def test_another_trip_begins_with_the_usual_soak_and_factor(opened: Opener) -> None:
    page = opened(two_trips())
    choose_soak(page, "linear_soak")
    page.panel.factor.setValue(5.0)
    page.session.choose_trip("trip")
    assert page.panel.soak.currentData() == ""
    assert page.panel.factor.value() == 2.0
    assert page.answer is not None
    assert page.answer.comparison.choice.factor == 2.0


def test_every_pair_has_a_row_with_ratio_chance_and_test(opened: Opener) -> None:
    page = opened(trial())
    panel = page.tabs.pairs
    rows = [[column.read(row) for column in panel.table.grid.columns]
            for row in panel.table.grid.rows]  # fmt: skip
    assert [row[:2] for row in rows] == [["fish", "liver"], ["fish", "corn"], ["liver", "corn"]]
    assert all(" to " in row[2] and row[3].endswith(" %") for row in rows)
    has_p = [row[4] != "–" for row in rows]
    assert panel.note.text()
    note = panel.note.text()
    assert all(has_p) == ("Holm" in note or "each pair by itself" in note)
    # No column of dashes: without a test the note says why.
    assert panel.table.isColumnHidden(4) == (not any(has_p))


def test_one_bait_has_neither_pairs_nor_a_next_trip(opened: Opener) -> None:
    page = opened(make_trip(4, baits=("fish",)).lifted([3, 4, 2, 5]))
    assert shown_tabs(page) == ["Every trap", "Cautions (1)", "Places"]
    assert not page.card.go_on_button.isVisible()


def test_trips_stand_beside_each_other_only_where_there_are_several(opened: Opener) -> None:
    page = opened(two_trips())
    assert "Trips" not in shown_tabs(page)
    take_all_trips(page)
    assert "Trips" in shown_tabs(page)
    page.tabs.setCurrentWidget(page.tabs.trips)
    panel = page.tabs.trips
    # The two that the verdict is about.
    assert page.card.headline.text() == "No clear difference"
    assert {panel.bait.currentText(), panel.other.currentText()} == {"fish", "corn"}
    assert "On the next trip like these" in panel.words.text()
    panel.bait.setCurrentIndex(panel.bait.findText("corn"))
    panel.bait.activated.emit(panel.bait.currentIndex())
    panel.other.setCurrentIndex(panel.other.findText("liver"))
    panel.other.activated.emit(panel.other.currentIndex())
    assert panel.chart.accessibleDescription().startswith("Catch of corn as a multiple of that of")
    assert not page.grab().isNull()
    # What was chosen stays when something else is chosen.
    page.panel.factor.setValue(3.0)
    assert (panel.bait.currentText(), panel.other.currentText()) == ("corn", "liver")


def test_a_bait_against_itself_is_asked_to_be_another(opened: Opener) -> None:
    page = opened(two_trips())
    take_all_trips(page)
    panel = page.tabs.trips
    panel.other.setCurrentIndex(panel.bait.currentIndex())
    panel.other.activated.emit(panel.other.currentIndex())
    assert panel.words.text() == "Choose two different baits."


def test_what_would_settle_it_has_curves_a_table_words_and_the_price(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = settle.next_trip_of

    def quick(comparison: BaitComparison, *, is_quick: bool, progress: Any) -> Any:
        assert not is_quick
        return real(comparison, is_quick=True, progress=progress)

    monkeypatch.setattr(settle, "next_trip_of", quick)
    page = opened(trial())
    panel = page.tabs.next_trip
    assert panel.settling.text() == "Trials of the next rounds have not been simulated yet."
    assert panel.chart.isHidden()
    page.card.go_on_button.click()
    page.tabs.setCurrentWidget(panel)
    assert page.answer is not None
    assert page.answer.stage == "settled"
    rows = panel.table.grid.rows
    assert [row.ratio for row in rows] == ["×1.5", "×2", "×3"]
    for row in rows:
        for cell in (row.rounds, row.rounds_kept, row.traps):
            assert cell.removeprefix("over ").isdigit()
    assert "no promise" in panel.settling.text()
    assert panel.cost.text().startswith("Learn, or fill the bucket? By the catches so far")
    assert panel.chart.isVisible()
    assert not page.grab().isNull()


def test_the_summary_prints_what_the_page_has_found(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settle, "next_trip_of", lambda *_, **__: None)
    page = opened(trial())
    page.card.go_on_button.click()
    assert page.answer is not None
    window = window_of(page)
    window.show_page(4)
    summary = window.page
    assert isinstance(summary, SummaryPage)
    assert summary._shown is not None
    assert summary._shown[1].comparison is page.answer.comparison
    window.show_page(3)
    page.panel.boxes["disturbed"].click()
    window.session.choose_round(None)
    window.show_page(4)
    # Another choice is the page's own: the trip is summed up as usual.
    assert not summary._shown[1].comparison.choice.disturbed


def test_the_next_round_is_planned_drawn_and_shown_in_one_step(opened: Opener) -> None:
    page = opened(trial())
    window, session = window_of(page), page.session
    assert session.project is not None
    steps = len(session.project.history())
    page.tabs.setCurrentWidget(page.tabs.next_trip)
    page.tabs.next_trip.plan_button.click()

    assert len(session.project.history()) == steps + 1
    assert window.page.title == "Set"
    assert session.round is not None
    assert session.round.number == 2
    trip = session.trip
    assert trip is not None
    draw = kept_draw(trip)
    assert draw is not None
    first = {row.place_id: row.bait_id for row in session.snapshot.sets("round-1")}
    second = {row.place_id: row.bait_id for row in session.snapshot.sets(session.round.id)}
    assert first.keys() == second.keys()
    assert all(first[place] != second[place] for place in first)
    session.undo()
    assert len(session.snapshot.rounds(trip.id)) == 1
    assert session.trip is not None
    assert session.trip.layout_draw == ""


def test_a_round_that_is_planned_already_is_said_so(opened: Opener) -> None:
    page = opened(trial())
    page.tabs.next_trip.plan_button.click()
    window, session = window_of(page), page.session
    said: list[str] = []
    session.informed.connect(said.append)
    window.trigger("plan_round")
    assert said == ["Round 2 was planned already, by the fair draw."]
    assert session.project is not None
    session.undo()
    session.do(next_round, session.trip_id)
    window.trigger("plan_round")
    assert said[-1] == "Round 2 is planned, by the fair draw."


def test_a_round_of_one_bait_is_refused_in_words(opened: Opener) -> None:
    page = opened(make_trip(4, baits=("fish",)).lifted([3, 4, 2, 5]))
    window_of(page).trigger("plan_round")
    assert "at least two baits" in window_of(page).banner.label.text()
    assert len(page.session.snapshot.rounds("trip")) == 1


def test_nothing_is_planned_in_a_project_that_cannot_be_written(
    qtbot: QtBot, tmp_path: Path
) -> None:
    from PySide6.QtCore import QSettings

    from trapline.store.project import Project
    from trapline.ui.app import make_application, make_window

    path = write_project(trial(), tmp_path / "t.gpkg")
    window = make_window(
        make_application([]), QSettings(str(tmp_path / "w.ini"), QSettings.Format.IniFormat)
    )
    qtbot.addWidget(window)
    window.show()
    window.session.open_project(Project.open(path, read_only=True))
    window.show_page(3)
    page = window.page
    assert isinstance(page, ComparePage)
    assert not page.tabs.next_trip.plan_button.isEnabled()
    assert not window.actions_by_name["plan_round"].isEnabled()


def test_a_bait_with_a_strange_name_is_shown_as_it_is(opened: Opener) -> None:
    made = two_trips()
    bait = made.snapshot.need(Bait, "bait-0")
    page = opened(made.with_rows(bait.with_(name="<b>$fish$ & co</b>")))
    take_all_trips(page)
    for at in range(page.tabs.count()):
        if page.tabs.isTabVisible(at):
            page.tabs.setCurrentIndex(at)
            assert not page.grab().isNull()
    assert page.tabs.trips.bait.itemText(0) == "<b>$fish$ & co</b>"


def mnemonic(text: str) -> str:
    plain = text.replace("&&", "")
    at = plain.find("&")
    return plain[at + 1].lower() if at >= 0 else ""


@pytest.mark.parametrize("tab", ["trips", "next_trip"])
def test_no_two_parts_of_the_page_share_a_letter(opened: Opener, tab: str) -> None:
    page = opened(two_trips())
    take_all_trips(page)
    page.tabs.setCurrentWidget(getattr(page.tabs, tab))
    page.card.show_running("Simulating…")
    window = window_of(page)
    parts = [
        part
        for kind in (QLabel, QAbstractButton)
        for part in window.findChildren(kind)
        if part.isVisible()
    ]
    letters = [mnemonic(part.text()) for part in parts]
    letters += [mnemonic(command.menu) for command in {one.menu: one for one in COMMANDS}.values()]
    counted = Counter(filter(None, letters))
    assert len(counted) > 12
    assert [letter for letter, n in counted.items() if n > 1] == []

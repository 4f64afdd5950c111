"""The Lift page by keyboard alone, in the real window."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.actions.wet_bench import WetBench
from tests.ui.wet_window import CONTROL, SHIFT, Key, WetWindow, open_window
from trapline.actions.editing import add, delete, edit
from trapline.actions.lifting import lift_trap
from trapline.actions.places import add_places
from trapline.actions.setting import set_traps
from trapline.actions.setting_again import set_again
from trapline.model.line import Place
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip
from trapline.ui.pages.counter import DROPPED

Opener = Callable[..., WetWindow]
MORNING = "2026-07-02T05:30:00Z"


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opener:
    def make(prepare: Callable[[WetBench], None] = WetBench.set_all, **values: Any) -> WetWindow:
        window = open_window(qtbot, tmp_path, monkeypatch, prepare, **values)
        window.clock.set("2026-07-02T05:30:17Z")
        window.go_to(3)
        return window

    return make


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The questions that were asked; each is answered with yes."""
    questions: list[str] = []
    for module in ("lift_counting", "lift_deeds"):
        monkeypatch.setattr(
            f"trapline.ui.pages.{module}.ask",
            lambda _parent, question, _verb: questions.append(question) or True,
        )
    return questions


def shown(window: WetWindow) -> str:
    """The place of the trap that is shown."""
    row = window.lift_page.row
    assert row is not None
    return window.bench.snapshot.place_label(row)


def test_a_typed_count_and_enter_lift_a_trap_and_go_on_to_the_next(opened: Opener) -> None:
    window = opened()
    assert shown(window) == "P1"
    before, steps = window.n_keys, len(window.bench.project.history())
    window.press("12", Key.Key_Return)
    row = window.wet.row(1)
    assert (row.state, row.counted, row.condition) == ("lifted", True, "fished")
    assert row.lift_utc is not None
    assert row.lift_utc > MORNING
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 12)]
    assert window.n_keys - before == 3
    assert len(window.bench.project.history()) == steps + 1
    assert shown(window) == "P2"
    window.press(Key.Key_Z, modifier=CONTROL)
    assert window.wet.row(1).state == "set"
    assert window.wet.catches(1) == []


def test_taps_count_one_by_one_and_undo_takes_them_back_one_by_one(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_Plus, Key.Key_Space, Key.Key_Plus)
    assert window.lift_page.counter.numeral.text() == "3"
    window.press(Key.Key_Minus)
    assert window.lift_page.counter.numeral.text() == "2"
    window.press(Key.Key_Z, Key.Key_Z, modifier=CONTROL)
    assert window.lift_page.counter.numeral.text() == "2"
    window.press(Key.Key_Z, modifier=CONTROL)
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 1)]


def test_zero_not_counted_and_lost_are_three_keys_and_three_things(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_0, Key.Key_Return)
    window.press(Key.Key_Question)
    window.press(Key.Key_L, Key.Key_Return)
    wet = window.wet
    assert [(r.counted, r.condition) for r in map(wet.row, (1, 2, 3))] == [
        (True, "fished"), (False, "fished"), (False, "lost"),
    ]  # fmt: skip
    assert [wet.catches(at) for at in (1, 2, 3)] == [[(wet.target.id, "kept", 0)], [], []]
    assert wet.trap(3).state == "lost"
    texts = [window.lift_page.list.grid.columns[2].read(stop) for stop in window.lift_page.stops]
    assert texts[:4] == ["0", "not counted", "lost", "in water"]
    assert "trap 3 at P3" in window.lift_page.standing.text()


def test_a_blank_is_not_taken_for_a_0(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_Return)
    assert window.wet.row(1).state == "set"
    assert "0 for an empty trap" in window.lift_page.counter.hint.text()
    window.press(Key.Key_0)
    assert "0 for an empty trap" not in window.lift_page.counter.hint.text()


def test_bycatch_alone_leaves_the_target_at_an_explicit_0(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_Right, Key.Key_Plus, Key.Key_Return)
    wet = window.wet
    assert sorted(wet.catches(1), key=str) == sorted(
        [(wet.perch.id, "put back", 1), (wet.target.id, "kept", 0)], key=str
    )
    assert window.lift_page.counter.species_id == wet.target.id


def test_fate_dropped_back_bait_and_condition_have_keys(opened: Opener) -> None:
    window = opened()
    window.press("4", Key.Key_F)  # what is typed is written down before the fate changes
    window.press(Key.Key_Plus, Key.Key_D)
    window.press(Key.Key_B, Key.Key_B, Key.Key_B, Key.Key_X, Key.Key_Return)
    wet, row = window.wet, window.wet.row(1)
    assert sorted(wet.catches(1), key=str) == sorted(
        [
            (wet.target.id, "kept", 4),
            (wet.target.id, "put back", 1),
            (wet.target.id, DROPPED, 1),
        ],
        key=str,
    )
    assert (row.bait_left, row.condition, row.disturbed_utc) == ("half", "disturbed", None)
    panel = window.lift_page.panel
    assert (panel.draft().condition, panel.draft().bait_left) == ("fished", "")


def test_when_it_was_disturbed_is_typed_and_the_evening_before_is_meant(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_3, Key.Key_X)
    window.lift_page.panel.disturbed.setFocus()
    window.press("2300", Key.Key_Return, Key.Key_Return)
    # 23:00 in Oslo's summer on the first evening (IANA time zone database).
    assert window.wet.row(1).disturbed_utc == "2026-07-01T21:00:00Z"


def test_a_typed_lift_time_and_a_note_go_back_to_the_keys_with_enter(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_5, Key.Key_T)
    window.press("0715", Key.Key_Return)
    window.press(Key.Key_M)
    window.press("torn mesh", Key.Key_Return)
    window.press(Key.Key_Return)
    row = window.wet.row(1)
    assert (row.lift_utc, row.notes) == ("2026-07-02T05:15:00Z", "torn mesh")
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 5)]
    assert window.lift_page.panel.lifted.text() == ""


def test_a_lift_before_the_set_is_refused_at_its_cell_and_nothing_is_lost(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_5, Key.Key_T)
    window.press("2026-07-01 12:00", Key.Key_Return, Key.Key_Return)
    panel = window.lift_page.panel
    assert window.wet.row(1).state == "set"
    assert panel.lifted.property("invalid") is True
    assert "is not after the setting" in panel.problem.text()
    assert window.lift_page.counter.typed == "5"
    window.press(Key.Key_A, modifier=CONTROL)
    window.press("2026-07-02 07:00", Key.Key_Return, Key.Key_Return)
    assert window.wet.row(1).state == "lifted"
    assert panel.lifted.property("invalid") is False


def test_an_improbable_count_is_asked_about_once(
    opened: Opener, asked: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened()
    for _ in range(5):
        window.press(Key.Key_3, Key.Key_Return)
    assert asked == []
    monkeypatch.setattr("trapline.ui.pages.lift_counting.ask", lambda *_: False)
    window.press("30", Key.Key_Return)
    assert window.wet.row(6).state == "set"
    assert window.lift_page.counter.typed == "30"
    monkeypatch.setattr(
        "trapline.ui.pages.lift_counting.ask", lambda _p, q, _v: asked.append(q) or True
    )
    window.press(Key.Key_Return)
    assert window.wet.catches(6) == [(window.wet.target.id, "kept", 30)]
    assert len(asked) == 1
    assert "30 crayfish is 10 times" in asked[0]
    window.press("29", Key.Key_Plus, Key.Key_Plus, Key.Key_Plus)
    assert len(asked) == 2
    assert (window.wet.target.id, "kept", 32) in window.wet.catches(7)


def test_set_again_lifts_and_sets_in_one_key(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_2, Key.Key_A)
    assert (window.wet.row(1).afterwards, window.wet.row(1, 2).state) == ("set again", "set")
    assert shown(window) == "P2"
    assert window.window.session.round_id == window.bench.round_id
    window.press(Key.Key_G, Key.Key_G)
    assert window.lift_page.bar.bait_action == "left as it was"
    window.press(Key.Key_0, Key.Key_A)
    assert window.wet.row(2, 2).bait_action == "left as it was"


def test_out_of_the_water_and_looked_and_left_have_keys(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_1, Key.Key_O)
    assert window.wet.row(1).afterwards == "out of the water"
    window.press(Key.Key_W)
    assert window.wet.row(2).is_in_water
    assert window.wet.row(2).notes.startswith("Looked at 2026-07-02")
    assert shown(window) == "P3"


def test_moved_asks_where_to(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    def prepare(wet: WetBench) -> None:
        wet.set_all()
        add_places(wet.project, wet.bench.line_id, [Place(label="P9")])

    window = opened(prepare)
    offered: list[list[str]] = []
    monkeypatch.setattr(
        "trapline.ui.pages.lift_deeds.choose_place",
        lambda _page, labels: offered.append(labels) or "P9",
    )
    window.press(Key.Key_1, Key.Key_V)
    assert offered == [["P2", "P3", "P4", "P5", "P6", "P7", "P9"]]
    assert window.wet.row(1).afterwards == "moved"
    assert window.wet.row(7, 2).place_id == window.bench.place("P9").id


def test_all_that_wait_go_back_or_out_by_one_key_and_the_rest_stays_set(opened: Opener) -> None:
    window = opened()
    for _ in range(4):
        window.press(Key.Key_1, Key.Key_Return)
    # Stopped halfway in the rain.
    window.press(Key.Key_A, modifier=SHIFT)
    states = [window.wet.row(at, 2).state for at in range(1, 8)]
    assert states == ["set"] * 4 + ["planned"] * 3
    assert [window.wet.row(at).is_in_water for at in range(5, 8)] == [True] * 3
    window.press(Key.Key_1, Key.Key_Return)
    window.press(Key.Key_O, modifier=SHIFT)
    assert window.wet.row(5).afterwards == "out of the water"


def test_the_end_of_the_line_says_what_can_come_then(opened: Opener) -> None:
    window = opened()
    for _ in range(7):
        window.press(Key.Key_0, Key.Key_Return)
    text = window.window.news.said
    assert text.startswith("Every trap on the way is lifted. Shift+A sets all 7 again")


def test_the_line_is_lifted_from_either_end(opened: Opener) -> None:
    window = opened()
    window.lift_page.direction.click()
    assert window.lift_page.direction.text().startswith("P7 → P1")
    places = []
    for _ in range(7):
        places.append(shown(window))
        window.press(Key.Key_0, Key.Key_Return)
    assert places == ["P7", "P6", "P5", "P4", "P3", "P2", "P1"]
    window.press(*[Key.Key_Z] * 8, modifier=CONTROL)
    assert window.bench.round().lift_from == "first place"


def test_turning_round_halfway_goes_on_from_the_other_end(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_2, Key.Key_Return)
    page = window.lift_page
    while QApplication.focusWidget() is not page.direction:
        window.press(Key.Key_Tab)
    window.press(Key.Key_Space)
    assert shown(window) == "P7"
    # The keys are the page's again: on a button the arrow would only move the focus.
    window.press(Key.Key_Down)
    assert shown(window) == "P6"


def test_a_button_pressed_by_space_gives_the_keys_back(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_4)
    while QApplication.focusWidget() is not window.lift_page.bar.buttons["out"]:
        window.press(Key.Key_Tab)
    window.press(Key.Key_Space)
    assert window.wet.row(1).afterwards == "out of the water"
    assert QApplication.focusWidget() is window.lift_page
    # Space counts again, and does not take the next trap out as well.
    window.press(Key.Key_Space)
    assert window.wet.row(2).is_in_water
    assert window.wet.catches(2) == [(window.wet.target.id, "kept", 1)]


def test_what_was_left_over_is_lifted_on_the_way_of_the_next_round(opened: Opener) -> None:
    def rained_off(wet: WetBench) -> None:
        wet.set_all()
        for at in range(1, 7):
            lift_trap(wet.project, wet.row(at).id, MORNING)
        set_again(wet.project, wet.ids()[:6])

    window = opened(rained_off)
    window.clock.set("2026-07-03T05:30:00Z")
    window.window.session.choose_round(window.bench.round(2).id)
    assert window.lift_page.stops[-1].earlier_round == 1
    assert "in water, round 1" in [
        window.lift_page.list.grid.columns[2].read(stop) for stop in window.lift_page.stops
    ]
    for _ in range(7):
        window.press(Key.Key_1, Key.Key_A)
    assert not window.wet.row(7).is_in_water
    assert {window.wet.row(at, 3).state for at in range(1, 8)} == {"set"}


def test_what_is_typed_is_not_lost_by_turning_to_another_trap_or_page(opened: Opener) -> None:
    window = opened()
    window.press("17", Key.Key_X, Key.Key_Down)
    assert shown(window) == "P2"
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 17)]
    window.press(Key.Key_Up)
    assert window.lift_page.panel.draft().condition == "disturbed"
    window.press("18")
    window.go_to(2)
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 18)]
    window.go_to(3)
    window.press(Key.Key_Return)
    assert window.wet.row(1).condition == "disturbed"


def test_old_values_are_corrected_where_they_stand(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_4, Key.Key_Return, Key.Key_Up)
    assert shown(window) == "P1"
    lifted = window.wet.row(1).lift_utc
    window.press(Key.Key_B)
    assert (window.wet.row(1).bait_left, window.wet.row(1).lift_utc) == ("none", lifted)
    window.press("6", Key.Key_Down, Key.Key_Up)
    assert window.wet.catches(1) == [(window.wet.target.id, "kept", 6)]
    window.press(Key.Key_T)
    window.press(Key.Key_A, modifier=CONTROL)
    window.press("0710", Key.Key_Return)
    assert window.wet.row(1).lift_utc == "2026-07-02T05:10:00Z"
    window.press(Key.Key_R)
    assert (window.wet.row(1).condition, window.wet.row(1).counted) == ("robbed", False)
    window.lift_page.deeds.do("unlift")
    assert window.wet.row(1).is_in_water


def test_the_rest_uncounted_is_asked_about_first(opened: Opener, asked: list[str]) -> None:
    window = opened()
    window.press(Key.Key_4, Key.Key_Return)
    window.lift_page.deeds.do("rest_again")
    assert "6 traps are still in the water" in asked[0]
    assert [window.wet.row(at).counted for at in (1, 2, 7)] == [True, False, False]
    assert {window.wet.row(at, 2).state for at in range(1, 8)} == {"set"}


def test_a_lost_trap_is_found_or_given_up(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    window = opened()
    window.press(Key.Key_L, Key.Key_Return, Key.Key_Up)
    monkeypatch.setattr("trapline.ui.pages.lift_deeds.ask_text", lambda *_: "under the jetty")
    window.lift_page.deeds.do("found")
    assert window.wet.trap(1).state == "found"
    assert "under the jetty" in window.wet.trap(1).state_note
    assert window.lift_page.standing.text() == ""


def test_forty_pots_for_a_week_take_two_keys_a_pot_and_one_a_day(opened: Opener) -> None:
    def forty(wet: WetBench) -> None:
        bench = wet.bench
        places = [
            Place(label=f"Q{n:02d}", lon_deg=10.1 + n * 1e-3, lat_deg=60.0) for n in range(33)
        ]
        add_places(wet.project, bench.line_id, places, round_id=bench.round_id)
        pots = [Trap(number=f"q{n}") for n in range(33)]
        add(wet.project, *pots)
        with wet.project.change("Number") as change:
            for row, pot in zip(change.snapshot.sets(bench.round_id)[7:], pots, strict=True):
                change.update(row.with_(trap_id=pot.id))
        set_traps(wet.project, wet.ids(), "2026-07-01T16:00:00Z")

    window = opened(forty)
    session = window.window.session
    before = window.n_keys
    for number in range(1, 8):
        window.clock.set(f"2026-07-{number + 1:02d}T05:00:00Z")
        for n in range(40):
            window.press(str(n % 5), Key.Key_Return)
        if number < 7:
            window.press(Key.Key_A, modifier=SHIFT)
            session.choose_round(window.bench.round(number + 1).id)
        else:
            window.press(Key.Key_O, modifier=SHIFT)
    keys = window.n_keys - before
    sets = [row for _, row in window.bench.snapshot.sets_of_trip(window.bench.trip_id)]
    assert len(sets) == 280
    assert all(row.state == "lifted" and row.counted for row in sets)
    assert sum(row.afterwards == "set again" for row in sets) == 240
    # A digit and Enter a pot, and one key a day for all of them.
    assert keys == 280 * 2 + 7


@pytest.mark.parametrize("theme", ["light", "dark", "sunlight"])
def test_one_trap_needs_no_scrolling(opened: Opener, theme: str) -> None:
    def prepare(wet: WetBench) -> None:
        add(wet.project, *(Species(name=f"by-catch {n}", role="by-catch") for n in range(9)))
        wet.set_all()
        lift_trap(wet.project, wet.row(1).id, MORNING)

    window = opened(prepare, theme=theme)
    window.window.resize(1366, 768)
    window.window.session.informed.emit("A sentence over the page takes its room too.")
    QApplication.processEvents()
    assert (window.window.width(), window.window.height()) == (1366, 768)
    page = window.lift_page
    inside = page.rect()
    for part in (page.card, page.counter, page.panel, page.bar, page.map, page.list):
        corner = part.mapTo(page, part.rect().bottomRight())
        assert inside.contains(corner), part
        assert part.width() >= part.minimumSizeHint().width(), part
    least = {"sunlight": 60}.get(theme, 100)
    assert page.counter.numeral.letters_px() >= least


def test_without_a_species_the_page_asks_for_one(opened: Opener) -> None:
    def prepare(wet: WetBench) -> None:
        wet.set_all()
        edit(wet.project, Trip, wet.bench.trip_id, target_species_id=None)
        delete(wet.project, Species, [wet.target.id, wet.perch.id])

    window = opened(prepare)
    asked: list[str] = []
    page = window.lift_page
    page.asked.disconnect()
    page.asked.connect(asked.append)
    window.press(Key.Key_4, Key.Key_Plus, Key.Key_Return)
    assert page.counter.heading.text() == "No species to count yet"
    page.counter.buttons.add_button.click()
    assert asked == ["edit_species"]
    window.press(Key.Key_Question)
    row = window.bench.snapshot.sets(window.bench.round_id)[0]
    assert (row.state, row.counted) == ("lifted", False)


def test_an_empty_round_names_the_next_step(opened: Opener) -> None:
    window = opened(lambda _: None)
    page = window.lift_page
    assert page.empty.sentence.text() == "No trap of this round is set yet."
    page.empty.button.click()
    assert window.window.page.title == "Set"


def test_a_click_on_a_species_counts_one_and_leaves_the_keys_with_the_page(
    opened: Opener,
) -> None:
    window = opened()
    page = window.lift_page
    page.counter.buttons.buttons[window.wet.perch.id].click()
    assert window.wet.catches(1) == [(window.wet.perch.id, "put back", 1)]
    window.press(Key.Key_Plus)
    assert window.wet.catches(1) == [(window.wet.perch.id, "put back", 2)]


def test_the_map_and_the_list_show_the_trap_that_is_lifted(opened: Opener) -> None:
    window = opened()
    window.press(Key.Key_1, Key.Key_Return)
    page, row = window.lift_page, window.lift_page.row
    assert isinstance(row, TrapSet)
    assert page.map.picture.current == row.place_id
    assert page.list.selected_rows() == [1]
    assert window.window.session.selection == (row.place_id,)
    assert page.card.number.text() == "2"
    assert page.card.tags.text() == "no tag noted"
    assert "in the water since 2026-07-01 18:02" in page.card.since.text()

"""The fair order: ticked, drawn, looked at, used."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip
from tests.ui.dialogs.conftest import Desk
from tests.ui.trip_window import window_on
from trapline.actions.editing import delete, edit
from trapline.actions.fair_order import draw_fair_order
from trapline.actions.trips import next_round
from trapline.model.bait import Bait
from trapline.model.kept_draw import kept_draw
from trapline.model.trip import Trip
from trapline.ui.dialogs.fair_order_dialog import FairOrderDialog
from trapline.ui.dialogs.fair_order_words import p_sentence
from trapline.ui.tasks import Tasks


def opened(desk: Desk, parent: QWidget | None = None) -> FairOrderDialog:
    dialog = FairOrderDialog(desk.session, parent)
    desk.keep(dialog)
    dialog.show()
    return dialog


def table(dialog: FairOrderDialog) -> list[list[str]]:
    grid = dialog.table.grid
    return [[column.read(row) for column in grid.columns] for row in grid.rows]


def test_what_is_shown_is_what_is_used_and_kept(desk: Desk) -> None:
    steps, dialog = desk.steps(), opened(desk)
    shown = table(dialog)
    assert [column.title for column in dialog.table.grid.columns] == [
        "Round", "P1", "P2", "P3", "P4", "P5", "P6", "P7",
    ]  # fmt: skip
    assert [row[0] for row in shown] == ["1", "2", "3", "4"]
    dialog.verb.click()
    assert desk.steps() == steps + 1
    assert desk.hung() == shown[0][1:]
    trip = desk.trip()
    draw = kept_draw(trip)
    assert draw is not None
    assert (trip.layout_scheme, trip.layout_seed) == ("blocks", int(dialog.seed.text()))
    assert len(draw.rounds) == 4


def test_the_marks_of_the_baits_are_in_the_table(desk: Desk) -> None:
    grid = opened(desk).table.grid
    column = grid.columns[1]
    assert column.decoration is not None
    assert not column.decoration(grid.rows[0]).isNull()


def test_a_seed_repeats_a_draw_and_drawing_again_takes_another(desk: Desk) -> None:
    dialog = opened(desk)
    dialog.seed.setText("7")
    first = table(dialog)
    dialog.again.click()
    assert dialog.seed.text() != "7"
    seen = {str(table(dialog))}
    for _ in range(8):
        dialog.again.click()
        seen.add(str(table(dialog)))
    assert len(seen) > 4
    dialog.seed.setText("7")
    assert table(dialog) == first


def test_the_control_hangs_once_a_round_unless_told_otherwise(desk: Desk) -> None:
    dialog = opened(desk)
    assert dialog.most_field.isVisible()
    assert all(row.count("no bait") == 1 for row in table(dialog))
    dialog.at_most.setText("2")
    assert all(row.count("no bait") <= 2 for row in table(dialog))
    dialog.ticks[desk.bait_id("no bait")].setChecked(False)
    assert not dialog.most_field.isVisible()
    assert not any("no bait" in row for row in table(dialog))


def test_what_could_not_be_balanced_is_said_by_name(desk: Desk) -> None:
    dialog = opened(desk)
    assert "'no bait' is on 1 of the places" in dialog.said.text()


@pytest.mark.parametrize(
    ("box", "text", "key"),
    [
        ("n_rounds", "none", "rounds planned"),
        ("n_rounds", "0", "rounds planned"),
        ("n_rounds", "201", "rounds planned"),
        ("seed", "-1", "seed"),
        ("seed", "lucky", "seed"),
        ("at_most", "", "at most"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(desk: Desk, box: str, text: str, key: str) -> None:
    before, dialog = desk.snapshot, opened(desk)
    getattr(dialog, box).setText(text)
    assert not dialog.table.isVisible()
    dialog.verb.click()
    assert dialog.isVisible()
    assert [field.key for field in dialog.fields if field.wrong.isVisible()] == [key]
    assert desk.snapshot == before


def test_one_bait_is_no_comparison(desk: Desk) -> None:
    dialog = opened(desk)
    for tick in list(dialog.ticks.values())[1:]:
        tick.setChecked(False)
    assert "at least two baits" in dialog.said.text()
    dialog.verb.click()
    assert "at least two baits" in dialog.problem.text()
    assert desk.trip().layout_draw == ""


def test_without_baits_the_next_step_is_said(desk: Desk) -> None:
    desk.session.do(delete, Bait, desk.bait_ids())
    dialog = opened(desk)
    assert any("No baits yet" in label.text() for label in dialog.findChildren(type(dialog.said)))


def test_it_begins_with_the_draw_that_is_kept(desk: Desk) -> None:
    ids = desk.bait_ids()
    desk.session.do(draw_fair_order, desk.trip_id, ids[:3], kind="whole line", n_rounds=5, seed=3)
    dialog = opened(desk)
    assert [tick.isChecked() for tick in dialog.ticks.values()] == [True, True, True, False]
    assert dialog.n_rounds.text() == "5"
    assert dialog.kind.currentData() == "whole line"
    assert "are replaced" in dialog.said.text()


def test_a_broken_draw_is_replaced_by_a_new_one(desk: Desk) -> None:
    desk.session.do(edit, Trip, desk.trip_id, layout_draw="not a draw")
    dialog = opened(desk)
    dialog.verb.click()
    assert kept_draw(desk.trip()) is not None


def test_rounds_that_were_fished_are_shown_as_they_were(desk: Desk) -> None:
    desk.session.do(draw_fair_order, desk.trip_id, desk.bait_ids(), n_rounds=4, seed=3)
    hung = desk.hung()
    desk.set_all()
    desk.session.look_again()
    desk.session.do(next_round, desk.trip_id)
    dialog = opened(desk)
    shown = table(dialog)
    assert shown[0] == ["1, as fished", *hung]
    assert shown[1][0] == "2"
    dialog.verb.click()
    assert desk.hung() == hung
    assert desk.hung(desk.round(2).id) == shown[1][1:]


def test_with_every_round_set_there_is_nothing_to_draw(desk: Desk) -> None:
    desk.set_all()
    desk.session.look_again()
    dialog = opened(desk)
    assert "Every round is set already" in dialog.said.text()
    dialog.verb.click()
    assert dialog.isVisible()


class Window(QWidget):
    """A window with a worker, as the real one has, that waits until it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.tasks = Tasks()
        self.gate = threading.Event()

    def hold(self) -> None:
        """Let the worker wait before what comes next."""
        self.gate.clear()
        self.tasks.run(lambda: self.gate.wait(10))


@pytest.fixture
def window(desk: Desk) -> Iterator[Window]:
    made = Window()
    desk.keep(made)
    yield made
    made.gate.set()
    made.tasks.stop()


def test_it_is_drawn_beside_the_window_and_a_late_draw_is_dropped(
    desk: Desk, window: Window
) -> None:
    window.hold()
    dialog = opened(desk, window)
    assert dialog.said.text() == "Drawing…"
    assert not dialog.verb.isEnabled()
    dialog.seed.setText("1")
    dialog.seed.setText("2")
    window.gate.set()
    desk.qtbot.waitUntil(lambda: dialog.proposal is not None)
    assert dialog.proposal is not None
    assert dialog.proposal.seed == 2
    assert dialog.verb.isEnabled()


def test_a_draw_that_ends_after_the_dialog_is_dropped(desk: Desk, window: Window) -> None:
    window.hold()
    dialog = opened(desk, window)
    dialog.reject()
    window.gate.set()
    done = window.tasks.run(lambda: None)
    desk.qtbot.waitUntil(done.done)
    desk.qtbot.wait(20)
    assert dialog.proposal is None


@pytest.mark.parametrize(
    ("least_p", "words"),
    [(None, ""), (0.0, ""), (0.0005, ""), (0.02, "down to 0.02"), (0.25, "cannot give a p below")],
)
def test_the_smallest_p_is_said_where_it_matters(least_p: float | None, words: str) -> None:
    said = p_sentence(least_p)
    assert (words in said) if words else said == ""


def test_what_an_order_is_worth_is_said_under_it(desk: Desk) -> None:
    dialog = opened(desk)
    assert "between the other baits)" in dialog.worth.text()
    assert "With a limit on 'no bait'" in dialog.worth.text()
    dialog.ticks[desk.bait_id("no bait")].setChecked(False)
    dialog.n_rounds.setText("3")
    assert dialog.worth.text().startswith(
        "7 places cannot be shared out evenly among 3 baits: this order keeps 98 % of what its"
        " 21 lifts could tell. With baits left where round 1 puts them 0 % would be kept"
    )
    dialog.n_rounds.setText("1")
    assert dialog.worth.text().startswith("One round cannot tell good places and good baits apart")
    dialog.n_rounds.setText("none")
    assert dialog.worth.text() == ""
    assert not dialog.worth.isVisible()


def test_in_the_window_it_is_looked_at_beside_it_and_all_of_it_is_seen(
    qtbot: QtBot, tmp_path: Path
) -> None:
    shown = window_on(make_trip(7), qtbot, tmp_path, 0)
    shown.tasks = Tasks(shown)
    gate = threading.Event()
    shown.tasks.run(lambda: gate.wait(10))
    dialog = FairOrderDialog(shown.session, shown)
    qtbot.addWidget(dialog)
    try:
        dialog.show()
        assert (dialog.said.text(), dialog.worth.text()) == ("Drawing…", "")
        gate.set()
        qtbot.waitUntil(lambda: dialog.proposal is not None)
        assert "this order keeps 98 % of what its 21 lifts could tell" in dialog.worth.text()
        qtbot.waitUntil(lambda: not dialog.roll.verticalScrollBar().isVisible())
        assert dialog.worth.visibleRegion().boundingRect() == dialog.worth.rect()
    finally:
        gate.set()
        dialog.close()
        shown.tasks.stop()

"""The history as it is read, and single steps that are put back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip, write_project
from trapline.actions.editing import edit
from trapline.actions.places import delete_places, move_place
from trapline.actions.round_table import edit_round
from trapline.model.line import Place
from trapline.model.project_info import ProjectInfo
from trapline.model.trapset import TrapSet
from trapline.store.project import Project
from trapline.ui.dialogs.history import HistoryDialog
from trapline.ui.session import Session


@pytest.fixture
def session(qtbot: QtBot, tmp_path: Path) -> Iterator[Session]:
    session = Session()
    session.open_path(write_project(make_trip(4), tmp_path / "t.gpkg"))
    session.do(move_place, "place-0", 7.5, 45.5)
    session.do(edit_round, "Assign baits", baits={"set-1-1": "bait-2"})
    session.do(edit, ProjectInfo, "project", notes="n" * 200)
    session.do(delete_places, ["place-3"])
    yield session
    session.close_project()


@pytest.fixture
def dialog(session: Session, qtbot: QtBot) -> HistoryDialog:
    dialog = HistoryDialog(session)
    qtbot.addWidget(dialog)
    return dialog


def choose(dialog: HistoryDialog, label: str) -> list[str]:
    """Choose a step and return what it did, line by line."""
    labels = [step.label for step in dialog.table.grid.rows]
    dialog.table.select_rows([labels.index(label)])
    return dialog.details.toPlainText().split("\n")


def test_each_step_says_what_it_did_with_values_before_and_after(dialog: HistoryDialog) -> None:
    assert choose(dialog, "Move place") == [
        "place P1: Longitude: 7° → 7.5°",
        "place P1: Latitude: 45° → 45.5°",
        "place P1: How fixed: not fixed → map",
    ]
    assert choose(dialog, "Assign baits") == [
        "trap at P2: Planned bait: cut herring → chicken skin",
        "trap at P2: Bait: cut herring → chicken skin",
    ]
    assert choose(dialog, "Delete place") == ["trap at P4: deleted", "place P4: deleted"]
    (notes,) = choose(dialog, "Edit project")
    assert notes.endswith("n…")
    assert len(notes) < 120


def test_a_difference_that_rounding_hides_is_shown(session: Session, qtbot: QtBot) -> None:
    session.do(move_place, "place-1", 7.000160000000001, 45.00002)
    dialog = HistoryDialog(session)
    qtbot.addWidget(dialog)

    assert dialog.details.toPlainText().split("\n")[0] == (
        "place P2: Longitude: 7.00016 → 7.000160000000001"
    )


def test_the_newest_step_stands_first_and_is_chosen(dialog: HistoryDialog) -> None:
    assert dialog.table.selected_rows() == [0]
    assert dialog.details.toPlainText().startswith("trap at P4: deleted")
    assert [step.label for step in dialog.table.grid.rows][-1] == "New project"


def test_an_older_step_is_put_back_alone_as_a_step_of_its_own(
    dialog: HistoryDialog, session: Session
) -> None:
    choose(dialog, "Move place")
    dialog.back_button.click()

    place = session.snapshot.need(Place, "place-0")
    assert (place.lon_deg, place.lat_deg) == (7.0, 45.0)
    assert session.snapshot.need(TrapSet, "set-1-1").bait_id == "bait-2"
    assert dialog.table.grid.rows[0].label == "Put back: Move place"
    session.undo()
    assert session.snapshot.need(Place, "place-0").lon_deg == 7.5


def test_a_step_that_something_later_touched_is_not_put_back(
    dialog: HistoryDialog, session: Session
) -> None:
    session.do(move_place, "place-0", 7.6, 45.6)
    labels = [step.label for step in dialog.table.grid.rows]
    dialog.table.select_rows([labels.index("Move place")])
    dialog.back_button.click()

    assert "has been changed again since" in dialog.problem.text()
    assert not dialog.problem.isHidden()
    assert session.snapshot.need(Place, "place-0").lon_deg == 7.6


def test_what_cannot_be_put_back_is_not_offered(dialog: HistoryDialog, session: Session) -> None:
    choose(dialog, "New project")
    assert not dialog.back_button.isEnabled()
    session.undo()
    dialog._refresh()
    choose(dialog, "Delete place")
    assert not dialog.back_button.isEnabled()


def test_a_project_that_is_only_read_shows_its_history_and_keeps_it(
    session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    session.open_project(Project.open(tmp_path / "t.gpkg", read_only=True))
    dialog = HistoryDialog(session)
    qtbot.addWidget(dialog)

    assert len(dialog.table.grid.rows) >= 5
    assert not dialog.back_button.isEnabled()

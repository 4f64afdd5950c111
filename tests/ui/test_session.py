"""What the window looks at, when that comes and goes."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip, write_project
from trapline.actions.places import delete_places
from trapline.actions.trips import delete_trip, start_trip
from trapline.model.line import Line
from trapline.model.project_info import ProjectInfo
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project
from trapline.ui.session import Session


@pytest.fixture
def session(qtbot: QtBot, tmp_path: Path) -> Iterator[Session]:
    session = Session()
    assert session.open_path(write_project(make_trip(3), tmp_path / "t.gpkg"))
    yield session
    session.close_project()


def start_another(session: Session, name: str = "Later", day: str = "2026-08-01") -> str:
    trip = Trip(name=name, started_on=day)
    water = Water(name=f"Pond of {name}")
    session.do(start_trip, trip, water=water, line=Line(name="L"), first_round=Round())
    return trip.id


def test_a_trip_that_was_started_is_looked_at(session: Session) -> None:
    new_id = start_another(session)

    assert session.trip_id == new_id
    assert session.round is not None


def test_undo_of_a_trip_goes_back_to_another_and_redo_returns(session: Session) -> None:
    new_id = start_another(session, day="2026-01-01")
    session.undo()
    assert session.trip_id == "trip"
    assert session.round_id == "round-1"

    session.redo()
    assert session.trip_id == new_id


def test_undo_brings_a_deleted_trip_back_into_view(session: Session) -> None:
    new_id = start_another(session)
    session.do(delete_trip, new_id)
    assert session.trip_id == "trip"

    session.undo()
    assert session.trip_id == new_id


def test_the_first_trip_that_another_program_starts_is_looked_at(
    session: Session, tmp_path: Path
) -> None:
    path = tmp_path / "empty.gpkg"
    Project.create(path, ProjectInfo(name="empty")).close()
    session.open_path(path)
    with Project.open(path) as other:
        trip, line = Trip(name="From elsewhere"), Line(name="L")
        start_trip(other, trip, water=Water(name="W"), line=line, first_round=Round())
    session.look_again()

    assert session.trip_id == trip.id


def test_deleted_places_are_no_longer_selected(session: Session) -> None:
    told: list[Any] = []
    session.place_selected.connect(told.append)
    session.select(("place-0", "place-1"))
    session.do(delete_places, ["place-0"])

    assert session.selection == ("place-1",)
    assert told[-1] == ("place-1",)


def test_the_trip_that_was_looked_at_is_shown_when_the_project_is_opened_again(
    session: Session, tmp_path: Path
) -> None:
    start_another(session)
    session.choose_trip("trip")
    session.close_project()
    session.open_path(tmp_path / "t.gpkg")

    assert session.trip_id == "trip"


def test_checks_are_worked_out_once_a_change(session: Session) -> None:
    first = session.checks()
    assert first is not None
    again = session.checks()
    assert again is not None
    assert again[0] is first[0]

    session.do(delete_places, ["place-0"])
    after = session.checks()
    assert after is not None
    assert after[0] is not first[0]


def test_without_a_project_nothing_is_done_and_nothing_breaks(qtbot: QtBot) -> None:
    session = Session()
    session.undo()
    session.redo()
    session.look_again()
    session.close_project()

    assert session.do(delete_places, ["x"]) is None
    assert session.checks() is None
    assert session.is_read_only


def test_before_the_project_closes_what_is_being_typed_can_still_be_written(
    session: Session,
) -> None:
    seen: list[bool] = []
    session.closing.connect(lambda: seen.append(session.project is not None))
    session.close_project()

    assert seen == [True]

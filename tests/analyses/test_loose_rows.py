"""Rows that point at nothing, as another program may leave them."""

import pytest

from tests.made_trips import make_trip
from trapline.analyses.loose_rows import loose_rows
from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip


def test_a_whole_project_has_none() -> None:
    assert loose_rows(make_trip(3, 2).lifted([1, None, 2]).snapshot) == ()


@pytest.mark.parametrize(
    ("noun", "values", "says"),
    [
        (TrapSet, {"place_id": "gone"}, "1 × a trap set whose place is not there."),
        (TrapSet, {"planned_bait_id": "gone"}, "1 × a trap set whose planned bait is not there."),
        (TrapSet, {"round_id": None}, "1 × a trap set that belongs to nothing."),
        (Catch, {"trap_set_id": None}, "1 × a catch that belongs to nothing."),
        (Catch, {"species_id": "gone"}, "1 × a catch whose species is not there."),
        (Place, {"line_id": "gone"}, "1 × a place whose line is not there."),
        (Trip, {"water_id": "gone"}, "1 × a trip whose water is not there."),
        (Round, {"trip_id": None}, "1 × a round that belongs to nothing."),
        (
            Round,
            {"number": 2},
            "1 × round 2 of the trip 'Summer trial' has the number of another.",
        ),
    ],
)
def test_what_points_nowhere_is_said(
    noun: type[Catch | Place | Round | TrapSet | Trip], values: dict[str, object], says: str
) -> None:
    made = make_trip(3, 2).lifted([1, None, 2])
    first = made.snapshot.all(noun)[0]
    assert loose_rows(made.with_rows(first.with_(**values)).snapshot) == (says,)


def test_several_of_a_kind_are_counted() -> None:
    made = make_trip(3)
    lost = [row.with_(trap_id="gone") for row in made.sets()]
    assert loose_rows(made.with_rows(*lost).snapshot) == (
        "3 × a trap set whose trap is not there.",
    )

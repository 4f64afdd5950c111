"""What once came through the border of the model and no longer does."""

from typing import Any

import pytest

from trapline.errors import InvalidValue
from trapline.model.instants import parse_local
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water


@pytest.mark.parametrize(
    ("noun", "values"),
    [
        (Place, {"label": "a", "depth_m": 10**400}),
        (Water, {"name": "a", "shoreline": ((None, None),)}),
        (Water, {"name": "a", "shoreline": ((1,),)}),
        (Water, {"name": "a", "shoreline": ([1, 2],)}),
        (Water, {"name": "a", "shoreline": ((1, 10**400),)}),
        (Trap, {"number": "a", "tags": ((2026, "A\0"),)}),
        (Trap, {"number": "a", "tags": "junk"}),
        (Trap, {"number": "a", "tags": ((2026.5, "A"),)}),
        (Trap, {"number": "a", "tags": ((2026, 3),)}),
        (Round, {"number": None}),
        (TrapSet, {"fraction_counted": None}),
        (Place, {"label": "a", "is_stake": None}),
        (Line, {"id": ""}),
        (Line, {"id": 5}),
        (Line, {"id": "a\0"}),
        (Line, {"water_id": ""}),
        (Round, {"high_water_utc": "\u0662026-08-01T18:30:00Z"}),
        (Round, {"high_water_utc": "9999-12-31T23:10:00Z"}),
    ],
)
def test_it_is_refused(noun: Any, values: dict[str, object]) -> None:
    with pytest.raises(InvalidValue) as caught:
        noun(**values)
    assert caught.value.where
    assert caught.value.what_to_do


@pytest.mark.parametrize("typed", ["0001-01-01 00:10", "9999-12-31 23:10"])
@pytest.mark.parametrize("zone_name", ["Europe/Oslo", "America/New_York"])
def test_a_time_at_the_end_of_the_calendar_is_refused(typed: str, zone_name: str) -> None:
    with pytest.raises(InvalidValue, match="is not a time"):
        parse_local(typed, zone_name, "2026-08-01")


def test_of_trips_of_the_same_day_the_one_made_last_is_the_newest() -> None:
    first, second = Trip(name="first"), Trip(name="second")
    picture = Snapshot({}).with_rows([first, second])
    assert picture.trips() == (second, first)

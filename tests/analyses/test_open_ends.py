"""What is left open."""

import pytest

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.open_ends import open_ends
from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip


def kinds(made: MadeTrip) -> dict[str, int]:
    found: dict[str, int] = {}
    for one in open_ends(made.snapshot):
        found[one.kind] = found.get(one.kind, 0) + one.n
    return found


def test_nothing_is_open_when_all_is_lifted_counted_and_far_apart() -> None:
    assert open_ends(make_trip(3).lifted([0, 1, 2]).snapshot) == ()


def test_a_planned_trip_is_not_open() -> None:
    assert open_ends(make_trip(3).snapshot) == ()


def test_gear_in_the_water_comes_first_and_is_named() -> None:
    made = make_trip(3, gap_deg=0.0001).lifted([0, 1, 2])
    row = made.sets()[1].with_(state="set", lift_utc=None, condition="", counted=False)
    first = open_ends(made.with_rows(row).snapshot)[0]
    assert (first.kind, first.n) == ("in water", 1)
    assert "trap T2 at P2 since 2026-07-01 12:00" in first.text


def test_lost_gear_stays_open_until_it_is_found() -> None:
    made = make_trip(2).lifted([1, None], conditions=["fished", "lost"])
    trap = made.snapshot.need(Trap, made.sets()[1].trap_id)
    assert kinds(made.with_rows(trap.with_(state="lost"))) == {"lost": 1}
    assert kinds(made.with_rows(trap.with_(state="found"))) == {}


def test_a_trap_lifted_and_not_counted_is_open_and_a_robbed_one_is_not() -> None:
    made = make_trip(3).lifted([None, None, 0], conditions=["fished", "robbed", "fished"])
    found = open_ends(made.snapshot)
    assert [one.text for one in found] == ["1 trap was lifted and not counted: P1 (round 1)."]


def test_missing_times_and_baits_are_open() -> None:
    made = make_trip(2).lifted([1, 2])
    first, second = made.sets()
    made = made.with_rows(
        first.with_(set_utc=None), second.with_(bait_id=None, planned_bait_id=None)
    )
    assert kinds(made) == {"no time": 1, "no bait": 1}


def test_short_gaps_and_scents_that_meet_are_open() -> None:
    made = make_trip(2, gap_deg=0.0001)
    assert kinds(made) == {"gap": 1}
    baits = [made.snapshot.need(Bait, key).with_(still_reach_m=6.0) for key in made.bait_ids]
    assert kinds(made.with_rows(*baits)) == {"gap": 1, "scent": 1}


def test_of_several_trips_each_is_named_and_one_can_be_chosen() -> None:
    made = make_trip(2, 2).lifted([None, 1]).lifted([1, None], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    second = made.snapshot.need(Round, made.round_ids[1])
    made = made.with_rows(
        trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01"),
        second.with_(trip_id="trip-2", number=1),
    )
    assert [one.text for one in open_ends(made.snapshot)] == [
        "Summer trial: 1 trap was lifted and not counted: P1 (round 1).",
        "Autumn trial: 1 trap was lifted and not counted: P2 (round 1).",
    ]
    assert [one.text for one in open_ends(made.snapshot, ["trip-2"])] == [
        "1 trap was lifted and not counted: P2 (round 1)."
    ]


def test_many_are_named_in_part_and_counted_in_full() -> None:
    found = open_ends(make_trip(9).lifted([None] * 9).snapshot)[0]
    assert found.n == 9
    assert found.text.endswith("P6 (round 1) and 3 more.")


def test_a_trip_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidValue):
        open_ends(make_trip(1).snapshot, ["nowhere"])

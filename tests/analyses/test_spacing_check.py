"""The gaps of a round, on snapshots alone."""

import dataclasses
import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.move_clear import clear_position
from trapline.analyses.spacing_check import apart_texts, check_spacing
from trapline.model.line import Place
from trapline.model.trip import Round, Trip


def with_limits(made: MadeTrip, low: float | None, high: float | None) -> MadeTrip:
    trip = made.snapshot.need(Trip, made.trip_id)
    return made.with_rows(trip.with_(min_gap_m=low, max_gap_m=high))


def moved(made: MadeTrip, number: int, east_deg: float, **values: object) -> MadeTrip:
    place = made.snapshot.need(Place, made.place_ids[number])
    assert place.lon_deg is not None
    return made.with_rows(place.with_(lon_deg=place.lon_deg + east_deg, **values))


def true_m(made: MadeTrip, a: int, b: int) -> float:
    """Return the distance by GeographicLib (Karney 2013), which the program does not use."""
    first, second = (made.snapshot.need(Place, made.place_ids[n]) for n in (a, b))
    answer = Geodesic.WGS84.Inverse(first.lat_deg, first.lon_deg, second.lat_deg, second.lon_deg)
    return float(answer["s12"])


def test_all_pairs_under_the_minimum_are_found_nearest_first() -> None:
    made = with_limits(make_trip(5), 30.0, None)

    found = check_spacing(made.snapshot, made.round_id)

    expected = sorted(
        (true_m(made, a, b), a, b)
        for a in range(5)
        for b in range(a + 1, 5)
        if true_m(made, a, b) < 30
    )
    got = [(gap.first.label, gap.second.label) for gap in found.gaps]
    assert got == [(f"P{a + 1}", f"P{b + 1}") for _, a, b in expected]
    metres = [gap.distance_m for gap in found.gaps]
    assert metres == pytest.approx([row[0] for row in expected], abs=1e-6)
    assert len(got) == 7


def test_closer_is_strictly_less() -> None:
    made = make_trip(2)
    exact = check_spacing(made.snapshot, made.round_id).nearest["set-1-0"][1]

    at = with_limits(made, exact, None)
    under = with_limits(made, math.nextafter(exact, math.inf), None)

    assert check_spacing(at.snapshot, at.round_id).gaps == ()
    assert len(check_spacing(under.snapshot, under.round_id).gaps) == 1


def test_a_trap_far_from_its_nearest_neighbour_is_lonely_and_strictly_so() -> None:
    made = moved(make_trip(4), 3, 0.01)
    found = check_spacing(made.snapshot, made.round_id)

    assert [row.trap.label for row in found.lonely] == ["P4"]
    assert found.lonely[0].nearest.label == "P3"
    assert found.lonely[0].distance_m == pytest.approx(true_m(made, 2, 3), abs=1e-6)
    assert "not the same ground any more" in found.warnings[0].text

    at = with_limits(made, None, found.lonely[0].distance_m)
    assert check_spacing(at.snapshot, at.round_id).lonely == ()


def test_a_trap_alone_is_neither_too_near_nor_lonely() -> None:
    made = make_trip(1)
    found = check_spacing(made.snapshot, made.round_id)

    assert (found.gaps, found.lonely, found.legs, found.warnings) == ((), (), (), ())


def test_the_legs_go_along_the_line_with_bearing_and_distance() -> None:
    made = make_trip(3)
    found = check_spacing(made.snapshot, made.round_id)

    assert [(leg.first.label, leg.second.label) for leg in found.legs] == [
        ("P1", "P2"), ("P2", "P3"),
    ]  # fmt: skip
    assert found.legs[0].distance_m == pytest.approx(true_m(made, 0, 1), abs=1e-6)
    assert found.legs[0].bearing_deg == pytest.approx(80, abs=2)


def test_a_place_without_a_position_gets_no_verdict() -> None:
    made = make_trip(3)
    place = made.snapshot.need(Place, made.place_ids[1])
    made = made.with_rows(place.with_(lon_deg=None, lat_deg=None))

    found = check_spacing(made.snapshot, made.round_id)

    assert [row.label for row in found.unplaced] == ["P2"]
    assert [row.label for row in found.standings] == ["P1", "P3"]
    assert "set-1-1" not in found.nearest


def test_traps_of_another_round_are_not_compared_with() -> None:
    made = with_limits(make_trip(2, n_rounds=3), 13.0, None)

    assert len(check_spacing(made.snapshot, made.round_id).gaps) == 1


def test_a_trap_set_elsewhere_counts_where_it_really_stands() -> None:
    made = with_limits(make_trip(2), 10.0, None)
    row = made.sets()[1].with_(state="set", lon_deg=7.00001, lat_deg=45.0)

    found = check_spacing(made.snapshot.with_rows([row]), made.round_id)

    expected = Geodesic.WGS84.Inverse(45.0, 7.0, 45.0, 7.00001)["s12"]
    assert found.gaps[0].distance_m == pytest.approx(expected, abs=1e-6)


def test_gaps_below_what_a_gps_can_tell_are_named_once() -> None:
    made = make_trip(3, gap_deg=0.00002)
    fixed = [
        made.snapshot.need(Place, key).with_(fix="GPS", accuracy_m=3.0) for key in made.place_ids
    ]
    found = check_spacing(made.with_rows(*fixed).snapshot, made.round_id)
    roped = [place.with_(fix="typed") for place in fixed]

    notes = [one.text for one in found.warnings if one.kind == "accuracy"]
    assert notes == [
        "2 of 2 gaps along the line are smaller than a GPS can tell: measure them with a rope."
    ]
    again = check_spacing(made.with_rows(*roped).snapshot, made.round_id)
    assert all(one.kind != "accuracy" for one in again.warnings)


def test_a_distance_and_its_limit_never_read_alike_when_they_differ() -> None:
    assert apart_texts(9.997, 10.0) == ("9.997 m", "10.000 m")
    assert apart_texts(8.6, 10.0) == ("8.60 m", "10.0 m")
    assert apart_texts(10.0, 10.0) == ("10.0 m", "10.0 m")


def test_moving_clear_leaves_every_gap_long_enough_and_goes_no_farther_than_it_must() -> None:
    made = moved(with_limits(make_trip(5), 10.0, None), 2, -0.0001)
    assert check_spacing(made.snapshot, made.round_id).gaps

    position = clear_position(made.snapshot, "set-1-2")

    assert position is not None
    place = made.snapshot.need(Place, made.place_ids[2])
    after = made.with_rows(place.with_(lon_deg=position[0], lat_deg=position[1]))
    assert check_spacing(after.snapshot, after.round_id).gaps == ()
    way = Geodesic.WGS84.Inverse(place.lat_deg, place.lon_deg, position[1], position[0])["s12"]
    short = 10.0 - check_spacing(made.snapshot, made.round_id).gaps[0].distance_m
    assert short <= way <= short + 2.0


def test_a_trap_that_is_clear_stays() -> None:
    made = with_limits(make_trip(3), 10.0, None)
    place = made.snapshot.need(Place, made.place_ids[1])

    assert clear_position(made.snapshot, "set-1-1") == (place.lon_deg, place.lat_deg)


def test_without_a_minimum_or_a_position_there_is_no_clear_spot() -> None:
    made = with_limits(make_trip(3), None, None)

    assert clear_position(made.snapshot, "set-1-1") is None
    bare = make_trip(3, has_positions=False)
    assert clear_position(bare.snapshot, "set-1-1") is None


def test_the_answer_for_the_command_line_holds_only_plain_values() -> None:
    made = with_limits(moved(make_trip(4), 3, 0.01), 15.0, 40.0)
    answer = check_spacing(made.snapshot, made.round_id).as_dict()

    assert set(answer) == {"pairs", "lonely", "n_positions"}
    assert answer["n_positions"] == 4
    assert all(type(row["distance_m"]) is float for row in answer["pairs"] + answer["lonely"])
    assert not any(
        isinstance(value, np.generic) for row in answer["pairs"] for value in row.values()
    )


def test_the_current_does_not_change_the_gaps() -> None:
    made = with_limits(make_trip(4), 13.0, None)
    fished = made.snapshot.need(Round, made.round_id)
    flowing = made.with_rows(fished.with_(current_m_s=0.1, current_to_deg=90.0))

    still, moving = (check_spacing(one.snapshot, one.round_id) for one in (made, flowing))
    assert dataclasses.astuple(still.gaps[0]) == dataclasses.astuple(moving.gaps[0])

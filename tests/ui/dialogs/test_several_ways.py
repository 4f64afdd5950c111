"""Several places at once, their positions against GeographicLib."""

import pytest
from geographiclib.geodesic import Geodesic

from trapline.errors import InvalidValue
from trapline.model.line import Place
from trapline.ui.dialogs.several_ways import (
    Spot,
    along,
    at_position,
    between,
    by_rope,
    legs_of,
    nowhere,
    sentence,
)

WGS84 = Geodesic.WGS84
START, END = Spot(10.0, 60.0), Spot(10.001, 60.0)
TAKEN = Spot(10.0, 60.0, Place(label="P1", lon_deg=10.0, lat_deg=60.0))
LENGTH_M = WGS84.Inverse(60.0, 10.0, 60.0, 10.001)["s12"]  # 55.8 m


def positions(places: list[Place]) -> list[tuple[float | None, float | None]]:
    return [(place.lon_deg, place.lat_deg) for place in places]


def test_places_stand_every_so_far_from_a_typed_start_as_many_as_fit() -> None:
    found = along(START, END, None, 10.0, None)
    line = WGS84.InverseLine(60.0, 10.0, 60.0, 10.001)
    wanted = [line.Position(10.0 * n) for n in range(6)]
    assert len(found) == int(LENGTH_M // 10) + 1
    for place, here in zip(found, wanted, strict=True):
        assert (place.lon_deg, place.lat_deg) == pytest.approx((here["lon2"], here["lat2"]), 1e-12)
    assert {place.fix for place in found} == {"along the line"}


def test_from_a_place_that_is_there_the_first_one_is_a_spacing_away() -> None:
    assert (
        positions(along(TAKEN, END, None, 10.0, None))
        == positions(along(START, END, None, 10.0, None))[1:]
    )
    assert len(along(TAKEN, END, None, 10.0, 3)) == 3


def test_a_number_goes_on_beyond_the_end() -> None:
    assert len(along(START, END, None, 50.0, 4)) == 4


def test_on_a_bearing_a_number_is_needed() -> None:
    found = along(START, None, 45.0, 10.0, 3)
    wanted = WGS84.Direct(60.0, 10.0, 45.0, 20.0)
    assert (found[2].lon_deg, found[2].lat_deg) == pytest.approx(
        (wanted["lon2"], wanted["lat2"]), abs=1e-12
    )
    with pytest.raises(InvalidValue):
        along(START, None, 45.0, 10.0, None)


def test_no_place_is_put_on_the_one_at_the_end() -> None:
    end = Spot(10.001, 60.0, Place(label="P9", lon_deg=10.001, lat_deg=60.0))
    assert len(along(START, end, None, LENGTH_M / 2, None)) == 2
    assert len(along(START, END, None, LENGTH_M / 2, None)) == 3
    with pytest.raises(InvalidValue) as caught:
        along(TAKEN, end, None, LENGTH_M, None)
    assert caught.value.where == "Spacing"


def test_a_slip_of_the_keys_does_not_add_a_million() -> None:
    with pytest.raises(InvalidValue) as caught:
        along(START, END, None, 0.001, None)
    assert "at once" in caught.value.error


@pytest.mark.parametrize(("at_ends", "gaps"), [(True, 3), (False, 5)])
def test_pots_hang_evenly_on_a_string(at_ends: bool, gaps: int) -> None:
    found = between(START, END, 4, at_ends=at_ends)
    assert len(found) == 4
    assert legs_of(found) == pytest.approx([LENGTH_M / gaps] * 3, abs=1e-6)
    assert (found[0].lon_deg == 10.0) is at_ends
    assert (found[-1].lon_deg == 10.001) is at_ends


def test_one_pot_hangs_in_the_middle_but_not_at_both_ends() -> None:
    (one,) = between(START, END, 1, at_ends=False)
    assert one.lon_deg == pytest.approx(10.0005, abs=1e-9)
    with pytest.raises(InvalidValue):
        between(START, END, 1, at_ends=True)
    with pytest.raises(InvalidValue):
        between(START, START, 3, at_ends=True)


def test_ropes_are_kept_and_give_the_positions() -> None:
    stake = Place(label="Stake", is_stake=True, lon_deg=10.0, lat_deg=60.0)
    found = by_rope(stake, 90.0, 12.0, 5.0, 3)
    assert [place.rope_m for place in found] == [12.0, 17.0, 22.0]
    assert {place.from_place_id for place in found} == {stake.id}
    wanted = WGS84.Direct(60.0, 10.0, 90.0, 22.0)
    assert found[2].lon_deg == pytest.approx(wanted["lon2"], abs=1e-12)


def test_without_a_position_there_is_an_order_only() -> None:
    assert positions(nowhere(3)) == [(None, None)] * 3


@pytest.mark.parametrize(
    ("places", "text"),
    [
        (by_rope(Place(label="S", lon_deg=10.0, lat_deg=60.0), 90.0, 3.0, 1.5, 8),
         "8 places, 1.50 m apart, 10.5 m in all: 0 to 7"),
        (at_position(START), "1 place: 0"),
        (nowhere(2), "2 places, in the order of the line, without a position: 0 to 1"),
    ],
)  # fmt: skip
def test_what_will_come_is_one_sentence(places: list[Place], text: str) -> None:
    assert sentence(places) == text

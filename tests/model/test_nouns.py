"""What must fit together within one row, and what rows say about themselves."""

import math

import pytest

from trapline.errors import InvalidValue
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.model.catch import Catch
from trapline.model.changes import Changes, RowChange
from trapline.model.line import DEFAULT_MAX_GAP_M, DEFAULT_MIN_GAP_M, LINE_KINDS, Place
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

EARLY, MIDDLE, LATE = (f"2026-08-01T{hour}:00:00Z" for hour in ("06", "12", "18"))


@pytest.mark.parametrize("noun", [Place, TrapSet])
@pytest.mark.parametrize("half", [{"lon_deg": 10.0}, {"lat_deg": 60.0}])
def test_half_a_position_is_refused(noun: type, half: dict[str, float]) -> None:
    needed = {"label": "P1"} if noun is Place else {}
    with pytest.raises(InvalidValue, match="half"):
        noun(**needed, **half)
    assert noun(**needed, lon_deg=0.0, lat_deg=0.0).lat_deg == 0.0


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg"), [(180.1, 0), (-180.1, 0), (0, 90.1), (0, -91), (60, 181), (0, math.inf)]
)
def test_a_position_off_the_earth_is_refused(lon_deg: float, lat_deg: float) -> None:
    with pytest.raises(InvalidValue, match=r"Longitude|Latitude"):
        Place(label="P1", lon_deg=lon_deg, lat_deg=lat_deg)
    with pytest.raises(InvalidValue):
        Water(name="x", shoreline=((lon_deg, lat_deg),))


def test_a_place_without_a_position_has_none_and_one_at_0_0_has() -> None:
    assert not Place(label="P1").has_position
    assert Place(label="P1", lon_deg=0, lat_deg=0).has_position


def test_a_place_is_not_measured_from_itself() -> None:
    stake = Place(label="stake", is_stake=True)
    assert Place(label="P1", from_place_id=stake.id).from_place_id == stake.id
    with pytest.raises(InvalidValue, match="from itself"):
        stake.with_(from_place_id=stake.id)


def test_a_lift_before_the_set_is_refused() -> None:
    with pytest.raises(InvalidValue, match="before the set") as caught:
        TrapSet(set_utc=MIDDLE, lift_utc=EARLY)
    assert EARLY in caught.value.error
    assert caught.value.where == "Lifted"
    assert TrapSet(set_utc=MIDDLE, lift_utc=MIDDLE).lift_utc == MIDDLE
    assert TrapSet(lift_utc=EARLY).set_utc is None


@pytest.mark.parametrize(
    ("set_utc", "disturbed_utc", "lift_utc", "words"),
    [
        (MIDDLE, EARLY, LATE, "before it was set"),
        (EARLY, LATE, MIDDLE, "after its lift"),
        (None, LATE, MIDDLE, "after its lift"),
        (EARLY, MIDDLE, LATE, ""),
        (EARLY, EARLY, EARLY, ""),
        (None, EARLY, None, ""),
    ],
)
def test_a_trap_is_disturbed_between_set_and_lift(
    set_utc: str | None, disturbed_utc: str, lift_utc: str | None, words: str
) -> None:
    times = {"set_utc": set_utc, "disturbed_utc": disturbed_utc, "lift_utc": lift_utc}
    if not words:
        assert TrapSet(**times).disturbed_utc == disturbed_utc
        return
    with pytest.raises(InvalidValue, match=words) as caught:
        TrapSet(**times)
    assert caught.value.where == "Disturbed at"


def test_a_trap_is_in_the_water_while_it_is_set() -> None:
    assert [TrapSet(state=state).is_in_water for state in ("planned", "set", "lifted")] == [
        False,
        True,
        False,
    ]


def test_an_uncounted_trap_is_the_start_and_the_whole_is_counted() -> None:
    row = TrapSet()
    assert (row.counted, row.fraction_counted, row.state) == (False, 1.0, "planned")
    for fraction in (0, -0.1, 1.01):
        with pytest.raises(InvalidValue):
            TrapSet(fraction_counted=fraction)


def test_a_catch_says_something_and_0_is_something() -> None:
    with pytest.raises(InvalidValue, match="needs a count, a weight or a number") as caught:
        Catch()
    assert "leave the trap uncounted" in caught.value.what_to_do
    assert Catch(count=0).count == 0
    assert Catch(weight_kg=0.0).count is None
    assert Catch(measure_n=1.5, measure_name="bucket").count is None


def test_the_gaps_of_a_trip_are_in_order_and_its_zone_exists() -> None:
    assert Trip(name="x", min_gap_m=10, max_gap_m=10).max_gap_m == 10
    with pytest.raises(InvalidValue, match="maximum gap \\(9 m\\) is less than the minimum"):
        Trip(name="x", min_gap_m=10, max_gap_m=9)
    with pytest.raises(InvalidValue, match="no time zone 'Mars/Base'"):
        Trip(name="x", zone="Mars/Base")


@pytest.mark.parametrize("threshold", [0.79, 1.0, 0.9991])
def test_a_winner_threshold_is_neither_a_coin_nor_a_certainty(threshold: float) -> None:
    with pytest.raises(InvalidValue):
        Trip(name="x", winner_threshold=threshold)


@pytest.mark.parametrize("colour", ["", "red", "#12345", "#1234567", "#12345G", "0072B2#"])
def test_a_colour_that_cannot_be_drawn_is_refused(colour: str) -> None:
    with pytest.raises(InvalidValue, match="is not a colour"):
        Bait(name="x", colour=colour)


def test_there_is_a_mark_of_its_own_for_every_colour() -> None:
    assert len(set(COLOURS)) == len(set(MARKS)) == 8
    for colour in COLOURS:
        assert Bait(name="x", colour=colour).colour == colour


def test_every_kind_of_line_has_gaps_to_start_with() -> None:
    assert set(DEFAULT_MIN_GAP_M) == set(DEFAULT_MAX_GAP_M) == set(LINE_KINDS)
    assert all(DEFAULT_MIN_GAP_M[kind] < DEFAULT_MAX_GAP_M[kind] for kind in LINE_KINDS)


def test_tags_are_shown_as_one_cell() -> None:
    assert Trap(number="7", tags=((2026, "AB 120"), (None, "C 7"))).tag_text == (
        "AB 120 (2026), C 7"
    )
    assert Trap(number="7").tag_text == ""


@pytest.mark.parametrize(
    ("speed", "direction", "has"),
    [(None, None, False), (0.2, None, False), (None, 90, False), (0, 90, False), (0.2, 0, True)],
)
def test_a_current_has_a_speed_and_a_direction(
    speed: float | None, direction: float | None, has: bool
) -> None:
    assert Round(current_m_s=speed, current_to_deg=direction).has_current is has


def test_changes_say_which_tables_and_rows_they_touched() -> None:
    bait, trap = Bait(name="x"), Trap(number="1")
    changes = Changes(
        "Add",
        (
            RowChange("bait", bait.id, None, bait),
            RowChange("trap", trap.id, trap, None),
            RowChange("bait", bait.id, bait, bait.with_(name="y")),
        ),
    )
    assert changes.tables == {"bait", "trap"}
    assert changes.ids("bait") == {bait.id}
    assert changes.ids("place") == frozenset()
    assert changes
    assert not Changes("Nothing")

"""The way along the line, from either end, with what was left over from earlier rounds."""

from typing import Any

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.lift_order import Stop, lift_order, next_in_water, outcome_words
from trapline.model.catch import Catch
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round


def all_set(made: MadeTrip, number: int = 1) -> MadeTrip:
    rows = [row.with_(state="set", set_utc="2026-07-01T16:00:00Z") for row in made.sets(number)]
    return made.with_rows(*rows)


def labels(made: MadeTrip, number: int = 1) -> list[str]:
    return [stop.place for stop in lift_order(made.snapshot, made.round_ids[number - 1])]


def test_the_way_goes_along_the_line_from_the_end_that_the_round_says() -> None:
    made = all_set(make_trip(11))
    assert labels(made) == [f"P{n}" for n in range(1, 12)]
    fished = made.snapshot.need(Round, made.round_id).with_(lift_from="last place")
    assert labels(made.with_rows(fished)) == [f"P{n}" for n in range(11, 0, -1)]


def test_the_next_one_is_in_the_water_and_what_was_passed_over_comes_last() -> None:
    made = all_set(make_trip(4)).lifted([1, 1, 1, 1])
    first, _, third, _ = made.sets()
    made = made.with_rows(first.with_(state="set", lift_utc=None), third.with_(state="set"))
    stops = lift_order(made.snapshot, made.round_id)
    assert [stop.trap_set.state for stop in stops] == ["set", "lifted", "set", "lifted"]
    following = next_in_water(stops, stops[1].id)
    assert following is not None
    assert following.place == "P3"
    last = next_in_water(stops, stops[2].id)
    assert last is not None
    assert last.place == "P1"
    assert next_in_water(stops[1:2], None) is None


def test_a_trap_left_over_stands_where_the_next_round_only_planned_one() -> None:
    made = make_trip(3, 2)
    made = made.lifted([1, 1, 1]).with_rows(made.sets(1)[1].with_(state="set"))
    stops = lift_order(made.snapshot, made.round_ids[1])
    assert [(stop.place, stop.trap_set.state, stop.earlier_round) for stop in stops] == [
        ("P1", "planned", None), ("P2", "set", 1), ("P3", "planned", None),
    ]  # fmt: skip


def test_a_trap_left_over_stands_beside_another_that_was_set_there() -> None:
    made = all_set(make_trip(3, 2), 2)
    made = made.with_rows(made.sets(1)[1].with_(state="set"))
    stops = lift_order(made.snapshot, made.round_ids[1])
    assert [(stop.place, stop.earlier_round) for stop in stops] == [
        ("P1", None), ("P2", 1), ("P2", None), ("P3", None),
    ]  # fmt: skip


def test_a_later_round_is_not_on_the_way_of_an_earlier_one() -> None:
    made = all_set(make_trip(2, 2), 2)
    stops = lift_order(made.snapshot, made.round_ids[0])
    assert [stop.trap_set.state for stop in stops] == ["planned", "planned"]


def test_zero_not_counted_and_lost_read_differently() -> None:
    def words(*catches: Catch, earlier: int | None = None, **values: Any) -> str:
        stop = Stop(TrapSet(**values), "P1", "1", earlier)
        return outcome_words(stop, catches, "crayfish")

    zero = Catch(species_id="crayfish", count=0)
    kept, back = zero.with_(count=4), zero.with_(count=1, fate="put back")
    perch = Catch(species_id="perch", count=9)
    lifted = {"state": "lifted", "condition": "fished"}
    assert words(zero, perch, **lifted, counted=True) == "0"
    assert words(kept, back, perch, **lifted, counted=True) == "5"
    assert words(perch, **lifted, counted=False) == "not counted"
    assert words(state="lifted", condition="lost") == "lost"
    assert words(state="lifted", condition="robbed") == "robbed"
    assert words(kept, state="lifted", condition="disturbed", counted=True) == "4, disturbed"
    assert words(state="planned") == "not set"
    assert words(state="set") == "in water"
    assert words(state="set", earlier=1) == "in water, round 1"
    weighed = Catch(species_id="crayfish", weight_kg=1.5)
    assert words(weighed, **lifted, counted=True) == "weighed or measured"
    back = Catch(species_id="crayfish", fate="put back", count=3)
    assert words(weighed, back, **lifted, counted=True) == "weighed or measured"
    assert words(weighed, kept, **lifted, counted=True) == "4"
    assert words(perch, **lifted, counted=True) == "not counted"

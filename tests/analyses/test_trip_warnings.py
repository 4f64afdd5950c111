"""Trips taken together, and species that were not counted in every trap."""

from typing import Any

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.trip_comparison import CompareChoice, TripComparison, compare_trips
from trapline.model.catch import Catch
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

TWO = ("fish", "liver")


def compared(made: MadeTrip, **values: Any) -> TripComparison:
    return compare_trips(made.snapshot, CompareChoice(round_ids=made.round_ids, **values))


def two_trips(**second: Any) -> MadeTrip:
    """Return a trip of one round and another like it, which differs in some fields."""
    made = make_trip(4, 2, baits=TWO).lifted([4, 2, 8, 2]).lifted([1, 5, 2, 6], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    later = made.snapshot.need(Round, made.round_ids[1])
    other = trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01", **second)
    return made.with_rows(other, later.with_(trip_id="trip-2", number=1))


def perch(made: MadeTrip, number: int, at: int, count: int) -> Catch:
    return Catch(
        trap_set_id=made.sets(number)[at].id, species_id=made.bycatch_id, fate="put back",
        count=count,
    )  # fmt: skip


def test_trips_on_different_waters_are_told() -> None:
    assert not any("waters" in text for text in compared(two_trips()).warnings)
    made = two_trips(water_id="bay").with_rows(Water(id="bay", name="Bay"))
    assert any("different waters" in text for text in compared(made).warnings)


def test_trips_that_count_the_same_species_each_in_its_own_way_are_no_warning() -> None:
    # Without a target of its own a trip counts the first one of the list.
    found = compared(two_trips(target_species_id=None))
    assert not any("same species" in text for text in found.warnings)
    found = compared(two_trips(target_species_id="bycatch"))
    assert any("same species" in text for text in found.warnings)


def test_the_by_catch_of_another_trip_is_compared_with_the_traps_that_had_none() -> None:
    """Only those that held some would make a rate of by-catch far too high."""
    made = two_trips(target_species_id="bycatch")
    zeros = [made.snapshot.catches(row.id)[0].with_(species_id="bycatch") for row in made.sets(2)]
    made = made.with_rows(*zeros, perch(made, 1, 0, 3))
    found = compared(made, species_id="bycatch")
    assert found.comparison is not None
    counted = {bait.bait: (bait.n_counted, bait.catch) for bait in found.comparison.baits}
    # By hand: round 1 holds fish 3 + 0 and liver 0 + 0, round 2 liver 1 + 2 and fish 5 + 6.
    assert counted == {"fish": (4, 14), "liver": (4, 3)}
    assert any(text.startswith("3 traps of a trip that counts another") for text in found.warnings)


def test_a_target_that_was_changed_makes_no_zeros_and_says_so() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    trip = made.snapshot.need(Trip, made.trip_id).with_(target_species_id="bycatch")
    found = compared(made.with_rows(trip, perch(made, 1, 0, 3), perch(made, 1, 1, 1)))
    assert [one.why for one in found.left_out] == ["not counted"] * 2
    assert any(text.startswith("2 traps were counted before") for text in found.warnings)
    none = compared(made.with_rows(trip))
    assert len(none.left_out) == 4
    assert not any("were counted before" in text for text in none.warnings)

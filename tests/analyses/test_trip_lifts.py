"""What each trap caught, and whether that is a count."""

import pytest

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.trip_lifts import rounds_in_order, target_of, trip_lifts
from trapline.errors import InvalidValue
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.species import Species
from trapline.model.trip import Trip


def lifted(count: int | None, condition: str = "fished", *more: Noun, **values: object) -> MadeTrip:
    made = make_trip(1).lifted([count], conditions=[condition])
    return made.with_rows(made.sets()[0].with_(**values), *more)


@pytest.mark.parametrize(
    ("made", "words", "counts"),
    [
        (make_trip(1), "not set", False),
        (lifted(0), "0", True),
        (lifted(3), "3", True),
        (lifted(None), "not counted", False),
        (lifted(3, "disturbed"), "3", True),
        (lifted(None, "lost"), "lost", False),
        (lifted(None, "robbed"), "robbed", False),
        (lifted(2, "robbed", counted=False), "robbed, 2 left in it", False),
        (lifted(3, state="set", lift_utc=None, condition=""), "not lifted", False),
        (lifted(3, fraction_counted=0.5), "3 in 50 %", True),
        (lifted(3, lift_utc=None), "3", False),
        (lifted(3, counted=False), "not counted", False),
    ],
)
def test_each_case_has_its_words_and_counts_or_not(
    made: MadeTrip, words: str, counts: bool
) -> None:
    found = trip_lifts(made.snapshot, made.round_ids)[0]
    assert found.catch_words == words
    assert found.counts is counts
    assert (found.rate_per_24h() is not None) is counts


def test_a_weight_is_not_a_count() -> None:
    made = lifted(None)
    weighed = Catch(trap_set_id=made.sets()[0].id, species_id=made.target_id, weight_kg=1.5)
    measured = Catch(
        trap_set_id=made.sets()[0].id, species_id=made.target_id, measure_n=2, measure_name="bucket"
    )
    made = made.with_rows(weighed, measured, made.sets()[0].with_(counted=True))
    found = trip_lifts(made.snapshot, made.round_ids)[0]
    assert found.caught is None
    assert not found.counts
    assert found.catch_words == "not counted, 1.5 kg, 2 bucket"


def test_a_count_of_one_fate_is_no_count_where_another_was_weighed() -> None:
    made = lifted(None)
    key = made.sets()[0].id
    kept = Catch(trap_set_id=key, species_id=made.target_id, weight_kg=1.5)
    back = Catch(trap_set_id=key, species_id=made.target_id, fate="put back", count=3)
    made = made.with_rows(kept, back, made.sets()[0].with_(counted=True))
    found = trip_lifts(made.snapshot, made.round_ids)[0]
    assert (found.caught, found.counts) == (None, False)
    assert found.catch_words == "not counted, 1.5 kg, 3 counted"
    both = Catch(trap_set_id=key, species_id=made.target_id, count=10)
    found = trip_lifts(made.with_rows(both).snapshot, made.round_ids)[0]
    assert (found.caught, found.counts, found.catch_words) == (13, True, "13, 1.5 kg")


def test_all_fates_are_counted_and_those_dropped_back_are_known() -> None:
    made = lifted(3)
    more = [
        Catch(trap_set_id=made.sets()[0].id, species_id=made.target_id, fate=fate, count=n)
        for fate, n in (("undersize back", 2), ("dropped back at the lift", 1))
    ]
    found = trip_lifts(made.with_rows(*more).snapshot, made.round_ids)[0]
    assert (found.caught, found.dropped_back) == (6, 1)


def test_everything_else_is_by_catch() -> None:
    made = lifted(3)
    key = made.sets()[0].id
    more = [
        Catch(trap_set_id=key, species_id=made.bycatch_id, fate="put back", count=2),
        Catch(trap_set_id=key, species_id=made.bycatch_id, fate="put back", count=1),
        Catch(trap_set_id=key, species_id=made.bycatch_id, fate="dead", weight_kg=0.2),
        Catch(trap_set_id=key, species_id=made.bycatch_id, fate="kept", count=0),
    ]
    found = trip_lifts(made.with_rows(*more).snapshot, made.round_ids)[0]
    assert found.caught == 3
    assert found.bycatch_words == "3 perch (put back), 0.2 kg perch (dead)"


def test_a_disturbed_trap_counts_half_its_soak_unless_the_moment_is_known() -> None:
    half = trip_lifts(lifted(3, "disturbed").snapshot, ["round-1"])[0]
    assert half.effort_h() == 12.0
    assert half.rate_per_24h() == 6.0
    known = lifted(3, "disturbed", disturbed_utc="2026-07-01T16:00:00Z")
    found = trip_lifts(known.snapshot, known.round_ids)[0]
    assert found.effort_h() == 6.0
    assert found.rate_per_24h() == 12.0


def test_a_trap_disturbed_as_it_was_set_has_no_rate() -> None:
    made = lifted(3, "disturbed", disturbed_utc="2026-07-01T10:00:00Z")
    found = trip_lifts(made.snapshot, made.round_ids)[0]
    assert found.effort_h() is None
    assert found.rate_per_24h() is None


def test_a_part_that_was_counted_is_a_part_of_the_effort() -> None:
    found = trip_lifts(lifted(3, fraction_counted=0.5).snapshot, ["round-1"])[0]
    assert found.effort_h() == 12.0
    assert found.rate_per_24h() == 6.0


def test_the_soak_is_in_hours_of_real_time_over_a_change_of_clocks() -> None:
    # Oslo put its clocks back on 2026-10-25 at 01:00 UTC.
    made = lifted(1, set_utc="2026-10-24T16:00:00Z", lift_utc="2026-10-25T17:00:00Z")
    assert trip_lifts(made.snapshot, made.round_ids)[0].soak_h == 25.0


def test_a_soak_of_decades_is_a_mistyped_year_and_no_soak() -> None:
    made = lifted(3, set_utc="2006-07-01T10:00:00Z")
    (found,) = trip_lifts(made.snapshot, made.round_ids)
    assert (found.soak_h, found.counts, found.effort_h()) == (None, False, None)


def test_the_species_is_that_of_the_trip_else_the_first_target() -> None:
    made = make_trip(1)
    trip = made.snapshot.need(Trip, made.trip_id)
    other = Species(id="other", name="crab")
    snapshot = made.with_rows(other).snapshot
    assert target_of(snapshot, trip) == snapshot.need(Species, "target")
    assert target_of(snapshot, trip.with_(target_species_id="other")) == other
    first = target_of(snapshot, trip.with_(target_species_id=None))
    assert first == snapshot.need(Species, "target")


def test_rounds_come_in_their_order_and_line_by_line() -> None:
    made = make_trip(3, 2)
    assert rounds_in_order(made.snapshot, [made.trip_id]) == made.round_ids
    found = trip_lifts(made.snapshot, made.round_ids)
    assert [(lift.round.number, lift.place) for lift in found] == [
        (number, f"P{place}") for number in (1, 2) for place in (1, 2, 3)
    ]
    assert [lift.round.number for lift in trip_lifts(made.snapshot, made.round_ids[1:])] == [2] * 3


def test_a_round_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidValue):
        trip_lifts(make_trip(1).snapshot, ["nowhere"])

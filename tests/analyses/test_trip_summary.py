"""The numbers of the summary."""

import pytest

from tests.made_trips import make_trip
from trapline.analyses.trip_summary import trip_summary
from trapline.errors import InvalidValue
from trapline.model.catch import Catch
from trapline.model.trip import Round, Trip
from trapline.science.effort import trip_rate, trip_rate_interval


def test_the_totals_are_those_of_valid_counts_with_half_a_soak_for_disturbed_traps() -> None:
    made = make_trip(5).lifted(
        [4, 0, 6, None, None], conditions=["fished", "fished", "disturbed", "lost", "fished"]
    )
    totals = trip_summary(made.snapshot, made.trip_id).totals
    assert (totals.n_sets, totals.n_lifted, totals.n_counted) == (5, 5, 3)
    assert (totals.caught, totals.effort_h, totals.n_halved) == (10, 60.0, 1)
    assert totals.rate_per_24h == trip_rate([4, 0, 6], [24, 24, 12]) == 4.0
    assert totals.interval == trip_rate_interval([4, 0, 6], [24, 24, 12])
    assert totals.left_out == (("lost", 1), ("not counted", 1))


def test_one_counted_trap_has_no_interval_and_none_has_no_rate() -> None:
    one = trip_summary(make_trip(1).lifted([3]).snapshot, "trip").totals
    assert one.interval is None
    assert one.rate_per_24h == 3.0
    none = trip_summary(make_trip(1).snapshot, "trip")
    assert none.totals.rate_per_24h is None
    assert none.in_short == "1 round, 0 trap sets, 0 lifted, 0 with a valid count."


def test_the_sentence_in_short_has_the_numbers() -> None:
    found = trip_summary(make_trip(3).lifted([3, 3, 3]).snapshot, "trip")
    assert found.in_short == (
        "1 round, 3 trap sets, 3 lifted, 3 with a valid count: 9 crayfish in 72 trap-hours of"
        " fishing, 3.00 per trap per 24 h (95 % interval 3 to 3)."
    )


def test_what_became_of_the_animals_is_summed_in_the_order_of_fates() -> None:
    made = make_trip(2).lifted([4, 1])
    made = made.with_rows(
        Catch(trap_set_id=made.sets()[0].id, species_id=made.target_id, fate="dead", count=1),
        Catch(trap_set_id=made.sets()[1].id, species_id=made.target_id, fate="put back", count=2),
    )
    totals = trip_summary(made.snapshot, made.trip_id).totals
    assert totals.fates == (("kept", 5), ("put back", 2), ("dead", 1))
    assert totals.caught == 8


def test_what_became_of_animals_is_told_of_traps_without_a_valid_count_too() -> None:
    """A rate needs a soak; that four were kept and one was put back does not."""
    made = make_trip(3).lifted([4, 1, 2], conditions=["fished", "robbed", "fished"])
    first, second = made.sets()[:2]
    made = made.with_rows(
        first.with_(set_utc=None),
        second.with_(counted=False),
        made.snapshot.catches(second.id)[0].with_(fate="put back"),
    )
    totals = trip_summary(made.snapshot, made.trip_id).totals
    assert (totals.n_counted, totals.caught) == (1, 2)
    assert totals.fates == (("kept", 6), ("put back", 1))


def test_by_catch_is_summed_whether_it_was_counted_weighed_or_measured() -> None:
    made = make_trip(2).lifted([4, 1])
    one, two = (row.id for row in made.sets())
    perch = Catch(trap_set_id=one, species_id=made.bycatch_id, fate="put back", count=2)
    made = made.with_rows(
        perch,
        perch.with_(id="b", trap_set_id=two, count=1_000_000),
        perch.with_(id="c", count=0, fate="dead"),
        perch.with_(id="d", count=None, fate="dead", weight_kg=0.2),
        perch.with_(id="e", trap_set_id=two, count=None, fate="dead", weight_kg=0.3),
        perch.with_(id="f", count=None, measure_n=2, measure_name="bucket"),
    )
    assert trip_summary(made.snapshot, made.trip_id).bycatch == (
        ("perch", "put back", "1000002"), ("perch", "dead", "0.5 kg"),
        ("perch", "put back", "2 bucket"),
    )  # fmt: skip


def test_each_round_has_its_line() -> None:
    made = make_trip(3, 2).lifted([1, 2, None]).lifted([0, 0, 5], 2)
    fished = made.snapshot.need(Round, made.round_ids[1])
    made = made.with_rows(
        fished.with_(weather="rain", water_temp_c=12.5, current_m_s=0.1, current_to_deg=45.0,
                     tide_state="ebb")
    )  # fmt: skip
    first, second = trip_summary(made.snapshot, made.trip_id).rounds
    assert (first.n_sets, first.n_counted, first.caught) == (3, 2, 3)
    assert (second.n_counted, second.caught) == (3, 5)
    assert second.conditions == "rain, water 12.5 °C, current 0.1 m/s towards 45°, ebb"
    assert first.times == "01 Jul 12:00 to 02 Jul 12:00"


def test_a_warning_of_every_round_is_told_once() -> None:
    made = make_trip(2, 2, gap_deg=0.0001)
    (text,) = trip_summary(made.snapshot, made.trip_id).warnings
    assert "round" not in text
    moved = made.sets(2)[1].with_(lon_deg=7.01, lat_deg=45.0, state="set")
    texts = trip_summary(made.with_rows(moved).snapshot, made.trip_id).warnings
    assert any(text.endswith("(round 1).") for text in texts)


def test_the_map_is_that_of_the_latest_round_that_was_fished() -> None:
    made = make_trip(2, 2)
    assert trip_summary(made.snapshot, "trip").map_round == made.snapshot.need(Round, "round-2")
    fished = made.lifted([1, 2])
    assert trip_summary(fished.snapshot, "trip").map_round == fished.snapshot.need(Round, "round-1")


def test_the_header_says_how_the_baits_were_laid_out() -> None:
    made = make_trip(2)
    trip = made.snapshot.need(Trip, made.trip_id)
    made = made.with_rows(trip.with_(layout_scheme="blocks", layout_seed=42))
    facts = dict(trip_summary(made.snapshot, made.trip_id).facts)
    assert facts["Layout"] == "drawn in blocks along the line, seed 42"
    assert facts["Water"] == "Reed Pond (still)"


def test_a_trip_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidValue):
        trip_summary(make_trip(1).snapshot, "nowhere")


def test_nothing_caught_gives_a_rate_and_no_interval() -> None:
    made = make_trip(4).lifted((0, 0, 0, 0))
    words = trip_summary(made.snapshot, made.trip_id).in_short

    assert "0.00 per trap per 24 h." in words
    assert "interval" not in words

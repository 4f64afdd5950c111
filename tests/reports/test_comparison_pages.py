"""The comparison on paper: pairs, trips, spreads, and what would settle it where it is known."""

from dataclasses import replace

import pytest

from tests.made_trips import MadeTrip, make_trip
from tests.reports.pdf_reading import all_words
from trapline.analyses import trip_summary as summaries
from trapline.analyses.settle import next_trip_of
from trapline.analyses.trip_comparison import (
    CompareChoice,
    TripComparison,
    compare_trips,
    settled_trips,
)
from trapline.model.bait import Bait
from trapline.model.trip import Round, Trip
from trapline.reports.pdf_file import report_bytes
from trapline.reports.trip_summary import trip_summary_report


def two_trips() -> MadeTrip:
    made = make_trip(9, 2, baits=("fish", "liver", "corn")).lifted([9, 4, 1, 7, 5, 2, 8, 3, 0])
    made = made.lifted([5, 2, 9, 4, 1, 7, 6, 0, 8], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    second = made.snapshot.need(Round, made.round_ids[1])
    fish = made.snapshot.need(Bait, "bait-0")
    return made.with_rows(
        trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01"),
        second.with_(trip_id="trip-2", number=1),
        fish.with_(cost="0.50"),
    )


def printed(made: MadeTrip, choice: CompareChoice, known: TripComparison) -> str:
    found = summaries.trip_summary(made.snapshot, made.trip_id, choice, known)
    assert found.comparison is known
    return all_words(report_bytes(trip_summary_report(made.snapshot, found)))


@pytest.fixture(scope="module")
def choice() -> CompareChoice:
    return CompareChoice(round_ids=("round-1", "round-2"), species_id="target")


@pytest.fixture(scope="module")
def compared(choice: CompareChoice) -> TripComparison:
    return compare_trips(two_trips().snapshot, choice)


def test_pairs_trips_and_spreads_are_printed(
    choice: CompareChoice, compared: TripComparison
) -> None:
    said = printed(two_trips(), choice, compared)
    assert "being best takes baits as alike until the lifts say otherwise" in said
    assert "Every pair" in said
    assert "Chance to catch more" in said
    assert "Trip by trip" in said
    assert "all trips together" in said
    assert "Autumn trial" in said
    assert "How much catches differ beside the baits" in said
    assert "Patchiness: traps with the same bait" in said
    assert "What would settle it" not in said


def test_what_would_settle_it_is_printed_where_it_was_simulated(
    choice: CompareChoice, compared: TripComparison
) -> None:
    assert compared.comparison is not None
    trip = next_trip_of(compared.comparison, is_quick=True)
    assert trip is not None
    said = printed(two_trips(), choice, settled_trips(compared, trip))
    assert "What would settle it" in said
    assert "no promise" in said
    assert "Learn, or fill the bucket" in said
    assert "an animal costs about" in said


def test_printing_never_simulates(
    monkeypatch: pytest.MonkeyPatch, choice: CompareChoice, compared: TripComparison
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("simulated while printing")

    monkeypatch.setattr("trapline.analyses.settle.next_trip_of", never)
    monkeypatch.setattr("trapline.analyses.next_trip.next_trip", never)
    assert "Every pair" in printed(two_trips(), choice, compared)


def test_a_comparison_of_something_else_is_not_taken_over(
    choice: CompareChoice, compared: TripComparison
) -> None:
    made = two_trips()
    other = replace(compared, choice=replace(choice, disturbed=True))
    usual = summaries.trip_summary(made.snapshot, made.trip_id, None, other)
    assert usual.comparison is not other
    assert usual.comparison.choice.round_ids == ("round-1",)


def test_two_baits_need_no_table_of_pairs() -> None:
    made = make_trip(6, baits=("fish", "liver")).lifted([9, 1, 7, 2, 8, 0])
    found = summaries.trip_summary(made.snapshot, made.trip_id)
    said = all_words(report_bytes(trip_summary_report(made.snapshot, found)))
    assert "Every pair" not in said
    assert "Trip by trip" not in said
    assert "Patchiness" in said

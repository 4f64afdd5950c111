"""The comparison over rounds and trips, with its switches."""

from dataclasses import replace
from typing import Any

import pytest

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.bait_comparison import compare_baits
from trapline.analyses.comparison_words import (
    bait_lines,
    finding_title,
    left_out_texts,
    permutation_words,
)
from trapline.analyses.lifts import LiftRow
from trapline.analyses.plume_check import CHOICE_TEST
from trapline.analyses.trip_comparison import (
    NO_BAIT_WRITTEN,
    CompareChoice,
    TripComparison,
    compare_trips,
)
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.trip import Round, Trip

TWO = ("fish", "liver")


def compare(made: MadeTrip, **values: Any) -> TripComparison:
    values = {"round_ids": made.round_ids, "reference_bait_id": made.bait_ids[0], **values}
    return compare_trips(made.snapshot, CompareChoice(**values))


def winner(found: TripComparison) -> str | None:
    assert found.comparison is not None
    return found.comparison.winner


def switch(found: TripComparison, name: str) -> Any:
    return next(one for one in found.switches if one.name == name)


def test_the_numbers_are_those_of_the_same_table_of_lifts() -> None:
    made = make_trip(6, baits=TWO).lifted([9, 1, 7, 2, 8, 0])
    found = compare(made).comparison
    rows = [
        LiftRow(bait=TWO[n % 2], catch=catch, soak_h=24.0, row=n + 1, place=f"{n}", round="1")
        for n, catch in enumerate([9, 1, 7, 2, 8, 0])
    ]
    table = compare_baits(rows)
    assert found is not None
    assert found.baits == table.baits
    assert found.winner == table.winner == "fish"
    assert found.permutation == table.permutation


def test_disturbed_traps_are_left_out_unless_they_are_counted() -> None:
    made = make_trip(4, baits=TWO).lifted(
        [4, 2, 8, 2], conditions=["fished", "fished", "disturbed", "fished"]
    )
    usual = bait_lines(compare(made))[0]
    assert (usual.n_sets, usual.n_counted, usual.catch, usual.soak_h) == ("2", "1", "4", "24.0")
    full = bait_lines(compare(made, disturbed=True))[0]
    assert (full.n_counted, full.catch, full.soak_h) == ("2", "12", "48.0")
    half = compare(made, disturbed=True, half_soak=True)
    assert bait_lines(half)[0].soak_h == "36.0"
    assert half.halved == ("P3, round 1",)


def test_the_hours_until_a_known_disturbance_are_not_halved() -> None:
    made = make_trip(4, baits=TWO).lifted(
        [4, 2, 8, 2], conditions=["fished", "fished", "disturbed", "fished"]
    )
    row = made.sets()[2].with_(disturbed_utc="2026-07-01T16:00:00Z")
    found = compare(made.with_rows(row), disturbed=True, half_soak=True)
    assert bait_lines(found)[0].soak_h == "30.0"
    assert found.halved == ()


def test_a_robbed_trap_counts_only_when_asked_for_and_counted() -> None:
    made = make_trip(4, baits=TWO).lifted(
        [4, 2, 8, None], conditions=["fished", "fished", "robbed", "robbed"]
    )
    made = made.with_rows(made.sets()[2].with_(counted=False))
    assert bait_lines(compare(made))[0].n_counted == "1"
    assert bait_lines(compare(made, robbed=True))[0].catch == "12"
    # Nothing was written down of the other one: there is nothing to count.
    assert bait_lines(compare(made, robbed=True))[1].n_counted == "1"
    assert switch(compare(made), "robbed").n_sets == 1


def test_soaks_on_old_bait_are_baits_of_their_own() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    made = made.with_rows(made.sets()[2].with_(bait_action="left as it was"))
    assert [line.bait for line in bait_lines(compare(made))] == ["fish", "liver"]
    found = compare(made, old_bait=True)
    assert [line.bait for line in bait_lines(found)] == ["fish", "liver", "fish (old bait)"]


def test_topped_up_bait_counts_as_fresh_and_says_so() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    made = made.with_rows(made.sets()[2].with_(bait_action="topped up"))
    assert "1 soaks on topped-up bait count as fresh." in compare(made).warnings


def test_animals_that_dropped_back_can_be_left_out() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    back = Catch(
        trap_set_id=made.sets()[0].id, species_id=made.target_id,
        fate="dropped back at the lift", count=3,
    )  # fmt: skip
    made = made.with_rows(back)
    assert bait_lines(compare(made))[0].catch == "15"
    assert bait_lines(compare(made, without_dropped_back=True))[0].catch == "12"


def test_a_switch_says_whether_the_verdict_hangs_on_it() -> None:
    # With its disturbed traps fish is far ahead; without them nothing can be told.
    made = make_trip(12, baits=TWO).lifted(
        [3, 3, 30, 3, 30, 3, 30, 3, 30, 3, 30, 3],
        conditions=["fished", "fished"] + ["disturbed", "fished"] * 5,
    )
    found = compare(made)
    one = switch(found, "disturbed")
    assert (one.n_sets, one.is_on, one.changes) == (5, False, True)
    assert "the verdict changes: fish would" in one.words
    # Turned over there is nothing left of that in the other direction.
    on = switch(compare(made, disturbed=True), "disturbed")
    assert (on.is_on, on.changes) == (True, True)
    assert switch(found, "robbed").words == "none here"
    assert switch(found, "half_soak").n_sets == 0
    assert switch(compare(made, disturbed=True), "half_soak").n_sets == 5


def test_a_switch_that_changes_nothing_says_that() -> None:
    made = make_trip(6, baits=TWO).lifted(
        [9, 1, 7, 2, 8, 0], conditions=["fished"] * 5 + ["disturbed"]
    )
    assert switch(compare(made), "disturbed").words == "the verdict stays"


def test_two_unclear_findings_are_the_same() -> None:
    made = make_trip(5, baits=TWO).lifted(
        [3, 3, 2, 3, 9], conditions=["fished"] * 4 + ["disturbed"]
    )
    found = compare(made)
    assert found.comparison is not None
    assert found.comparison.finding.word == "no clear difference"
    assert switch(found, "disturbed").changes is False


def test_the_share_of_disturbed_traps_is_told_for_each_bait() -> None:
    made = make_trip(5, baits=TWO).lifted(
        [1, 1, 1, 1, None], conditions=["disturbed", "fished", "disturbed", "disturbed", "lost"]
    )
    shares = {one.bait: (one.n_disturbed, one.n_lifted) for one in compare(made).disturbed}
    assert shares == {"fish": (2, 3), "liver": (1, 2)}
    assert [line.disturbed for line in bait_lines(compare(made))] == ["2 of 3", "1 of 2"]


def test_what_is_left_out_is_told_by_place_and_reason() -> None:
    made = make_trip(6, baits=TWO).lifted(
        [1, None, 3, None, None, 2],
        conditions=["fished", "fished", "disturbed", "lost", "robbed", "fished"],
    )
    last = made.sets()[5]
    made = made.with_rows(last.with_(bait_id=None, planned_bait_id=None))
    texts = left_out_texts(compare(made).left_out)
    assert texts == (
        "1 not counted: P2, round 1 (liver).",
        "1 disturbed, left out of a comparison: P3, round 1 (fish).",
        "1 lost, no valid count: P4, round 1 (liver).",
        "1 robbed, no valid count: P5, round 1 (fish).",
        "1 no bait was written down: P6, round 1 (–).",
    )


def test_a_bait_that_is_not_known_is_not_the_planned_one() -> None:
    made = make_trip(4, baits=("fish", "liver")).lifted([5, 1, 6, 2])
    row = made.sets()[0]
    found = compare(made.with_rows(row.with_(bait_id=None)))
    assert [(one.label, one.why) for one in found.left_out] == [("P1, round 1", NO_BAIT_WRITTEN)]
    assert found.comparison is not None
    assert [bait.n_traps for bait in found.comparison.baits] == [2, 1]


def test_weights_give_a_rate_and_no_model() -> None:
    made = make_trip(2, baits=TWO).lifted([None, 4])
    weight = Catch(trap_set_id=made.sets()[0].id, species_id=made.target_id, weight_kg=1.5)
    made = made.with_rows(weight, made.sets()[0].with_(counted=True))
    found = compare(made)
    assert [(one.bait, one.weight_kg, one.kg_per_24h) for one in found.weighed] == [
        ("fish", 1.5, 1.5)
    ]
    assert left_out_texts(found.left_out) == (
        "1 weighed or measured, not counted: P1, round 1 (fish).",
    )
    assert "Weights give a rate and no model: only counts are compared." in found.warnings


def test_warnings_name_the_trap_and_not_a_row() -> None:
    made = make_trip(6, baits=TWO).lifted([0, 1, 40, 1, 0, 2])
    warnings = compare(made).warnings
    assert any(text.startswith("P3, round 1 holds 40 of all 44 animals") for text in warnings)
    assert not any(text.startswith("Row") for text in warnings)


def test_two_trips_can_be_taken_together_and_the_price_is_told() -> None:
    made = make_trip(4, 2, baits=TWO).lifted([4, 2, 8, 2]).lifted([1, 5, 2, 6], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    second = made.snapshot.need(Round, made.round_ids[1])
    made = made.with_rows(
        trip.with_(id="trip-2", name="Autumn trial", started_on="2026-09-01"),
        second.with_(trip_id="trip-2", number=1, set_on="2026-09-01"),
    )
    found = compare(made)
    assert [line.n_counted for line in bait_lines(found)] == ["4", "4"]
    assert "in 2 rounds of 2 trips: fish 4 and liver 4." in found.verdict
    assert "On the next trip like these" in found.verdict
    assert any("days apart" in text for text in found.warnings)
    assert [trip.trip for trip in found.by_trip] == ["Summer trial", "Autumn trial"]
    alone = compare(made, round_ids=made.round_ids[:1])
    assert [line.n_counted for line in bait_lines(alone)] == ["2", "2"]
    assert "On the next trip" not in alone.verdict
    assert alone.by_trip == ()


def test_a_control_of_any_name_is_no_rival() -> None:
    made = make_trip(6, baits=("empty can", "fish")).lifted([9, 1, 8, 0, 9, 1])
    control = made.snapshot.need(Bait, made.bait_ids[0])
    assert winner(compare(made)) == "empty can"
    found = compare(made.with_rows(control.with_(is_control=True))).comparison
    assert found is not None
    assert found.finding.word == "no other bait"


def test_pasted_spaces_in_a_name_change_nothing() -> None:
    made = make_trip(6, baits=("empty can", "fish")).lifted([9, 1, 8, 0, 9, 1])
    control = made.snapshot.need(Bait, made.bait_ids[0])
    pasted = control.with_(name="empty\u00a0 can\u200b ", is_control=True)
    found = compare(made.with_rows(pasted)).comparison
    assert found is not None
    assert found.finding.word == "no other bait"


def test_where_all_scents_meet_the_verdict_says_it_is_a_choice_test() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    assert CHOICE_TEST not in compare(made).verdict
    baits = [made.snapshot.need(Bait, key).with_(still_reach_m=200.0) for key in made.bait_ids]
    assert compare(made.with_rows(*baits)).verdict.endswith(CHOICE_TEST)


def loose_chance(found: TripComparison) -> float:
    assert found.comparison is not None
    return found.comparison.finding.chance


def test_the_threshold_of_the_trip_decides_who_wins() -> None:
    made = make_trip(6, baits=TWO).lifted([9, 2, 8, 3, 9, 1])
    trip = made.snapshot.need(Trip, made.trip_id)
    strict = made.with_rows(trip.with_(winner_threshold=0.999))
    assert winner(compare(strict)) is None
    assert winner(compare(made)) == "fish"
    # A threshold below what keeps false winners rare is raised to it.
    weak = make_trip(4, baits=TWO).lifted([5, 3, 6, 3])
    loose = weak.with_rows(weak.snapshot.need(Trip, weak.trip_id).with_(winner_threshold=0.8))
    assert winner(compare(loose)) is None
    assert 0.8 < loose_chance(compare(loose)) < 0.975


def test_a_reference_that_did_not_hang_is_told() -> None:
    made = make_trip(4, baits=TWO).lifted([4, 2, 8, 2])
    made = made.with_rows(Bait(id="other", name="cheese"))
    found = compare(made, reference_bait_id="other")
    assert "The reference bait, cheese, hung fresh in none of these rounds." in found.warnings
    assert found.comparison is not None
    assert found.comparison.ratios is not None
    assert found.comparison.ratios[0].reference == "fish"


@pytest.mark.parametrize("n_places", [0, 3])
def test_where_nothing_was_set_there_is_a_sentence_and_no_comparison(n_places: int) -> None:
    made = make_trip(n_places)
    found = compare(made)
    assert found.comparison is None
    assert found.verdict == "No trap of these rounds was set yet: there is nothing to compare."
    assert bait_lines(found) == ()
    assert finding_title(None) == "Nothing to compare yet"
    assert found.as_dict()["verdict"] == found.verdict


@pytest.mark.parametrize("old_bait", [False, True])
def test_a_reference_that_hung_only_as_old_bait_is_told(old_bait: bool) -> None:
    made = make_trip(6, baits=("fish", "liver", "corn")).lifted([4, 2, 8, 2, 1, 3])
    rows = (row.with_(bait_action="left as it was") for row in made.sets()[::3])
    found = compare(made.with_rows(*rows), old_bait=old_bait)
    assert found.comparison is not None
    assert any("fish, hung fresh in none" in text for text in found.warnings)


def test_only_old_bait_is_a_problem_in_words() -> None:
    made = make_trip(2, baits=TWO).lifted([1, 2])
    old = [row.with_(bait_action="left as it was") for row in made.sets()]
    found = compare(made.with_rows(*old))
    assert found.comparison is None
    assert "There is no lift to compare" in found.problem


def test_the_test_beside_the_verdict_says_what_was_dealt_out() -> None:
    found = compare(make_trip(6, baits=TWO).lifted([9, 1, 7, 2, 8, 0])).comparison
    assert found is not None
    said = permutation_words(found.permutation)
    assert said.startswith("Exact test, the baits of traps dealt out again")
    assert "2 of 20 differ as much, p = 0.1" in said
    assert permutation_words(None) == ""
    assert found.permutation is not None
    blocks = replace(found.permutation, within="round×block", unit="trap")
    assert "within each round and block" in permutation_words(blocks)


def test_it_is_told_whether_the_growth_of_catch_with_soak_decides_on_a_trip() -> None:
    # Fish hung twice as long as liver and caught hardly more: in step with the soak it loses.
    made = make_trip(10, baits=TWO).lifted([11, 9, 10, 8, 12, 9, 11, 10, 10, 9])
    longer = [row.with_(lift_utc="2026-07-03T10:00:00Z") for row in made.sets(1)[::2]]
    unequal = compare(made.with_rows(*longer))

    in_step = switch(unequal, "linear_soak")
    assert in_step.n_sets == 10
    assert in_step.other is not None
    assert unequal.comparison is not None
    assert (in_step.other.word, in_step.other.bait) == ("winner", "liver")
    assert unequal.comparison.finding.word != "winner"
    assert in_step.words == "the verdict changes: liver would be the winner"
    assert winner(compare(made.with_rows(*longer), linear_soak=True)) == "liver"
    assert switch(compare(made), "linear_soak").words == "all soaks are alike"


def test_trips_in_cold_and_in_warm_water_are_not_pooled_without_a_word() -> None:
    made = make_trip(4, 2, baits=TWO).lifted([4, 2, 8, 2]).lifted([1, 5, 2, 6], 2)
    trip = made.snapshot.need(Trip, made.trip_id)
    first, second = (made.snapshot.need(Round, row) for row in made.round_ids)
    made = made.with_rows(trip.with_(id="trip-2", name="Second trial"))

    def warned(one_c: float, other_c: float) -> bool:
        warm = made.with_rows(
            first.with_(water_temp_c=one_c),
            second.with_(trip_id="trip-2", number=1, water_temp_c=other_c),
        )
        said = "The water was 12 °C on one trip and 19 °C on another."
        return any(text.startswith(said) for text in compare(warm).warnings)

    assert warned(19.0, 12.0)
    assert not warned(12.0, 13.0)

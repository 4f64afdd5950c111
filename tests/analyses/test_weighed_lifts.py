"""Weights by bait: the traps that held nothing are part of the rate."""

import pytest

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.trip_lifts import trip_lifts
from trapline.analyses.weighed_lifts import Weighed, weighed_lifts
from trapline.model.catch import Catch


def weighed(made: MadeTrip, weights_kg: dict[int, float]) -> tuple[Weighed, ...]:
    """Return the weights by bait of a trip with some target weighed at places, from 0."""
    for at, weight_kg in weights_kg.items():
        row = made.sets()[at]
        catch = Catch(trap_set_id=row.id, species_id=made.target_id, weight_kg=weight_kg)
        made = made.with_rows(catch, row.with_(counted=True))
    return weighed_lifts(trip_lifts(made.snapshot, made.round_ids))


def test_an_empty_trap_weighs_nothing_and_its_soak_counts() -> None:
    made = make_trip(6, baits=("fish", "liver")).lifted([None, None, 0, 0, None, 0], soak_h=48)
    fish, liver = weighed(made, {0: 1.5, 1: 0.6})
    # By hand: 1.5 kg in the traps at P1 and P3 of 48 h each; P5 was neither weighed nor counted.
    assert (fish.bait, fish.n_sets, fish.weight_kg) == ("fish", 2, 1.5)
    assert fish.kg_per_24h == pytest.approx(1.5 / 96 * 24)
    assert (liver.n_sets, liver.kg_per_24h) == (3, pytest.approx(0.6 / 144 * 24))


def test_a_bait_of_which_nothing_was_weighed_has_no_weight() -> None:
    made = make_trip(4, baits=("fish", "liver")).lifted([None, 0, 4, 0])
    assert [row.bait for row in weighed(made, {0: 1.5})] == ["fish"]


def test_traps_that_were_disturbed_or_have_no_time_have_no_rate() -> None:
    conditions = ["disturbed", "fished", "robbed"]
    made = make_trip(3, baits=("fish",)).lifted([None] * 3, conditions=conditions)
    made = made.with_rows(made.sets()[1].with_(lift_utc=None))
    assert weighed(made, {0: 1.0, 1: 1.0, 2: 1.0}) == ()

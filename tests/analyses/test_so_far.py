import math
from dataclasses import replace

import numpy as np
import pytest

from trapline.analyses.so_far import PLACE_SHARE, so_far
from trapline.errors import InvalidValue
from trapline.science.bait_model import lift_table
from trapline.science.bait_posterior import bait_posterior

NAMES = ["Fish", "Liver", "No bait"]


def _table(*, n_rounds=2, rotates=True, catches=(9, 6, 1), controls=(2,), soak_h=24.0, trips=1):
    """Return lifts of two traps of each of three baits in every round, caught as told."""
    places, rounds, baits, counts, trip = [], [], [], [], []
    for r in range(n_rounds):
        for p in range(6):
            bait = (p + (r if rotates else 0)) % 3
            places.append(p)
            rounds.append(r)
            baits.append(bait)
            counts.append(catches[bait] + (p + r) % 2)
            trip.append(r % trips)
    return lift_table(
        counts, [soak_h] * len(counts), baits,
        round_=rounds, place=places, trip=trip, controls=controls,
    )  # fmt: skip


@pytest.fixture(scope="module")
def rotated():
    table = _table()
    return so_far(table, bait_posterior(table), NAMES)


def test_it_counts_traps_and_rounds_of_the_baits_and_leaves_the_control_out(rotated):
    assert rotated.baits == ("Fish", "Liver")
    assert (rotated.n_traps, rotated.n_rounds, rotated.n_trips) == (2, 2, 1)
    assert rotated.rotates
    assert (rotated.are_rounds_assumed, rotated.are_places_assumed) == (False, False)
    assert rotated.log_means.shape == rotated.catch_means.shape == (rotated.spread.size, 2)


def test_its_catches_are_those_of_the_lifts(rotated):
    typical = np.median(rotated.catch_means, axis=0)
    assert typical == pytest.approx([9.5, 6.5], rel=0.15)
    assert rotated.catch_a_trap == pytest.approx(8.0, rel=0.15)


def test_a_catch_is_that_of_a_trap_set_however_long_it_soaked():
    table = _table(soak_h=72.0)
    found = so_far(table, bait_posterior(table), NAMES)
    assert found.catch_a_trap == pytest.approx(8.0, rel=0.15)


def test_the_interval_is_that_of_the_leader_to_its_runner_up(rotated):
    table = _table()
    ratio = bait_posterior(table).ratio(0, 1)
    assert rotated.leading_ratio == ratio.median > 1
    assert rotated.factor_now == ratio.high / ratio.low


def test_the_leader_is_found_wherever_it_stands_in_the_table():
    table = _table(catches=(2, 9, 1))
    found = so_far(table, bait_posterior(table), NAMES)
    assert found.leading_ratio > 2


def test_baits_that_stay_on_their_places_do_not_rotate():
    table = _table(rotates=False)
    posterior = bait_posterior(table)
    assert not so_far(table, posterior, NAMES).rotates
    assert so_far(table, posterior, NAMES, rotates=True).rotates


def test_after_one_round_part_of_the_patchiness_is_given_to_places_and_rounds_are_assumed():
    table = _table(n_rounds=1)
    posterior = bait_posterior(table)
    found = so_far(table, posterior, NAMES)
    assert (found.are_rounds_assumed, found.are_places_assumed) == (True, True)
    whole = np.sort(posterior.draws(found.spread.size).spread)
    # On the log scale both parts add up to the whole, by the share that is assumed.
    parts = np.sort(np.log1p(found.spread**2) + found.place_sd**2)
    assert parts == pytest.approx(np.log1p(whole**2))
    assert found.place_sd**2 == pytest.approx(PLACE_SHARE * np.log1p(np.sort(whole)**2)[
        np.argsort(np.argsort(found.place_sd))])  # fmt: skip
    assert 0.2 < np.median(found.round_sd) < 0.5


def test_trips_are_counted():
    table = _table(n_rounds=4, trips=2)
    assert so_far(table, bait_posterior(table), NAMES).n_trips == 2


def test_a_lone_bait_beside_a_control_is_nothing_to_plan_for():
    table = lift_table([3, 4, 0, 1], [24.0] * 4, [0, 0, 1, 1], controls=[1])
    assert so_far(table, bait_posterior(table), ["Fish", "No bait"]) is None


def test_it_is_the_same_every_time(rotated):
    table = _table()
    again = so_far(table, bait_posterior(table), NAMES)
    assert (again.log_means == rotated.log_means).all()
    assert (again.place_sd == rotated.place_sd).all()


def test_any_first_few_draws_are_like_all_of_them(rotated):
    for values in (rotated.log_levels, rotated.spread, rotated.place_sd):
        few, sd = values[:64], values.std()
        assert abs(few.mean() - values.mean()) < 4 * sd / math.sqrt(64)


@pytest.mark.parametrize(
    "wrong",
    [{"baits": ("Fish",)}, {"n_traps": 0}, {"winner_chance": 1.0}, {"winner_chance": 0.3},
     {"spread": np.array([math.nan])}],
    ids=str,
)  # fmt: skip
def test_what_no_trip_can_be_planned_from_is_refused(rotated, wrong):
    with pytest.raises(InvalidValue):
        replace(rotated, **wrong)

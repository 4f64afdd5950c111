import json
import math
from dataclasses import replace

import numpy as np
import pytest

from trapline.analyses.next_trip import RATIOS, WANTED, next_trip, pooled
from trapline.analyses.so_far import SoFar
from trapline.errors import InvalidValue
from trapline.science.power import FEWEST_SETS, sets_needed
from trapline.science.winner_power import (
    Truths,
    one_better,
    planned_table,
    simulated_trials,
)


def _found(*, catch=8.0, k=4.0, n_baits=2, n_traps=3, n_rounds=2, round_sd=0.3, place_sd=0.6,
           **more) -> SoFar:  # fmt: skip
    """Return findings without any doubt about them: every draw is the same."""
    n = 120
    return SoFar(
        baits=tuple(f"Bait {number}" for number in range(n_baits)),
        n_traps=n_traps,
        n_rounds=n_rounds,
        rotates=True,
        log_means=np.full((n, n_baits), math.log(catch)),
        catch_means=np.full((n, n_baits), catch),
        spread=np.full(n, k**-0.5),
        round_sd=np.full(n, round_sd),
        place_sd=np.full(n, place_sd),
        factor_now=5.0,
        leading_ratio=1.9,
        **more,
    )


@pytest.fixture(scope="module")
def usual():
    return next_trip(_found(), quick=True)


@pytest.fixture
def few_trials(monkeypatch):
    """Make every point of a few trials, where their number is not what is looked at."""
    monkeypatch.setattr("trapline.analyses.next_trip._QUICK_MOST_TRIALS", 32)
    monkeypatch.setattr("trapline.analyses.next_trip._QUICK_FEWEST_TRIALS", 16)
    monkeypatch.setattr("trapline.analyses.next_trip._QUICK_ROWS_A_POINT", 1_000)


def test_every_ratio_has_a_curve_for_rounds_and_for_traps_rotated_and_fixed(usual):
    assert len(usual.curves) == len(RATIOS) * 4
    for curve in usual.curves:
        assert list(curve.sizes) == sorted(set(curve.sizes))
        assert len(curve.sizes) == len(curve.shares)
    assert usual.curve(2.0, "rounds", rotates=True).sizes[0] == 1
    assert usual.curve(2.0, "traps a bait", rotates=True).sizes[0] == 3


def test_no_share_falls_and_all_lie_between_none_and_all(usual):
    for curve in usual.curves:
        assert curve.shares[0] >= 0
        assert curve.shares[-1] <= 1
        assert (np.diff(curve.shares) >= 0).all()


def test_what_is_needed_is_where_the_curve_reaches_eight_in_ten(usual):
    found = 0
    for curve in usual.curves:
        if curve.needed is None:
            assert curve.shares[-1] < WANTED
            continue
        found += 1
        assert curve.sizes[0] <= curve.needed <= curve.sizes[-1]
        for size, share in zip(curve.sizes, curve.shares, strict=True):
            assert (share >= WANTED) == (size >= curve.needed)
    assert 0 < found < len(usual.curves)


def test_a_larger_ratio_is_named_more_often_and_a_rotation_settles_it_sooner(usual):
    for rotates in (True, False):
        small, middle, large = (
            sum(usual.curve(ratio, "rounds", rotates=rotates).shares) for ratio in RATIOS
        )
        assert small < middle < large
    for ratio in RATIOS:
        rotated, fixed = (
            usual.curve(ratio, "rounds", rotates=rotates).shares for rotates in (True, False)
        )
        assert sum(rotated) > sum(fixed)


def _counted_again(size: int, n: int) -> float:
    """Return the share of other trials of the usual findings, and a ratio of 2."""
    few = np.full(n, 1.0)
    truths = Truths(one_better(math.log(8.0) * few, 2.0, 2), 0.5 * few, 0.3 * few, 0.6 * few)
    table = planned_table(n_baits=2, traps=[3] * (2 + size), rotates=True)
    return float((simulated_trials(table, truths, 99).winners(0.975) == 0).mean())


def test_a_share_is_that_of_simulated_trials_of_the_whole_size(usual):
    curve = usual.curve(2.0, "rounds", rotates=True)
    for size in (1, 3):
        # Four standard errors of 100 trials here and 300 there, at most.
        share = curve.shares[curve.sizes.index(size)]
        assert share == pytest.approx(_counted_again(size, 300), abs=0.2)


@pytest.mark.usefixtures("few_trials")
def test_what_was_fished_so_far_is_part_of_every_trial(monkeypatch):
    made = set()

    def noted(table, truths, seed):
        pairs = {*zip(table.place, table.bait, strict=True)}
        made.add((*np.bincount(table.round_).tolist(), len(pairs)))
        return simulated_trials(table, truths, seed)

    monkeypatch.setattr("trapline.analyses.next_trip.simulated_trials", noted)
    next_trip(_found(n_traps=1, n_rounds=3), quick=True)
    # Traps of each round, then pairs of places and baits: 2 fixed, 4 rotated.
    assert {(2, 2, 2, 2, 2), (2, 2, 2, 2, 4)} < made  # 1 more round
    assert {(*[2] * 11, 2), (*[2] * 11, 4)} < made  # 8 more
    assert {rounds[:3] for rounds in made} == {(2, 2, 2)}
    assert (2, 2, 2, 16, 16) in made  # 1 more, with 8 traps a bait that stay


@pytest.mark.study
def test_shares_are_those_of_many_simulated_trials():
    curve = next_trip(_found()).curve(2.0, "rounds", rotates=True)
    for size in curve.sizes:
        share = curve.shares[curve.sizes.index(size)]
        assert share == pytest.approx(_counted_again(size, 2_000), abs=0.12)


@pytest.mark.usefixtures("few_trials")
def test_less_catch_and_more_patchiness_need_more():
    lean = next_trip(_found(catch=0.5, k=0.7), quick=True)
    assert lean.curve(2.0, "rounds", rotates=True).needed is None
    assert lean.as_dict()["x2"] == dict.fromkeys(
        ("rounds", "traps_a_bait", "rounds_fixed_places", "traps_a_bait_fixed_places")
    )


@pytest.mark.usefixtures("few_trials")
def test_a_stricter_rule_is_met_more_rarely(usual):
    strict = next_trip(_found(winner_chance=0.9999), quick=True)
    for ratio in RATIOS:
        usual_sum, strict_sum = (
            sum(one.curve(ratio, "rounds", rotates=True).shares) for one in (usual, strict)
        )
        assert strict_sum < usual_sum


def test_the_interval_narrows_with_rounds_and_less_where_baits_stay(usual):
    for rotates in (True, False):
        factors = usual.width(rotates=rotates).factors
        assert (np.diff(factors) < 0).all()
        assert min(factors) > 1
    assert usual.width(rotates=True).factors[-1] < usual.width(rotates=False).factors[-1]
    # Every size was simulated for it, none read off a line.
    assert usual.width(rotates=True).sizes == usual.curve(2.0, "rounds", rotates=True).sizes


def test_one_round_with_more_traps_alone_leaves_the_rounds_before_as_they_were(usual):
    curve = usual.curve(1.5, "traps a bait", rotates=True)
    as_rounds = usual.curve(1.5, "rounds", rotates=True)
    assert curve.sizes == (3, 9, 24)
    assert curve.shares[0] == as_rounds.shares[0]
    # 2 rounds of 3 traps and one of 9 are about as good as 5 rounds of 3.
    assert curve.shares[1] == pytest.approx(as_rounds.shares[1], abs=0.2)
    assert curve.shares[1] > curve.shares[0]


@pytest.mark.usefixtures("few_trials")
def test_the_same_again_gives_the_same_and_another_seed_other_trials():
    first, again, other = (
        next_trip(_found(n_traps=1), quick=True, seed=seed).curves for seed in (20, 20, 21)
    )
    assert first == again
    assert first != other


@pytest.mark.usefixtures("few_trials")
def test_it_tells_how_far_it_is_and_ends_when_told_to():
    told: list[float] = []
    next_trip(_found(n_traps=1, n_rounds=1), quick=True, progress=told.append)
    assert (told[0], told[-1]) == (0.0, 1.0)
    assert told == sorted(told)
    assert len(told) > 5

    class Enough(Exception):
        pass

    def stop(done: float) -> None:
        if done > 0.2:
            raise Enough

    with pytest.raises(Enough):
        next_trip(_found(), quick=True, progress=stop)


def test_the_numbers_are_json(usual):
    made = json.loads(json.dumps(usual.as_dict(), allow_nan=False))
    assert list(made) == ["x1.5", "x2", "x3", "assumed"]
    for ratio, name in zip(RATIOS, made, strict=False):
        assert made[name]["rounds"] == usual.curve(ratio, "rounds", rotates=True).needed
        fixed = usual.curve(ratio, "traps a bait", rotates=False)
        assert made[name]["traps_a_bait_fixed_places"] == fixed.needed
    assert made["assumed"]["catch_a_trap"] == pytest.approx(8.0)
    assert made["assumed"]["largest_rounds"] == 8
    assert made["assumed"]["trials"] == list(usual.n_trials)


def test_the_closed_formula_is_quoted_only_where_it_can_be_trusted(usual):
    quoted = {one.ratio: one.sets for one in usual.formula}
    for ratio in RATIOS:
        rate = 8.0 * 2 / (ratio + 1)
        sets = tuple(sets_needed(rate, ratio, 4.0, method=method) for method in (1, 2, 3))
        if min(sets) >= FEWEST_SETS:
            assert quoted[ratio] == pytest.approx(sets)
        else:
            assert ratio not in quoted
    assert 0 < len(quoted) < len(RATIOS)


@pytest.mark.usefixtures("few_trials")
def test_sizes_end_where_a_trial_would_be_too_large():
    trip = next_trip(_found(n_traps=60, n_rounds=1), quick=True)
    assert trip.curve(2.0, "rounds", rotates=True).sizes == (1, 3)
    assert trip.curve(2.0, "traps a bait", rotates=True).sizes == (60, 180)
    with pytest.raises(InvalidValue, match="1,200 trap sets are too many"):
        next_trip(_found(n_traps=300, n_rounds=1), quick=True)


@pytest.mark.usefixtures("few_trials")
@pytest.mark.parametrize(
    "found",
    [
        _found(catch=1e-3, n_traps=1, n_rounds=1),
        _found(catch=5e3, k=1e6, n_traps=1, n_rounds=1, round_sd=0.0, place_sd=0.0),
        _found(k=0.02, n_traps=1, n_rounds=1, place_sd=3.0, round_sd=3.0),
    ],
    ids=["nothing caught", "hardly any chance in it", "wildly patchy"],
)
def test_strange_findings_have_an_answer(found):
    trip = next_trip(replace(found, factor_now=1e4, leading_ratio=500.0), quick=True)
    json.dumps(trip.as_dict(), allow_nan=False)
    assert all(np.isfinite(one.factors).all() for one in trip.widths)


def test_pooling_is_the_nearest_that_does_not_fall():
    assert pooled([0.2, 0.1, 0.5]) == pytest.approx([0.15, 0.15, 0.5])
    assert pooled([0.9, 0.3, 0.3]) == pytest.approx([0.5, 0.5, 0.5])
    assert pooled([0.1, 0.2]) == [0.1, 0.2]

import math

import numpy as np
import pytest

from trapline.science.bait_model import INDEPENDENT, LiftTable, Priors, lift_table
from trapline.science.bait_posterior import bait_posterior
from trapline.science.many_trials import _rule, judge_trials
from trapline.science.winner_power import Truths, planned_table, simulated_catch

WINNER = 0.975


def _own_table(plan: LiftTable, catch: np.ndarray) -> LiftTable:
    """Return a trial of a plan as the table of lifts that the whole engine takes."""
    return lift_table(
        catch,
        np.full(catch.size, 24.0),
        plan.bait,
        round_=plan.round_.tolist(),
        place=plan.place.tolist(),
    )


def _truths(rng: np.random.Generator, n_trials: int, n_baits: int) -> Truths:
    """Return varied truths in which the first bait is often, not always, the better one."""
    log_means = np.tile(np.log(rng.choice([1.0, 5.0, 20.0], n_trials))[:, None], (1, n_baits))
    log_means[:, 0] += np.log(rng.choice([1.0, 2.0, 3.0, 5.0], n_trials))
    spread = rng.choice([0.2, 0.5, 0.7, 1.0], n_trials)
    place_sd = rng.choice([0.1, 0.5, 0.9], n_trials)
    return Truths(log_means, spread, np.full(n_trials, 0.4), place_sd)


def _compared(designs, n_trials: int, seed: int) -> np.ndarray:
    """Return the weakest chance of the leader by the whole engine, and here, trial by trial."""
    rng = np.random.default_rng(seed)
    pairs = []
    for n_baits, traps, rotates in designs:
        plan = planned_table(n_baits=n_baits, traps=traps, rotates=rotates)
        catch = simulated_catch(plan, _truths(rng, n_trials, n_baits), int(rng.integers(2**31)))
        own = np.eye(n_baits, dtype=bool)
        judged = judge_trials(plan, catch)
        for at in range(n_trials):
            whole = bait_posterior(_own_table(plan, catch[:, at])).beats
            weakest = [
                np.where(own, 9.0, beats).min(axis=1).max() for beats in (whole, judged.beats[at])
            ]
            pairs.append(weakest)
    return np.array(pairs)


DESIGNS = (
    (2, [2], False), (3, [4], False),
    (2, [1] * 6, True), (2, [3] * 3, False), (2, [4] * 2, True), (2, [6] * 2, False),
    (3, [1] * 4, True), (3, [2] * 2, True), (3, [2] * 4, False), (3, [2, 2, 5], True),
    (4, [2] * 3, True), (4, [1] * 4, False),
)  # fmt: skip


def test_whether_a_winner_is_named_agrees_with_the_whole_engine():
    """The yardstick is `bait_posterior`: exact grids, or draws weighed by the model itself."""
    found = _compared(DESIGNS, n_trials=5, seed=11)
    named = found >= WINNER
    assert 8 <= named[:, 0].sum() <= 52  # both answers are tried
    assert (named[:, 0] == named[:, 1]).mean() >= 0.96
    assert np.abs(found[:, 0] - found[:, 1]).max() < 0.12


@pytest.mark.study
def test_whether_a_winner_is_named_agrees_in_many_trials_and_to_both_sides():
    found = _compared(DESIGNS, n_trials=40, seed=12)
    named = found >= WINNER
    print(f"agree {(named[:, 0] == named[:, 1]).mean():.4f} named {named.mean(axis=0)}")
    assert (named[:, 0] == named[:, 1]).mean() >= 0.96
    assert abs(named[:, 0].mean() - named[:, 1].mean()) < 0.02


def test_one_round_is_as_exact_as_the_whole_engine():
    plan = planned_table(n_baits=3, traps=[3], rotates=False)
    rng = np.random.default_rng(5)
    catch = simulated_catch(plan, _truths(rng, 12, 3), seed=5)
    catch[:, 0] = 0
    judged = judge_trials(plan, catch)
    for at in range(12):
        whole = bait_posterior(_own_table(plan, catch[:, at])).beats
        assert judged.beats[at] == pytest.approx(whole, abs=0.006)


@pytest.mark.parametrize("traps", [[2], [1, 1]], ids=["one round", "two rounds"])
def test_the_priors_stand_about_each_trials_own_catch(traps):
    plan = planned_table(n_baits=2, traps=traps, rotates=True)
    catch = np.array([[1, 700], [0, 300], [0, 200], [0, 240]])
    judged = judge_trials(plan, catch)
    for at in range(2):
        centre = _own_table(plan, catch[:, at]).centre(INDEPENDENT)
        alone = judge_trials(plan, catch[:, [at]], Priors(centre=centre))
        assert judged.differences[at] == pytest.approx(alone.differences[0], abs=0.01)
        elsewhere = judge_trials(plan, catch[:, [at]], Priors(centre=centre + 5))
        assert judged.differences[at] != pytest.approx(elsewhere.differences[0], abs=0.05)


def test_the_interval_is_that_of_the_whole_engine_for_the_leader_and_its_runner_up():
    for traps, rotates in (([4], False), ([2, 2, 2], True), ([3, 3, 3], False)):
        plan = planned_table(n_baits=2, traps=traps, rotates=rotates)
        catch = simulated_catch(plan, _truths(np.random.default_rng(3), 6, 2), seed=4)
        factors = judge_trials(plan, catch).interval_factors()
        for at in range(6):
            ratio = bait_posterior(_own_table(plan, catch[:, at])).ratio(0, 1)
            assert math.log(factors[at]) == pytest.approx(math.log(ratio.high / ratio.low), rel=0.2)


def test_the_factor_is_about_the_leader_and_no_other_pair():
    plan = planned_table(n_baits=3, traps=[6, 6], rotates=True)
    # The third bait caught nothing: any ratio to it is far less sure.
    means = np.array([30.0, 20.0, 0.0])
    catch = np.rint(means[plan.bait] + plan.place % 3).astype(int)[:, None]
    catch[plan.bait == 2] = 0
    judged = judge_trials(plan, catch)
    to_last = 2 * 1.96 * math.sqrt(float(judged.variances[0, 0, 0, 2]))
    assert math.log(judged.interval_factors()[0]) < to_last / 2


def test_renamed_baits_have_the_same_chances_under_their_new_names():
    plan = planned_table(n_baits=3, traps=[2, 2, 2], rotates=True)
    catch = simulated_catch(plan, _truths(np.random.default_rng(8), 5, 3), seed=8)
    beats = judge_trials(plan, catch).beats
    # Round and place by round and place, bait b becomes bait b + 1: the places move on by one.
    moved = np.empty_like(catch)
    at = {(r, p): i for i, (r, p) in enumerate(zip(plan.round_, plan.place, strict=True))}
    for (r, p), i in at.items():
        moved[at[r, 3 * (p // 3) + (p + 1) % 3]] = catch[i]
    again = judge_trials(plan, moved).beats
    to = [1, 2, 0]
    assert again[:, to][:, :, to] == pytest.approx(beats, abs=1e-4)


def test_chances_of_a_pair_add_up_to_one_and_none_beats_itself():
    plan = planned_table(n_baits=3, traps=[2, 3], rotates=False)
    catch = simulated_catch(plan, _truths(np.random.default_rng(2), 7, 3), seed=2)
    beats = judge_trials(plan, catch).beats
    assert beats + beats.transpose(0, 2, 1) == pytest.approx(1.0)
    assert (np.diagonal(beats, axis1=1, axis2=2) == 0.5).all()


def test_a_winner_beats_each_other_and_with_the_chance_that_was_asked_for():
    plan = planned_table(n_baits=3, traps=[3, 3], rotates=True)
    catch = simulated_catch(plan, _truths(np.random.default_rng(6), 60, 3), seed=6)
    judged = judge_trials(plan, catch)
    for asked in (0.8, WINNER, 0.995):
        winners = judged.winners(asked)
        for at, winner in enumerate(winners):
            weakest = [np.delete(judged.beats[at, bait], bait).min() for bait in range(3)]
            assert winner == (int(np.argmax(weakest)) if max(weakest) >= asked else -1)
    n_named = [(judged.winners(asked) >= 0).sum() for asked in (0.8, WINNER, 0.995)]
    assert n_named[0] > n_named[1] > n_named[2] > 0


@pytest.mark.parametrize("traps", [[2], [2, 2, 2]], ids=["one round", "three rounds"])
def test_strange_catches_are_judged(traps):
    plan = planned_table(n_baits=2, traps=traps, rotates=True)
    catch = np.zeros((plan.catch.size, 4), dtype=np.int64)
    catch[0, 1] = 5_000
    catch[:, 2] = 3
    catch[plan.bait == 1, 3] = 90_000
    judged = judge_trials(plan, catch)
    assert np.isfinite(judged.beats).all()
    assert np.isfinite(judged.interval_factors()).all()
    assert judged.beats[0, 0, 1] == pytest.approx(0.5, abs=1e-6)
    assert judged.beats[2, 0, 1] == pytest.approx(0.5, abs=1e-6)
    assert judged.winners(WINNER)[:3].tolist() == [-1, -1, -1]
    # Nothing in some traps and 90,000 in others is taken for patchiness before anything else.
    whole = bait_posterior(_own_table(plan, catch[:, 3])).beats
    assert judged.beats[3] == pytest.approx(whole, abs=0.02)


def test_trials_do_not_depend_on_their_company():
    plan = planned_table(n_baits=2, traps=[2, 2], rotates=True)
    catch = simulated_catch(plan, _truths(np.random.default_rng(9), 70, 2), seed=9)
    together = judge_trials(plan, catch).beats
    alone = np.concatenate([judge_trials(plan, catch[:, [at]]).beats for at in (0, 40, 69)])
    # Newton's method stops for all together; how close it comes is what may differ.
    assert together[[0, 40, 69]] == pytest.approx(alone, abs=2e-3)


@pytest.mark.parametrize("n", [1, 2, 3])
def test_the_rule_gives_the_moments_of_a_normal_distribution(n):
    points, weights = _rule(n)
    assert weights.sum() == pytest.approx(1.0)
    assert (weights[:, None] * points).sum(axis=0) == pytest.approx(np.zeros(n), abs=1e-12)
    assert np.einsum("m,mi,mj->ij", weights, points, points) == pytest.approx(np.eye(n))
    assert (weights[:, None] * points**4).sum(axis=0) == pytest.approx(np.full(n, 3.0))
    if n > 1:
        assert (weights * points[:, 0] ** 2 * points[:, 1] ** 2).sum() == pytest.approx(1.0)

"""Weighted draws: what they add up to does not depend on how they were made."""

import numpy as np
import pytest
from scipy import stats

from trapline.science import importance
from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.hyper_proposal import Proposal, proposal_about_mode
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.importance import (
    PER_NODE,
    PER_NODE_PLAIN,
    Sample,
    bait_reach,
    corrected,
    draw_sample,
    normal,
    turned,
)
from trapline.science.latent_modes import find_modes, make_design, recentred

Array = np.ndarray
N = 64


def table_of() -> LiftTable:
    rng = np.random.default_rng(51)
    return lift_table(
        catch=rng.negative_binomial(1.5, 0.25, 24).tolist(),
        soak_h=[24.0] * 24,
        bait=[(i + r) % 3 for r in range(4) for i in range(6)],
        place=list(range(6)) * 4,
        round_=[r for r in range(4) for _ in range(6)],
    )


@pytest.fixture(scope="module")
def made() -> tuple[HyperSpace, Proposal, Sample]:
    table = table_of()
    space = hyper_space(table, make_design(table), INDEPENDENT)
    proposal = proposal_about_mode(space)
    return space, proposal, draw_sample(space, proposal, 0, N)


def nearly_same(one: Sample, other: Sample) -> None:
    """A mode is only found so nearly that it can be drawn about, and not nearer than that."""
    for name in vars(one):
        values = getattr(other, name)
        atol = 0.15 if "log_weights" in name else 0.03
        np.testing.assert_allclose(getattr(one, name), values, atol=atol, rtol=0, err_msg=name)
        assert np.abs(getattr(one, name) - values).mean() < 0.002, name


# --- the set of points ----------------------------------------------------------------------


def test_stretches_join_to_the_whole(made: tuple[HyperSpace, Proposal, Sample]) -> None:
    space, proposal, whole = made
    first, second = draw_sample(space, proposal, 0, 24), draw_sample(space, proposal, 24, N)
    nearly_same(first.joined(second), whole)
    nearly_same(whole.halved(), draw_sample(space, proposal, 0, N // 2))


def test_how_many_nodes_are_solved_at_a_time_changes_next_to_nothing(
    made: tuple[HyperSpace, Proposal, Sample], monkeypatch: pytest.MonkeyPatch
) -> None:
    # Newton's method ends for a whole batch at once, so the last digits of a mode may differ.
    space, proposal, whole = made
    monkeypatch.setattr(importance, "_CHUNK_CELLS", 24 * 10)
    nearly_same(draw_sample(space, proposal, 0, N), whole)


def test_shapes_are_those_that_are_promised(made: tuple[HyperSpace, Proposal, Sample]) -> None:
    space, _, sample = made
    n_outer = space.design.n_outer
    assert sample.z.shape == (3, N)
    assert sample.outer.shape == sample.steps.shape == (n_outer, PER_NODE * N)
    assert sample.plain.shape == (4, PER_NODE_PLAIN * N)
    assert sample.plain_steps.shape == (n_outer, PER_NODE_PLAIN * N)
    for name in ("log_weights", "laplace_log_weights", "log_means", "laplace_log_means"):
        assert getattr(sample, name).shape == (PER_NODE * N,)


# --- what is drawn --------------------------------------------------------------------------


def test_plain_draws_are_normal_about_each_mode(
    made: tuple[HyperSpace, Proposal, Sample],
) -> None:
    space, proposal, sample = made
    hypers = space.hypers(sample.z)
    modes = find_modes(space.design, hypers, proposal.start_at(sample.z), close=1e-9)
    modes = recentred(space.design, hypers, modes)
    baits = sample.plain[:3].reshape(3, N, PER_NODE_PLAIN)
    errors = baits.mean(axis=2) - modes.outer[:3]
    assert np.abs(errors).max() < 0.1
    for node in (0, 17, 60):
        covariance = np.linalg.inv(modes.chol[node] @ modes.chol[node].T)[:3, :3]
        np.testing.assert_allclose(np.cov(baits[:, node]), covariance, atol=0.25 * covariance.max())
    # Where the approximation is standard normal, they are; and all nodes together nearly so.
    assert stats.kstest(sample.plain_steps[0], "norm").statistic < 0.01
    np.testing.assert_allclose(np.cov(sample.plain_steps), np.eye(len(sample.steps)), atol=0.05)


def test_draws_come_from_their_steps(made: tuple[HyperSpace, Proposal, Sample]) -> None:
    space, proposal, sample = made
    hypers = space.hypers(sample.z)
    modes = find_modes(space.design, hypers, proposal.start_at(sample.z), close=1e-9)
    modes = recentred(space.design, hypers, modes)
    for node in (0, 30):
        for draw in range(PER_NODE * node, PER_NODE * (node + 1)):
            away = np.linalg.solve(modes.chol[node].T, sample.steps[:, draw])
            np.testing.assert_allclose(
                sample.outer[:, draw], modes.outer[:, node] + away, atol=0.02
            )


def test_standard_draws_turn_into_the_covariance_of_a_node() -> None:
    rng = np.random.default_rng(4)
    chol = np.tril(rng.normal(size=(2, 3, 3))) + 2 * np.eye(3)
    turn = np.linalg.inv(chol).transpose(0, 2, 1)
    made = turned(turn, rng.normal(size=(3, 40_000)))
    for node, part in enumerate(np.split(made, 2, axis=1)):
        expected = np.linalg.inv(chol[node] @ chol[node].T)
        np.testing.assert_allclose(np.cov(part), expected, atol=0.03 * expected.max())


# --- weights --------------------------------------------------------------------------------


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
def test_weights_by_the_model_are_those_of_its_density(priors: Priors) -> None:
    # Two draws of one node: the log ratio of their weights is that of the model's densities
    # over that of the t distribution which they came from.
    table = table_of()
    space = hyper_space(table, make_design(table), priors)
    proposal = proposal_about_mode(space)
    sample = draw_sample(space, proposal, 0, 8)
    d, reach = space.design.n_outer, bait_reach(space, proposal)
    for node in range(8):
        hypers = space.hypers(sample.z[:, node : node + 1])
        pair = slice(PER_NODE * node, PER_NODE * (node + 1))
        targets = []
        for outer in sample.outer[:, pair].T:
            total = 0.0
            k, sd = hypers.spread[0] ** -2, hypers.inner_sd[0]
            effects = np.linspace(-8 * sd, 8 * sd, 4001)
            logs = outer[table.bait] + outer[3:7][table.round_]
            for place in range(6):
                rows = table.place == place
                mean = np.exp(logs[rows, None] + effects)
                fit = stats.nbinom.logpmf(table.catch[rows, None], k, k / (k + mean)).sum(axis=0)
                fit = fit + stats.norm.logpdf(effects, 0, sd)
                total += fit.max() + np.log(np.trapezoid(np.exp(fit - fit.max()), effects))
            away = outer - hypers.centre[:, 0]
            targets.append(total - away @ hypers.precision[0] @ away / 2)
        # A t distribution, each coordinate as long as it reaches on its side.
        steps = sample.steps[:, pair]
        scaled = steps / np.where(steps < 0, reach[:, :1], reach[:, 1:])
        densities = stats.multivariate_t(np.zeros(d), np.eye(d), df=8).logpdf(scaled.T)
        expected = np.diff(np.array(targets) - densities)
        np.testing.assert_allclose(np.diff(sample.log_weights[pair]), expected, atol=0.02)


def test_weights_add_up_to_one_and_know_their_nodes(
    made: tuple[HyperSpace, Proposal, Sample],
) -> None:
    _, _, sample = made
    found = corrected(sample, 3)
    assert found.weights.sum() == pytest.approx(1.0)
    assert found.plain_weights.sum() == pytest.approx(1.0)
    assert found.logs.shape == (4, found.weights.size)
    assert found.node.shape == found.weights.shape
    assert found.node.max() == N - 1
    np.testing.assert_array_equal(found.logs[:3, : PER_NODE * N], sample.outer[:3])
    np.testing.assert_array_equal(found.node[: PER_NODE * N], np.arange(PER_NODE * N) // PER_NODE)
    np.testing.assert_array_equal(found.logs[:3, -sample.plain.shape[1] :], sample.plain[:3])


def test_a_wrong_approximation_is_put_right_by_the_weights() -> None:
    # The model is normal about 1, the approximation about 0: means and quantiles are the model's.
    rng = np.random.default_rng(6)
    n = 256
    steps = rng.standard_t(8, size=(1, PER_NODE * n))
    plain = rng.normal(size=(1, PER_NODE_PLAIN * n))
    density = stats.t(8).logpdf(steps[0])
    sample = Sample(
        z=rng.normal(size=(1, n)),
        steps=steps,
        outer=steps,
        log_weights=stats.norm(0.7).logpdf(steps[0]) - density,
        laplace_log_weights=stats.norm(0).logpdf(steps[0]) - density,
        log_means=np.full(PER_NODE * n, 0.3),
        laplace_log_means=np.zeros(PER_NODE * n),
        plain_steps=plain,
        plain=np.concatenate([plain, np.zeros_like(plain)]),
        plain_log_weights=np.zeros(PER_NODE_PLAIN * n),
    )
    found = corrected(sample, 1)
    assert found.weights @ found.logs[0] == pytest.approx(0.7, abs=0.03)
    assert found.weights @ found.logs[1] == pytest.approx(0.3, abs=0.01)
    assert found.weights @ (found.logs[0] > 0) == pytest.approx(stats.norm.cdf(0.7), abs=0.01)


def test_logs_of_weights_of_any_size_become_shares() -> None:
    np.testing.assert_allclose(normal(np.array([1e5, 1e5 + np.log(3.0)])), [0.25, 0.75])
    np.testing.assert_allclose(normal(np.array([-1e5, -2e5])), [1.0, 0.0])


# --- how far baits reach ----------------------------------------------------------------------


def test_a_bait_that_caught_nothing_reaches_far_down_and_others_no_less_than_a_normal() -> None:
    table = lift_table(
        catch=[0, 6, 4, 9, 0, 5, 0, 8, 3, 7, 0, 4], soak_h=[24.0] * 12,
        bait=[0, 1, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1], round_=[0] * 6 + [1] * 6,
    )  # fmt: skip
    space = hyper_space(table, make_design(table), INDEPENDENT)
    reach = bait_reach(space, proposal_about_mode(space))
    assert reach.min() == 1.0
    assert reach[0, 0] > 1.15
    assert reach[0, 1] == 1.0
    assert reach[0, 0] > reach[1, 0]
    assert (reach[2:] == 1.0).all()

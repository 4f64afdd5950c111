"""Draws from the model of the baits: Laplace's approximation, and what corrects it.

Three sets of draws stand together. A large one is drawn from Laplace's approximation, which
costs next to nothing. A small one, from t distributions that are wider, is weighed by the
model; a cubic through the logs of those weights weighs the large set too, and the small one
once more, to be taken off again. So the large set gives the smoothness, and the small one only
what the cubic gets wrong: whatever the cubic, the three add up to the model.
"""

from dataclasses import dataclass, fields
from itertools import pairwise

import numpy as np
from scipy.special import ndtri

from trapline.science.bait_model import Floats, Ints
from trapline.science.even_draws import sobol_points, t_draws
from trapline.science.hyper_proposal import Proposal
from trapline.science.hyper_space import HyperSpace
from trapline.science.inner_quadrature import integrate_inner
from trapline.science.latent_modes import find_modes, outer_log_prior, recentred
from trapline.science.mean_effects import curve_of_means, level_logs, outer_mean
from trapline.science.surface_fit import fitted_surfaces

PER_NODE = 2  # draws that are weighed by the model, at each node of the hyperparameters
PER_NODE_PLAIN = 64  # draws of the baits from the approximation
_ROUGH = 0.02  # a mode need only be good enough to draw about
_CHUNK_CELLS = 65_536  # rows times nodes at a time: they stay in the processor's cache
_LEAST_CHUNK = 8
_FAR = (-3.0, -1.0, 1.0, 3.0)  # where the fall to each side of a bait is measured
_FARTHEST_REACH = 3.0
_LEAST_SQUARE = 1e-30


@dataclass(frozen=True, eq=False)
class Sample:
    """H nodes of d hyperparameters, S = PER_NODE * H draws of D columns, and the plain ones.

    Draws stand node by node.

    Attributes
    ----------
    z : ndarray, shape (d, H)
    steps : ndarray, shape (D, S)
        The draws where Laplace's approximation is standard normal.
    outer : ndarray, shape (D, S)
    log_weights, laplace_log_weights : ndarray, shape (S,)
        Weights by the model and by Laplace's approximation.
    log_means, laplace_log_means : ndarray, shape (S,)
        Log of the mean effect of places and rounds, that of the inner factor by quadrature, and
        as a parabola about each node's mode.
    plain_steps : ndarray, shape (D, PER_NODE_PLAIN * H)
    plain : ndarray, shape (J + 1, PER_NODE_PLAIN * H)
        Log rates of the baits and that log mean effect, from the approximation.
    plain_log_weights : ndarray, shape (PER_NODE_PLAIN * H,)
    """

    z: Floats
    steps: Floats
    outer: Floats
    log_weights: Floats
    laplace_log_weights: Floats
    log_means: Floats
    laplace_log_means: Floats
    plain_steps: Floats
    plain: Floats
    plain_log_weights: Floats

    def joined(self, other: "Sample") -> "Sample":
        """Return two stretches of the fixed set of points as one."""
        return _joined([self, other])

    def halved(self) -> "Sample":
        """Return the first half of the nodes."""
        return Sample(*(part[..., : part.shape[-1] // 2] for part in _parts(self)))


def _parts(sample: Sample) -> list[Floats]:
    """Return the arrays of a sample, whose last axes run over nodes or draws."""
    return [getattr(sample, field.name) for field in fields(sample)]


def _joined(samples: list[Sample]) -> Sample:
    parts = zip(*(_parts(sample) for sample in samples), strict=True)
    return Sample(*(np.concatenate(part, axis=-1) for part in parts))


def draw_sample(space: HyperSpace, proposal: Proposal, first: int, last: int) -> Sample:
    """Return the draws on nodes `first` to `last` of the one fixed set of points.

    Parameters
    ----------
    space : HyperSpace
        The model.
    proposal : Proposal
        About what the hyperparameters are drawn.
    first, last : int
        0 or more, in that order.

    References
    ----------
    Importance sampling from t distributions: Geweke (1989), Econometrica 57, 1317-1339;
    control variates in it: Owen and Zhou (2000), J. Am. Stat. Assoc. 95, 135-143 (both from
    memory).
    """
    n_names, n_outer = len(space.names), space.design.n_outer
    nodes = sobol_points(n_names + 1, first, last).T
    # Each set has coordinates of its own: shared ones would be strata of each other.
    draws = sobol_points(n_names + n_outer + 3, PER_NODE * first, PER_NODE * last).T[n_names + 1 :]
    plain = sobol_points(n_outer + 1, 0, PER_NODE_PLAIN).T
    # One even set of plain draws for every node, turned for each: a single long set would give
    # every node all but the same ones, and their error would not average out over the nodes.
    turns = np.random.default_rng(0).random((last, n_outer + 1))[first:].T
    reach = bait_reach(space, proposal)
    chunk = max(_LEAST_CHUNK, _CHUNK_CELLS // space.design.order.size)
    return _joined([
        _drawn(
            space, proposal, reach, nodes[:, begin:end],
            draws[:, PER_NODE * begin : PER_NODE * end],
            _plain_steps(plain, turns[:, begin:end]),
        )
        for begin, end in pairwise([*range(0, last - first, chunk), last - first])
    ])  # fmt: skip


def bait_reach(space: HyperSpace, proposal: Proposal) -> Floats:
    """Return how far each outer column reaches down and up, shape (D, 2), where it is normal.

    A bait of which little was caught has a long tail below, which its prior alone ends: draws
    that do not reach into it would leave it to a few of great weight.
    """
    design, n_baits = space.design, space.table.n_baits
    z = proposal.middle[:, None]
    hypers = space.hypers(z)
    modes = recentred(design, hypers, find_modes(design, hypers, proposal.start_at(z)))
    steps = np.zeros((design.n_outer, 1 + len(_FAR) * n_baits))
    for at, far in enumerate(_FAR):
        columns = 1 + at * n_baits + np.arange(n_baits)
        steps[np.arange(n_baits), columns] = far
    outer = modes.outer + np.linalg.solve(modes.chol[0].T, steps)
    logs = integrate_inner(design, hypers, modes, outer).log_likelihood
    logs += outer_log_prior(hypers.take(np.zeros(outer.shape[1], dtype=np.intp)), outer)
    falls = np.maximum(logs[0] - logs[1:], 1e-3).reshape(len(_FAR), n_baits)
    lengths = np.abs(_FAR)[:, None] / np.sqrt(2 * falls)
    reach = np.ones((design.n_outer, 2))
    reach[:n_baits] = np.stack([lengths[:2].max(axis=0), lengths[2:].max(axis=0)], axis=1)
    return np.asarray(reach.clip(1.0, _FARTHEST_REACH))


def _drawn(
    space: HyperSpace,
    proposal: Proposal,
    reach: Floats,
    nodes: Floats,
    points: Floats,
    plain_steps: Floats,
) -> Sample:
    """Return the draws on so few nodes that the arrays of their rows stay small."""
    design = space.design
    far, log_density = t_draws(nodes, proposal.reach)
    z = proposal.middle[:, None] + proposal.scale @ far
    hypers = space.hypers(z)
    modes = find_modes(design, hypers, proposal.start_at(z), close=_ROUGH)
    modes = recentred(design, hypers, modes)
    turn = np.asarray(np.linalg.inv(modes.chol), dtype=np.float64).transpose(0, 2, 1)
    node_logs = -(z**2).sum(axis=0) / 2 - log_density
    node = np.arange(points.shape[1]) // PER_NODE
    steps, density = t_draws(points[:-1], reach)
    outer = np.repeat(modes.outer, PER_NODE, axis=1) + turned(turn, steps)
    log_dets = np.log(np.diagonal(modes.chol, axis1=1, axis2=2)).sum(axis=1)
    density += log_dets[node]
    inner = integrate_inner(design, hypers, modes, outer, level_logs(space, outer))
    target = inner.log_likelihood + outer_log_prior(hypers.take(node), outer)
    laplace = (log_dets + modes.log_evidence)[node] - (steps**2).sum(axis=0) / 2
    noise, outer_means = ndtri(points[-1]), outer_mean(space, outer)
    curve = curve_of_means(space, modes)
    plain = np.repeat(modes.outer, PER_NODE_PLAIN, axis=1) + turned(turn, plain_steps[:-1])
    plain_means = outer_mean(space, plain) + curve.at(modes, plain)
    plain_means += np.repeat(curve.sd, PER_NODE_PLAIN) * plain_steps[-1]
    return Sample(
        z=z,
        steps=steps,
        outer=outer,
        log_weights=target - density + (modes.count_terms + node_logs)[node],
        laplace_log_weights=laplace - density + node_logs[node],
        log_means=outer_means + inner.log_mean + inner.log_sd * noise,
        laplace_log_means=outer_means + curve.at(modes, outer) + curve.sd[node] * noise,
        plain_steps=plain_steps[:-1],
        plain=np.concatenate([plain[: space.table.n_baits], plain_means[None]]),
        plain_log_weights=np.repeat(modes.log_evidence + node_logs, PER_NODE_PLAIN),
    )


def _plain_steps(plain: Floats, turns: Floats) -> Floats:
    """Return standard normal draws from points (D, n), turned for each node (D, B), (D, n * B)."""
    points = (plain[:, None, :] + turns[:, :, None]).reshape(plain.shape[0], -1)
    points -= np.floor(points)
    return np.asarray(ndtri(points.clip(1e-12, 1 - 1e-12)))


@dataclass(frozen=True, eq=False)
class Corrected:
    """All the draws of a sample with the weights that make them those of the model.

    Attributes
    ----------
    logs : ndarray, shape (J + 1, M)
        Log rates of the baits and log mean effect.
    weights : ndarray, shape (M,)
        They add up to 1; some are below 0.
    node : ndarray of int, shape (M,)
    plain_fit, plain_weights : ndarray, shape (PER_NODE_PLAIN * H,)
        The log of the cubic at the plain draws, which are the last of all, and what they weigh
        by themselves; none is below 0.
    """

    logs: Floats
    weights: Floats
    node: Ints
    plain_fit: Floats
    plain_weights: Floats


def corrected(sample: Sample, n_baits: int) -> Corrected:
    """Return the draws of a sample as the model has them.

    References
    ----------
    Control variates in importance sampling: Owen and Zhou (2000), J. Am. Stat. Assoc. 95,
    135-143 (from memory).
    """
    weights = normal(sample.log_weights)
    (fit, means_fit), (plain_fit, plain_means_fit) = fitted_surfaces(
        sample.z,
        sample.steps,
        np.stack(
            [
                sample.log_weights - sample.laplace_log_weights,
                sample.log_means - sample.laplace_log_means,
            ]
        ),
        normal((sample.log_weights + sample.laplace_log_weights) / 2),
        sample.plain_steps,
    )
    smooth = normal(sample.laplace_log_weights + fit)
    plain = normal(sample.plain_log_weights + plain_fit)
    # The share of the smooth weights that lowers the noise most; 1 where they are exact.
    away, about = weights - weights.mean(), smooth - smooth.mean()
    share = min(max(float(away @ about / max(about @ about, _LEAST_SQUARE)), 0.0), 1.0)
    baits = sample.outer[:n_baits]
    by_model = np.vstack([baits, sample.log_means])
    by_fit = np.vstack([baits, sample.laplace_log_means + means_fit])
    plain_logs = sample.plain.copy()
    plain_logs[-1] += plain_means_fit
    nodes = np.arange(sample.z.shape[1])
    return Corrected(
        logs=np.concatenate([by_model, by_fit, plain_logs], axis=1),
        weights=np.concatenate([weights, -share * smooth, share * plain]),
        node=np.concatenate([np.repeat(nodes, n) for n in (PER_NODE, PER_NODE, PER_NODE_PLAIN)]),
        plain_fit=plain_fit,
        plain_weights=plain,
    )


def normal(log_weights: Floats) -> Floats:
    """Return weights that add up to 1 from their logs."""
    weights = np.exp(log_weights - log_weights.max())
    return np.asarray(weights / weights.sum())


def turned(turn: Floats, steps: Floats) -> Floats:
    """Return standard draws as deviations from each node's mode, shape (D, S)."""
    n_nodes, n_outer = turn.shape[:2]
    by_node = steps.T.reshape(n_nodes, -1, n_outer)
    return np.asarray((by_node @ turn.transpose(0, 2, 1)).reshape(-1, n_outer).T)

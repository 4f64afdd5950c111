"""Where the hyperparameters of the model of the baits lie: mode and curvature of their density."""

from dataclasses import dataclass

import numpy as np

from trapline.science.bait_model import Floats
from trapline.science.hyper_space import HyperSpace
from trapline.science.latent_modes import find_modes

_FIRST_STEP = 0.5  # between points that the curvature is measured from; later one of its own
_FARTHEST = 2.0  # move, in such steps
_MOST_MOVES = 30
_LEAST_BEND = 0.7  # of the prior's own curvature
_FAR = (-2.5, -1.0, 1.0, 2.5)  # where the fall to each side is measured, in standard deviations
_LEAST_WIDTH = 0.02
_WIDER = 1.2  # too narrow a proposal leaves single nodes that outweigh all others


@dataclass(frozen=True, eq=False)
class Proposal:
    """A t distribution of d coordinates about their mode.

    Attributes
    ----------
    middle : ndarray, shape (d,)
    scale : ndarray, shape (d, d)
        Turns standard draws into those about the mode.
    reach : ndarray, shape (d, 2)
        How far each standard coordinate reaches down and up.
    ways : ndarray, shape (D + P, 1 + 4 d)
        Modes of outer and inner columns in the middle, and how they differ from those at each
        knot along each axis.
    """

    middle: Floats
    scale: Floats
    reach: Floats
    ways: Floats
    n_outer: int

    def start_at(self, z: Floats) -> tuple[Floats, Floats]:
        """Return modes to begin from at coordinates (d, B): (D, B) and (P, B)."""
        steps = np.linalg.solve(self.scale, z - self.middle[:, None])
        knots = sorted((0.0, *_FAR))
        # Straight lines from knot to knot, level beyond the last.
        tents = [np.interp(steps, knots, np.equal(knots, far)) for far in _FAR]
        parts = [np.ones((1, steps.shape[1])), *tents]
        both = self.ways @ np.concatenate(parts)
        return both[: self.n_outer], both[self.n_outer :]


def proposal_about_mode(space: HyperSpace) -> Proposal:
    """Return a proposal for the coordinates of a space, by Newton's method on Laplace's evidence.

    Gradient and curvature come from differences over a star of points that are solved in one
    batch, one standard deviation apart as soon as that is known.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392, section 6.5.
    """
    n = len(space.names)
    star = _star(n)
    middle, scale = np.zeros(n), _FIRST_STEP * np.eye(n)
    hypers = space.hypers(middle[:, None])
    start = (hypers.centre, np.zeros((space.design.inner.n_levels, 1)))
    for _ in range(_MOST_MOVES):
        points = middle[:, None] + scale @ star
        modes = find_modes(space.design, space.hypers(points), start, close=0.01)
        start = (modes.outer[:, :1], modes.inner[:, :1])
        logs = modes.log_evidence - (points**2).sum(axis=0) / 2
        slope, bend = _fitted(logs, n)
        # The prior's own curvature is 1; a valley beside it is none of this mode.
        least = _LEAST_BEND * scale.T @ scale
        sizes, turns = np.linalg.eigh(bend - least)
        bend = turns @ np.diag(np.maximum(sizes, 0.0)) @ turns.T + least
        move = np.linalg.solve(bend, slope)
        length = float(np.abs(move).max())
        middle = middle + scale @ move / max(1.0, length / _FARTHEST)
        sizes, turns = np.linalg.eigh(bend)
        factor = np.clip(1.0 / np.sqrt(sizes), 0.25, 4.0)
        scale = scale @ (turns * factor)
        if length < 0.3 and np.abs(np.log(factor)).max() < 0.4:
            break
    return _with_sides(space, middle, scale, start)


def proposal_about_draws(
    space: HyperSpace, proposal: Proposal, z: Floats, weights: Floats
) -> Proposal:
    """Return a proposal with mean and covariance of weighted draws (d, H) from another.

    For densities that are so skew, or so ridged, that mode and curvature say little.

    References
    ----------
    Adaptive importance sampling: Oh and Berger (1992), J. Stat. Comput. Simul. 41, 143-168
    (from memory).
    """
    middle = z @ weights
    away = z - middle[:, None]
    covariance = (away * weights) @ away.T
    sizes, turns = np.linalg.eigh(covariance)
    scale = turns * np.sqrt(np.maximum(sizes, _LEAST_WIDTH**2))
    _, ways = _along_axes(space, middle, scale, proposal.start_at(middle[:, None]))
    reach = np.full((middle.size, 2), _WIDER)
    return Proposal(middle, scale, reach, ways, space.design.n_outer)


def _with_sides(
    space: HyperSpace, middle: Floats, scale: Floats, start: tuple[Floats, Floats]
) -> Proposal:
    """Return a proposal that reaches to both sides of each coordinate as the density falls there.

    References
    ----------
    Split normals: Martins, Simpson, Lindgren and Rue (2013), Comput. Stat. Data Anal. 67,
    68-83, section 3.2 (from memory).
    """
    logs, ways = _along_axes(space, middle, scale, start)
    falls = np.maximum(logs[0] - logs[1:], 1e-3).reshape(-1, middle.size)
    lengths = np.abs(_FAR)[:, None] / np.sqrt(2 * falls)
    sides = np.stack([lengths[:2].max(axis=0), lengths[2:].max(axis=0)], axis=1)
    # No side reaches farther than the prior would.
    widest = np.maximum(1.5 / np.sqrt((scale**2).sum(axis=0)), 1.0)
    reach = np.clip(sides, 0.6, widest[:, None])
    return Proposal(middle, scale, _WIDER * reach, ways, space.design.n_outer)


def _along_axes(
    space: HyperSpace, middle: Floats, scale: Floats, start: tuple[Floats, Floats]
) -> tuple[Floats, Floats]:
    """Return log densities in the middle and at each knot, and the ways of a proposal."""
    n = middle.size
    steps = np.concatenate([np.zeros((1, n)), *(far * np.eye(n) for far in _FAR)])
    points = middle[:, None] + scale @ steps.T
    modes = find_modes(space.design, space.hypers(points), start, close=0.01)
    ways = np.concatenate([modes.outer, modes.inner])
    ways[:, 1:] -= ways[:, :1]
    return modes.log_evidence - (points**2).sum(axis=0) / 2, ways


def _star(n: int) -> Floats:
    """Return the middle, two points along each axis, and one for each pair, shape (n, B)."""
    points = [np.zeros(n)]
    for i in range(n):
        points += [np.eye(n)[i], -np.eye(n)[i]]
    for i in range(n):
        points += [np.eye(n)[i] + np.eye(n)[j] for j in range(i)]
    return np.array(points).T


def _fitted(logs: Floats, n: int) -> tuple[Floats, Floats]:
    """Return slope and negative curvature in the middle of a star of log densities."""
    up, down = logs[1 : 2 * n + 1 : 2], logs[2 : 2 * n + 1 : 2]
    slope = (up - down) / 2
    bend = np.diag(-(up + down - 2 * logs[0]))
    at = 2 * n + 1
    for i in range(n):
        for j in range(i):
            bend[i, j] = bend[j, i] = -(logs[at] - up[i] - up[j] + logs[0])
            at += 1
    return slope, bend

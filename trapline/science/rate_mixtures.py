"""Log rates of baits that are independent given a node: chances and intervals over nodes."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from trapline.science.intervals import Interval, interval_of_masses

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_FINE = 4001  # points of the grid on which mixtures of several grids are inverted


@dataclass(frozen=True, eq=False)
class Mixture:
    """Masses of J baits' log rates on one even grid of G points, at N nodes.

    Attributes
    ----------
    first, step : float
        First log rate of the grid, and from each to the next.
    masses : ndarray, shape (N, J, G)
        Those of one bait at one node add up to 1.
    weights : ndarray, shape (N,)
        Posterior weight of each node; all mixtures of a posterior together add up to 1.
    node : ndarray of int, shape (N,)
        Which pair of spread and exponent each node belongs to.
    """

    first: float
    step: float
    masses: Floats
    weights: Floats
    node: Ints

    @cached_property
    def below(self) -> Floats:
        """Mass below each point: the trapezoid rule and its next (Euler-Maclaurin) term."""
        masses = self.masses
        total = np.cumsum(masses, axis=2)
        total -= masses / 2
        total[:, :, 1:-1] -= (masses[:, :, 2:] - masses[:, :, :-2]) / 24
        return total

    @cached_property
    def _transforms(self) -> NDArray[np.complex128]:
        return np.fft.rfft(self.masses, 2 * self.masses.shape[2], axis=2)

    def mixed(self) -> Floats:
        """Return each bait's masses over all nodes, shape (J, G)."""
        # Not `@`: waking the threads of a linear algebra library takes longer than the sum.
        return np.asarray(np.einsum("n,njg->jg", self.weights, self.masses))

    def beats(self) -> Floats:
        """Return the chance that each bait's rate is above each other's, shape (J, J)."""
        pairs = np.matmul(self.masses, self.below.transpose(0, 2, 1))
        return np.asarray(np.einsum("n,nab->ab", self.weights, pairs))

    def best(self, rivals: Sequence[int]) -> Floats:
        """Return the chance that each rival's rate is the highest, one a rival."""
        below = [self.below[:, bait] for bait in rivals]
        over = [np.ones_like(below[0])]  # products of all before, then of all behind
        for factor in below[:-1]:
            over.append(over[-1] * factor)
        behind = np.ones_like(below[0])
        chances = np.empty(len(rivals))
        for index in reversed(range(len(rivals))):
            masses = self.masses[:, rivals[index]]
            others = over[index] * behind
            chances[index] = self.weights @ np.einsum("ng,ng->n", masses, others)
            behind = behind * below[index]
        return chances

    def ratio_masses(self, bait: int, reference: int) -> tuple[Floats, float]:
        """Return masses of the difference of two log rates on the grid, and its first point."""
        size = self.masses.shape[2]
        over, under = self._transforms[:, bait], self._transforms[:, reference]
        product = (self.weights[:, None] * over * under.conj()).sum(axis=0)
        circular = np.fft.irfft(product, 2 * size)
        masses = np.concatenate([circular[size + 1 :], circular[:size]])
        return np.maximum(masses, 0.0), -(size - 1) * self.step

    def drawn(self, at: Ints, shares: Floats) -> Floats:
        """Return log rates at nodes where each bait's chance below is a share, shape (D, J)."""
        result = np.empty(shares.shape)
        for bait in range(shares.shape[1]):
            reached = np.cumsum(self.masses[:, bait], axis=1)
            reached /= reached[:, -1:]
            wanted, rows = shares[:, bait], reached[at]
            index = np.minimum((rows < wanted[:, None]).sum(axis=1), reached.shape[1] - 1)
            draw = np.arange(at.size)
            before = np.where(index > 0, rows[draw, index - 1], 0.0)
            part = (wanted - before) / (rows[draw, index] - before)
            result[:, bait] = self.first + self.step * (index + part - 0.5)
        return result


def chance_below(masses: Floats, first: float, step: float, points: Floats) -> Floats:
    """Return the mass below points, by cubics through the masses of an even grid.

    Examples
    --------
    >>> grid = np.exp(-(np.linspace(-4, 4, 33) ** 2) / 2) / np.sqrt(2 * np.pi) / 4
    >>> chance_below(grid, -4.0, 0.25, np.array([-9.0, 0.1, 9.0])).round(4)
    array([0.    , 0.5398, 1.    ])
    """
    padded = np.concatenate([[0.0, 0.0], masses, [0.0, 0.0]])
    reached = np.cumsum(padded) - padded / 2
    reached[1:-1] -= (padded[2:] - padded[:-2]) / 24
    place = np.clip((points - first) / step + 2.0, 0.0, padded.size - 1.0)
    left = np.minimum(place.astype(np.int64), padded.size - 2)
    part = place - left
    rise = reached[left + 1] - reached[left]
    start, end = padded[left] - rise, rise - padded[left + 1]
    bend = part * (1 - part) * ((1 - part) * start + part * end)
    below: Floats = np.clip(reached[left] + part * rise + bend, 0.0, 1.0)
    return below


def interval_of_grids(grids: Sequence[tuple[Floats, float, float]]) -> Interval:
    """Return the quantiles, as ratios, of masses on one or more even grids of logs."""
    if len(grids) == 1:
        return interval_of_masses(*grids[0])
    low = min(first for _, first, _ in grids)
    high = max(first + step * masses.size for masses, first, step in grids)
    points = np.linspace(low, high, _FINE)
    reached = np.sum([chance_below(*grid, points) for grid in grids], axis=0)
    reached = np.maximum.accumulate(reached) / reached[-1]
    median, lower, upper = np.exp(np.interp((0.5, 0.025, 0.975), reached, points))
    return Interval(float(median), float(lower), float(upper))

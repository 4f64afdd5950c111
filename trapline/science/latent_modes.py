"""Laplace's approximation of the model of the baits, for many hyperparameters at once.

Given the spreads and the exponent, the log density of baits, rounds and places is concave.
The factor with the most levels ("inner") meets each of its rows once, so its block of the
Hessian is diagonal and is eliminated by a Schur complement; what is left ("outer") is
small. Arrays have the rows, or the levels, first and the batch of B hyperparameters last.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from trapline.science.bait_model import Floats, Ints, LiftTable

_MOST_STEPS = 40
_LARGEST_LOG = 300.0  # exp() of more leaves the range of a double
LEAST_SPREAD = 1e-4  # of 1/sqrt(k); below it counts are Poisson to 1e-8 of their mean


@dataclass(frozen=True, eq=False)
class Group:
    """One factor of the model: the level of each row, shape (n,), and which spread it has."""

    name: str
    levels: Ints
    n_levels: int


@dataclass(frozen=True, eq=False)
class Design:
    """The table as the solver takes it: n rows sorted by inner level, D outer columns.

    Attributes
    ----------
    catch : ndarray, shape (n, 1)
    log_effort, log_fraction : ndarray, shape (n, 1)
    outer : ndarray, shape (n, D)
        0 or 1: baits first, then the levels of each outer group.
    groups : tuple of Group
        The outer groups after the baits, in the order of their columns.
    inner : Group
        The eliminated factor.
    starts : ndarray of int, shape (P,)
        First row of each inner level.
    squares : ndarray, shape (D * D, n)
        Products of outer columns, for the Hessian.
    cells, cell_rows, cell_starts : ndarray of int
        Which (inner level, outer column) cells have rows, and those rows cell by cell.
    order : ndarray of int, shape (n,)
        Row of the table that each row is.
    """

    catch: Floats
    log_effort: Floats
    log_fraction: Floats
    outer: Floats
    groups: tuple[Group, ...]
    inner: Group
    starts: Ints
    squares: Floats
    cells: Ints
    cell_rows: Ints
    cell_starts: Ints
    order: Ints

    @property
    def n_outer(self) -> int:
        """The number of outer columns."""
        return int(self.outer.shape[1])


@dataclass(frozen=True, eq=False)
class Hypers:
    """Values of what is integrated outside, for a batch of B; P inner levels, D columns.

    Attributes
    ----------
    spread, exponent, inner_sd : ndarray, shape (B,)
        1/sqrt(k), the exponent of effort, and the spread of the inner factor.
    centre : ndarray, shape (D, 1)
        Prior mean of the outer columns.
    precision : ndarray, shape (B, D, D)
        Prior precision of the outer columns.
    log_det : ndarray, shape (B,)
        Log of the determinant of that precision.
    """

    spread: Floats
    exponent: Floats
    inner_sd: Floats
    centre: Floats
    precision: Floats
    log_det: Floats

    def take(self, index: NDArray[np.intp]) -> "Hypers":
        """Return some of the batch, in the order of an index."""
        return Hypers(
            self.spread[index], self.exponent[index], self.inner_sd[index], self.centre,
            self.precision[index], self.log_det[index],
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Modes:
    """Laplace's approximation for each of a batch of B.

    Attributes
    ----------
    outer : ndarray, shape (D, B)
    inner : ndarray, shape (P, B)
    chol : ndarray, shape (B, D, D)
        Lower Cholesky factor of the precision of the outer columns, inner ones integrated.
    inner_precision : ndarray, shape (P, B)
        Of each inner level given the outer columns.
    response : ndarray, shape (B, P, D)
        How the mode of each inner level falls as the outer columns grow.
    log_evidence : ndarray, shape (B,)
        Log of the integral over outer and inner, up to a constant.
    count_terms : ndarray, shape (B,)
        The part of it that only the dispersion changes.
    """

    outer: Floats
    inner: Floats
    chol: Floats
    inner_precision: Floats
    response: Floats
    log_evidence: Floats
    count_terms: Floats

    def take(self, index: NDArray[np.intp]) -> "Modes":
        """Return some of the batch, in the order of an index."""
        return Modes(
            self.outer[:, index], self.inner[:, index], self.chol[index],
            self.inner_precision[:, index], self.response[index], self.log_evidence[index],
            self.count_terms[index],
        )  # fmt: skip

    def joined(self, other: "Modes") -> "Modes":
        """Return this batch and another as one."""
        return Modes(
            np.concatenate([self.outer, other.outer], axis=1),
            np.concatenate([self.inner, other.inner], axis=1),
            np.concatenate([self.chol, other.chol]),
            np.concatenate([self.inner_precision, other.inner_precision], axis=1),
            np.concatenate([self.response, other.response]),
            np.concatenate([self.log_evidence, other.log_evidence]),
            np.concatenate([self.count_terms, other.count_terms]),
        )


def make_design(table: LiftTable) -> Design:
    """Return the table as the solver takes it; the table must have an effect beside baits."""
    groups = [
        Group(name, levels, n)
        for has, name, levels, n in (
            (table.has_places, "place", table.place, table.n_places),
            (table.has_rounds, "round", table.round_, table.n_rounds),
            (table.has_trips, "trip", table.trip, table.n_trips),
        )
        if has
    ]
    inner = max(groups, key=lambda group: group.n_levels)
    groups.remove(inner)
    if table.has_trips:
        both = table.bait * table.n_trips + table.trip
        known, levels = np.unique(both, return_inverse=True)
        groups.append(Group("bait by trip", levels.astype(np.int64), known.size))
    order = np.argsort(inner.levels, kind="stable")
    columns = [_one_hot(table.bait, table.n_baits)]
    columns += [_one_hot(group.levels, group.n_levels) for group in groups]
    outer = np.concatenate(columns, axis=1)[order]
    n, n_outer = outer.shape
    levels = inner.levels[order]
    rows, cols = np.nonzero(outer)
    cell = levels[rows] * n_outer + cols
    by_cell = np.argsort(cell, kind="stable")
    cells, cell_starts = np.unique(cell[by_cell], return_index=True)
    return Design(
        catch=table.catch[order].astype(np.float64)[:, None],
        log_effort=table.log_effort[order][:, None],
        log_fraction=table.log_fraction[order][:, None],
        outer=outer,
        groups=tuple(groups),
        inner=Group(inner.name, levels, inner.n_levels),
        starts=np.searchsorted(levels, np.arange(inner.n_levels)).astype(np.int64),
        squares=(outer[:, :, None] * outer[:, None, :]).reshape(n, -1).T.copy(),
        cells=cells.astype(np.int64),
        cell_rows=rows[by_cell].astype(np.int64),
        cell_starts=cell_starts.astype(np.int64),
        order=order.astype(np.int64),
    )


def _one_hot(levels: Ints, n_levels: int) -> Floats:
    return np.asarray(levels[:, None] == np.arange(n_levels), dtype=np.float64)


def find_modes(
    design: Design,
    hypers: Hypers,
    start: tuple[Floats, Floats],
    catch: Floats | None = None,
    *,
    close: float = 1e-3,
) -> Modes:
    """Return Laplace's approximation for each of a batch of B hyperparameters.

    Parameters
    ----------
    design : Design
        The rows.
    hypers : Hypers
        A batch of B.
    start : (outer, inner), shapes (D, 1 or B) and (P, 1 or B)
        Where to begin.
    catch : ndarray, shape (n, B), optional
        Another catch for each of the batch, in the order of the design.
    close : float
        Newton's method ends when no step is longer.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392, section 3.1.
    """
    counts = design.catch if catch is None else catch
    n_batch = hypers.spread.size
    outer = np.tile(start[0], (1, n_batch // start[0].shape[1]))
    inner = np.tile(start[1], (1, n_batch // start[1].shape[1]))
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    offset = hypers.exponent * design.log_effort + design.log_fraction
    inner_weight = 1.0 / hypers.inner_sd**2
    for _ in range(_MOST_STEPS):
        logs = offset + design.outer @ outer + inner[design.inner.levels]
        mean = np.exp(np.minimum(logs, _LARGEST_LOG))
        shrink = 1.0 / (1.0 + variance * mean)
        slope = (counts - mean) * shrink
        bend = mean * (1.0 + variance * counts) * shrink**2
        chol, response, inner_precision = _hessian(design, hypers, bend, inner_weight)
        away = outer - hypers.centre
        outer_slope = design.outer.T @ slope - (hypers.precision @ away.T[:, :, None])[:, :, 0].T
        inner_slope = np.add.reduceat(slope, design.starts, axis=0) - inner * inner_weight
        reduced = (
            outer_slope
            - np.matmul(response.transpose(0, 2, 1), inner_slope.T[:, :, None])[:, :, 0].T
        )
        half = np.linalg.solve(chol, reduced.T[:, :, None])
        outer_step = np.linalg.solve(chol.transpose(0, 2, 1), half)
        inner_step = inner_slope / inner_precision - (response @ outer_step)[:, :, 0].T
        outer_step = outer_step[:, :, 0].T
        longest = max(np.abs(outer_step).max(), np.abs(inner_step).max())
        if longest > 2.0:
            outer_step, inner_step = (np.clip(step, -2.0, 2.0) for step in (outer_step, inner_step))
        outer, inner = outer + outer_step, inner + inner_step
        if longest < close:
            break
    terms = _count_terms(counts, variance)
    log_evidence = (
        _log_density(design, hypers, outer, inner, counts)
        + terms
        - np.log(np.diagonal(chol, axis1=1, axis2=2)).sum(axis=1)
        - np.log(inner_precision).sum(axis=0) / 2
    )
    return Modes(outer, inner, chol, inner_precision, response, log_evidence, terms)


def _hessian(
    design: Design, hypers: Hypers, bend: Floats, inner_weight: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the Cholesky factor of the Schur complement, the response, the inner precision."""
    n_outer, n_batch = design.n_outer, bend.shape[1]
    inner_precision = np.add.reduceat(bend, design.starts, axis=0) + inner_weight
    mixed = np.zeros((design.inner.n_levels * n_outer, n_batch))
    mixed[design.cells] = np.add.reduceat(bend[design.cell_rows], design.cell_starts, axis=0)
    across = mixed.reshape(-1, n_outer, n_batch).transpose(2, 0, 1)
    response = across / inner_precision.T[:, :, None]
    own = (design.squares @ bend).T.reshape(n_batch, n_outer, n_outer) + hypers.precision
    schur = own - across.transpose(0, 2, 1) @ response
    return np.asarray(np.linalg.cholesky(schur)), response, inner_precision


def _log_density(
    design: Design, hypers: Hypers, outer: Floats, inner: Floats, counts: Floats
) -> Floats:
    """Return the log of likelihood times priors at outer and inner, shape (B,)."""
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    logs = hypers.exponent * design.log_effort + design.log_fraction
    logs = logs + design.outer @ outer + inner[design.inner.levels]
    wide = np.log1p(variance * np.exp(np.minimum(logs, _LARGEST_LOG)))
    fit = (counts * logs - (counts + 1.0 / variance) * wide).sum(axis=0)
    n_inner = design.inner.n_levels
    inner_prior = -(inner**2).sum(axis=0) / (2 * hypers.inner_sd**2)
    inner_prior -= n_inner * np.log(hypers.inner_sd)
    return np.asarray(fit + inner_prior + outer_log_prior(hypers, outer))


def outer_log_prior(hypers: Hypers, outer: Floats) -> Floats:
    """Return the log prior density of outer columns, shape (B,), up to a constant."""
    away = (outer - hypers.centre).T[:, :, None]
    square = (away.transpose(0, 2, 1) @ (hypers.precision @ away))[:, 0, 0]
    return np.asarray(hypers.log_det / 2 - square / 2)


def _count_terms(counts: Floats, variance: Floats) -> Floats:
    """Return the part of the log likelihood that only the dispersion changes, shape (B,)."""
    k = 1.0 / variance
    if counts.shape[1] > 1:
        terms = gammaln(counts + k) - gammaln(k) - counts * np.log(k)
        return np.asarray(terms.sum(axis=0))
    values, times = np.unique(counts[:, 0], return_counts=True)
    terms = gammaln(values[:, None] + k) - gammaln(k) - values[:, None] * np.log(k)
    return np.asarray(times @ terms)

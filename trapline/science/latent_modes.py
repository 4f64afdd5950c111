"""Laplace's approximation of the model of the baits, for many hyperparameters at once.

Given the spreads and the exponent, the log density of baits, rounds and places is concave.
The factor with the most levels ("inner") meets each of its rows once, so its block of the
Hessian is diagonal and is eliminated by a Schur complement; what is left ("outer") is
small. Arrays have the rows, or the levels, first and the batch of B hyperparameters last.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.special import gammaln

from trapline.science.bait_model import Floats, Ints, LiftTable

_MOST_STEPS = 60
# Of any log in one go. The density is concave: from anywhere 35 steps were enough, in 3,200
# trials with counts up to a million.
_LONGEST_STEP = 3.0
_FARTHEST = 1.0  # that an outer column moves because its inner levels are skew
_LEAST_SIZE = 1e-13  # of an eigenvalue of the precision, relative to the largest
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
    groups : tuple of Group
        The outer groups after the baits, in the order of their columns.
    inner : Group
        The eliminated factor, P levels.
    n_outer : int
        D: baits first, then the levels of each outer group.
    columns : sparse, shape (n, D)
        1 where a row has a bait or a level.
    effects : sparse, shape (n, D + P)
        The same with the inner levels after them.
    level_sums : sparse, shape (P, n)
        Adds up the rows of each inner level.
    sums : sparse, shape (D + P, n)
        Adds up the rows of each bait or level.
    products : sparse, shape (P + C + U, n)
        Adds up the rows of each inner level, each cell and each pair.
    cells : ndarray of int, shape (C,)
        Inner level * D + outer column of those that share a row.
    pairs : ndarray of int, shape (U, 2)
        Two outer columns that share a row.
    order : ndarray of int, shape (n,)
        Row of the table that each row is.
    """

    catch: Floats
    log_effort: Floats
    log_fraction: Floats
    groups: tuple[Group, ...]
    inner: Group
    n_outer: int
    columns: csr_matrix
    effects: csr_matrix
    level_sums: csr_matrix
    sums: csr_matrix
    products: csr_matrix
    cells: Ints
    pairs: Ints
    order: Ints


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
    levels = inner.levels[order]
    ends = np.cumsum([table.n_baits, *(group.n_levels for group in groups)])
    active = np.stack(
        [table.bait[order]]
        + [first + group.levels[order] for first, group in zip(ends, groups, strict=False)]
    )
    n, n_outer, n_inner = order.size, int(ends[-1]), inner.n_levels
    cells, cell_of = np.unique(levels * n_outer + active, return_inverse=True)
    both = active[:, None, :] * n_outer + active[None, :, :]
    pairs, pair_of = np.unique(both.reshape(-1, n), return_inverse=True)
    known = [levels[None, :], n_inner + cell_of.reshape(-1, n)]
    known.append(n_inner + cells.size + pair_of.reshape(-1, n))
    sums = _adding(np.concatenate([active, n_outer + levels[None, :]]), n_outer + n_inner)
    return Design(
        catch=table.catch[order].astype(np.float64)[:, None],
        log_effort=table.log_effort[order][:, None],
        log_fraction=table.log_fraction[order][:, None],
        groups=tuple(groups),
        inner=Group(inner.name, levels, n_inner),
        n_outer=n_outer,
        columns=_adding(active, n_outer).T.tocsr(),
        effects=sums.T.tocsr(),
        level_sums=_adding(levels[None, :], n_inner),
        sums=sums,
        products=_adding(np.concatenate(known), n_inner + cells.size + pairs.size),
        cells=cells.astype(np.int64),
        pairs=np.stack([pairs // n_outer, pairs % n_outer], axis=1).astype(np.int64),
        order=order.astype(np.int64),
    )


def _adding(targets: Ints, n_targets: int) -> csr_matrix:
    """Return the matrix (n_targets, n) that adds each of n rows to its targets, shape (m, n)."""
    rows = np.broadcast_to(np.arange(targets.shape[1]), targets.shape)
    at = (targets.ravel(), rows.ravel())
    return csr_matrix((np.ones(targets.size), at), shape=(n_targets, targets.shape[1]))


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
    n_batch, n_outer = hypers.spread.size, design.n_outer
    both = np.concatenate([np.tile(part, (1, n_batch // part.shape[1])) for part in start])
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    offset = hypers.exponent * design.log_effort + design.log_fraction
    inner_weight = 1.0 / hypers.inner_sd**2
    for _ in range(_MOST_STEPS):
        mean = np.exp(np.minimum(offset + design.effects @ both, _LARGEST_LOG))
        shrink = 1.0 / (1.0 + variance * mean)
        slope = design.sums @ ((counts - mean) * shrink)
        slope[:n_outer] -= _times(hypers.precision, both[:n_outer] - hypers.centre)
        slope[n_outer:] -= both[n_outer:] * inner_weight
        schur, response, inner_precision = _hessian(
            design, hypers, mean * (1.0 + variance * counts) * shrink**2, inner_weight
        )
        step = _newton_step(schur, response, inner_precision, slope)
        longest = np.abs(step).max(axis=0)
        both = both + step * (_LONGEST_STEP / np.maximum(longest, _LONGEST_STEP))
        if longest.max() < close:
            break
    outer, inner = both[:n_outer], both[n_outer:]
    chol = _factor(schur)
    terms = _count_terms(counts, variance)
    log_evidence = _log_density(design, hypers, both, counts) + terms
    log_evidence -= np.log(np.diagonal(chol, axis1=1, axis2=2)).sum(axis=1)
    log_evidence -= np.log(inner_precision).sum(axis=0) / 2
    return Modes(outer, inner, chol, inner_precision, response, log_evidence, terms)


def recentred(design: Design, hypers: Hypers, modes: Modes) -> Modes:
    """Return an approximation about the mode of the outer columns alone, inner ones integrated.

    Where inner levels have few animals each, their skewness moves it away from the joint mode,
    and the more the more levels there are.

    References
    ----------
    The mode of Laplace's approximation of the marginal, one step of Newton's method from the
    joint mode: Tierney and Kadane (1986), J. Am. Stat. Assoc. 81, 82-86.
    """
    n_outer = design.n_outer
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    logs = hypers.exponent * design.log_effort + design.log_fraction
    logs = logs + design.effects @ np.concatenate([modes.outer, modes.inner])
    mean = np.exp(np.minimum(logs, _LARGEST_LOG))
    shrink = 1.0 / (1.0 + variance * mean)
    # The third derivative of each row, times half the variance of its inner level.
    third = -mean * (1.0 + variance * design.catch) * (1.0 - variance * mean) * shrink**3
    added = design.sums @ (third / (2.0 * modes.inner_precision[design.inner.levels]))
    slope = added[:n_outer] - _times(modes.response.transpose(0, 2, 1), added[n_outer:])
    half = np.linalg.solve(modes.chol, slope.T[:, :, None])
    whole = np.linalg.solve(modes.chol.transpose(0, 2, 1), half)[:, :, 0].T
    step = np.asarray(np.clip(whole, -_FARTHEST, _FARTHEST), dtype=np.float64)
    return replace(
        modes,
        outer=modes.outer + step,
        inner=modes.inner - _times(modes.response, step),
        log_evidence=modes.log_evidence + (slope * step).sum(axis=0) / 2,
    )


def _times(matrices: Floats, columns: Floats) -> Floats:
    """Return each of a batch of matrices (B, E, D) times its column, (D, B) to (E, B)."""
    return np.asarray((matrices @ columns.T[:, :, None])[:, :, 0].T)


def _newton_step(schur: Floats, response: Floats, inner_precision: Floats, slope: Floats) -> Floats:
    """Return the step of all columns to where a parabola has its top, shape (D + P, B)."""
    n_outer = schur.shape[1]
    inner_slope = slope[n_outer:]
    reduced = slope[:n_outer] - _times(response.transpose(0, 2, 1), inner_slope)
    outer_step = np.asarray(np.linalg.solve(schur, reduced.T[:, :, None])[:, :, 0].T, np.float64)
    inner_step = inner_slope / inner_precision - _times(response, outer_step)
    return np.concatenate([outer_step, inner_step])


def _hessian(
    design: Design, hypers: Hypers, bend: Floats, inner_weight: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return the Schur complement of the outer columns, the response, the inner precision."""
    n_outer, n_inner, n_batch = design.n_outer, design.inner.n_levels, bend.shape[1]
    added = design.products @ bend
    inner_precision = added[:n_inner] + inner_weight
    n_cells = design.cells.size
    cells = np.zeros((n_batch, n_inner * n_outer))
    cells[:, design.cells] = added[n_inner : n_inner + n_cells].T
    across = cells.reshape(n_batch, n_inner, n_outer)
    response = across / inner_precision.T[:, :, None]
    schur = hypers.precision.copy()
    schur[:, design.pairs[:, 0], design.pairs[:, 1]] += added[n_inner + n_cells :].T
    schur -= across.transpose(0, 2, 1) @ response
    return schur, response, inner_precision


def _factor(schur: Floats) -> Floats:
    """Return lower Cholesky factors, with a floor under eigenvalues that rounding took below 0."""
    try:
        return np.asarray(np.linalg.cholesky(schur))
    except np.linalg.LinAlgError:
        sizes, turns = np.linalg.eigh((schur + schur.transpose(0, 2, 1)) / 2)
        sizes = np.maximum(sizes, _LEAST_SIZE * sizes[:, -1:])
        mended = (turns * sizes[:, None, :]) @ turns.transpose(0, 2, 1)
        return np.asarray(np.linalg.cholesky(mended))


def _log_density(design: Design, hypers: Hypers, both: Floats, counts: Floats) -> Floats:
    """Return the log of likelihood times priors at outer and inner columns, shape (B,)."""
    variance = np.maximum(hypers.spread, LEAST_SPREAD) ** 2
    logs = hypers.exponent * design.log_effort + design.log_fraction + design.effects @ both
    wide = np.log1p(variance * np.exp(np.minimum(logs, _LARGEST_LOG)))
    fit = (counts * logs - (counts + 1.0 / variance) * wide).sum(axis=0)
    outer, inner = both[: design.n_outer], both[design.n_outer :]
    inner_prior = -(inner**2).sum(axis=0) / (2 * hypers.inner_sd**2)
    inner_prior -= design.inner.n_levels * np.log(hypers.inner_sd)
    return np.asarray(fit + inner_prior + outer_log_prior(hypers, outer))


def outer_log_prior(hypers: Hypers, outer: Floats) -> Floats:
    """Return the log prior density of outer columns, shape (B,), up to a constant."""
    away = outer - hypers.centre
    square = (away * _times(hypers.precision, away)).sum(axis=0)
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

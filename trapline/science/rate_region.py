"""Where the posterior of spread, exponent and log rates is, by Laplace's approximation.

What is found here only places nodes and grids; no answer is made of it.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trapline.science.bait_model import LiftTable, Priors
from trapline.science.rate_grids import Groups, blocks, count_terms, offsets, variances

Floats = NDArray[np.float64]

_N_SHARES: Final = 24
_ENOUGH: Final = 7  # of them within the drop
_MOST_ZOOMS: Final = 12
_EVIDENCE_DROP: Final = 12.0  # log evidence this far below its peak is left off: 6e-6
_EXPONENT_DROP: Final = 8.0  # the same of the exponent at one spread: 3e-4
_DENSITY_DROP: Final = 16.0  # log density of a rate this far below its peak is left off: 1e-7
_LEAST_DROP: Final = 4.0  # the same where the evidence is nearly nothing anyway
_NARROW: Final = 0.05  # of the posterior may have fewer grid steps than the rest
_MOST_STEPS: Final = 60


class Region(NamedTuple):
    """Where the posterior is.

    Attributes
    ----------
    share : tuple of float
        Ends of the spread, as shares of its prior.
    known : ndarray, shape (K,)
        Shares at which the ends of the exponent are known, ascending.
    exponent_low, exponent_high : ndarray, shape (K,)
        Ends of the exponent at those shares.
    rate : tuple of float
        Ends of the log rates of all baits.
    width : float
        Standard deviation of the best known log rate.
    """

    share: tuple[float, float]
    known: Floats
    exponent_low: Floats
    exponent_high: Floats
    rate: tuple[float, float]
    width: float


class _Prior(NamedTuple):
    """Normal priors: of the log rates, (J,), and of the exponent, or None where it is fixed."""

    centres: Floats
    sds: Floats
    exponent: tuple[float, float] | None


class _Peaks(NamedTuple):
    """Peaks of the log density at K pairs of spread and exponent."""

    modes: Floats  # (K, J)
    widths: Floats  # (K, J), standard deviations given the exponent
    lean: Floats  # (K, J), how far a mode moves as the exponent grows by 1
    exponent: Floats  # (K,), at its peak where it has a prior
    exponent_sd: Floats  # (K,)
    evidence: Floats  # (K,), log


def find_region(
    table: LiftTable, groups: Groups, priors: Priors, centres: Floats, sds: Floats
) -> Region:
    """Return where the posterior is.

    Parameters
    ----------
    centres, sds : ndarray, shape (J,)
        Normal priors of the baits' log rates.
    """
    is_free = table.is_exponent_free
    mean = priors.exponent_mean if is_free else 1.0
    prior = _Prior(centres, sds, (mean, priors.exponent_sd) if is_free else None)
    low, high = 0.0, 1.0
    start = None
    for _ in range(_MOST_ZOOMS):
        cell = (high - low) / _N_SHARES
        shares = low + cell * (np.arange(float(_N_SHARES)) + 0.5)
        variance = variances(priors, shares)
        peaks = _laplace(groups, variance, np.full(_N_SHARES, mean), prior, start)
        start = peaks
        evidence = peaks.evidence
        if is_free:
            outside = np.clip(peaks.exponent, priors.exponent_low, priors.exponent_high)
            evidence = evidence - ((outside - peaks.exponent) / peaks.exponent_sd) ** 2 / 2
        kept = np.flatnonzero(evidence > evidence.max() - _EVIDENCE_DROP)
        low = max(0.0, shares[kept[0]] - 1.5 * cell)
        high = min(1.0, shares[kept[-1]] + 1.5 * cell)
        if kept.size >= _ENOUGH:
            break
    ends = _exponent_ends(priors, peaks) if is_free else (np.ones(_N_SHARES),) * 2
    found = [_Peaks(*(values[kept] for values in peaks))]
    pairs = [(variance[kept], found[0])]
    if is_free:
        pairs = [(variance[kept], _moved(groups, variance[kept], end[kept], prior, found[0]))
                 for end in ends]  # fmt: skip
    rate = _reach(groups, pairs, prior, float(evidence.max()))
    width = _least_width(peaks.widths.min(axis=1)[kept], evidence[kept])
    return Region((low, high), shares, *ends, rate, width)


def _laplace(
    groups: Groups, variance: Floats, exponent: Floats, prior: _Prior, start: _Peaks | None
) -> _Peaks:
    """Return the peaks at spreads, and at exponents where those have no prior.

    The log density is concave in rates and exponent, with curvature at least the priors', and
    steps of Newton's method are bounded.
    """
    parts = list(blocks(variance.size, groups.catch.size))
    if len(parts) > 1:
        some = [
            _laplace(groups, variance[part], exponent[part], prior,
                     None if start is None else _Peaks(*(values[part] for values in start)))
            for part in parts
        ]  # fmt: skip
        return _Peaks(*(np.concatenate(values) for values in zip(*some, strict=True)))
    scale, first, effort = variance[:, None], groups.starts, groups.log_effort
    if start is None:
        exposure = np.add.reduceat(groups.rows * np.exp(offsets(groups, exponent)), first, axis=1)
        modes = np.log((groups.totals + 0.5) / exposure)
    else:
        modes = start.modes
        exponent = exponent if prior.exponent is None else start.exponent
    lean, exponent_sd, turn = np.zeros_like(modes), np.zeros_like(exponent), np.zeros(1)
    for _ in range(_MOST_STEPS):
        means = np.exp(offsets(groups, exponent) + modes[:, groups.bait])
        shrink = 1.0 / (1.0 + scale * means)
        pull = (groups.catch - groups.rows * means) * shrink
        bend = means * (groups.rows + scale * groups.catch) * shrink**2
        slope = np.add.reduceat(pull, first, axis=1) - (modes - prior.centres) / prior.sds**2
        curvature = np.add.reduceat(bend, first, axis=1) + prior.sds**-2
        if prior.exponent is not None:
            mean, sd = prior.exponent
            cross = np.add.reduceat(bend * effort, first, axis=1)
            lean = -cross / curvature
            rest = (bend @ effort**2) + sd**-2 + (cross * lean).sum(axis=1)
            exponent_sd = 1.0 / np.sqrt(rest)
            turn = pull @ effort - (exponent - mean) / sd**2 + (lean * slope).sum(axis=1)
            turn = np.clip(turn / rest, -0.5, 0.5)
            exponent = exponent + turn
        step = np.clip(slope / curvature + lean * turn[:, None], -2.0, 2.0)
        modes = modes + step
        if max(np.abs(step).max(), np.abs(turn).max()) < 1e-3:
            break
    widths = 1.0 / np.sqrt(curvature)
    evidence = (_densities(groups, variance, exponent, prior, modes) + np.log(widths)).sum(axis=1)
    evidence += count_terms(groups, variance) + exponent * groups.effort_catch
    if prior.exponent is not None:
        mean, sd = prior.exponent
        evidence += np.log(exponent_sd) - ((exponent - mean) / sd) ** 2 / 2
    return _Peaks(modes, widths, lean, exponent, exponent_sd, evidence)


def _exponent_ends(priors: Priors, peaks: _Peaks) -> tuple[Floats, Floats]:
    """Return the ends of the exponent at each spread, within those of its prior.

    A normal density cut off beyond its peak falls from where it is cut.
    """
    low, high = priors.exponent_low, priors.exponent_high
    ends = []
    for sign, least, most in ((-1.0, low, high), (1.0, high, low)):
        outside = np.maximum(0.0, sign * (most - peaks.exponent)) / peaks.exponent_sd
        reach = peaks.exponent_sd * np.sqrt(outside**2 + 2 * _EXPONENT_DROP)
        ends.append(sign * np.minimum(sign * least, sign * peaks.exponent + reach))
    return ends[0], ends[1]


def _moved(
    groups: Groups, variance: Floats, exponent: Floats, prior: _Prior, peaks: _Peaks
) -> _Peaks:
    """Return the peaks at other exponents."""
    modes = peaks.modes + peaks.lean * (exponent - peaks.exponent)[:, None]
    fixed = _Prior(prior.centres, prior.sds, None)
    moved = _laplace(groups, variance, exponent, fixed, peaks._replace(modes=modes))
    evidence = moved.evidence + np.log(peaks.exponent_sd)
    if prior.exponent is not None:
        mean, sd = prior.exponent
        evidence -= ((exponent - mean) / sd) ** 2 / 2
    return moved._replace(evidence=evidence)


def _densities(
    groups: Groups, variance: Floats, exponent: Floats, prior: _Prior, log_rates: Floats
) -> Floats:
    """Return each bait's log density at one log rate a pair, shape (K, J)."""
    scale = variance[:, None]
    means = np.exp(offsets(groups, exponent) + log_rates[:, groups.bait])
    logs = (groups.catch + groups.rows / scale) * np.log1p(scale * means)
    fit = groups.totals * log_rates - np.add.reduceat(logs, groups.starts, axis=1)
    density: Floats = fit - (log_rates - prior.centres) ** 2 / (2 * prior.sds**2)
    return density


def _reach(
    groups: Groups, pairs: list[tuple[Floats, _Peaks]], prior: _Prior, highest: float
) -> tuple[float, float]:
    """Return the log rates outside which every density is nothing."""
    lows: list[float] = []
    highs: list[float] = []
    for variance, peaks in pairs:
        top = _densities(groups, variance, peaks.exponent, prior, peaks.modes)
        drop = _DENSITY_DROP - (highest - peaks.evidence)
        drop = np.maximum(drop, _LEAST_DROP)[:, None]
        furthest = np.sqrt(2 * drop) * prior.sds  # the curvature is at least the prior's
        for sign, found in ((-1.0, lows), (1.0, highs)):
            reach = np.minimum(np.sqrt(2 * drop) * peaks.widths, furthest)
            for _ in range(_MOST_STEPS):
                far = _densities(
                    groups, variance, peaks.exponent, prior, peaks.modes + sign * reach
                )
                short = (top - far < drop) & (reach < furthest)
                if not short.any():
                    break
                reach = np.where(short, np.minimum(1.4 * reach, furthest), reach)
            found.append(sign * float((sign * peaks.modes + reach).max()))
    return min(lows), max(highs)


def _least_width(widths: Floats, evidence: Floats) -> float:
    """Return the width by which to choose a grid's steps."""
    order = np.argsort(widths)
    reached = np.cumsum(np.exp(evidence[order] - evidence.max()))
    usual = widths[order][np.searchsorted(reached, _NARROW * reached[-1])]
    return float(min(usual, 3.0 * widths.min()))

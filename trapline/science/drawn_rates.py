"""Rates of baits where rounds or places repeat: Laplace's approximation, then re-weighted.

Spreads and exponent are drawn about their mode, baits and the smaller of the repeated
factors given them, both from t distributions with 8 degrees of freedom on a fixed Sobol
set; the larger factor is integrated by Gauss-Hermite quadrature, level by level. Weights of
importance make the draws those of the model itself, and the share of them that is left in
effect says how good the proposal was. The same table gives the same digits.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from trapline.science.bait_model import INDEPENDENT, Floats, LiftTable, Priors
from trapline.science.equal_draws import equal_draws
from trapline.science.hyper_proposal import (
    Proposal,
    proposal_about_draws,
    proposal_about_mode,
)
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.importance import (
    PER_NODE_PLAIN,
    Corrected,
    Sample,
    corrected,
    draw_sample,
    normal,
)
from trapline.science.intervals import Interval, interval_of_many, interval_of_values
from trapline.science.latent_modes import make_design
from trapline.science.posterior import Draws, Spreads

N_FIRST = 256  # nodes of the hyperparameters; twice as many where rows are few, half where many
N_MOST = 2048
FEW_ROWS, MANY_ROWS = 128, 2000
MOVED = 0.005  # a chance of being best that moves less is settled
LEAST_SHARE = 0.3  # of nodes in effect; with fewer they are drawn anew, about what was found
_MOST_MOVES = 3
_MOST_CELLS = 1 << 24  # plain draws times columns that are kept


@dataclass(frozen=True, eq=False)
class DrawnPosterior:
    """What the lifts say about the baits, as weighted draws; see `posterior.BaitPosterior`."""

    table: LiftTable
    space: HyperSpace
    proposal: Proposal
    sample: Sample
    corrected: Corrected

    @property
    def effective_share(self) -> float:
        """Share of the draws that the weights leave in effect (Kish)."""
        weights = normal(self.sample.log_weights)
        return float(1.0 / (weights @ weights) / weights.size)

    @cached_property
    def rates(self) -> tuple[Interval, ...]:
        """Animals per trap and 24 h over the places and rounds fished, bait by bait."""
        logs, weights = self.corrected.logs, self.corrected.weights
        return tuple(
            _exp(interval_of_many(logs[bait] + logs[-1], weights))
            for bait in range(self.table.n_baits)
        )

    @cached_property
    def best(self) -> Floats:
        """Chance of the highest rate among the baits that are no controls, shape (J,)."""
        return _chance_best(self.table, self.corrected)

    @cached_property
    def beats(self) -> Floats:
        """``beats[a, b]``: chance that bait a's rate is above bait b's, shape (J, J)."""
        n_baits = self.table.n_baits
        found = np.full((n_baits, n_baits), 0.5)
        for a in range(n_baits):
            for b in range(a):
                found[a, b] = self.beats_by(a, b, 1.0)
                found[b, a] = 1.0 - found[a, b]
        return found

    @cached_property
    def spreads(self) -> Spreads:
        """How much catches differ beside the baits."""
        at_node = np.zeros(self.sample.z.shape[1])
        np.add.at(at_node, self.corrected.node, self.corrected.weights)

        def interval(name: str) -> Interval | None:
            if name not in self.space.names:
                return None
            return interval_of_values(self.space.values(name, self.sample.z), at_node)

        spread = interval("spread")
        assert spread is not None  # it is always in the model
        return Spreads(
            spread=spread,
            dispersion_k=Interval(spread.median**-2, spread.high**-2, spread.low**-2),
            exponent=interval("exponent"),
            rounds=interval("round"),
            places=interval("place"),
            trips=interval("trip"),
            bait_trips=interval("bait by trip"),
        )

    def ratio(self, bait: int, reference: int) -> Interval:
        """Rate of a bait divided by that of another, over all trips."""
        return _exp(interval_of_many(self._log_ratios(bait, reference), self.corrected.weights))

    def beats_by(self, bait: int, reference: int, factor: float) -> float:
        """Chance that a bait catches more than `factor` times as much as another."""
        if bait == reference:
            return 0.5 if factor == 1.0 else float(factor < 1.0)
        is_above = self._log_ratios(bait, reference) > np.log(factor)
        return _chance(self.corrected.weights[is_above].sum())

    def next_trip(self, bait: int, reference: int) -> float:
        """Chance that a bait beats another on a trip to come, of those like the ones made."""
        sd = np.sqrt(2.0) * self.space.values("bait by trip", self.sample.z)[self.corrected.node]
        above = ndtr(self._log_ratios(bait, reference) / np.maximum(sd, 1e-9))
        return _chance((self.corrected.weights * above).sum())

    def draws(self, n: int) -> Draws:
        """Return n equally weighted draws, the same ones every time."""
        return equal_draws(self.space, self.proposal, self.sample, self.corrected, n)

    def _log_ratios(self, bait: int, reference: int) -> Floats:
        logs = self.corrected.logs
        return np.asarray(logs[bait] - logs[reference])


def drawn_posterior(table: LiftTable, priors: Priors = INDEPENDENT) -> DrawnPosterior:
    """Return what repeated lifts say about each bait's rate, in animals per trap and 24 h.

    Parameters
    ----------
    table : LiftTable
        Counted lifts with an effect of round, place or trip.
    priors : Priors
        Of rates, spreads and exponent.

    Notes
    -----
    256 nodes of the hyperparameters (512 up to 128 rows, 128 from 2,000 rows on), doubled up to
    2,048 until the chance of being best moves less than .005.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392; importance sampling from
    t distributions: Geweke (1989), Econometrica 57, 1317-1339 (from memory).

    Examples
    --------
    >>> from trapline.science.bait_model import lift_table
    >>> table = lift_table([5, 3, 8, 2], [24.0] * 4, [0, 1, 0, 1], round_=[1, 1, 2, 2])
    >>> drawn_posterior(table).beats[0, 1] > 0.8
    np.True_
    """
    design = make_design(table)
    space = hyper_space(table, design, priors)
    proposal = proposal_about_mode(space)
    n = _nodes_at_first(table.catch.size)
    sample = draw_sample(space, proposal, 0, n)
    found = corrected(sample, table.n_baits)
    for _ in range(_MOST_MOVES):
        at_node = found.plain_weights.reshape(n, -1).sum(axis=1)
        if at_node @ at_node < 1.0 / (LEAST_SHARE * n):
            break
        proposal = proposal_about_draws(space, proposal, sample.z, at_node)
        sample = draw_sample(space, proposal, 0, n)
        found = corrected(sample, table.n_baits)
    best = _chance_best(table, found)
    before = _chance_best(table, corrected(sample.halved(), table.n_baits))
    most = min(N_MOST, _MOST_CELLS // (PER_NODE_PLAIN * design.n_outer))
    while 2 * n <= most and np.abs(best - before).max() >= MOVED:
        sample, n = sample.joined(draw_sample(space, proposal, n, 2 * n)), 2 * n
        found = corrected(sample, table.n_baits)
        before, best = best, _chance_best(table, found)
    return DrawnPosterior(table, space, proposal, sample, found)


def _nodes_at_first(n_rows: int) -> int:
    """Return how many nodes are drawn at least: the fewer rows, the wider what is drawn."""
    if n_rows <= FEW_ROWS:
        return 2 * N_FIRST
    return N_FIRST if n_rows < MANY_ROWS else N_FIRST // 2


def _chance_best(table: LiftTable, found: Corrected) -> Floats:
    best = np.zeros(table.n_baits)
    rivals = table.rivals
    if rivals:
        highest = found.logs[rivals].argmax(axis=0)
        chances = np.maximum(np.bincount(highest, found.weights, len(rivals)), 0.0)
        best[rivals] = chances / chances.sum()
    return best


def _chance(share: np.floating) -> float:
    """Return a sum of weights, some of them below 0, as the chance that it estimates."""
    return min(max(float(share), 0.0), 1.0)


def _exp(logs: Interval) -> Interval:
    return Interval(*(float(np.exp(end)) for end in (logs.median, logs.low, logs.high)))

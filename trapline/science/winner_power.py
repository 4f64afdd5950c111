"""Simulated trials of a plan of fishing, judged by the model of the verdict itself."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from trapline.errors import InvalidValue
from trapline.science.bait_model import INDEPENDENT, Floats, Ints, LiftTable, Priors, lift_table
from trapline.science.latent_modes import LEAST_SPREAD
from trapline.science.many_trials import Judged, judge_trials

MOST_ROWS: Final = 20_000  # of one planned trial
_SOAK_H: Final = 24.0  # soaks are equal, so their length is part of the mean catch
_LARGEST_LOG_MEAN: Final = math.log(1e5)


@dataclass(frozen=True, eq=False)
class Truths:
    """What T simulated trials of J baits are made from.

    Attributes
    ----------
    log_means : ndarray, shape (T, J)
        Log of the mean catch of one trap set of each bait, at a typical place and round.
    spread : ndarray, shape (T,)
        1/sqrt(dispersion_k), 0 or more.
    round_sd, place_sd : ndarray, shape (T,)
        Standard deviations of rounds and places on the log scale, 0 or more.
    """

    log_means: Floats
    spread: Floats
    round_sd: Floats
    place_sd: Floats

    def __post_init__(self) -> None:
        """Refuse what is no number, negative, or not one a trial."""
        n_trials = self.spread.size
        for name in ("log_means", "spread", "round_sd", "place_sd"):
            values = getattr(self, name)
            if values.shape[0] != n_trials or not np.isfinite(values).all():
                raise InvalidValue("Not one number for each trial.", name)
            if name != "log_means" and values.min(initial=0.0) < 0:
                raise InvalidValue(f"{values.min():g} is below 0.", name)


def planned_table(*, n_baits: int, traps: Sequence[int], rotates: bool) -> LiftTable:
    """Return a plan of fishing as an empty table: traps of every bait in every round.

    Parameters
    ----------
    n_baits : int
        2 or more.
    traps : sequence of int
        Traps of each bait, 1 or more, round by round; every trap has a place of its own, and
        a round with fewer traps keeps the first places.
    rotates : bool
        Whether every bait moves on by one place each round, within groups of as many places
        as baits; else it stays where it is. Places differ by chance alone in what follows,
        so which of the balanced rotations it is makes no difference.

    Raises
    ------
    InvalidValue
        Fewer than these, no round, or more than 20,000 trap sets.

    Examples
    --------
    >>> table = planned_table(n_baits=2, traps=[1, 1], rotates=True)
    >>> table.bait.tolist(), table.place.tolist(), table.round_.tolist()
    ([0, 0, 1, 1], [0, 1, 1, 0], [0, 1, 0, 1])
    """
    if n_baits < 2:
        raise InvalidValue(f"{n_baits} baits are no comparison.", "n_baits")
    if not traps or min(traps) < 1:
        raise InvalidValue(f"{list(traps)} are not traps of every round.", "traps")
    if n_baits * sum(traps) > MOST_ROWS:
        raise InvalidValue(f"{n_baits * sum(traps)} trap sets are too many.", "traps")
    sizes = n_baits * np.asarray(traps)
    places = np.concatenate([np.arange(size) for size in sizes])
    rounds = np.repeat(np.arange(sizes.size), sizes)
    return lift_table(
        np.zeros(places.size),
        np.full(places.size, _SOAK_H),
        (places + rounds * rotates) % n_baits,
        round_=rounds.tolist(),
        place=places.tolist(),
    )


def simulated_catch(table: LiftTable, truths: Truths, seed: int) -> Ints:
    """Return simulated animals in each trap of each trial, shape (n, T), in the table's order.

    Parameters
    ----------
    table : LiftTable
        The plan, of equal soaks.
    truths : Truths
        Of T trials.
    seed : int
        0 or more; the same seed gives every truth the same luck.

    References
    ----------
    A negative binomial is a Poisson whose mean is gamma: Greenwood and Yule (1920),
    J. R. Stat. Soc. 83, 255-279 (from memory).

    Examples
    --------
    >>> table = planned_table(n_baits=2, traps=[1, 1], rotates=False)
    >>> nothing = Truths(np.full((3, 2), -50.0), np.zeros(3), np.zeros(3), np.zeros(3))
    >>> simulated_catch(table, nothing, seed=1).sum().item()
    0
    """
    rng = np.random.default_rng(seed)
    n_trials = truths.spread.size
    rounds = truths.round_sd * rng.standard_normal((table.n_rounds, n_trials))
    places = truths.place_sd * rng.standard_normal((table.n_places, n_trials))
    k = np.maximum(truths.spread, LEAST_SPREAD) ** -2.0
    patches = rng.gamma(np.broadcast_to(k, (table.catch.size, n_trials))) / k
    logs = truths.log_means.T[table.bait] + rounds[table.round_] + places[table.place]
    return rng.poisson(np.exp(np.minimum(logs, _LARGEST_LOG_MEAN)) * patches)


def one_better(log_mean: Floats, ratio: float, n_baits: int) -> Floats:
    """Return log means, shape (T, J), of which the first is above all others by a ratio.

    Parameters
    ----------
    log_mean : ndarray, shape (T,)
        Log of the mean catch over the baits, which the ratio does not change.
    ratio : float
        Above 0.
    n_baits : int
        2 or more.

    Examples
    --------
    >>> np.exp(one_better(np.log([5.0]), 4.0, 2)).round(6).tolist()
    [[8.0, 2.0]]
    """
    means = np.ones(n_baits)
    means[0] = ratio
    return np.asarray(log_mean[:, None] + np.log(means / means.mean()))


def simulated_trials(
    table: LiftTable, truths: Truths, seed: int, priors: Priors = INDEPENDENT
) -> Judged:
    """Return what the model says of simulated trials of a plan.

    Parameters
    ----------
    table, truths, seed
        As in :func:`simulated_catch`.
    priors : Priors
        That the trials are judged by.

    References
    ----------
    Power by simulation: common practice, no source; the model is `bait_model`.

    Examples
    --------
    >>> table = planned_table(n_baits=2, traps=[6], rotates=False)
    >>> few = np.full(20, 0.1)
    >>> truths = Truths(one_better(np.full(20, 2.0), 9.0, 2), few, few, few)
    >>> bool((simulated_trials(table, truths, seed=1).winners(0.975) == 0).all())
    True
    """
    return judge_trials(table, simulated_catch(table, truths, seed), priors)

"""Simulated trials of a plan of fishing, judged by the model of the verdict itself."""

import math
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


def planned_table(*, n_baits: int, n_traps: int, n_rounds: int, rotates: bool) -> LiftTable:
    """Return a plan of fishing as an empty table: traps of every bait in every round.

    Parameters
    ----------
    n_baits : int
        2 or more.
    n_traps : int
        Traps of each bait in a round, 1 or more; every trap has a place of its own.
    n_rounds : int
        1 or more.
    rotates : bool
        Whether every bait moves on by one place each round, within groups of as many places
        as baits; else it stays where it is. Places differ by chance alone in what follows,
        so which of the balanced rotations it is makes no difference.

    Raises
    ------
    InvalidValue
        Fewer than these, or more than 20,000 trap sets.

    Examples
    --------
    >>> planned_table(n_baits=2, n_traps=1, n_rounds=2, rotates=True).bait.tolist()
    [0, 0, 1, 1]
    """
    for name, value, least in (
        ("n_baits", n_baits, 2), ("n_traps", n_traps, 1), ("n_rounds", n_rounds, 1)
    ):  # fmt: skip
        if value < least:
            raise InvalidValue(f"{name} is {value}; it must be {least} or more.", name)
    n_places = n_baits * n_traps
    if n_places * n_rounds > MOST_ROWS:
        raise InvalidValue(f"{n_places * n_rounds} trap sets are too many.", "n_rounds")
    places = np.tile(np.arange(n_places), n_rounds)
    rounds = np.repeat(np.arange(n_rounds), n_places)
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
    >>> table = planned_table(n_baits=2, n_traps=1, n_rounds=2, rotates=False)
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


def one_better(log_means: Floats, ratio: float, n_baits: int) -> Floats:
    """Return log means, shape (T, J), of which the first is above all others by a ratio.

    Parameters
    ----------
    log_means : ndarray, shape (T,)
        Their mean over the baits, which the ratio does not move.
    ratio : float
        Above 0.
    n_baits : int
        2 or more.

    Examples
    --------
    >>> np.exp(one_better(np.log([6.0]), 4.0, 2)).round(6).tolist()
    [[12.0, 3.0]]
    """
    apart = np.zeros(n_baits)
    apart[0] = math.log(ratio)
    return np.asarray(log_means[:, None] + (apart - apart.mean()))


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
    >>> table = planned_table(n_baits=2, n_traps=6, n_rounds=1, rotates=False)
    >>> few = np.full(20, 0.1)
    >>> truths = Truths(one_better(np.full(20, 2.0), 9.0, 2), few, few, few)
    >>> bool((simulated_trials(table, truths, seed=1).winners(0.975) == 0).all())
    True
    """
    return judge_trials(table, simulated_catch(table, truths, seed), priors)

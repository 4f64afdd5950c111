"""Simulated lifts of one trial, and the truth behind them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tests.studies.study_cells import ROUND_SD, SOAK_H, Cell
from trapline.science.bait_model import MAX_COUNT, LiftTable, Priors, lift_table
from trapline.science.layout import Scheme, draw_layout

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# What is left of a catch in a disturbed trap. Escaped: one animal in ten stays. Stopped:
# the trap fished until a moment that is uniform over its soak. Our choice, no source.
_STAYS = 0.1
_DISTURBED = (0.35, 0.05)  # of the traps of bait 1, and of bait 2
_UNEQUAL_SOAKS_H = (6.0, 72.0)


@dataclass(frozen=True)
class Trial:
    """Lifts, with the true log rate of each bait over the places and rounds fished.

    `apart` holds the parameters of a truth that was drawn from priors.
    """

    table: LiftTable
    log_rates: Floats
    apart: dict[str, float] = field(default_factory=dict)
    priors: Priors | None = None


def catches(rng: Generator, mean: Floats, k: float | Floats) -> Ints:
    """Return negative binomial counts; k may be infinite, or differ from row to row."""
    if np.ndim(k) == 0 and math.isinf(float(k)):
        return rng.poisson(mean)
    return rng.poisson(rng.gamma(np.broadcast_to(k, mean.shape), mean / k))


def true_log_rates(cell: Cell) -> Floats:
    """Return the log rates of a cell in which bait 2 (index 1) is better than the others."""
    rates = np.full(cell.count("baits"), np.log(cell.number("mean")))
    rates[1] += np.log(cell.number("ratio"))
    return rates


def plain_catch(cell: Cell, rng: Generator) -> Ints:
    """Return the catch of each bait's traps in one round, shape (J, n)."""
    means = np.exp(np.repeat(true_log_rates(cell)[:, None], cell.count("traps"), axis=1))
    return catches(rng, means, cell.number("k"))


def plain_trial(catch: Ints, log_rates: Floats) -> Trial:
    """Return one round of equal soaks; `catch` has shape (J, n)."""
    baits = np.repeat(np.arange(catch.shape[0]), catch.shape[1])
    soaks = np.full(catch.size, SOAK_H)
    return Trial(lift_table(catch.ravel(), soaks, baits), log_rates)


def layout(cell: Cell, rng: Generator) -> Ints:
    """Return the bait of each place in each round, shape (rounds, places)."""
    baits = cell.count("baits")
    scheme = Scheme(
        n_places=baits * cell.count("traps"),
        n_baits=baits,
        n_rounds=cell.count("rounds"),
        rotated=cell["plan"] == "rotated",
    )
    return draw_layout(scheme, int(rng.integers(2**31))).rounds.astype(np.int64)


@dataclass(frozen=True)
class Effects:
    """Drawn effects of rounds and places, and the log mean they give each lift."""

    baits: Ints  # (rounds, places)
    rounds: Floats
    places: Floats

    @classmethod
    def draw(cls, cell: Cell, rng: Generator, round_sd: float, place_sd: float) -> "Effects":
        baits = layout(cell, rng)
        rounds = rng.normal(0, round_sd, baits.shape[0])
        return cls(baits, rounds, rng.normal(0, place_sd, baits.shape[1]))

    def log_means(self, log_rates: Floats) -> Floats:
        return log_rates[self.baits] + self.rounds[:, None] + self.places

    def over_what_was_fished(self, log_rates: Floats) -> Floats:
        """Return the log of each rate over the places and rounds fished."""
        means = np.exp(self.rounds).mean() * np.exp(self.places).mean()
        return log_rates + float(np.log(means))

    def table(self, catch: Ints, soaks: Floats, controls: Sequence[int] = ()) -> LiftTable:
        n_rounds, n_places = self.baits.shape
        return lift_table(
            catch.ravel(),
            soaks.ravel(),
            self.baits.ravel(),
            round_=np.repeat(np.arange(n_rounds), n_places).tolist(),
            place=np.tile(np.arange(n_places), n_rounds).tolist(),
            controls=controls,
        )


def effects_trial(cell: Cell, rng: Generator) -> tuple[Trial, Ints]:
    """Return a trial over rounds and places, and its catch by bait, shape (J, n * rounds)."""
    rates = true_log_rates(cell)
    effects = Effects.draw(cell, rng, ROUND_SD, cell.number("place_sd"))
    catch = catches(rng, np.exp(effects.log_means(rates)), cell.number("k"))
    table = effects.table(catch, np.full(catch.shape, SOAK_H))
    by_bait = np.stack([catch[effects.baits == bait] for bait in range(len(rates))])
    return Trial(table, effects.over_what_was_fished(rates)), by_bait


def special_trial(cell: Cell, rng: Generator) -> Trial:
    """Return a trial with a control, with unequal dispersion or with linked disturbance."""
    if cell["kind"] == "control":
        return _with_control(cell, rng)
    rates = true_log_rates(cell)
    means = np.exp(np.repeat(rates[:, None], cell.count("traps"), axis=1))
    if cell["kind"] == "unequal k":
        sizes = np.array([[cell.number("k")], [cell.number("other_k")]])
        return plain_trial(catches(rng, means, sizes), rates)
    return _disturbed(cell, rng, means)


def _with_control(cell: Cell, rng: Generator) -> Trial:
    """Two equal baits and, as index 2, a control."""
    rates = np.log(cell.number("mean") * np.array([1.0, 1.0, cell.number("control")]))
    traps = cell.count("traps")
    baits = np.repeat(np.arange(3), traps)
    catch = catches(rng, np.exp(rates)[baits], cell.number("k"))
    return Trial(lift_table(catch, np.full(baits.size, SOAK_H), baits, controls=[2]), rates)


def _disturbed(cell: Cell, rng: Generator, means: Floats) -> Trial:
    """A third of one bait's traps and few of the other's were disturbed.

    A trial in which a bait keeps no undisturbed trap is drawn again.
    """
    while True:
        disturbed = rng.random(means.shape) < np.array(_DISTURBED)[:, None]
        if not disturbed.all(axis=1).any():
            break
    fished = rng.random(means.shape) if cell["animals"] == "stopped" else np.ones(means.shape)
    catch = catches(rng, means * np.where(disturbed, fished, 1.0), cell.number("k"))
    if cell["animals"] == "escaped":
        catch = np.where(disturbed, rng.binomial(catch, _STAYS), catch)
    baits = np.repeat([[0], [1]], means.shape[1], axis=1)
    rates = np.log(means[:, 0])
    if cell["treatment"] == "left out":
        kept = ~disturbed
        soaks = np.full(int(kept.sum()), SOAK_H)
        return Trial(lift_table(catch[kept], soaks, baits[kept]), rates)
    soaks = np.where(disturbed, SOAK_H / 2, SOAK_H)
    return Trial(lift_table(catch.ravel(), soaks.ravel(), baits.ravel()), rates)


def calibration_trial(cell: Cell, rng: Generator) -> Trial:
    """Return a trial whose truth comes from the priors, about a centre fixed beforehand.

    A table with a count beyond what the program takes is drawn again: a condition on the
    data alone, which leaves posteriors as they are.
    """
    priors = Priors(centre=float(np.log(cell.number("mean"))))
    while True:
        trial = _from_priors(cell, rng, priors)
        if trial is not None:
            return trial


def _from_priors(cell: Cell, rng: Generator, priors: Priors) -> Trial | None:
    baits, traps = cell.count("baits"), cell.count("traps")
    is_control = np.arange(baits) == (baits - 1 if cell["control"] else -1)
    rates = np.log(cell.number("mean")) + np.where(
        is_control,
        priors.control_centre + priors.control_sd * rng.normal(size=baits),
        priors.rate_sd * rng.normal(size=baits),
    )
    truth = {"spread": float(abs(priors.dispersion_scale * rng.standard_cauchy()))}
    if cell["engine"] == "drawn":
        truth["round_sd"] = float(abs(rng.normal(0, priors.round_sd)))
        truth["place_sd"] = float(abs(rng.normal(0, priors.place_sd)))
        effects = Effects.draw(cell, rng, truth["round_sd"], truth["place_sd"])
    else:
        bait_of = np.repeat(np.arange(baits), traps)[None, :]
        effects = Effects(bait_of, np.zeros(1), np.zeros(bait_of.size))
    soaks, log_effort = np.full(effects.baits.shape, SOAK_H), 0.0
    if cell["soaks"] == "unequal":
        truth["exponent"] = _exponent(rng, priors)
        soaks = rng.uniform(*_UNEQUAL_SOAKS_H, size=soaks.shape)
        log_effort = truth["exponent"] * np.log(soaks / SOAK_H)
    means = np.exp(effects.log_means(rates) + log_effort)
    latent = rng.gamma(truth["spread"] ** -2, means * truth["spread"] ** 2)
    if latent.max() > 2 * MAX_COUNT:
        return None
    catch = rng.poisson(latent)
    if catch.max() > MAX_COUNT:
        return None
    table = effects.table(catch, soaks, np.flatnonzero(is_control).tolist())
    return Trial(table, rates, truth, priors)


def _exponent(rng: Generator, priors: Priors) -> float:
    while True:
        exponent = float(rng.normal(priors.exponent_mean, priors.exponent_sd))
        if priors.exponent_low <= exponent <= priors.exponent_high:
            return exponent


def best_trial(cell: Cell, rng: Generator) -> Trial:
    """Return one round with baits whose log rates are normal about one mean."""
    centre = np.log(cell.number("mean"))
    rates = rng.normal(centre, cell.number("spread"), cell.count("baits"))
    means = np.exp(np.repeat(rates[:, None], cell.count("traps"), axis=1))
    return plain_trial(catches(rng, means, cell.number("k")), rates)

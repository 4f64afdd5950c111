"""The model of the baits against the same model in a general-purpose sampler, priors and all.

answers.json holds what numpyro's No-U-Turn sampler found for six tables, with the Monte Carlo
error of each number; tests/reference/hmc/make_answers.py made it, and says how to again.
"""

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.bait_posterior import bait_posterior
from trapline.science.intervals import Interval
from trapline.science.posterior import BaitPosterior

ANSWERS = json.loads(
    (Path(__file__).parents[1] / "reference" / "hmc" / "answers.json").read_text("utf-8")
)["data_sets"]
PRIORS = {"independent": INDEPENDENT, "shrinking": SHRINKING}
CASES = [(name, prior) for name in ANSWERS for prior in PRIORS]
N_DRAWS = 4000


class Tolerance(NamedTuple):
    """What an engine may be out by beside the sampler's own error.

    Of intervals and of single draws in standard deviations of the posterior, for medians and
    for ends: an end of an interval is about three times as hard to find as its middle.
    """

    ratio: tuple[float, float]
    rate: tuple[float, float]
    spread: tuple[float, float]  # and standard deviations and exponent, as they stand
    chance: float
    draws: float


# Grids: a hundredth of a standard deviation, .3 to 1 % of a rate. Draws: four times
# 1/sqrt(4000), as if each were by itself.
EXACT = Tolerance((0.01, 0.01), (0.01, 0.01), (0.01, 0.01), chance=0.002, draws=0.065)
# Draws: the engine takes one stretch of a Sobol' sequence. Of the first eight stretches, for
# these three tables and both priors, the furthest from the sampler were out by .035 and .09
# (ratios), .037 and .144 (rates), .10 and .55 (spreads; their low ends lie near 0), .012
# (chances) and .062 (single draws); the mean of the eight by less than 3 of its errors
# everywhere but in single draws, where it was out by .03 at most.
DRAWN = Tolerance((0.04, 0.1), (0.05, 0.16), (0.12, 0.6), chance=0.013, draws=0.08)


class Compared(NamedTuple):
    what: str
    ours: float
    theirs: float
    error: float  # Monte Carlo standard error of theirs
    tolerance: float

    @property
    def is_apart(self) -> bool:
        return not abs(self.ours - self.theirs) <= 4 * self.error + self.tolerance


@cache
def table_of(name: str) -> LiftTable:
    return lift_table(**ANSWERS[name]["rows"], controls=ANSWERS[name]["controls"])


@cache
def posterior_of(name: str, priors: Priors) -> BaitPosterior:
    return bait_posterior(table_of(name), priors)


def compared(name: str, prior: str, posterior: BaitPosterior) -> list[Compared]:
    """Every number that is taken from a posterior, beside the sampler's."""
    answer = ANSWERS[name][prior]
    tolerance = EXACT if posterior.effective_share is None else DRAWN
    return [
        *_best(answer, posterior, tolerance.chance),
        *_ratios(answer, posterior, tolerance),
        *_rates(answer, posterior, tolerance),
        *_spreads(answer, posterior, tolerance),
        *_draws(answer, posterior, tolerance),
    ]


def _best(answer: dict[str, Any], posterior: BaitPosterior, tolerance: float) -> Iterator[Compared]:
    for bait, theirs in enumerate(answer["best"]):
        yield Compared(f"best {bait}", float(posterior.best[bait]), *theirs, tolerance)
    for pair in answer["pairs"]:
        a, b = pair["baits"]
        yield Compared(f"beats {a} {b}", float(posterior.beats[a, b]), *pair["beats"], tolerance)


def _interval(
    what: str, ours: Interval, theirs: dict[str, Any], tolerance: tuple[float, float], *, logs: bool
) -> Iterator[Compared]:
    for end, allowed in zip(("median", "low", "high"), (*tolerance, tolerance[1]), strict=True):
        value = getattr(ours, end)
        yield Compared(
            f"{what} {end}",
            float(np.log(value)) if logs else value,
            theirs[end][0],
            theirs[end][1],
            allowed * theirs["sd"][0],
        )


def _ratios(
    answer: dict[str, Any], posterior: BaitPosterior, tolerance: Tolerance
) -> Iterator[Compared]:
    for pair in answer["pairs"]:
        a, b = pair["baits"]
        ratio, theirs = posterior.ratio(a, b), pair["log_ratio"]
        yield from _interval(f"ratio {a}/{b}", ratio, theirs, tolerance.ratio, logs=True)
        twice = posterior.beats_by(a, b, 2.0)
        yield Compared(f"beats twice {a} {b}", twice, *pair["beats_twice"], tolerance.chance)


def _rates(
    answer: dict[str, Any], posterior: BaitPosterior, tolerance: Tolerance
) -> Iterator[Compared]:
    for bait, theirs in enumerate(answer["log_rates_24_h"]):
        ours = posterior.rates[bait]
        yield from _interval(f"rate {bait}", ours, theirs, tolerance.rate, logs=True)


def _spreads(
    answer: dict[str, Any], posterior: BaitPosterior, tolerance: Tolerance
) -> Iterator[Compared]:
    for what in ("spread", "exponent", "rounds", "places", "trips", "bait_trips"):
        ours, theirs = getattr(posterior.spreads, what), answer["spreads"].get(what)
        assert (ours is None) == (theirs is None), what
        if ours is not None:
            yield from _interval(what, ours, theirs, tolerance.spread, logs=False)


def _draws(
    answer: dict[str, Any], posterior: BaitPosterior, tolerance: Tolerance
) -> Iterator[Compared]:
    """Means and standard deviations of single draws, in units of the sampler's deviation."""
    draws = posterior.draws(N_DRAWS)
    pairs = [
        *((f"bait {j}", draws.log_rates[:, j], theirs["mean"][0], theirs["sd"][0])
          for j, theirs in enumerate(answer["log_rates"])),
        *((f"row {i}", draws.row_logs[:, i], mean, sd)
          for i, (mean, sd) in enumerate(zip(*answer["row_logs"].values(), strict=True))),
    ]  # fmt: skip
    for what, ours, mean, sd in pairs:
        middle, width = (float(ours.mean()) - mean) / sd, float(ours.std()) / sd
        yield Compared(f"draws of {what}, mean", middle, 0.0, 0.0, tolerance.draws)
        yield Compared(f"draws of {what}, sd", width, 1.0, 0.0, tolerance.draws)


def apart(name: str, prior: str, posterior: BaitPosterior) -> list[Compared]:
    return [pair for pair in compared(name, prior, posterior) if pair.is_apart]


# --- the sampler itself ---------------------------------------------------------------------


@pytest.mark.parametrize(("name", "prior"), CASES)
def test_the_sampler_had_settled(name: str, prior: str) -> None:
    # R-hat below 1.01 and 400 draws in effect: Vehtari et al. (2021), Bayesian Analysis 16,
    # 667-718. Ours are ten times as many, and of 64,000 draws or more a handful diverged.
    answer = ANSWERS[name][prior]
    assert answer["worst_rhat"] < 1.001
    assert min(answer["least_ess_bulk"], answer["least_ess_tail"]) >= 4000
    assert answer["divergences"] <= 5


# --- what is compared -----------------------------------------------------------------------


@pytest.mark.parametrize(("name", "prior"), CASES)
def test_every_number_agrees_with_the_sampler(name: str, prior: str) -> None:
    assert apart(name, prior, posterior_of(name, PRIORS[prior])) == []


def test_both_ways_of_integrating_are_compared() -> None:
    shares = {name: posterior_of(name, INDEPENDENT).effective_share for name in ANSWERS}
    assert {name for name, share in shares.items() if share is None} == {
        "one_round", "unequal_soaks", "sprays",
    }  # fmt: skip


# --- what would be noticed ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "prior", "other", "shows_in"),
    [
        ("one_round", "independent", Priors(rate_sd=2.0), "ratio"),
        ("one_round", "independent", Priors(dispersion_scale=1.0), "spread"),
        ("unequal_soaks", "independent", Priors(control_sd=2.0), "rate 3"),
        ("unequal_soaks", "independent", Priors(control_centre=0.0), "rate 3"),
        ("unequal_soaks", "independent", Priors(exponent_sd=0.4), "exponent"),
        ("one_round", "shrinking", Priors(bait_spread=0.5), "best"),
        ("rotated", "independent", Priors(round_sd=0.5), "rounds"),
        ("left_in_place", "independent", Priors(place_sd=0.5), "places"),
        ("left_in_place", "independent", Priors(exponent_mean=0.6), "exponent"),
        ("rotated", "independent", Priors(dispersion_scale=2.0), "spread"),
        ("rotated", "shrinking", INDEPENDENT, "best"),
        ("two_trips", "independent", Priors(rate_sd=1.0), "ratio"),
        ("two_trips", "independent", Priors(trip_sd=0.5), "trips"),
        ("two_trips", "independent", Priors(bait_trip_sd=1.0), "bait_trips"),
    ],
)
def test_another_prior_would_be_noticed(
    name: str, prior: str, other: Priors, shows_in: str
) -> None:
    found = [pair.what for pair in apart(name, prior, posterior_of(name, other))]
    assert any(what.startswith(shows_in) for what in found), found

"""Does the model fit these lifts, and how much does the answer hang on what it takes as known?"""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from trapline.analyses.bait_verdict import Finding, called, listed, times
from trapline.analyses.compared_baits import ComparedBaits
from trapline.analyses.counted_lifts import CompareOptions, Counted, CountedLifts
from trapline.science.bait_model import INDEPENDENT, Floats, lift_table
from trapline.science.effort import HOURS_PER_DAY
from trapline.science.exact_rates import exact_posterior

_RARE = 0.02  # of catches that the model draws: below it something does not fit
_N_DRAWS = 400
_FEW_ROWS = 4  # of a bait, below which its own patchiness cannot be seen
_SURELY = 0.99  # chance that one is patchier; of several baits the farthest are compared
_ROUGH_SHARE = 0.1  # of draws in effect, below which they say little
_SOAKS_DIFFER = 1.10  # mean soak of one bait over another's
_FAR = 1.645  # standard deviations; one time in twenty on that side
_WIDER = 2.0  # times the prior's standard deviation
_MOVED = math.log(1.25)  # an end of an interval that moves by more hangs on the prior


def model_warnings(
    compared: ComparedBaits, lifts: CountedLifts, options: CompareOptions
) -> tuple[str, ...]:
    """Return what does not fit between the lifts and the model, each in one sentence.

    Parameters
    ----------
    compared : ComparedBaits
        The rows as the model took them, and what it says.
    lifts : CountedLifts
        The rows that count.
    options : CompareOptions
        How catch is taken to grow with soak.

    References
    ----------
    Posterior predictive checks: Gelman, Meng and Stern (1996), Statistica Sinica 6, 733-807
    (from memory).
    """
    return (
        *_about_fit(compared),
        *_about_each_patchiness(compared),
        *_about_growth(compared, options),
        *_about_mean_soaks(lifts),
        *_about_draws(compared),
    )


def prior_words(compared: ComparedBaits, finding: Finding) -> str:
    """Return a sentence where the answer would be another with weaker assumptions; else "".

    Parameters
    ----------
    compared : ComparedBaits
        What was found.
    finding : Finding
        What it comes down to.

    References
    ----------
    Sensitivity to a prior twice as wide; common practice, no source.
    """
    if finding.word not in ("winner", "leads", "no clear difference"):
        return ""
    wide = compared.under(
        replace(
            INDEPENDENT,
            rate_sd=_WIDER * INDEPENDENT.rate_sd,
            control_sd=_WIDER * INDEPENDENT.control_sd,
        )
    )
    now = compared.ratio(finding.bait, finding.runner_up)
    then = wide.ratio(finding.bait, finding.runner_up)
    moves = (abs(math.log(then.low / now.low)), abs(math.log(then.high / now.high)))
    if max(moves) < _MOVED:
        return ""
    return (
        "With so few traps what was assumed beforehand matters: had larger differences between "
        f"baits been taken as likely, {called(finding.bait)} might catch {times(then.low)} to "
        f"{times(then.high)} times as much as {called(finding.runner_up)}."
    )


def _about_fit(compared: ComparedBaits) -> Iterator[str]:
    table = compared.table
    if table.catch.size < 4 or not table.catch.any():
        return
    draws = compared.posterior.draws(_N_DRAWS)
    mean = np.exp(np.minimum(draws.row_logs, 50.0))
    dispersion_k = 1.0 / np.maximum(draws.spread, 1e-4)[:, None] ** 2
    rng = np.random.default_rng(0)
    again = rng.poisson(np.minimum(rng.gamma(dispersion_k, mean / dispersion_k), 1e9))
    sd = np.sqrt(mean + mean**2 / dispersion_k)
    here, there = (table.catch - mean) / sd, (again - mean) / sd
    if (there.max(axis=1) >= here.max(axis=1)).mean() < _RARE:
        yield (
            "One trap holds more than the model can explain: these catches are patchier than it "
            "takes them to be, and the intervals may be too narrow. Check that count."
        )
    elif ((again == 0).sum(axis=1) >= (table.catch == 0).sum()).mean() < _RARE:
        yield (
            "More traps came up empty than the model can explain: these catches are patchier than "
            "it takes them to be, and the intervals may be too narrow."
        )
    elif ((there**2).sum(axis=1) <= (here**2).sum(axis=1)).mean() < _RARE:
        yield (
            "The catches are more alike than chance alone makes them: traps may have been full, "
            "and the intervals are wider than they need be."
        )


def _about_each_patchiness(compared: ComparedBaits) -> Iterator[str]:
    """Warn where one bait's catches are surely patchier than another's, each taken alone."""
    table = compared.table
    spreads: dict[str, Floats] = {}
    for bait, number in compared.numbers.items():
        own = table.bait == number
        if own.sum() < _FEW_ROWS or not table.catch[own].any():
            continue
        hours = np.exp(table.log_effort[own]) * HOURS_PER_DAY
        alone = lift_table(
            table.catch[own],
            hours,
            np.zeros(int(own.sum())),
            fraction=np.exp(table.log_fraction[own]),
            soak="linear",
        )
        spreads[bait] = exact_posterior(alone).draws(_N_DRAWS).spread
    if len(spreads) < 2:
        return
    patchy = max(spreads, key=lambda bait: float(np.median(spreads[bait])))
    even = min(spreads, key=lambda bait: float(np.median(spreads[bait])))
    if (spreads[patchy][:, None] > spreads[even]).mean() > _SURELY:
        yield (
            f"The catches of {called(patchy)} are patchier than those of {called(even)}. One "
            "patchiness is taken for all baits, so the intervals of the patchy one are too "
            "narrow, and a winner among them is less sure than it says."
        )


def _about_growth(compared: ComparedBaits, options: CompareOptions) -> Iterator[str]:
    """Warn where catch does not grow with soak as it is taken to."""
    table = compared.table
    is_unequal = np.ptp(table.log_effort) > 0.2
    if options.soak == "saturating" or not is_unequal or not table.catch.any():
        return
    free = replace(
        INDEPENDENT, exponent_mean=0.5, exponent_sd=5.0, exponent_low=-2.0, exponent_high=3.0
    )
    again = replace_soak(compared, is_exponent_free=True).under(free)
    slope = again.posterior.spreads.exponent
    if slope is None:
        return
    sd = (slope.high - slope.low) / (2 * 1.96)
    assumed, assumed_sd = (1.0, 0.0)
    if options.soak == "power":
        assumed, assumed_sd = INDEPENDENT.exponent_mean, INDEPENDENT.exponent_sd
    if abs(slope.median - assumed) > _FAR * math.hypot(sd, assumed_sd):
        how = "does not grow" if slope.median < assumed else "grows faster"
        yield (
            f"The catch {how} with the soak as assumed: by these lifts twice the soak gives "
            f"{times(2**slope.median)} times the catch ({times(2**slope.low)} to "
            f"{times(2**slope.high)}), where {times(2**assumed)} was expected. Be careful with "
            "rates per 24 h, and with baits that soaked for different times."
        )


def replace_soak(compared: ComparedBaits, *, is_exponent_free: bool) -> ComparedBaits:
    """Return the same rows with the exponent of effort free, or 1."""
    table = replace(compared.table, is_exponent_free=is_exponent_free)
    return replace(compared, table=table)


def _about_mean_soaks(lifts: CountedLifts) -> Iterator[str]:
    baits = [bait for bait in lifts.baits if lifts.of(bait)]
    if len(baits) < 2:
        return
    means = {bait: _mean_soak_h(lifts.of(bait)) for bait in baits}
    if max(means.values()) > _SOAKS_DIFFER * min(means.values()):
        each = listed([f"{called(bait)} {mean:.3g} h" for bait, mean in means.items()])
        yield (
            f"Mean soaks differ between baits by more than 10 % ({each}): the comparison leans on "
            "how catch is taken to grow with soak."
        )


def _mean_soak_h(rows: list[Counted]) -> float:
    return sum(row.soak_h for row in rows) / len(rows)


def _about_draws(compared: ComparedBaits) -> Iterator[str]:
    share = compared.posterior.effective_share
    if share is not None and share < _ROUGH_SHARE:
        yield (
            f"These numbers are rough: only {100 * share:.0f} % of the draws behind them count. "
            "The lifts are few or odd for so many rounds and places."
        )

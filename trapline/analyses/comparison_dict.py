"""A comparison of baits as JSON holds it; the keys are what other programs read."""

import math
from typing import TYPE_CHECKING, Any

from trapline.science.effort import HOURS_PER_DAY
from trapline.science.intervals import Interval
from trapline.science.permutation import PermutationResult

if TYPE_CHECKING:
    from trapline.analyses.bait_comparison import BaitComparison
    from trapline.analyses.comparison_parts import BaitPair, BaitRate, BaitRatio
    from trapline.analyses.design_tests import DesignTests

# What a comparison without any row has under each key that may be empty.
EMPTY: dict[str, Any] = {
    "ratios": None,
    "permutation": None,
    "winner": None,
    "pairs": None,
    "effort": None,
    "design": None,
    "spread": None,
    "settle": None,
}


def comparison_dict(found: "BaitComparison") -> dict[str, Any]:
    """Return the comparison as plain values: no NaN, None for what there is not.

    Parameters
    ----------
    found : BaitComparison
        What was compared.

    References
    ----------
    None: a format of our own.
    """
    pairs, ratios = found.pairs, found.ratios
    return {
        "baits": [_bait(bait) for bait in found.baits],
        "ratios": None if ratios is None else [_ratio(one, found.options.factor) for one in ratios],
        "permutation": _permutation(found.permutation),
        "excluded": [{"row": row.row, "why": row.why} for row in found.excluded],
        "winner": found.winner,
        "verdict": found.verdict,
        "warnings": list(found.warnings),
        "pairs": None if pairs is None else [_pair(pair) for pair in pairs],
        "effort": _effort(found),
        "design": _design(found.tests),
        "spread": _spread(found),
        "settle": None if found.settle is None else found.settle.as_dict(),
    }


def interval_dict(interval: Interval | None) -> dict[str, float | None]:
    """Return a median with its interval; None where it is not known or has no bound."""
    if interval is None:
        return {"median": None, "low": None, "high": None}
    ends = {"median": interval.median, "low": interval.low, "high": interval.high}
    return {name: end if math.isfinite(end) else None for name, end in ends.items()}


def _bait(bait: "BaitRate") -> dict[str, Any]:
    return {
        "bait": bait.bait,
        "n_traps": bait.n_traps,
        "n_counted": bait.n_counted,
        "catch": bait.catch,
        "soak_h": bait.soak_h,
        "rate_per_24h": interval_dict(bait.rate_per_24h),
        "rate_per_trap_night": interval_dict(bait.rate_per_trap_night),
        "chance_best": bait.chance_best,
    }


def _ratio(ratio: "BaitRatio", factor: float) -> dict[str, Any]:
    return {
        "bait": ratio.bait,
        "reference": ratio.reference,
        "ratio": interval_dict(ratio.ratio),
        "beats": ratio.beats,
        "factor": factor,
        "beats_by_factor": ratio.beats_by_factor,
    }


def _pair(pair: "BaitPair") -> dict[str, Any]:
    return {
        "bait": pair.bait,
        "other": pair.other,
        "ratio": interval_dict(pair.ratio),
        "beats": pair.beats,
        "p": pair.p,
        "p_holm": pair.p_holm,
    }


def _permutation(test: PermutationResult | None) -> dict[str, Any] | None:
    if test is None:
        return None
    return {
        "statistic": "kruskal_rate",
        "p": test.p,
        "n_as_extreme": test.n_as_extreme,
        "n_arrangements": test.n_arrangements,
        "exact": test.exact,
        "within": test.within,
        "unit": test.unit,
        "p_min": test.p_min,
    }


def _effort(found: "BaitComparison") -> dict[str, Any] | None:
    """Return how catch was taken to grow with soak, and how long the baits soaked."""
    compared, lifts = found.compared, found.lifts
    if compared is None:
        return None
    hours = [lift.soak_h for lift in lifts.counted]
    exponent = compared.posterior.spreads.exponent
    return {
        "soak": found.options.soak,
        "exponent": None if exponent is None else interval_dict(exponent),
        "saturation_per_h": (
            found.options.saturation_per_h if found.options.soak == "saturating" else None
        ),
        "mean_soak_h": {
            bait: sum(lift.soak_h for lift in lifts.of(bait)) / len(lifts.of(bait))
            for bait in compared.names
        },
        "shortest_soak_h": min(hours),
        "longest_soak_h": max(hours),
        "trap_days": sum(hours) / HOURS_PER_DAY,
    }


def _design(tests: "DesignTests") -> dict[str, Any] | None:
    """Return what was dealt out anew in the tests, and those of each bait against a control."""
    whole, pairs = tests.whole, tests.pairs
    if whole is None:
        return None
    against = None
    if pairs is not None and pairs.against_control is not None:
        against = [
            {"bait": one.bait, "control": one.control, "z": one.z, "p": one.p, "exact": one.exact}
            for one in pairs.against_control
        ]
    return {
        "unit": whole.unit,
        "within": whole.within,
        "p": whole.p,
        "p_min": whole.p_min,
        "error": whole.error,
        "exact": whole.exact,
        "pairs_note": pairs.note if pairs is not None else "",
        "against_control": against,
    }


def _spread(comparison: "BaitComparison") -> dict[str, Any] | None:
    """Return the spreads, and which share of the draws behind them is in effect."""
    spreads, compared = comparison.spreads, comparison.compared
    if spreads is None or compared is None:
        return None
    found = {
        "k": interval_dict(spreads.dispersion_k),
        "nights": spreads.rounds,
        "places": spreads.places,
        "trips": spreads.trips,
        "bait_trips": spreads.bait_trips,
    }
    ends = {
        name: interval_dict(value) if isinstance(value, Interval) else value
        for name, value in found.items()
    }
    return {**ends, "effective_share": compared.posterior.effective_share}

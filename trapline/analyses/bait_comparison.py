"""Which bait catches most, how sure is that, and what would settle it? One table of lifts."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from trapline.analyses.bait_verdict import Evidence, Finding, find, verdict
from trapline.analyses.comparison_warnings import warnings_of
from trapline.analyses.counted_lifts import (
    CompareOptions,
    CountedLifts,
    Excluded,
    Units,
    count_lifts,
    place_keys,
    units_of,
)
from trapline.analyses.lifts import LiftRow, lift_rows
from trapline.errors import InputProblem
from trapline.science.permutation import PermutationResult, permutation_test
from trapline.science.rates import Interval, RatePosterior, rate_posterior

__all__ = [
    "AS_USUAL",
    "BaitComparison",
    "BaitRate",
    "BaitRatio",
    "CompareOptions",
    "LiftRow",
    "SwitchCheck",
    "compare_baits",
    "depends_on",
    "lift_rows",
]

AS_USUAL: Final = CompareOptions()
TestOf = Callable[[CountedLifts], PermutationResult | None]


@dataclass(frozen=True, slots=True)
class BaitRate:
    """One bait: its rows, catch and hours that count, its rate, its chance of being best.

    `rate_per_24h` and `chance_best` are None where no row counts.
    """

    bait: str
    n_traps: int
    n_counted: int
    catch: int
    soak_h: float
    rate_per_24h: Interval | None
    chance_best: float | None


@dataclass(frozen=True, slots=True)
class BaitRatio:
    """How many times as much as the reference a bait catches; None where no row counts."""

    bait: str
    reference: str
    ratio: Interval | None


@dataclass(frozen=True)
class BaitComparison:
    """The answer: numbers for each bait, the rows left out, and the verdict in words.

    `ratios` and `permutation` are None with one bait or without a catch. `finding` is
    what the verdict comes down to; `winner` is its bait when it is a winner.
    """

    baits: tuple[BaitRate, ...]
    ratios: tuple[BaitRatio, ...] | None
    permutation: PermutationResult | None
    excluded: tuple[Excluded, ...]
    finding: Finding
    verdict: str
    warnings: tuple[str, ...]

    @property
    def winner(self) -> str | None:
        """The bait that beats each rival; None when none does."""
        return self.finding.bait if self.finding.word == "winner" else None

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison as JSON holds it: no NaN, None for what there is not."""
        return {
            "baits": [_bait_dict(bait) for bait in self.baits],
            "ratios": None if self.ratios is None else [_ratio_dict(r) for r in self.ratios],
            "permutation": _test_dict(self.permutation),
            "excluded": [{"row": row.row, "why": row.why} for row in self.excluded],
            "winner": self.winner,
            "verdict": self.verdict,
            "warnings": list(self.warnings),
        }


@dataclass(frozen=True, slots=True)
class SwitchCheck:
    """One switch turned over: what would be found, and whether that differs.

    `changes` is None where the switch cannot be turned on these rows.
    """

    switch: str
    finding: Finding | None
    changes: bool | None


def compare_baits(
    rows: Sequence[LiftRow],
    options: CompareOptions = AS_USUAL,
    test_of: TestOf | None = None,
) -> BaitComparison:
    """Return rates per 24 h, ratios, chances and the verdict for one table of lifts.

    Parameters
    ----------
    rows : sequence of LiftRow
        One a trap lifted, all rounds together.
    options : CompareOptions
        The reference bait and what counts.
    test_of : callable, optional
        The test of a drawn layout, from the lifts that count; None where there is no draw.

    Raises
    ------
    InputProblem
        No row at all, or a reference that no row names.

    References
    ----------
    Model: `trapline.science.rates`. Test: `trapline.science.permutation`.

    Examples
    --------
    >>> rows = lift_rows([{"bait": bait, "catch": catch, "soak_h": 24}
    ...                   for bait, catch in [("fish", 9), ("fish", 7), ("liver", 1),
    ...                                       ("liver", 2), ("fish", 8), ("liver", 0)]])
    >>> compare_baits(rows).winner
    'fish'
    """
    lifts = count_lifts(rows, options)
    if not lifts.baits:
        what_to_do = "Count soaks on old bait too." if rows else "Enter at least one lift."
        raise InputProblem("There is no lift to compare.", "", what_to_do)
    reference = _reference(lifts, options)
    units = units_of(lifts.counted)
    known = tuple(bait for bait in lifts.baits if bait in units.baits)
    controls = tuple(bait for bait in known if options.is_control(bait))
    posterior = _posterior(units, known, controls) if known else None
    comparable = len(known) > 1 and sum(units.catches) > 0
    test = _test(lifts, options, test_of) if comparable else None
    evidence = _evidence(lifts, units, known, controls, posterior, test, options)
    finding = find(evidence)
    words = verdict(evidence, finding)
    if options.all_scents_meet:
        from trapline.analyses.plume_check import CHOICE_TEST

        words = f"{words} {CHOICE_TEST}"
    return BaitComparison(
        baits=tuple(_bait_rate(bait, lifts, known, posterior) for bait in lifts.baits),
        ratios=_ratios(lifts, reference, known, evidence) if comparable else None,
        permutation=test,
        excluded=lifts.excluded,
        finding=finding,
        verdict=words,
        warnings=warnings_of(lifts, units, comparable),
    )


def depends_on(
    rows: Sequence[LiftRow],
    options: CompareOptions = AS_USUAL,
    comparison: BaitComparison | None = None,
) -> tuple[SwitchCheck, ...]:
    """Return for each switch whether turning it over would change what is found.

    What is found is the word of the finding and the bait it is about. Whether animals
    that dropped back at the lift count is decided where catches become rows, so that
    switch cannot be turned here.

    Parameters
    ----------
    rows : sequence of LiftRow
        As for `compare_baits`.
    options : CompareOptions
        As they are now.
    comparison : BaitComparison, optional
        What was found with them, where that is known already.

    Raises
    ------
    InputProblem
        As for `compare_baits`.

    References
    ----------
    Leave-one-out sensitivity; common practice, no source.
    """
    as_is = comparison or compare_baits(rows, options)
    now = as_is.finding
    disturbed = any(row.condition == "disturbed" for row in rows)
    out = not options.include_disturbed
    turned = [
        (
            "disturbed traps counted" if out else "disturbed traps left out",
            disturbed,
            replace(options, include_disturbed=out, half_soak_for_disturbed=False),
        ),
        (
            "disturbed traps counted with half their soak",
            disturbed and not (options.include_disturbed and options.half_soak_for_disturbed),
            replace(options, include_disturbed=True, half_soak_for_disturbed=True),
        ),
    ]
    checks = []
    for switch, matters, other in turned:
        # What is found does not rest on the test, which takes the most time: it stays.
        found = compare_baits(rows, other, lambda _: as_is.permutation).finding if matters else now
        same = (found.word, found.bait) == (now.word, now.bait)
        if found.word == now.word == "no clear difference":
            same = True  # which of them is ahead means nothing
        checks.append(SwitchCheck(switch, found, not same))
    return (*checks, SwitchCheck("animals that dropped back left out", None, None))


def _reference(lifts: CountedLifts, options: CompareOptions) -> str:
    if not options.reference:
        controls = [bait for bait in lifts.baits if options.is_control(bait)]
        return (controls or lifts.baits)[0]
    wanted = " ".join(options.reference.split()).casefold()
    for bait in lifts.baits:
        if bait.casefold() == wanted:
            return bait
    raise InputProblem(
        f"No lift has the bait '{options.reference}'.",
        "reference",
        f"Choose one of: {', '.join(lifts.baits)}.",
    )


def _posterior(units: Units, known: Sequence[str], controls: Sequence[str]) -> RatePosterior:
    return rate_posterior(
        units.catches,
        units.exposures_days,
        [known.index(bait) for bait in units.baits],
        controls=[known.index(bait) for bait in controls],
    )


def _test(
    lifts: CountedLifts, options: CompareOptions, test_of: TestOf | None
) -> PermutationResult | None:
    drawn = test_of(lifts) if test_of else None
    if drawn is not None:
        return drawn
    # What has no valid count is still part of what lay on its place, round by round.
    laid = lifts.laid
    places = place_keys([one.row for one in laid])
    if places is None:
        laid = tuple(one for one in laid if one.counted)
        places = place_keys([one.row for one in laid])
    counts = [one.counted for one in laid]
    rates = [math.nan if one is None else one.catch / one.exposure_days for one in counts]
    blocks = [one.row.block for one in laid]
    rounds = [one.row.round for one in laid]
    return permutation_test(
        rates,
        [one.bait for one in laid],
        block=blocks if any(blocks) else None,
        round_=rounds if any(rounds) else None,
        place=places,
        seed=options.seed,
    )


def _evidence(
    lifts: CountedLifts,
    units: Units,
    known: tuple[str, ...],
    controls: tuple[str, ...],
    posterior: RatePosterior | None,
    test: PermutationResult | None,
    options: CompareOptions,
) -> Evidence:
    def beats(bait: str, other: str) -> float:
        assert posterior is not None  # asked only about baits that are known
        return float(posterior.beats[known.index(bait), known.index(other)])

    def ratio(bait: str, other: str) -> Interval:
        assert posterior is not None  # asked only about baits that are known
        return posterior.ratio(known.index(bait), known.index(other))

    return Evidence(
        baits=known,
        controls=controls,
        uncounted=tuple(bait for bait in lifts.baits if bait not in known),
        any_catch=sum(units.catches) > 0,
        beats=beats,
        ratio=ratio,
        n_units={bait: units.number_of(bait) for bait in known},
        permutation=test,
        winner_chance=options.winner_chance,
        summed=units.summed,
        repeated=units.repeated,
        n_rounds=units.n_rounds,
    )


def _bait_rate(
    bait: str, lifts: CountedLifts, known: Sequence[str], posterior: RatePosterior | None
) -> BaitRate:
    rows = lifts.of(bait)
    rate = chance = None
    if posterior is not None and bait in known:
        rate = posterior.rates[known.index(bait)]
        chance = float(posterior.chance_best[known.index(bait)])
    return BaitRate(
        bait=bait,
        n_traps=lifts.n_traps[bait],
        n_counted=len(rows),
        catch=sum(row.catch for row in rows),
        soak_h=sum(row.soak_h for row in rows),
        rate_per_24h=rate,
        chance_best=chance,
    )


def _ratios(
    lifts: CountedLifts, reference: str, known: Sequence[str], evidence: Evidence
) -> tuple[BaitRatio, ...]:
    return tuple(
        BaitRatio(
            bait,
            reference,
            evidence.ratio(bait, reference) if bait in known and reference in known else None,
        )
        for bait in lifts.baits
        if bait != reference
    )


def _interval_dict(interval: Interval | None) -> dict[str, float | None]:
    if interval is None:
        return {"median": None, "low": None, "high": None}
    return {"median": interval.median, "low": interval.low, "high": interval.high}


def _bait_dict(bait: BaitRate) -> dict[str, Any]:
    return {
        "bait": bait.bait,
        "n_traps": bait.n_traps,
        "n_counted": bait.n_counted,
        "catch": bait.catch,
        "soak_h": bait.soak_h,
        "rate_per_24h": _interval_dict(bait.rate_per_24h),
        "chance_best": bait.chance_best,
    }


def _ratio_dict(ratio: BaitRatio) -> dict[str, Any]:
    return {
        "bait": ratio.bait,
        "reference": ratio.reference,
        "ratio": _interval_dict(ratio.ratio),
    }


def _test_dict(test: PermutationResult | None) -> dict[str, Any] | None:
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

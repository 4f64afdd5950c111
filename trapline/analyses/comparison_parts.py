"""The numbers of a comparison: each bait, each ratio to the reference, each pair."""

from dataclasses import dataclass

from trapline.analyses.compared_baits import ComparedBaits
from trapline.analyses.counted_lifts import CompareOptions, CountedLifts
from trapline.analyses.design_tests import DesignTests
from trapline.science.bait_model import relative_effort
from trapline.science.intervals import Interval


@dataclass(frozen=True, slots=True)
class BaitRate:
    """One bait: its rows, catch and hours that count, its rate, its chance of being best.

    `rate_per_24h`, `rate_per_trap_night` (a trap for the mean soak of all lifts) and
    `chance_best` are None where no row counts.
    """

    bait: str
    n_traps: int
    n_counted: int
    catch: int
    soak_h: float
    rate_per_24h: Interval | None
    rate_per_trap_night: Interval | None
    chance_best: float | None


@dataclass(frozen=True, slots=True)
class BaitRatio:
    """How many times as much as the reference a bait catches; None where no row counts.

    `beats` is the chance that it catches more, `beats_by_factor` that it catches more than
    the factor asked for.
    """

    bait: str
    reference: str
    ratio: Interval | None
    beats: float | None
    beats_by_factor: float | None


@dataclass(frozen=True, slots=True)
class BaitPair:
    """Two baits: the ratio of the first to the second, the chance that it catches more.

    `p` is of the test of their rows alone and `p_holm` corrected for the number of pairs;
    None where they were not tested, or no pair can fall below 0.05.
    """

    bait: str
    other: str
    ratio: Interval
    beats: float
    p: float | None
    p_holm: float | None


def bait_rates(
    lifts: CountedLifts, compared: ComparedBaits | None, options: CompareOptions
) -> tuple[BaitRate, ...]:
    """Return each bait's rows, catch, hours, rate and chance of being best, in order.

    References
    ----------
    `trapline.science.bait_model`.
    """
    chances = compared.chances_of_best() if compared else {}
    found = []
    for bait in lifts.baits:
        rows = lifts.of(bait)
        rate = compared.rate(bait) if compared and bait in compared.names else None
        found.append(
            BaitRate(
                bait=bait,
                n_traps=lifts.n_traps[bait],
                n_counted=len(rows),
                catch=sum(row.catch for row in rows),
                soak_h=sum(row.soak_h for row in rows),
                rate_per_24h=rate,
                rate_per_trap_night=_per_trap_night(rate, lifts, compared, options),
                chance_best=chances.get(bait),
            )
        )
    return tuple(found)


def _per_trap_night(
    rate: Interval | None,
    lifts: CountedLifts,
    compared: ComparedBaits | None,
    options: CompareOptions,
) -> Interval | None:
    """Return the rate of one trap left for the mean soak of all lifts that count."""
    if rate is None or compared is None:
        return None
    mean_h = sum(lift.soak_h for lift in lifts.counted) / len(lifts.counted)
    exponent = compared.posterior.spreads.exponent
    effort = float(relative_effort(mean_h, options.soak, options.saturation_per_h))
    factor = effort ** (exponent.median if exponent else 1.0)
    return Interval(rate.median * factor, rate.low * factor, rate.high * factor)


def bait_ratios(
    lifts: CountedLifts,
    reference: str,
    compared: ComparedBaits | None,
    options: CompareOptions,
) -> tuple[BaitRatio, ...]:
    """Return the ratio of each bait to the reference, with its chances.

    References
    ----------
    `trapline.science.bait_model`.
    """
    found = []
    for bait in lifts.baits:
        if bait == reference:
            continue
        if compared is None or not {bait, reference} <= set(compared.names):
            found.append(BaitRatio(bait, reference, None, None, None))
            continue
        found.append(
            BaitRatio(
                bait,
                reference,
                compared.ratio(bait, reference),
                compared.beats(bait, reference),
                compared.beats_by(bait, reference, options.factor),
            )
        )
    return tuple(found)


def bait_pairs(compared: ComparedBaits, tests: DesignTests) -> tuple[BaitPair, ...]:
    """Return every two baits with their ratio, chance and test.

    References
    ----------
    `trapline.science.bait_model`.
    """
    found = []
    for number, bait in enumerate(compared.names):
        for other in compared.names[number + 1 :]:
            test = tests.pairs.of(bait, other) if tests.pairs else None
            found.append(
                BaitPair(
                    bait=bait,
                    other=other,
                    ratio=compared.ratio(bait, other),
                    beats=compared.beats(bait, other),
                    p=test.p if test else None,
                    p_holm=test.p_holm if test else None,
                )
            )
    return tuple(found)

"""A comparison of baits in words and cells: the same on the screen, on paper and in a terminal."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from trapline.analyses.bait_verdict import Finding, called, p, sentence_case, verdict_in_two
from trapline.analyses.trip_comparison import LeftOut, TripComparison
from trapline.science.intervals import Interval
from trapline.science.permutation import PermutationResult

PRIORS: Final = (
    "Rates, ratios and the verdict take each bait by itself (independent prior). The chance of "
    "being best takes baits as alike until the lifts say otherwise (shrinking prior)."
)


@dataclass(frozen=True, slots=True)
class BaitLine:
    """One bait as a row of cells; a dash where there is nothing to say."""

    bait: str
    n_sets: str
    n_counted: str
    catch: str
    soak_h: str
    rate: str
    ratio: str
    beats_by_factor: str
    chance_best: str
    disturbed: str


def bait_lines(found: TripComparison) -> tuple[BaitLine, ...]:
    """Return the table of baits as texts, in the order of the comparison.

    Parameters
    ----------
    found : TripComparison
        What was compared.

    References
    ----------
    None: words.
    """
    comparison = found.comparison
    if comparison is None:
        return ()
    ratios = {row.bait: row.ratio for row in comparison.ratios or ()}
    chances = {row.bait: row.beats_by_factor for row in comparison.ratios or ()}
    shares = {row.bait: row for row in found.disturbed}
    lines = []
    for bait in comparison.baits:
        is_reference = bool(comparison.ratios) and bait.bait not in ratios
        share = shares.get(bait.bait)
        lines.append(
            BaitLine(
                bait=bait.bait,
                n_sets=str(bait.n_traps),
                n_counted=str(bait.n_counted),
                catch=str(bait.catch) if bait.n_counted else "–",
                soak_h=f"{bait.soak_h:.1f}" if bait.n_counted else "–",
                rate=interval_text(bait.rate_per_24h),
                ratio="reference" if is_reference else interval_text(ratios.get(bait.bait)),
                beats_by_factor=chance_text(chances.get(bait.bait)),
                chance_best=chance_text(comparison.chance_best(bait)),
                disturbed=f"{share.n_disturbed} of {share.n_lifted}" if share else "–",
            )
        )
    return tuple(lines)


def interval_text(interval: Interval | None) -> str:
    """Return a median with its 95 % interval, in the interval's own unit.

    Parameters
    ----------
    interval : Interval or None
        None gives a dash.

    References
    ----------
    None: words.

    Examples
    --------
    >>> interval_text(Interval(4.81, 1.97, 15.2))
    '4.8 (2.0 to 15)'
    """
    if interval is None:
        return "–"
    return f"{_two(interval.median)} ({_two(interval.low)} to {_two(interval.high)})"


def _two(value: float) -> str:
    """Return a number with two digits that matter, or all before the point."""
    return f"{value:.0f}" if value >= 9.95 else f"{value:#.2g}" if value >= 0.01 else "under 0.01"


def chance_text(chance: float | None) -> str:
    """Return a chance, 0 to 1, in percent; never as certain.

    Parameters
    ----------
    chance : float or None
        None gives a dash.

    References
    ----------
    None: words.

    Examples
    --------
    >>> chance_text(0.9991), chance_text(0.42), chance_text(0.001)
    ('over 99 %', '42 %', 'under 1 %')
    """
    if chance is None:
        return "–"
    if chance > 0.995:
        return "over 99 %"
    return "under 1 %" if chance < 0.005 else f"{100 * chance:.0f} %"


def finding_title(finding: Finding | None) -> str:
    """Return what was found in a few words, for a headline.

    Parameters
    ----------
    finding : Finding or None
        None where there is nothing to compare.

    References
    ----------
    None: words.

    Examples
    --------
    >>> finding_title(Finding("leads", "fish", "liver", 0.9))
    'Fish leads, not settled'
    """
    if finding is None:
        return "Nothing to compare yet"
    if finding.word == "winner":
        return f"{sentence_case(called(finding.bait))} is the winner"
    if finding.word == "leads":
        return f"{sentence_case(called(finding.bait))} leads, not settled"
    if finding.word == "no other bait":
        return "Only one bait to look at"
    return sentence_case(finding.word)


def words_in_two(found: TripComparison) -> tuple[str, str]:
    """Return the verdict of a comparison in short, and the rest of it.

    Parameters
    ----------
    found : TripComparison
        What was compared.

    References
    ----------
    `trapline.analyses.bait_verdict`.
    """
    comparison = found.comparison
    if comparison is None:
        return found.problem, ""
    short, rest = verdict_in_two(comparison.evidence, comparison.finding)
    if comparison.options.all_scents_meet:
        from trapline.analyses.plume_check import CHOICE_TEST

        short = f"{short} {CHOICE_TEST}"
    return short, rest


def permutation_words(test: PermutationResult | None) -> str:
    """Return the test that stands beside the verdict, in one line; empty without one.

    Parameters
    ----------
    test : PermutationResult or None
        The exact or drawn permutation test.

    References
    ----------
    Wasserstein & Lazar (2016), Am. Stat. 70, 129-133: p-values without a threshold.

    Examples
    --------
    >>> permutation_words(PermutationResult(
    ...     5.4, 0.0312, 623, 20_000, False, None, "design", 0.0001, error=0.00123))
    'Test by random deals, the fair order drawn again from the same layouts: 623 of 20,000 differ \
as much, p = 0.031, give or take 0.0012.'
    """
    if test is None:
        return ""
    least = f" (the smallest possible here is {test.p_min:.2g})" if test.p_min >= 0.001 else ""
    give = f", give or take {test.error:.2g}" if test.error >= 0.0005 else ""
    return (
        f"{_dealing(test)}: {test.n_as_extreme:,} of {test.n_arrangements:,} differ as much,"
        f" {p(test.p)}{give}{least}."
    )


def _dealing(test: PermutationResult) -> str:
    within = f" within each {test.within.replace('×', ' and ')}" if test.within else ""
    dealt = {
        "trap": f"the baits of traps dealt out again{within}",
        "place": f"whole bait histories of places dealt out again{within}",
        "design": "the fair order drawn again from the same layouts",
    }.get(test.unit, f"baits dealt out again{within}")
    return f"{'Exact test' if test.exact else 'Test by random deals'}, {dealt}"


def dealt_words(test: PermutationResult | None) -> str:
    """Return in one line what the test beside the verdict deals out again; empty without one.

    Parameters
    ----------
    test : PermutationResult or None
        The exact or drawn permutation test.

    References
    ----------
    As for `permutation_words`, which has the numbers too.

    Examples
    --------
    >>> dealt_words(PermutationResult(
    ...     5.4, 0.0312, 623, 20_000, False, None, "design", 0.0001, error=0.00123))
    'Test by random deals, the fair order drawn again from the same layouts; p give or take 0.0012.'
    """
    if test is None:
        return ""
    said = [_dealing(test)]
    if test.error >= 0.0005:
        said.append(f"p give or take {test.error:.2g}")
    if test.p_min >= 0.001:
        said.append(f"the smallest p possible is {test.p_min:.2g}")
    return f"{'; '.join(said)}."


def left_out_texts(left_out: Sequence[LeftOut]) -> tuple[str, ...]:
    """Return one line a reason, with the traps that it is about.

    Parameters
    ----------
    left_out : sequence of LeftOut
        Trap sets that do not count.

    References
    ----------
    None: words.

    Examples
    --------
    >>> left_out_texts([LeftOut("P3, round 1", "fish", "not counted")])
    ('1 not counted: P3, round 1 (fish).',)
    """
    by_reason: dict[str, list[LeftOut]] = {}
    for one in left_out:
        by_reason.setdefault(one.why, []).append(one)
    return tuple(
        f"{len(rows)} {why.replace(':', ',')}: "
        f"{', '.join(f'{one.label} ({one.bait})' for one in rows)}."
        for why, rows in by_reason.items()
    )

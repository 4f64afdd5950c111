"""Every two baits as cells, and how much catches differ beside the baits, in plain words."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from trapline.analyses.bait_comparison import BaitComparison
from trapline.analyses.bait_verdict import called, listed
from trapline.analyses.comparison_words import chance_text, interval_text
from trapline.science.exact_intervals import share_limits
from trapline.science.intervals import Interval
from trapline.science.posterior import Spreads

_FAR: Final = 100.0  # a number as good as without a bound
_WAITED_FOR: Final = "The test of every pair has not been made yet."


@dataclass(frozen=True, slots=True)
class PairLine:
    """Two baits as a row of cells; a dash where there is nothing to say."""

    bait: str
    other: str
    ratio: str
    beats: str
    p: str


def pair_lines(comparison: BaitComparison | None) -> tuple[PairLine, ...]:
    """Return every two baits as texts, the one that is ahead first.

    Parameters
    ----------
    comparison : BaitComparison or None
        None gives no rows.

    References
    ----------
    None: words.
    """
    compared = comparison.compared if comparison else None
    lines = []
    for pair in (comparison.pairs if comparison else None) or ():
        bait, other, ratio, beats = pair.bait, pair.other, pair.ratio, pair.beats
        if beats < 0.5 and compared is not None:
            bait, other = other, bait
            ratio, beats = compared.ratio(bait, other), compared.beats(bait, other)
        # Its own p where a correction for the number of pairs would leave nothing; the note
        # says which of the two it is.
        p = pair.p if pair.p_holm is None else pair.p_holm
        lines.append(PairLine(bait, other, interval_text(ratio), chance_text(beats), _p(p)))
    return tuple(lines)


def _p(value: float | None) -> str:
    if value is None:
        return "–"
    return f"{value:.2g}" if value >= 0.001 else "under 0.001"


def pair_note(comparison: BaitComparison | None, *, is_tested: bool = True) -> str:
    """Return what is to be said about the tests of the pairs; empty where there is no pair.

    Parameters
    ----------
    comparison : BaitComparison or None
        What was compared.
    is_tested : bool
        Whether the tests have been made.

    References
    ----------
    Holm (1979), Scand. J. Stat. 6, 65-70 (from memory).
    """
    if comparison is None or not comparison.pairs:
        return ""
    if not is_tested:
        return _WAITED_FOR
    whole, pairs = comparison.tests.whole, comparison.tests.pairs
    if pairs is not None:
        if pairs.note:
            # Else a p that cannot be small would seem to speak against a clear difference.
            least = _p(min(pair.p_min for pair in pairs.pairs))
            return (
                f"p is of each pair by itself; the smallest possible here is {least}. {pairs.note}"
            )
        return "p is corrected for the number of pairs (Holm)."
    if whole is None:
        return "This layout has nothing that could be dealt out again, so pairs are not tested."
    return "The test deals all baits together here, so pairs are not tested by themselves."


def spread_lines(spreads: Spreads | None) -> tuple[str, ...]:
    """Return how patchy the catch is and how much rounds, places and trips differ, in sentences.

    Parameters
    ----------
    spreads : Spreads or None
        None, where nothing was counted, gives no sentence.

    References
    ----------
    A normal deviate lies more than one standard deviation above its mean one time in six.

    Examples
    --------
    >>> lines = spread_lines(Spreads(
    ...     Interval(0.55, 0.14, 1.05), Interval(3.31, 0.907, 51.0),
    ...     rounds=Interval(0.35, 0.04, 1.11)))
    >>> print(lines[1])
    Rounds: a good one (one in six) gives 1.4 times (1.0 to 3.0) the catch of a usual one.
    """
    return tuple(_spread_lines(spreads)) if spreads is not None else ()


def differ_lines(comparison: BaitComparison | None) -> tuple[str, ...]:
    """Return how much catches differ beside the baits, and how many traps came up empty.

    Parameters
    ----------
    comparison : BaitComparison or None
        None gives no sentence.

    References
    ----------
    Share of empty traps with its exact limits: `trapline.science.exact_intervals`.
    """
    if comparison is None:
        return ()
    lifts = comparison.lifts
    shares = []
    for bait in lifts.baits:
        rows = lifts.of(bait)
        if not rows:
            continue
        n_empty = sum(row.catch == 0 for row in rows)
        limits = share_limits(n_empty, len(rows))
        shares.append(
            f"{called(bait)} {n_empty} of {len(rows)} "
            f"({100 * limits.low:.0f} to {100 * limits.high:.0f} %)"
        )
    empty = (f"Empty traps: {listed(shares)}.",) if shares else ()
    # Of nothing caught the spreads say only what was assumed of them.
    known = comparison.spreads if comparison.evidence.any_catch else None
    return (*spread_lines(known), *empty)


def _spread_lines(spreads: Spreads) -> Iterator[str]:
    spread, k = spreads.spread, spreads.dispersion_k
    beside = [name for name, part in (("place", spreads.places), ("round", spreads.rounds)) if part]
    where = f" in the same {' and '.join(beside)}" if beside else ""
    yield (
        f"Patchiness: traps with the same bait{where} differ by {100 * spread.median:.0f} % "
        f"({100 * spread.low:.0f} to {100 * spread.high:.0f} %) more than chance alone makes them "
        f"(k\u00a0=\u00a0{_k(k.median)}, {_two(k.low)} to {_k(k.high)})."
    )
    for caption, part in (
        ("Rounds", spreads.rounds), ("Places", spreads.places), ("Trips", spreads.trips)
    ):  # fmt: skip
        if part is not None:
            yield (
                f"{caption}: a good one (one in six) gives {_times(part)} the catch of a usual one."
            )
    if spreads.bait_trips is not None:
        yield (
            "Baits from trip to trip: on one trip in three a bait does better or worse, beside "
            f"the others, by {_times(spreads.bait_trips)} or more."
        )
    if spreads.exponent is not None:
        low, median, high_ = (
            2**value
            for value in (spreads.exponent.low, spreads.exponent.median, spreads.exponent.high)
        )
        yield (
            f"Soak: twice the soak gives {median:.1f} times ({low:.1f} to {high_:.1f}) the catch; "
            "the answer allows for all of that range."
        )


def _times(log_sd: Interval) -> str:
    """Return a standard deviation of logs as a factor, with its interval."""
    median, low, high = (math.exp(v) for v in (log_sd.median, log_sd.low, log_sd.high))
    return f"{median:.1f} times ({low:.1f} to {high:.1f})"


def _k(dispersion_k: float) -> str:
    return _two(dispersion_k) if dispersion_k < _FAR else f"over {_FAR:g}"


def _two(value: float) -> str:
    return f"{value:.0f}" if value >= 9.95 else f"{value:#.2g}"

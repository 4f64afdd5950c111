"""What would settle a comparison of baits, by simulated trials that go on from it."""

from collections.abc import Callable
from dataclasses import replace

from trapline.analyses.bait_comparison import BaitComparison, in_words
from trapline.analyses.next_trip import NextTrip, next_trip
from trapline.analyses.next_trip_words import settle_words
from trapline.analyses.so_far import so_far
from trapline.errors import InvalidValue

SENTENCES = 2  # of the answer, in an open verdict; the others stand beside the curves


def next_trip_of(
    comparison: BaitComparison,
    *,
    is_quick: bool = False,
    progress: Callable[[float], None] | None = None,
) -> NextTrip | None:
    """Return what would settle a comparison; None without two baits and a catch.

    None too where one more round makes more trap sets than can be simulated.

    Parameters
    ----------
    comparison : BaitComparison
        What was found so far.
    is_quick : bool
        Fewer trials and sizes: for the command line.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the work.

    References
    ----------
    `trapline.analyses.next_trip`.
    """
    compared = comparison.compared
    if compared is None or not comparison.evidence.any_catch:
        return None
    found = so_far(
        compared.table,
        compared.posterior,
        sorted(compared.names, key=compared.numbers.__getitem__),
        winner_chance=comparison.options.winner_chance,
    )
    if found is None:
        return None
    try:
        return next_trip(found, quick=is_quick, progress=progress)
    except InvalidValue:  # more trap sets than can be simulated: then there is little to settle
        return None


def settled(comparison: BaitComparison, trip: NextTrip) -> BaitComparison:
    """Return a comparison that says what would settle it, from simulated trials.

    Parameters
    ----------
    comparison : BaitComparison
        What was found so far.
    trip : NextTrip
        What the trials say.

    References
    ----------
    `trapline.analyses.next_trip`.
    """
    words = " ".join(settle_words(trip)[:SENTENCES])
    evidence = replace(comparison.evidence, settle_words=words)
    return replace(
        comparison,
        settle=trip,
        evidence=evidence,
        verdict=in_words(evidence, comparison.finding, comparison.options),
    )

"""The design's own tests beside the verdict: all baits together, and every two of them."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from trapline.analyses.counted_lifts import CompareOptions, CountedLifts, Laid, place_keys
from trapline.science.pair_tests import PairTests, pair_tests
from trapline.science.permutation import PermutationResult, permutation_test

Progress = Callable[[float], None]


@dataclass(frozen=True)
class DesignTests:
    """The test of all baits together, and those of every two; None where there is none."""

    whole: PermutationResult | None
    pairs: PairTests | None


# The tests of a drawn layout, from the lifts that count; None where there is no draw.
DrawnTests = Callable[[CountedLifts, Progress | None], DesignTests | None]
NO_TESTS = DesignTests(None, None)


def design_tests(
    lifts: CountedLifts,
    options: CompareOptions,
    drawn: DrawnTests | None = None,
    progress: Progress | None = None,
) -> DesignTests:
    """Return the permutation tests of a table of lifts.

    Parameters
    ----------
    lifts : CountedLifts
        The rows that count and those that do not.
    options : CompareOptions
        Which baits are controls; the seed of what is drawn.
    drawn : callable, optional
        The tests over the layouts that the baits were drawn from, where they were.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the tests.

    References
    ----------
    `trapline.science.permutation` and `trapline.science.pair_tests`.
    """
    by_draw = drawn(lifts, progress) if drawn else None
    if by_draw is not None:
        return by_draw
    # What has no valid count is still part of what lay on its place, round by round.
    laid: tuple[Laid, ...] = lifts.laid
    places = place_keys([one.row for one in laid])
    if places is None:
        laid = tuple(one for one in laid if one.counted)
        places = place_keys([one.row for one in laid])
    counts = [one.counted for one in laid]
    rates = [math.nan if one is None else one.catch / one.exposure_days for one in counts]
    blocks = [one.row.block for one in laid]
    rounds = [(one.row.trip, one.row.round) for one in laid]
    columns: dict[str, Any] = {
        "block": blocks if any(blocks) else None,
        "round_": rounds if any(any(label) for label in rounds) else None,
        "place": places,
        "seed": options.seed,
    }
    labels = [one.bait for one in laid]
    part = part_of_progress(progress, 0.0, 0.4)
    whole = permutation_test(rates, labels, progress=part, **columns)
    if whole is None:
        return NO_TESTS
    counted = {one.bait for one in laid if one.counted}
    controls = [bait for bait in lifts.baits if options.is_control(bait) and bait in counted]
    pairs = pair_tests(
        rates,
        labels,
        control=controls[0] if len(controls) == 1 else None,
        progress=part_of_progress(progress, 0.4, 1.0),
        **columns,
    )
    return DesignTests(whole, pairs)


def part_of_progress(progress: Progress | None, first: float, last: float) -> Progress | None:
    """Return a progress that runs from `first` to `last` of another."""
    if progress is None:
        return None
    return lambda done: progress(first + (last - first) * done)

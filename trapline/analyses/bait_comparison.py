"""Which bait catches most, how sure is that, and what would settle it? One table of lifts."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from trapline.analyses.bait_verdict import Evidence, Finding, find, verdict
from trapline.analyses.compared_baits import ComparedBaits, compared_baits
from trapline.analyses.comparison_parts import (
    BaitPair,
    BaitRate,
    BaitRatio,
    bait_pairs,
    bait_rates,
    bait_ratios,
)
from trapline.analyses.comparison_warnings import warnings_of
from trapline.analyses.counted_lifts import CompareOptions, CountedLifts, Excluded, count_lifts
from trapline.analyses.design_tests import (
    NO_TESTS,
    DesignTests,
    DrawnTests,
    Progress,
    design_tests,
)
from trapline.analyses.lifts import LiftRow, lift_rows
from trapline.analyses.model_checks import model_warnings, prior_words
from trapline.errors import InputProblem
from trapline.science.permutation import PermutationResult
from trapline.science.posterior import Spreads

if TYPE_CHECKING:
    from trapline.analyses.next_trip import NextTrip

__all__ = [
    "AS_USUAL",
    "BaitComparison",
    "BaitPair",
    "BaitRate",
    "BaitRatio",
    "CompareOptions",
    "LiftRow",
    "compare_baits",
    "completed",
    "first_look",
    "lift_rows",
]

AS_USUAL: Final = CompareOptions()


@dataclass(frozen=True)
class BaitComparison:
    """The answer: numbers for each bait, the rows left out, and the verdict in words.

    `ratios`, `pairs` and `tests.whole` are None with one bait or without a catch. `finding`
    is what the verdict comes down to; `winner` is its bait when it is a winner. A first look
    has no tests, no checks of the model and no `settle` yet. `lifts`, `compared` and
    `evidence` are what it was made from.
    """

    baits: tuple[BaitRate, ...]
    ratios: tuple[BaitRatio, ...] | None
    pairs: tuple[BaitPair, ...] | None
    tests: DesignTests
    spreads: Spreads | None
    excluded: tuple[Excluded, ...]
    finding: Finding
    verdict: str
    warnings: tuple[str, ...]
    options: CompareOptions
    settle: "NextTrip | None"
    lifts: CountedLifts = field(repr=False, compare=False)
    compared: ComparedBaits | None = field(repr=False, compare=False)
    evidence: Evidence = field(repr=False, compare=False)

    @property
    def winner(self) -> str | None:
        """The bait that beats each rival; None when none does."""
        return self.finding.bait if self.finding.word == "winner" else None

    def chance_best(self, bait: BaitRate) -> float | None:
        """Return the chance that a bait is the best of several; None where it has no rival."""
        rivals = self.evidence.rivals
        return bait.chance_best if bait.bait in rivals and len(rivals) > 1 else None

    @property
    def permutation(self) -> PermutationResult | None:
        """The test of all baits together."""
        return self.tests.whole

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison as JSON holds it: no NaN, None for what there is not."""
        from trapline.analyses.comparison_dict import comparison_dict

        return comparison_dict(self)


def compare_baits(
    rows: Sequence[LiftRow],
    options: CompareOptions = AS_USUAL,
    drawn: DrawnTests | None = None,
    progress: Progress | None = None,
) -> BaitComparison:
    """Return rates per 24 h, ratios, chances and the verdict for one table of lifts.

    Parameters
    ----------
    rows : sequence of LiftRow
        One a trap lifted, all rounds together.
    options : CompareOptions
        The reference bait and what counts.
    drawn : callable, optional
        The tests of a drawn layout, from the lifts that count; None where there is no draw.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the work.

    Raises
    ------
    InputProblem
        No row at all, or a reference that no row names.

    References
    ----------
    Model: `trapline.science.bait_model`. Test: `trapline.science.permutation`.

    Examples
    --------
    >>> rows = lift_rows([{"bait": bait, "catch": catch, "soak_h": 24}
    ...                   for bait, catch in [("fish", 9), ("fish", 7), ("liver", 1),
    ...                                       ("liver", 2), ("fish", 8), ("liver", 0)]])
    >>> compare_baits(rows).winner
    'fish'
    """
    return completed(first_look(rows, options), drawn, progress)


def first_look(rows: Sequence[LiftRow], options: CompareOptions = AS_USUAL) -> BaitComparison:
    """Return what the model says; the tests and checks, which take longer, are not made yet.

    Parameters
    ----------
    rows : sequence of LiftRow
        One a trap lifted, all rounds together.
    options : CompareOptions
        The reference bait and what counts.

    Raises
    ------
    InputProblem
        No row at all, or a reference that no row names.

    References
    ----------
    Model: `trapline.science.bait_model`.
    """
    lifts = count_lifts(rows, options)
    if not lifts.baits:
        what_to_do = "Count soaks on old bait too." if rows else "Enter at least one lift."
        raise InputProblem("There is no lift to compare.", "", what_to_do)
    reference = _reference(lifts, options)
    compared = compared_baits(lifts, options)
    evidence = _evidence(lifts, compared, options)
    is_comparable = len(evidence.baits) > 1 and evidence.any_catch
    finding = find(evidence)
    return BaitComparison(
        baits=bait_rates(lifts, compared, options),
        ratios=bait_ratios(lifts, reference, compared, options) if is_comparable else None,
        pairs=bait_pairs(compared, NO_TESTS) if is_comparable and compared else None,
        tests=NO_TESTS,
        spreads=compared.posterior.spreads if compared else None,
        excluded=lifts.excluded,
        finding=finding,
        verdict=in_words(evidence, finding, options),
        warnings=warnings_of(lifts, is_comparable),
        options=options,
        settle=None,
        lifts=lifts,
        compared=compared,
        evidence=evidence,
    )


def completed(
    first: BaitComparison, drawn: DrawnTests | None = None, progress: Progress | None = None
) -> BaitComparison:
    """Return a first look with the tests of the design and the checks of the model.

    Parameters
    ----------
    first : BaitComparison
        What `first_look` gave.
    drawn, progress : callable, optional
        As for `compare_baits`.

    References
    ----------
    `trapline.analyses.design_tests` and `trapline.analyses.model_checks`.
    """
    compared, options = first.compared, first.options
    if compared is None or first.ratios is None:
        return first
    tests = design_tests(first.lifts, options, drawn, progress)
    evidence = replace(
        first.evidence,
        permutation=tests.whole,
        prior_words=prior_words(compared, first.finding),
    )
    return replace(
        first,
        pairs=bait_pairs(compared, tests),
        tests=tests,
        verdict=in_words(evidence, first.finding, options),
        warnings=(*first.warnings, *model_warnings(compared, first.lifts, options)),
        evidence=evidence,
    )


def in_words(evidence: Evidence, finding: Finding, options: CompareOptions) -> str:
    """Return the verdict with the word about scents that all meet."""
    words = verdict(evidence, finding)
    if options.all_scents_meet:
        from trapline.analyses.plume_check import CHOICE_TEST

        words = f"{words} {CHOICE_TEST}"
    return words


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


def _evidence(
    lifts: CountedLifts, compared: ComparedBaits | None, options: CompareOptions
) -> Evidence:
    def known() -> ComparedBaits:
        assert compared is not None  # asked only about baits that are known
        return compared

    names = compared.names if compared else ()
    next_trip: Callable[[str, str], float] | None = None
    if compared is not None and compared.table.has_trips:
        next_trip = compared.next_trip
    return Evidence(
        baits=names,
        controls=compared.controls if compared else (),
        uncounted=tuple(bait for bait in lifts.baits if bait not in names),
        any_catch=any(lift.catch for lift in lifts.counted),
        beats=lambda bait, other: known().beats(bait, other),
        ratio=lambda bait, other: known().ratio(bait, other),
        n_sets={bait: len(lifts.of(bait)) for bait in names},
        permutation=None,
        winner_chance=options.winner_chance,
        n_rounds=compared.table.n_rounds if compared else 1,
        n_trips=compared.table.n_trips if compared else 1,
        are_kept=compared.are_kept if compared else False,
        next_trip=next_trip,
    )

"""Which baits differ from which, by the same deals as the test of all baits together.

Two baits are tested on their own rows: ranks are taken among them, and only they change baits. The
question is whether these two draw alike, whatever the others do. It is fair for this reason. Hold
fixed which rows had one of the two baits, and which rows had which of the others. If the two draw
alike, what was caught on the rows of the two does not depend on which of them lay where. What
chance decided is only that, and every deal that it could have made instead, with the same rows for
the two, is as likely as the one that it made:

* traps: within a round and block every way to give the two baits to their traps;
* places with their bait histories: wherever two places held the two baits in the same visits, the
  one could have had the other's order of them. What else they held in other rounds does not matter:
  those rows are not looked at. A place that kept one of the two changes as a whole; places that
  never lay with either stay out;
* layouts of the program: see ``layout_pair_tests``.

It needs that a catch does not depend on what lay on the place in an earlier round, and no more of
chance than the test of all baits. Labels of one place never change with each other: rounds differ.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.dealt_rows import DealtRows, dealt_rows
from trapline.science.permutation import (
    LEAST_DRAWS,
    MOST_DEALT,
    PermutationResult,
    Progress,
    Search,
    Tally,
    dealings_of,
    p_of,
    rows_test,
    tally_of_dealings,
)
from trapline.science.rank_statistics import FloatArray, can_be_tested, doubled_ranks, z_against

LEVEL = 0.05  # below which p is looked for after correction


@dataclass(frozen=True)
class PairTest:
    """The test of two baits; ``p`` to ``error`` as in ``PermutationResult``.

    ``p_holm`` is corrected for all pairs; None where no pair could fall below 0.05 then.
    """

    a: Hashable
    b: Hashable
    p: float
    p_holm: float | None
    p_min: float
    n_as_extreme: int
    n_arrangements: int
    exact: bool
    error: float


@dataclass(frozen=True)
class ControlTest:
    """The test of one bait against the control, corrected for all of them.

    ``z`` is Dunn's: the difference of mean ranks, above 0 where the bait caught more, over its
    standard error. ``p`` is the share of deals in which the largest ``|z|`` of all baits is no
    smaller than this one; the rest as in ``PermutationResult``.
    """

    bait: Hashable
    control: Hashable
    z: float
    p: float
    n_as_extreme: int
    n_arrangements: int
    exact: bool
    error: float


@dataclass(frozen=True)
class PairTests:
    """The tests of all pairs of baits, in an order of their own; ``note`` is for the user.

    ``against_control`` is None without a control or with only one bait beside it. ``unit`` and
    ``within`` as in ``PermutationResult``.
    """

    pairs: tuple[PairTest, ...]
    note: str
    against_control: tuple[ControlTest, ...] | None
    unit: str
    within: str | None

    def of(self, one: Hashable, other: Hashable) -> PairTest:
        """Return the test of two baits, in whichever order they are named."""
        return next(pair for pair in self.pairs if {pair.a, pair.b} == {one, other})


def holm(values: Sequence[float]) -> list[float]:
    """Return p-values corrected for their number, in the order given.

    Parameters
    ----------
    values : sequence of float
        p-values, 0 to 1.

    References
    ----------
    Holm (1979), Scand. J. Stat. 6, 65-70 (from memory).

    Examples
    --------
    >>> [round(p, 2) for p in holm([0.01, 0.04, 0.03, 0.005])]
    [0.03, 0.06, 0.06, 0.02]
    """
    corrected = [1.0] * len(values)
    largest = 0.0
    for position, i in enumerate(sorted(range(len(values)), key=values.__getitem__)):
        largest = max(largest, min(1.0, (len(values) - position) * values[i]))
        corrected[i] = largest
    return corrected


def pair_tests(
    rates: npt.ArrayLike,
    labels: Sequence[Hashable],
    *,
    block: Sequence[Hashable] | None = None,
    round_: Sequence[Hashable] | None = None,
    place: Sequence[Hashable] | None = None,
    control: Hashable | None = None,
    seed: int = 0,
    limit: int = 200_000,
    draws: int = 20_000,
    progress: Progress | None = None,
) -> PairTests | None:
    """Return a test of every two baits, and of each against a control; None when undefined.

    The statistic of two baits is Kruskal and Wallis' H, which for given numbers of rows grows
    with the difference of their mean ranks: two-sided.

    Parameters
    ----------
    rates, labels, block, round_, place
        As for :func:`trapline.science.permutation.permutation_test`; None under the same
        conditions. Baits without any rate are in no pair.
    control : hashable, optional
        The label that is no bait.
    seed, limit, draws, progress
        As for ``permutation_test``, of each pair.

    Raises
    ------
    InvalidValue
        As for ``permutation_test``, and a control that is no label.

    Notes
    -----
    Against the control all labels are dealt out, and the largest difference is looked at: right
    when no bait differs from it. Where one does, the others' p come out too large rather than
    too small (in simulated trials). Two-sided, since a bait may also keep animals away.

    References
    ----------
    Wilcoxon (1945) for two baits; Westfall and Young (1993), Resampling-Based Multiple Testing,
    ch. 2, for the largest of several (both from memory).

    Examples
    --------
    >>> found = pair_tests([9, 7, 8, 6, 1, 0, 2, 3], ["fish"] * 4 + ["none"] * 4)
    >>> found.pairs[0].n_as_extreme, found.pairs[0].n_arrangements, found.note
    (2, 70, '')
    """
    rows = dealt_rows(rates, labels, block, round_, place)
    if control is not None and control not in rows.baits:
        raise InvalidValue(f"No row has the bait '{control}'.", "control", "Name another.")
    used = ~np.isnan(rows.values)
    if not can_be_tested(rows.values[used], rows.codes[used]):
        return None
    known = np.unique(rows.codes[used]).tolist()
    numbers = list(combinations(known, 2))
    search = search_of_pairs(len(numbers), seed, limit, draws, progress)
    return _tested(rows, numbers, control if len(known) > 2 else None, seed, search)


def _tested(
    rows: DealtRows,
    numbers: Sequence[tuple[int, int]],
    control: Hashable | None,
    seed: int,
    search: Search,
) -> PairTests:
    """Return the tests of pairs, by their numbers, and of all baits against a control."""
    results = []
    for n, (one, other) in enumerate(numbers):
        part = part_of(search, n, len(numbers) + (control is not None), (seed, one, other))
        found = rows_test(rows.of_pair(one, other), part)
        results.append(pair_test(rows.baits[one], rows.baits[other], found))
    against = None
    if control is not None:
        against = _against(rows, control, part_of(search, len(numbers), len(numbers) + 1, (seed,)))
    pairs, note = corrected(results)
    return PairTests(pairs, note, against, rows.unit, rows.within)


def search_of_pairs(
    n_pairs: int, seed: int, limit: int, draws: int, progress: Progress | None
) -> Search:
    """Return how to search for each pair: rows for all together, and draws enough for Holm."""
    return Search(
        seed, limit, draws, progress, MOST_DEALT // n_pairs, max(LEAST_DRAWS, 40 * n_pairs)
    )


def part_of(search: Search, n: int, n_parts: int, seed: Sequence[int]) -> Search:
    """Return the nth of several searches: with a seed and a share of the progress of its own."""
    whole = search.progress
    if whole is None:
        return replace(search, seed=seed)
    return replace(search, seed=seed, progress=lambda done: whole((n + done) / n_parts))


def pair_test(a: Hashable, b: Hashable, found: PermutationResult | None) -> PairTest:
    """Return the test of a pair, not corrected yet; all its rates equal where nothing was found."""
    if found is None:
        return PairTest(a, b, 1.0, None, 1.0, 1, 1, exact=True, error=0.0)
    return PairTest(
        a=a,
        b=b,
        p=found.p,
        p_holm=None,
        p_min=found.p_min,
        n_as_extreme=found.n_as_extreme,
        n_arrangements=found.n_arrangements,
        exact=found.exact,
        error=found.error,
    )


def corrected(pairs: Sequence[PairTest]) -> tuple[tuple[PairTest, ...], str]:
    """Return the pairs with p corrected for their number, or as they are with the reason why."""
    n = len(pairs)
    least = min(
        max(pair.p_min, 0.0 if pair.exact else 1 / (pair.n_arrangements + 1)) for pair in pairs
    )
    if least * n > LEVEL:
        after = f" after correction for {n} pairs, so none is made" if n > 1 else ""
        note = f"With this layout no pair can fall below {LEVEL:g}{after}."
        return tuple(pairs), note
    holms = holm([pair.p for pair in pairs])
    return tuple(replace(pair, p_holm=p) for pair, p in zip(pairs, holms, strict=True)), ""


def _against(rows: DealtRows, control: Hashable, search: Search) -> tuple[ControlTest, ...] | None:
    """Return the tests against the control; None where it has no rate."""
    used = ~np.isnan(rows.values)
    number = rows.baits.index(control)
    known = np.unique(rows.codes[used]).tolist()
    if number not in known:
        return None
    ranks = doubled_ranks(rows.values[used])
    dealings = dealings_of(rows, ranks)
    z = z_against(dealings.observed()[None, :], ranks, number)[0]
    tally = tally_of_dealings(
        dealings, lambda sums: largest(z_against(sums, ranks, number)), np.abs(z).tolist(), search
    )
    return control_tests(rows.baits, number, known, z, tally)


def largest(z: FloatArray) -> FloatArray:
    """Return the largest difference, either way, of each row."""
    most: FloatArray = np.abs(z).max(axis=1)
    return most


def control_tests(
    baits: Sequence[Hashable], control: int, known: Sequence[int], z: FloatArray, tally: Tally
) -> tuple[ControlTest, ...]:
    """Return the tests of the known baits against the control from what was counted."""
    others = [bait for bait in range(len(baits)) if bait != control]
    tests = []
    for bait, its_z, n in zip(others, z.tolist(), tally.n_as_extreme, strict=True):
        if bait in known:
            p, error = p_of(n, tally.n_arrangements, tally.exact)
            tests.append(
                ControlTest(
                    bait=baits[bait],
                    control=baits[control],
                    z=its_z,
                    p=p,
                    n_as_extreme=n,
                    n_arrangements=tally.n_arrangements,
                    exact=tally.exact,
                    error=error,
                )
            )
    return tuple(tests)

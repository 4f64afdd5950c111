"""The design's own test: would another way of dealing out the baits differ as much?

The statistic is Kruskal and Wallis' H on the catch per 24 h. What is dealt out anew is what was
really exchangeable: traps within round and block, or the whole bait histories of places, or the
layouts that the program itself drew from.
"""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.arrangements import CHUNK, Dealings, Progress
from trapline.science.dealt_rows import DealtRows, dealt_rows
from trapline.science.rank_statistics import (
    SAME,
    FloatArray,
    IntArray,
    can_be_tested,
    check_rates,
    doubled_ranks,
    kruskal_h,
    parts_as_far,
    sums_by_bait,
)

__all__ = [
    "PermutationResult",
    "Progress",
    "Search",
    "Tally",
    "kruskal_wallis",
    "p_of",
    "permutation_test",
    "permutation_test_over_layouts",
    "rows_test",
    "tally_of_dealings",
    "tally_of_layouts",
]

# Rows that are dealt out in all draws together: some two seconds. Beyond it fewer are drawn.
MOST_DEALT = 100_000_000
LEAST_DRAWS = 1_000


@dataclass(frozen=True)
class PermutationResult:
    """What the test found.

    ``statistic`` is H as observed. ``n_as_extreme`` of ``n_arrangements`` have H at least as
    large; when not ``exact`` the arrangements were drawn, p is (n_as_extreme + 1) /
    (n_arrangements + 1), and ``error`` is its standard error; 0.0 when exact. Labels moved
    ``within`` None, "round", "block" or "round×block", and the ``unit`` that moved was a "trap",
    a "place" (with its bait history) or the "design": layouts that the program drew from.
    ``p_min`` is the smallest p that this layout can give, however large the difference: catches
    that are equal within each bait and differ between baits reach it.
    """

    statistic: float
    p: float
    n_as_extreme: int
    n_arrangements: int
    exact: bool
    within: str | None
    unit: str
    p_min: float
    error: float = 0.0


@dataclass(frozen=True)
class Search:
    """How arrangements are gone through: up to ``limit`` one and all; of more, ``draws``."""

    seed: int | Sequence[int] = 0
    limit: int = 1_000_000
    draws: int = 100_000
    progress: Progress | None = field(default=None, compare=False)
    most_dealt: int = MOST_DEALT
    least_draws: int = LEAST_DRAWS

    def n_draws(self, n_rows: int) -> int:
        """Return how many are drawn; fewer with very many rows."""
        return min(self.draws, max(self.least_draws, self.most_dealt // max(1, n_rows)))


@dataclass(frozen=True)
class Tally:
    """In how many arrangements a statistic came up to each of several levels."""

    n_as_extreme: tuple[int, ...]
    n_arrangements: int
    exact: bool


def p_of(n_as_extreme: int, n_arrangements: int, exact: bool) -> tuple[float, float]:
    """Return p and its standard error from what was counted.

    References
    ----------
    (b + 1) / (m + 1): Phipson and Smyth (2010), Stat. Appl. Genet. Mol. Biol. 9, 39 (from
    memory).

    Examples
    --------
    >>> p_of(1, 20, exact=True), p_of(0, 99, exact=False)
    ((0.05, 0.0), (0.01, 0.01))
    """
    if exact:
        return n_as_extreme / n_arrangements, 0.0
    p = (n_as_extreme + 1) / (n_arrangements + 1)
    return p, sqrt(p * (1 - p) / n_arrangements)


def kruskal_wallis(rates: npt.ArrayLike, labels: Sequence[Hashable]) -> float:
    """Return Kruskal and Wallis' H, corrected for ties (no unit, 0 or more).

    Parameters
    ----------
    rates : array_like of float, shape (n,)
        Catch per 24 h, 0 or more.
    labels : sequence, length n
        The bait of each rate.

    Raises
    ------
    InvalidValue
        Fewer than two baits, all rates equal, or a rate that is negative or not finite.

    References
    ----------
    Kruskal and Wallis (1952), J. Am. Stat. Assoc. 47, 583-621 (from memory); mid-ranks and tie
    correction as in R's ``kruskal.test``.

    Examples
    --------
    >>> rates = [5, 3, 8, 6, 4, 7, 2, 9, 2, 4, 3, 1, 5, 2, 3, 0]
    >>> round(kruskal_wallis(rates, "AAAAAAAABBBBBBBB"), 6)
    5.41791
    """
    rows = dealt_rows(rates, labels)
    if np.isnan(rows.values).any():
        raise InvalidValue("A rate is missing.", "rates", "Leave the row out.")
    if not can_be_tested(rows.values, rows.codes):
        raise InvalidValue("All rates, or all baits, are the same.", "rates")
    ranks = doubled_ranks(rows.values)
    return float(kruskal_h(sums_by_bait(rows.codes[None, :], ranks, len(rows.baits)), ranks)[0])


def permutation_test(
    rates: npt.ArrayLike,
    labels: Sequence[Hashable],
    *,
    block: Sequence[Hashable] | None = None,
    round_: Sequence[Hashable] | None = None,
    place: Sequence[Hashable] | None = None,
    seed: int = 0,
    limit: int = 1_000_000,
    draws: int = 100_000,
    progress: Progress | None = None,
) -> PermutationResult | None:
    """Return how often H is as large when the baits are dealt out anew; None when undefined.

    Undefined: fewer than two baits with a rate, or all rates equal (no catch at all).

    Parameters
    ----------
    rates : array_like of float, shape (n,)
        Catch per 24 h, 0 or more; NaN where a trap set has no valid count. Such a row is not
        ranked, but it belongs to the bait history of its place: give it where you know it.
    labels, block, round_, place : sequence, length n
        The bait of each row, and where and when it lay. Where a place has more than one row, the
        bait histories of whole places move over the places with the same rounds and blocks;
        otherwise single labels move within round and block. Two traps on one place in the same
        round are no repeat, and taken to be alike; without ``round_`` the rows of a place are its
        rounds in their order. Else the order of rows changes no digit.
    seed, limit, draws : int
        Up to ``limit`` arrangements are gone through one and all; of more, ``draws`` are drawn,
        fewer from 2,000 rows on, at least 1,000.
    progress : callable, optional
        Called with 0 to 1 as the test goes on; what it raises ends the test.

    Raises
    ------
    InvalidValue
        Lengths that differ, a rate that is negative or infinite.

    References
    ----------
    Fisher (1935), The Design of Experiments, ch. III; (b + 1) / (m + 1): Phipson and Smyth
    (2010), Stat. Appl. Genet. Mol. Biol. 9, 39 (both from memory). Moving labels within rounds
    where baits stay on their places finds what is not there in 14 % of trials with 3 rounds
    (computed independently).

    Examples
    --------
    >>> found = permutation_test([9.0, 7.0, 1.0, 0.0], ["fish", "fish", "none", "none"])
    >>> found.n_as_extreme, found.n_arrangements, round(found.p_min, 3)
    (2, 6, 0.333)
    """
    rows = dealt_rows(rates, labels, block, round_, place)
    return rows_test(rows, Search(seed, limit, draws, progress))


def rows_test(rows: DealtRows, search: Search) -> PermutationResult | None:
    """Return the test of H over what could have changed baits; None when undefined."""
    used = ~np.isnan(rows.values)
    if not can_be_tested(rows.values[used], rows.codes[used]):
        return None
    ranks = doubled_ranks(rows.values[used])
    dealings = dealings_of(rows, ranks)
    h = float(kruskal_h(dealings.observed()[None, :], ranks)[0])
    tally = tally_of_dealings(dealings, lambda sums: kruskal_h(sums, ranks), (h,), search)
    p, error = p_of(tally.n_as_extreme[0], tally.n_arrangements, tally.exact)
    is_counted = tally.exact and not used.all()
    n_never_less = _n_never_less(rows) if is_counted else dealings.n_renamed()
    return PermutationResult(
        statistic=h,
        p=p,
        n_as_extreme=tally.n_as_extreme[0],
        n_arrangements=tally.n_arrangements,
        exact=tally.exact,
        within=rows.within,
        unit=rows.unit,
        p_min=n_never_less / dealings.n_arrangements,
        error=error,
    )


def dealings_of(rows: DealtRows, ranks: IntArray) -> Dealings:
    """Return the dealings with the doubled ranks of the rows that have a rate."""
    of_rows = np.zeros(rows.codes.size, dtype=np.int64)
    of_rows[~np.isnan(rows.values)] = ranks
    return Dealings(rows.groups, rows.codes, of_rows)


def tally_of_dealings(
    dealings: Dealings,
    statistic: Callable[[IntArray], FloatArray],
    levels: Sequence[float],
    search: Search,
) -> Tally:
    """Return in how many of all, or of drawn, dealings the statistic comes up to each level."""
    least = np.array(levels) - SAME
    n = dealings.n_arrangements
    if n <= min(search.limit, 2**62):
        sums, ways = dealings.all_sums(search.progress)
        found = statistic(sums)
        return Tally(tuple(int(ways[found >= level].sum()) for level in least), n, True)
    n_as_extreme = np.zeros(least.size, dtype=np.int64)
    n_done, n_draws = 0, search.n_draws(dealings.n_rows)
    for sums in dealings.drawn_sums(np.random.default_rng(search.seed), n_draws):
        n_as_extreme += (statistic(sums)[:, None] >= least).sum(axis=0)
        n_done += len(sums)
        if search.progress is not None:
            search.progress(n_done / n_draws)
    return Tally(tuple(n_as_extreme.tolist()), n_draws, False)


def _n_never_less(rows: DealtRows) -> int:
    """Return in how many dealings H is at least what it was, whatever the rates.

    H is at its largest where nothing differs within a bait. With rates that are equal within
    each bait and differ between them only those dealings get there that put no two of these
    baits together: the one that was with the baits renamed, and, as rows without a rate are
    not looked at, others that part it further.
    """
    ranks = doubled_ranks(rows.codes[~np.isnan(rows.values)].astype(np.float64))
    dealings = dealings_of(rows, ranks)
    h = kruskal_h(dealings.observed()[None, :], ranks)[0]
    sums, ways = dealings.all_sums()
    return int(ways[kruskal_h(sums, ranks) >= h - SAME].sum())


def permutation_test_over_layouts(
    rates: npt.ArrayLike,
    labels: npt.ArrayLike,
    layouts: Iterable[npt.ArrayLike],
    *,
    complete: bool,
    progress: Progress | None = None,
) -> PermutationResult | None:
    """Return how often H is as large over the layouts that were drawn from; None when undefined.

    Parameters
    ----------
    rates : array_like of float, shape (R, P)
        Catch per 24 h by round and place; NaN where there is no valid count.
    labels : array_like of int, shape (R, P)
        The bait that was really there, numbered as in the layouts; -1 for none of them.
    layouts : array_like of int, shape (n, R, P), or iterable of arrays (R, P)
        All layouts of the scheme, each once (``layout.all_layouts``), or draws from them
        (``layout.redraws``).
    complete : bool
        True when ``layouts`` are all there are: p is then their share with H as large. False
        when they were drawn: p is (b + 1) / (m + 1), and ``p_min`` is 1 / (m + 1).
    progress : callable, optional
        Called with 0 to 1 as the test goes on; what it raises ends the test.

    Raises
    ------
    InvalidValue
        Shapes that do not agree, or a complete set without the layout that was fished.

    References
    ----------
    As :func:`permutation_test`.

    Examples
    --------
    >>> halves = [[[0, 1], [1, 0]], [[1, 0], [0, 1]]]
    >>> permutation_test_over_layouts([[4, 1], [0, 9]], halves[0], halves, complete=True).p
    1.0
    """
    fished = laid_rows(rates, labels, layouts)
    if fished is None:
        return None
    return _over_layouts(*fished, complete, Search(progress=progress))


def _over_layouts(
    baits: npt.NDArray[np.integer],
    ranks: IntArray,
    every: npt.NDArray[np.integer],
    complete: bool,
    search: Search,
) -> PermutationResult:
    """Return how H stands; baits (rows,) and layouts (n, rows) of the rows with a rate."""
    n_baits = int(max(every.max(), baits.max())) + 1
    h = float(kruskal_h(sums_by_bait(baits[None, :], ranks, n_baits), ranks)[0])
    tally = tally_of_layouts(
        every, ranks, n_baits, lambda sums: kruskal_h(sums, ranks), (h,), complete, search
    )
    n = len(every)
    if complete and not (every == baits).all(axis=1).any():
        raise InvalidValue(
            "The baits that were fished are not one of the layouts.",
            "layouts",
            "Deal the baits out over traps or places instead.",
        )
    p, error = p_of(tally.n_as_extreme[0], n, complete)
    return PermutationResult(
        statistic=h,
        p=p,
        n_as_extreme=tally.n_as_extreme[0],
        n_arrangements=n,
        exact=complete,
        within=None,
        unit="design",
        p_min=int(parts_as_far(every, baits).sum()) / n if complete else 1 / (n + 1),
        error=error,
    )


def laid_rows(
    rates: npt.ArrayLike, labels: npt.ArrayLike, layouts: Iterable[npt.ArrayLike]
) -> tuple[npt.NDArray[np.integer], IntArray, npt.NDArray[np.integer]] | None:
    """Return baits (rows,), doubled ranks (rows,) and layouts (n, rows) of the rows with a rate.

    None where there are no two baits or no two rates.
    """
    baits = np.asarray(labels)
    every = np.asarray(layouts if isinstance(layouts, np.ndarray) else list(layouts))
    values = np.asarray(rates, dtype=np.float64)
    if values.ndim != 2 or baits.shape != values.shape or every.shape[1:] != values.shape:
        raise InvalidValue(
            f"Rates {values.shape}, baits {baits.shape} and layouts {every.shape[1:]} "
            "are not tables of the same rounds and places.",
            "layouts",
        )
    check_rates(values)
    used = ~np.isnan(values) & (baits >= 0)
    if not can_be_tested(values[used], baits[used]):
        return None
    return baits[used], doubled_ranks(values[used]), every[:, used]


def tally_of_layouts(
    layouts: npt.NDArray[np.integer],
    ranks: IntArray,
    n_baits: int,
    statistic: Callable[[IntArray], FloatArray],
    levels: Sequence[float],
    complete: bool,
    search: Search,
) -> Tally:
    """Return in how many layouts (n, rows) the statistic comes up to each level."""
    least = np.array(levels) - SAME
    n_as_extreme = np.zeros(least.size, dtype=np.int64)
    n = len(layouts)
    step = max(1, CHUNK // ranks.size)
    for first in range(0, n, step):
        found = statistic(sums_by_bait(layouts[first : first + step], ranks, n_baits))
        n_as_extreme += (found[:, None] >= least).sum(axis=0)
        if search.progress is not None:
            search.progress(min(1.0, (first + step) / n))
    return Tally(tuple(n_as_extreme.tolist()), n, complete)

"""Which baits differ from which, over the layouts that the program drew from.

Two baits are tested as in ``pair_tests``. What is held fixed are the rows that had one of the two.
Every layout of the scheme with the same rows for the two was as likely to be drawn, and if the two
draw alike, would have caught the same on them. Where the layouts are too many to be listed, those
are looked at that leave all other baits where they were, too: see ``layout_exchange``.
"""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.pair_tests import (
    ControlTest,
    PairTest,
    PairTests,
    control_tests,
    corrected,
    largest,
    part_of,
    search_of_pairs,
)
from trapline.science.permutation import Progress, Search, laid_rows, p_of, tally_of_layouts
from trapline.science.rank_statistics import (
    IntArray,
    doubled_ranks,
    kruskal_h,
    parts_as_far,
    sums_by_bait,
    z_against,
)

# Layouts (n, R, P) in which only two baits changed places, and whether they are a whole set, as
# ``layout_exchange.exchanged`` gives them; called with the two, chance, and how many to draw.
Exchange = Callable[[int, int, np.random.Generator, int], tuple[npt.NDArray[np.integer], bool]]
_ENOUGH = 1_000  # layouts with the same rows for two baits among those drawn


@dataclass(frozen=True, eq=False)
class _Fished:
    """The rows with a rate: baits and rates (rows,), layouts (n, rows), where they are in those."""

    baits: npt.NDArray[np.integer]
    rates: npt.NDArray[np.float64]
    layouts: npt.NDArray[np.integer]
    complete: bool
    used: npt.NDArray[np.bool_]


def pair_tests_over_layouts(
    rates: npt.ArrayLike,
    labels: npt.ArrayLike,
    layouts: npt.NDArray[np.integer],
    *,
    complete: bool,
    names: Sequence[Hashable],
    exchange: Exchange | None = None,
    control: int | None = None,
    seed: int = 0,
    draws: int = 2_000,
    progress: Progress | None = None,
) -> PairTests | None:
    """Return a test of every two baits, and of each against a control; None when undefined.

    Parameters
    ----------
    rates, labels, layouts, complete
        As for :func:`trapline.science.permutation.permutation_test_over_layouts`.
    names : sequence
        What the numbers of the baits stand for.
    exchange : callable, optional
        Gives layouts in which only two baits changed places, for layouts that are not complete;
        where it draws them, ``p_min`` is estimated.
    control : int, optional
        The number of what is no bait.
    seed, draws : int
        For ``exchange``, and how many layouts it draws of each pair.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the tests.

    Raises
    ------
    InvalidValue
        Shapes that do not agree, a complete set without the layout that was fished, or an
        incomplete one without ``exchange``.

    References
    ----------
    As :func:`trapline.science.pair_tests.pair_tests`.

    Examples
    --------
    >>> every = np.array([[[0, 1, 2]], [[1, 0, 2]], [[0, 2, 1]], [[2, 1, 0]], [[1, 2, 0]],
    ...                   [[2, 0, 1]]])
    >>> found = pair_tests_over_layouts([[5, 1, 0]], every[0], every, complete=True, names="abc")
    >>> found.pairs[0].n_arrangements, found.pairs[0].p
    (2, 1.0)
    """
    if not complete and exchange is None:
        raise InvalidValue("Layouts of two baits are needed.", "exchange", "Say how to draw them.")
    found = _fished(rates, labels, layouts, complete)
    if found is None:
        return None
    fished, ranks = found
    known = np.unique(fished.baits).tolist()
    search = search_of_pairs(len(known) * (len(known) - 1) // 2, seed, 0, draws, progress)
    control = control if control in known and len(known) > 2 else None
    return _tested(fished, ranks, known, names, exchange, control, seed, search)


def _fished(
    rates: npt.ArrayLike,
    labels: npt.ArrayLike,
    layouts: npt.NDArray[np.integer],
    complete: bool,
) -> tuple[_Fished, IntArray] | None:
    """Return what was fished, and the doubled ranks of its rates; None where nothing differs."""
    laid = laid_rows(rates, labels, layouts)
    if laid is None:
        return None
    values = np.asarray(rates, dtype=np.float64)
    used = ~np.isnan(values) & (np.asarray(labels) >= 0)
    fished = _Fished(laid[0], values[used], laid[2], complete, used)
    if complete and not (fished.layouts == fished.baits).all(axis=1).any():
        raise InvalidValue("The baits that were fished are not one of the layouts.", "layouts")
    return fished, laid[1]


def _tested(
    fished: _Fished,
    ranks: IntArray,
    known: Sequence[int],
    names: Sequence[Hashable],
    exchange: Exchange | None,
    control: int | None,
    seed: int,
    search: Search,
) -> PairTests:
    """Return the tests of every two baits, and of all of them against a control."""
    numbers = list(combinations(known, 2))
    results = []
    for n, (one, other) in enumerate(numbers):
        part = part_of(search, n, len(numbers) + (control is not None), (seed, one, other))
        found = _pair(fished, (one, other), exchange, part)
        results.append(replace(found, a=names[one], b=names[other]))
    against = None
    if control is not None:
        part = part_of(search, len(numbers), len(numbers) + 1, (seed,))
        against = _against(fished, ranks, control, names, part)
    pairs, note = corrected(results)
    return PairTests(pairs, note, against, "design", None)


def _pair(
    fished: _Fished, pair: tuple[int, int], exchange: Exchange | None, search: Search
) -> PairTest:
    """Return the test of two baits, by their numbers."""
    of_two = np.isin(fished.baits, pair)
    ranks = doubled_ranks(fished.rates[of_two])
    if np.ptp(ranks) == 0:
        return PairTest(*pair, 1.0, None, 1.0, 1, 1, exact=True, error=0.0)
    same = (np.isin(fished.layouts, pair) == of_two).all(axis=1)
    complete = fished.complete
    if complete or same.sum() >= _ENOUGH:
        layouts = fished.layouts[same][:, of_two]
    else:
        assert exchange is not None  # checked at the door
        rng = np.random.default_rng(search.seed)
        exchanges, complete = exchange(*pair, rng, search.draws)
        layouts = exchanges[:, fished.used][:, of_two]
    baits = fished.baits[of_two] == pair[1]
    others = layouts == pair[1]

    def h_of(sums: IntArray) -> npt.NDArray[np.float64]:
        return kruskal_h(sums, ranks)

    h = float(h_of(sums_by_bait(baits[None, :].astype(np.int64), ranks, 2))[0])
    tally = tally_of_layouts(others.astype(np.int64), ranks, 2, h_of, (h,), complete, search)
    p, error = p_of(tally.n_as_extreme[0], tally.n_arrangements, tally.exact)
    n_never_less = int(parts_as_far(others, baits).sum())
    p_min, _ = p_of(n_never_less, tally.n_arrangements, tally.exact)
    return PairTest(
        *pair, p, None, p_min, tally.n_as_extreme[0], tally.n_arrangements, tally.exact, error
    )


def _against(
    fished: _Fished, ranks: IntArray, control: int, names: Sequence[Hashable], search: Search
) -> tuple[ControlTest, ...]:
    """Return the tests against the control, over the layouts as they are."""
    n_baits = len(names)
    z = z_against(sums_by_bait(fished.baits[None, :], ranks, n_baits), ranks, control)[0]
    tally = tally_of_layouts(
        fished.layouts,
        ranks,
        n_baits,
        lambda sums: largest(z_against(sums, ranks, control)),
        np.abs(z).tolist(),
        fished.complete,
        search,
    )
    return control_tests(names, control, np.unique(fished.baits).tolist(), z, tally)

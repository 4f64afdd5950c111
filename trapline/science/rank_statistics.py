"""Ranks of catches per 24 h, and what says how far the baits lie apart in them."""

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

SAME = 1e-9  # rounding of a statistic; its distinct values lie further apart
_SAME_RATE = 1e-9  # relative: 7 in 12 h and 14 in 24 h are a tie, whatever the rounding


def check_rates(values: FloatArray) -> None:
    """Raise InvalidValue for a rate that is negative or infinite; NaN is a missing one."""
    bad = np.flatnonzero((values < 0) | np.isinf(values))
    if bad.size:
        raise InvalidValue(
            f"A catch per 24 h of {values.ravel()[bad[0]]:g} cannot be.",
            f"rates[{bad[0]}]",
            "Correct the catch or the soak.",
        )


def can_be_tested(values: FloatArray, codes: npt.NDArray[np.integer]) -> bool:
    """Return whether there are two baits and two different rates."""
    return bool(np.unique(codes).size > 1 and np.ptp(doubled_ranks(values)) > 0)


def doubled_ranks(values: FloatArray) -> IntArray:
    """Return twice the mid-ranks, which are whole numbers."""
    order = np.argsort(values, kind="stable")
    in_order = values[order]
    is_first = np.ones(values.size, dtype=bool)
    is_first[1:] = np.diff(in_order) > _SAME_RATE * in_order[1:]
    first = np.flatnonzero(is_first)
    end = np.append(first[1:], values.size)
    ranks = np.empty(values.size, dtype=np.int64)
    ranks[order] = np.repeat(first + end + 1, end - first)
    return ranks


def variance_of_ranks(ranks: IntArray) -> float:
    """Return the variance of the mid-ranks about their mean, divisor n - 1, from doubled ranks.

    That is n(n + 1)/12, less the tie correction of Kruskal and Wallis (1952), eq. 1.4.
    """
    return float(np.var(ranks / 2, ddof=1))


def kruskal_h(sums: IntArray, ranks: IntArray) -> FloatArray:
    """Return Kruskal and Wallis' H for each row of sums, shape (n,).

    Parameters
    ----------
    sums : ndarray of int, shape (n, 2 × baits)
        The doubled ranks of every bait summed, then its numbers of rows.
    ranks : ndarray of int, shape (rows,)
        The doubled ranks of all rows.

    References
    ----------
    Kruskal and Wallis (1952), J. Am. Stat. Assoc. 47, 583-621 (from memory).
    """
    n_baits = sums.shape[1] // 2
    n = ranks.size
    _, ties = np.unique(ranks, return_counts=True)
    correction = 1 - (ties**3 - ties).sum() / (n**3 - n)
    sizes = sums[:, n_baits:]
    squares = np.divide(
        (sums[:, :n_baits] / 2) ** 2, sizes, out=np.zeros(sizes.shape), where=sizes > 0
    )
    h: FloatArray = (12 / (n * (n + 1)) * squares.sum(axis=1) - 3 * (n + 1)) / correction
    return h


def z_against(sums: IntArray, ranks: IntArray, control: int) -> FloatArray:
    """Return the difference of each bait's mean rank from the control's over its standard error.

    Parameters
    ----------
    sums, ranks : ndarray of int
        As for :func:`kruskal_h`.
    control : int
        The number of the control among the baits.

    Returns
    -------
    ndarray of float, shape (n, baits - 1)
        In the order of the baits without the control; 0 where a bait has no row.

    References
    ----------
    Dunn (1964), Technometrics 6, 241-252 (from memory): z with the tie correction.

    Examples
    --------
    >>> z_against(np.array([[6, 14, 2, 2]]), np.array([2, 4, 6, 8]), 0).round(3).tolist()
    [[1.549]]
    """
    n_baits = sums.shape[1] // 2
    sizes = sums[:, n_baits:].astype(np.float64)
    known = sizes > 0
    means = np.divide(sums[:, :n_baits] / 2, sizes, out=np.zeros(sizes.shape), where=known)
    shares = np.divide(1.0, sizes, out=np.zeros(sizes.shape), where=known)
    others = [bait for bait in range(n_baits) if bait != control]
    apart = means[:, others] - means[:, [control]]
    errors = np.sqrt(variance_of_ranks(ranks) * (shares[:, others] + shares[:, [control]]))
    z: FloatArray = np.where(known[:, others] & known[:, [control]], apart / errors, 0.0)
    return z


def sums_by_bait(baits: npt.NDArray[np.integer], ranks: IntArray, n_baits: int) -> IntArray:
    """Return sums as for :func:`kruskal_h` for each row of baits (n, rows); -1 is no bait.

    Doubled ranks are the same in each, shape (rows,), or not, shape (n, rows).
    """
    n = len(baits)
    width = n_baits + 1
    cells = (baits + (1 + width * np.arange(n)[:, None])).ravel()
    weights = np.broadcast_to(ranks.astype(np.float64), baits.shape).ravel()
    summed = np.bincount(cells, weights=weights, minlength=n * width).reshape(n, width)
    counted = np.bincount(cells, minlength=n * width).reshape(n, width)
    return np.concatenate([summed[:, 1:].astype(np.int64), counted[:, 1:]], axis=1)


def parts_as_far(layouts: npt.NDArray[np.integer], known: npt.NDArray[np.integer]) -> BoolArray:
    """Return for each row of layouts whether no bait of it lies where two of ``known`` did.

    Rates that are equal within each bait and differ between them give such a layout a
    statistic that is no less than that of ``known``, and every other one less.
    """
    apart = np.ones(len(layouts), dtype=bool)
    for bait in np.unique(layouts):
        is_there = [(layouts[:, known == one] == bait).any(axis=1) for one in np.unique(known)]
        apart &= np.sum(is_there, axis=0) < 2
    return apart

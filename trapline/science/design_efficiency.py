"""How good a layout is before anything is caught: its efficiency, and what follows what."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]

_NOTHING = 1e-9  # canonical efficiency factors lie in 0..1; below this one is 0 with rounding


@dataclass(frozen=True)
class Efficiency:
    """What a layout keeps of the information on its baits once rounds and places are allowed for.

    ``average`` is the average efficiency factor, 0 where some baits cannot be compared at all.
    ``factors`` are the canonical efficiency factors, smallest first, one fewer than baits;
    with equally many traps a bait ``average`` is their harmonic mean. ``groups`` are baits,
    counted from 0, that can be compared with each other: two of different groups cannot.
    """

    average: float
    factors: tuple[float, ...]
    groups: tuple[tuple[int, ...], ...]


def design_efficiency(
    rounds: npt.ArrayLike,
    n_baits: int | None = None,
    *,
    by_round: bool = True,
    by_place: bool = True,
) -> Efficiency:
    """Return the average efficiency factor of a layout, 0 to 1, and what can be compared in it.

    1 means that nothing is lost to differences between rounds and places: baits are compared
    as sharply as if all traps stood in one round on places that are alike. 0.5 means that
    twice as many traps are needed for the same.

    Parameters
    ----------
    rounds : array_like of int, shape (n_rounds, n_places)
        The bait on each place in each round, counted from 0; -1 for none.
    n_baits : int, optional
        2 or more; by default one more than the largest number in the layout. A bait that
        never hangs can be compared with none.
    by_round, by_place : bool
        Whether rounds, and places, differ and are allowed for. In one round the places
        cannot be: every trap has one of its own, and nothing is left to compare.

    Raises
    ------
    InvalidValue
        No table of whole numbers from -1, or fewer than two baits.

    Notes
    -----
    With n traps of each bait and C the information on the baits after rounds and places are
    eliminated, the canonical factors are the eigenvalues of n^(-1/2) C n^(-1/2), that of the
    overall mean left out. The average factor is the mean variance of the difference of two
    baits with these n if nothing had to be eliminated, over the one after elimination:
    (t - 1) sum(1 / n) / (t trace(C+)) for t baits.

    References
    ----------
    James & Wilkinson (1971) Biometrika 58:279-294, canonical efficiency factors; John &
    Williams (1995), Cyclic and Computer Generated Designs, ch. 2 (both from memory).

    Examples
    --------
    >>> square = [[0, 1, 2], [1, 2, 0], [2, 0, 1]]
    >>> round(design_efficiency(square).average, 6), round(design_efficiency(square[:2]).average, 6)
    (1.0, 0.75)
    >>> design_efficiency([[0, 1, 2], [0, 1, 2]]).groups  # baits that stay on their places
    ((0,), (1,), (2,))
    """
    layout = _checked(rounds)
    if layout.ndim != 2:
        raise InvalidValue(
            f"A table of rounds and places is needed, not one of shape {layout.shape}.", "rounds"
        )
    n_baits = _number_of_baits(layout, n_baits)
    if n_baits < 2:
        raise InvalidValue("One bait is no comparison.", "rounds", "Compare two baits or more.")
    return _of_information(*_information(layout, n_baits, by_round, by_place))


def carry_over_counts(rounds: npt.ArrayLike, n_baits: int | None = None) -> IntArray:
    """Return how often a bait follows another on a place, shape (..., n_baits, n_baits).

    Parameters
    ----------
    rounds : array_like of int, shape (..., n_rounds, n_places)
        The bait on each place in each round, counted from 0; -1 for none. Layouts may be
        stacked in front.
    n_baits : int, optional
        By default one more than the largest number in the layout.

    Returns
    -------
    ndarray
        ``counts[..., a, b]``: how often bait b hangs where bait a hung one round before; on
        the diagonal, how often a bait follows itself.

    Raises
    ------
    InvalidValue
        No table of whole numbers from -1.

    References
    ----------
    Williams (1949) Aust J Sci Res A 2:149-168: designs in which every ordered pair of
    different treatments occurs equally often (from memory).

    Examples
    --------
    >>> carry_over_counts([[0, 1, 2], [1, 2, 0], [2, 0, 1]]).tolist()  # cyclic: always one after
    [[0, 2, 0], [0, 0, 2], [2, 0, 0]]
    """
    layouts = _checked(rounds)
    if layouts.ndim < 2:
        raise InvalidValue(
            f"A table of rounds and places is needed, not one of shape {layouts.shape}.", "rounds"
        )
    n_baits = _number_of_baits(layouts, n_baits)
    shape = layouts.shape[:-2]
    before, after = layouts[..., :-1, :], layouts[..., 1:, :]
    pairs = (before * n_baits + after).reshape(*shape, -1)
    n_layouts = int(np.prod(shape))
    offsets = np.arange(n_layouts).reshape(*shape, 1) * n_baits**2
    is_pair = ((before >= 0) & (after >= 0)).reshape(pairs.shape)
    counts = np.bincount((pairs + offsets)[is_pair], minlength=n_layouts * n_baits**2)
    return counts.astype(np.int64, copy=False).reshape(*shape, n_baits, n_baits)


def _checked(rounds: npt.ArrayLike) -> IntArray:
    """Return rounds as an array of int64; InvalidValue unless they are whole numbers from -1."""
    try:
        values = np.asarray(rounds)
    except ValueError as error:
        raise InvalidValue("The rounds have different numbers of places.", "rounds") from error
    if not np.issubdtype(values.dtype, np.integer) or values.size == 0 or values.min() < -1:
        raise InvalidValue("A bait is a whole number from 0, or -1 for none.", "rounds")
    return values.astype(np.int64)


def _number_of_baits(layout: IntArray, n_baits: int | None) -> int:
    least = int(layout.max()) + 1
    if n_baits is None:
        return least
    if n_baits < least:
        raise InvalidValue(f"Bait {least} of {n_baits} baits.", "rounds", "Correct the number.")
    return n_baits


def _of_information(information: FloatArray, uses: FloatArray) -> Efficiency:
    """Return the efficiency from the information on the baits (t, t) and the traps a bait (t,)."""
    scale = 1 / np.sqrt(np.maximum(uses, 1))
    values, vectors = np.linalg.eigh(scale[:, None] * information * scale)
    is_lost = values < _NOTHING  # one at least, the mean of all baits
    factors = np.clip(values[1:], 0.0, 1.0)
    factors[is_lost[1:]] = 0.0
    groups = _groups(vectors[:, is_lost] * scale[:, None])
    if is_lost.sum() > 1:
        return Efficiency(0.0, tuple(factors.tolist()), groups)
    after = len(uses) * float(np.trace(_inverse(information)))
    average = (len(uses) - 1) * float((1 / uses).sum()) / after
    return Efficiency(min(1.0, average), tuple(factors.tolist()), groups)


def _information(
    layout: IntArray, n_baits: int, by_round: bool, by_place: bool
) -> tuple[FloatArray, FloatArray]:
    """Return the information on the baits (t, t) after rounds and places, and traps a bait (t,)."""
    round_, place = np.nonzero(layout >= 0)
    bait = layout[round_, place]
    round_, place = round_ * by_round, place * by_place  # all in one round, all on one place
    n_rounds, n_places = layout.shape
    on_place = np.hstack(
        [_meetings(place, n_places, bait, n_baits), _meetings(place, n_places, round_, n_rounds)]
    )
    in_round = _meetings(round_, n_rounds, bait, n_baits)
    uses = in_round.sum(axis=0)
    each = np.hstack([uses, in_round.sum(axis=1)])
    both = np.diag(each)
    both[n_baits:, :n_baits] = in_round
    both[:n_baits, n_baits:] = in_round.T
    # Places first, of which there may be many: each is its own mean.
    traps = np.maximum(on_place[:, :n_baits].sum(axis=1), 1)
    both -= on_place.T @ (on_place / traps[:, None])
    of_baits, across = both[:n_baits, :n_baits], both[:n_baits, n_baits:]
    return of_baits - across @ _inverse(both[n_baits:, n_baits:]) @ across.T, uses


def _meetings(ones: IntArray, n_ones: int, others: IntArray, n_others: int) -> FloatArray:
    """Return how often each of some meets each of others, shape (n_ones, n_others)."""
    counts = np.bincount(ones * n_others + others, minlength=n_ones * n_others)
    return counts.reshape(n_ones, n_others).astype(np.float64)


def _inverse(matrix: FloatArray) -> FloatArray:
    """Return the generalised inverse of a symmetric matrix that is not negative."""
    return np.asarray(np.linalg.pinv(matrix, _NOTHING, hermitian=True), dtype=np.float64)


def _groups(lost: FloatArray) -> tuple[tuple[int, ...], ...]:
    """Return baits with the same coordinates in what is lost: only they can be compared.

    The difference of two baits can be estimated when it is at right angles to every contrast
    that the layout says nothing about.
    """
    groups: list[list[int]] = []
    for bait, at in enumerate(lost):
        for group in groups:
            if np.allclose(at, lost[group[0]], rtol=0, atol=1e-7):
                group.append(bait)
                break
        else:
            groups.append([bait])
    return tuple(map(tuple, groups))

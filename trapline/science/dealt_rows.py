"""The rows of a comparison in an order of their own, and which of them could have changed baits.

The order depends on what the rows say and not on how they came, so that a drawn test gives the
same digits for the same rows in any order.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.arrangements import Groups, places_alike, traps_alike
from trapline.science.rank_statistics import FloatArray, IntArray, check_rates


@dataclass(frozen=True, eq=False)
class DealtRows:
    """Rows as they lay: rates (n,) with NaN for none, and the number of each row's bait (n,).

    ``baits`` names the numbers. Units of a group could have changed baits with each other; each
    is the rows of one ``unit``, a "trap" or a "place" with its bait history. They stay
    ``within`` None, "round", "block" or "round×block".
    """

    values: FloatArray
    codes: IntArray
    baits: tuple[Hashable, ...]
    groups: Groups
    unit: str
    within: str | None

    def of_pair(self, one: int, other: int) -> "DealtRows":
        """Return the rows of two baits, and which of those could have changed baits.

        Units are cut down to their rows with one of the two baits. They can change these with
        each other where they are the same visits: the same rounds and blocks.
        """
        at = np.full(self.codes.size, -1)
        of_two = np.flatnonzero((self.codes == one) | (self.codes == other))
        at[of_two] = np.arange(of_two.size)
        groups: Groups = []
        for units in self.groups:
            by_visits: dict[tuple[int, ...], list[list[int]]] = {}
            for rows in units:
                visits = tuple(visit for visit, row in enumerate(rows) if at[row] >= 0)
                if visits:
                    cut = [int(at[rows[visit]]) for visit in visits]
                    by_visits.setdefault(visits, []).append(cut)
            groups += by_visits.values()
        codes = (self.codes[of_two] == other).astype(np.int64)
        names = (self.baits[one], self.baits[other])
        return DealtRows(self.values[of_two], codes, names, groups, self.unit, self.within)


def dealt_rows(
    rates: npt.ArrayLike,
    labels: Sequence[Hashable],
    block: Sequence[Hashable] | None = None,
    round_: Sequence[Hashable] | None = None,
    place: Sequence[Hashable] | None = None,
) -> DealtRows:
    """Return the rows with what could have changed baits; see ``permutation_test``.

    Raises
    ------
    InvalidValue
        Lengths that differ, a rate that is negative or infinite.
    """
    values = np.asarray(rates, dtype=np.float64)
    _check_lengths(values, labels=labels, block=block, round_=round_, place=place)
    check_rates(values)
    order = _own_order(values, labels, block, round_, place)
    baits = tuple(sorted(dict.fromkeys(labels), key=_key))
    numbers = {bait: number for number, bait in enumerate(baits)}
    values = values[order]
    codes = np.array([numbers[labels[row]] for row in order], dtype=np.int64)
    block, round_, place = (
        None if column is None else [column[row] for row in order]
        for column in (block, round_, place)
    )
    moves, rows = [("round", round_), ("block", block)], np.flatnonzero(~np.isnan(values)).tolist()
    if place is not None and _is_fished_again(place, round_):
        unit, groups = "place", places_alike(place, round_, block)
        moves, rows = moves[1:], list(range(values.size))
    else:
        unit, groups = "trap", traps_alike(rows, round_, block)
    within = [name for name, c in moves if c is not None and len({c[row] for row in rows}) > 1]
    return DealtRows(values, codes, baits, groups, unit, "×".join(within) or None)


def _check_lengths(values: FloatArray, **columns: Sequence[Hashable] | None) -> None:
    for name, column in columns.items():
        if values.ndim != 1 or (column is not None and len(column) != values.size):
            n = "no" if column is None else len(column)
            raise InvalidValue(f"{n} values for rates of shape {values.shape}.", name)


def _own_order(
    values: FloatArray,
    labels: Sequence[Hashable],
    block: Sequence[Hashable] | None,
    round_: Sequence[Hashable] | None,
    place: Sequence[Hashable] | None,
) -> list[int]:
    """Return the rows in an order that does not depend on how they came.

    By where and when they lay, then by what was caught: traps of one place and round are
    matched with those of another place by that, and not by their baits, which are dealt out.
    """
    if place is not None and round_ is None:  # the rows of a place are its rounds in their order
        by_place = [_key(at) for at in place]
        return sorted(range(values.size), key=by_place.__getitem__)
    known = [
        [_key(value) for value in column] for column in (round_, block, place) if column is not None
    ]
    rates = zip(np.isnan(values).tolist(), np.nan_to_num(values).tolist(), strict=True)
    keys = list(zip(*known, rates, map(_key, labels), strict=True))
    return sorted(range(values.size), key=keys.__getitem__)


def _key(value: Hashable) -> tuple[str, str]:
    return str(value), type(value).__name__


def _is_fished_again(place: Sequence[Hashable], round_: Sequence[Hashable] | None) -> bool:
    """Return whether a place has rows in several rounds."""
    n_visits = len(place if round_ is None else set(zip(place, round_, strict=True)))
    return n_visits > len(set(place))

"""Ways in which baits could have been dealt out over traps or places, gone through or drawn."""

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterator, Sequence
from math import factorial, prod

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
History = tuple[int, ...]
# Units that can change baits with each other, each unit the rows that move together.
Groups = list[list[list[int]]]

CHUNK = 100_000  # elements worked on at once; larger chunks leave the cache


def traps_alike(
    rows: Sequence[int],
    round_: Sequence[Hashable] | None,
    block: Sequence[Hashable] | None,
) -> Groups:
    """Return strata of units of one row each: the rows of one round and block."""
    strata: dict[Hashable, list[list[int]]] = {}
    for row in rows:
        key = (round_[row] if round_ is not None else None, block[row] if block is not None else 0)
        strata.setdefault(key, []).append([row])
    return list(strata.values())


def places_alike(
    place: Sequence[Hashable],
    round_: Sequence[Hashable] | None,
    block: Sequence[Hashable] | None,
) -> Groups:
    """Return strata of places with the same rounds and blocks, each the rows of one place."""
    numbers: dict[Hashable, int] = {}
    places: dict[Hashable, list[tuple[int, Hashable, int]]] = {}
    for row, at in enumerate(place):
        when = numbers.setdefault(round_[row] if round_ is not None else None, len(numbers))
        where = block[row] if block is not None else None
        places.setdefault(at, []).append((when, where, row))
    strata: dict[Hashable, list[list[int]]] = {}
    for visits in places.values():
        visits.sort(key=lambda visit: visit[0])  # rows of one round stay in their order
        pattern = tuple(visit[:2] for visit in visits)
        strata.setdefault(pattern, []).append([row for _, _, row in visits])
    return list(strata.values())


class Dealings:
    """All arrangements of bait histories over the units of each group, equal ones counted once.

    A history is the tuple of baits of a unit's rows. What an arrangement amounts to is one row
    of sums, shape (2 × n_baits,): the doubled ranks of every bait, then its numbers of rows.

    Parameters
    ----------
    groups : list of list of list of int
        From :func:`traps_alike` or :func:`places_alike`; units of a group have equally many rows.
    baits : ndarray of int, shape (n,)
        The bait of each row as it was, from 0.
    doubled_ranks : ndarray of int, shape (n,)
        Twice the mid-rank of each row; 0 for a row without a rate.
    """

    def __init__(self, groups: Groups, baits: IntArray, doubled_ranks: IntArray) -> None:
        self._n_baits = int(baits.max()) + 1
        self._histories: list[list[History]] = []
        self._kinds: list[IntArray] = []  # of the history of each unit
        self._shares: list[IntArray] = []  # (units, kinds, 2 × n_baits): what it would add
        for units in groups:
            histories = [tuple(baits[rows].tolist()) for rows in units]
            kinds = sorted(set(histories))
            rows = np.array(units)
            shares = np.zeros((len(units), len(kinds), 2 * self._n_baits), dtype=np.int64)
            for k, kind in enumerate(kinds):
                for visit, bait in enumerate(kind):
                    ranks = doubled_ranks[rows[:, visit]]
                    shares[:, k, bait] += ranks
                    shares[:, k, self._n_baits + bait] += ranks > 0
            self._histories.append(histories)
            self._kinds.append(np.array([kinds.index(history) for history in histories]))
            self._shares.append(shares)
        self.n_arrangements = prod(
            factorial(kinds.size) // prod(map(factorial, np.bincount(kinds).tolist()))
            for kinds in self._kinds
        )

    def observed(self) -> IntArray:
        """Return the sums of the arrangement as it was, shape (2 × n_baits,)."""
        sums = np.zeros(2 * self._n_baits, dtype=np.int64)
        for kinds, shares in zip(self._kinds, self._shares, strict=True):
            sums += shares[np.arange(kinds.size), kinds].sum(axis=0)
        return sums

    def all_sums(self) -> tuple[IntArray, IntArray]:
        """Return the different sums (m, 2 × n_baits) and how many arrangements give each (m,).

        Unit by unit, with equal sums put together as soon as they stand at the same point: they
        are a small part of the arrangements.
        """
        sums = np.zeros((1, 2 * self._n_baits), dtype=np.int64)
        ways = np.ones(1, dtype=np.int64)
        for kinds, shares in zip(self._kinds, self._shares, strict=True):
            counts = np.bincount(kinds)
            steps = np.cumprod(np.append(1, counts[:-1] + 1))
            dealt = np.zeros(len(sums), dtype=np.int64)  # how many of each kind, in one number
            for share in shares:
                parts = []
                for kind, count in enumerate(counts):
                    left = dealt // steps[kind] % (count + 1) < count
                    parts.append((dealt[left] + steps[kind], sums[left] + share[kind], ways[left]))
                dealt, sums, ways = _merged(*map(np.concatenate, zip(*parts, strict=True)))
        return sums, ways

    def drawn_sums(self, rng: np.random.Generator, draws: int) -> Iterator[IntArray]:
        """Yield the sums of drawn arrangements in chunks (k, 2 × n_baits)."""
        step = max(1, CHUNK // max(shares[:, 0].size for shares in self._shares))
        for first in range(0, draws, step):
            n = min(step, draws - first)
            sums = np.zeros((n, 2 * self._n_baits), dtype=np.int64)
            for histories, kinds, shares in zip(
                self._histories, self._kinds, self._shares, strict=True
            ):
                baits = np.array(sorted(set(histories)))[:, 0]
                ranks = shares[:, 0, baits[0]]
                if len(histories[0]) == 1 and (ranks > 0).all():
                    # Single labels: to move the ranks instead comes to the same, and is faster.
                    counts = np.bincount(kinds)
                    moved = rng.permuted(np.tile(ranks, (n, 1)), axis=1)
                    first_of_bait = np.cumsum(counts) - counts
                    sums[:, baits] += np.add.reduceat(moved, first_of_bait, axis=1)
                    sums[:, self._n_baits + baits] += counts
                else:
                    dealt = rng.permuted(np.tile(kinds, (n, 1)), axis=1)
                    sums += shares[np.arange(kinds.size), dealt].sum(axis=1)
            yield sums

    def n_renamed(self) -> int:
        """Return how many arrangements are the one that was, with the baits renamed.

        They all have the same H. Baits whose names can be changed two by two are put into
        classes; then classes are matched, with the meetings of two baits as a check on the way.
        """
        units = [(g, history) for g, group in enumerate(self._histories) for history in group]
        classes = _classes_alike(units)
        meetings: defaultdict[tuple[int, int], Counter[Hashable]] = defaultdict(Counter)
        for group, history in units:
            for i, one in enumerate(history):
                for j, other in enumerate(history):
                    meetings[one, other][group, i, j] += 1

        def meet_alike(images: list[int], i: int) -> bool:
            one, image = classes[len(images)][0], classes[i][0]
            return all(
                meetings[one, classes[j][0]] == meetings[image, classes[k][0]]
                for j, k in enumerate([*images, i])
            )

        def matchings(images: list[int]) -> int:
            if len(images) == len(classes):
                names = {
                    a: b
                    for one, i in zip(classes, images, strict=True)
                    for a, b in zip(one, classes[i], strict=True)
                }
                return int(_stays(units, names))
            size = len(classes[len(images)])
            return sum(
                matchings([*images, i])
                for i, image in enumerate(classes)
                if i not in images and len(image) == size and meet_alike(images, i)
            )

        return prod(factorial(len(members)) for members in classes) * matchings([])


def _stays(units: list[tuple[int, History]], names: dict[int, int]) -> bool:
    """Return whether every group holds the same histories after baits are renamed."""
    renamed = ((group, tuple(names[b] for b in history)) for group, history in units)
    return Counter(renamed) == Counter(units)


def _classes_alike(units: list[tuple[int, History]]) -> list[list[int]]:
    """Return the baits in classes whose members can change names with each other."""
    baits = sorted({bait for _, history in units for bait in history})
    same = {bait: bait for bait in baits}
    classes: list[list[int]] = []
    for bait in baits:
        for members in classes:
            if _stays(units, {**same, bait: members[0], members[0]: bait}):
                members.append(bait)
                break
        else:
            classes.append([bait])
    return classes


def _merged(dealt: IntArray, sums: IntArray, ways: IntArray) -> tuple[IntArray, IntArray, IntArray]:
    """Return the different rows of ``dealt`` and ``sums``, with their ways added up."""
    columns = [dealt, *sums.T]
    spans = [int(np.ptp(column)) + 1 for column in columns]
    if prod(spans) < 2**62:
        key = np.zeros(dealt.size, dtype=np.int64)
        for column, span in zip(columns, spans, strict=True):
            key = key * span + (column - column.min())
        order = np.argsort(key, kind="stable")
        is_first = np.diff(key[order], prepend=-1) != 0
    else:
        order = np.lexsort(columns)
        is_first = np.zeros(dealt.size, dtype=bool)
        is_first[0] = True
        for column in columns:
            is_first[1:] |= np.diff(column[order]) != 0
    first = np.flatnonzero(is_first)
    kept = order[first]
    return dealt[kept], sums[kept], np.add.reduceat(ways[order], first)

"""Ways in which baits could have been dealt out over traps or places, gone through or drawn."""

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from math import factorial, prod

import numpy as np
import numpy.typing as npt

from trapline.science.rank_statistics import sums_by_bait

IntArray = npt.NDArray[np.int64]
History = tuple[int, ...]
# Units that can change baits with each other, each unit the rows that move together.
Groups = list[list[list[int]]]
# Called with 0 to 1 as the work goes on; what it raises ends the work.
Progress = Callable[[float], None]

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


@dataclass(frozen=True, eq=False)
class _Group:
    """Units that can change baits: ranks (units, visits), and which kind each had (units,).

    ``kinds`` are the different histories (kinds, visits).
    """

    ranks: IntArray
    kinds: IntArray
    dealt: IntArray

    @classmethod
    def made(cls, units: list[list[int]], baits: IntArray, doubled_ranks: IntArray) -> "_Group":
        rows = np.array(units)
        kinds, dealt = np.unique(baits[rows], axis=0, return_inverse=True)
        return cls(doubled_ranks[rows], kinds, dealt.reshape(-1))

    @property
    def are_single(self) -> bool:
        """Whether the units are single rows that all have a rate."""
        return self.ranks.shape[1] == 1 and bool((self.ranks > 0).all())

    def histories(self) -> list[History]:
        """Return the history of each unit."""
        return [tuple(history) for history in self.kinds[self.dealt].tolist()]


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
        self._groups = [_Group.made(units, baits, doubled_ranks) for units in groups]
        self.n_rows = sum(group.ranks.size for group in self._groups)
        self.n_arrangements = prod(
            factorial(group.dealt.size) // prod(map(factorial, np.bincount(group.dealt).tolist()))
            for group in self._groups
        )

    def observed(self) -> IntArray:
        """Return the sums of the arrangement as it was, shape (2 × n_baits,)."""
        sums = np.zeros(2 * self._n_baits, dtype=np.int64)
        for group in self._groups:
            sums += self._sums_of(group, group.dealt[None, :])[0]
        return sums

    def all_sums(self, progress: Progress | None = None) -> tuple[IntArray, IntArray]:
        """Return the different sums (m, 2 × n_baits) and how many arrangements give each (m,).

        Unit by unit, with equal sums put together as soon as they stand at the same point: they
        are a small part of the arrangements.
        """
        sums = np.zeros((1, 2 * self._n_baits), dtype=np.int64)
        ways = np.ones(1, dtype=np.int64)
        n_done, n_units = 0, sum(group.dealt.size for group in self._groups)
        for group in self._groups:
            counts = np.bincount(group.dealt)
            steps = np.cumprod(np.append(1, counts[:-1] + 1))
            dealt = np.zeros(len(sums), dtype=np.int64)  # how many of each kind, in one number
            for shares in self._shares(group):
                parts = []
                for kind, count in enumerate(counts):
                    left = dealt // steps[kind] % (count + 1) < count
                    parts.append((dealt[left] + steps[kind], sums[left] + shares[kind], ways[left]))
                dealt, sums, ways = _merged(*map(np.concatenate, zip(*parts, strict=True)))
                n_done += 1
                if progress is not None:
                    progress(n_done / n_units)
        return sums, ways

    def drawn_sums(self, rng: np.random.Generator, draws: int) -> Iterator[IntArray]:
        """Yield the sums of drawn arrangements in chunks (k, 2 × n_baits)."""
        fixed = np.zeros(2 * self._n_baits, dtype=np.int64)
        moving = []
        for group in self._groups:
            if len(group.kinds) == 1:
                fixed += self._sums_of(group, group.dealt[None, :])[0]
            else:
                moving.append(group)
        step = max(1, CHUNK // max((group.ranks.size for group in moving), default=1))
        for first in range(0, draws, step):
            n = min(step, draws - first)
            sums = np.tile(fixed, (n, 1))
            for group in moving:
                if group.are_single:
                    ranks = np.tile(group.ranks[:, 0], (n, 1))
                    sums += self._sums_of_ranks(group, rng.permuted(ranks, axis=1, out=ranks))
                else:
                    dealt = np.tile(group.dealt, (n, 1))
                    sums += self._sums_of(group, rng.permuted(dealt, axis=1, out=dealt))
            yield sums

    def _shares(self, group: "_Group") -> IntArray:
        """Return what each unit would add with each kind, (units, kinds, 2 × n_baits)."""
        shape = (group.dealt.size, *group.kinds.shape)
        ranks = np.broadcast_to(group.ranks[:, None, :], shape).reshape(-1, shape[2])
        baits = np.where(ranks > 0, np.tile(group.kinds, (shape[0], 1)), -1)
        return sums_by_bait(baits, ranks, self._n_baits).reshape(*shape[:2], -1)

    def _sums_of_ranks(self, group: "_Group", ranks: IntArray) -> IntArray:
        """Return sums where ranks (k, units) move over labels, which comes to the same."""
        counts = np.bincount(group.dealt)
        sums = np.zeros((len(ranks), 2 * self._n_baits), dtype=np.int64)
        baits = group.kinds[:, 0]
        sums[:, baits] = np.add.reduceat(ranks, np.cumsum(counts) - counts, axis=1)
        sums[:, self._n_baits + baits] = counts
        return sums

    def _sums_of(self, group: "_Group", dealt: IntArray) -> IntArray:
        """Return sums where kinds of history (k, units) are dealt out over the units."""
        baits = group.kinds[dealt]
        if not (group.ranks > 0).all():
            baits = np.where(group.ranks > 0, baits, -1)
        return sums_by_bait(baits.reshape(len(dealt), -1), group.ranks.ravel(), self._n_baits)

    def n_renamed(self) -> int:
        """Return how many arrangements are the one that was, with the baits renamed.

        They all have the same H. Baits whose names can be changed two by two are put into
        classes; then classes are matched, with the meetings of two baits as a check on the way.
        """
        units = [(g, h) for g, group in enumerate(self._groups) for h in group.histories()]
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

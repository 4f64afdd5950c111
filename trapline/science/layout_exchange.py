"""Layouts that differ from one that was drawn only in which of two baits stands where.

Places of the one bait are paired with places of the other within each round (and block), and rounds
of the one with rounds of the other on each place, as many as can be. Pairs hang together in paths
and cycles. On each of these the two baits can change names; the same pairs can then be made in the
new layout, so the way back is as likely. It is taken where the new layout was as likely to be
drawn: no less even, and its baits follow each other as evenly where that counted.

Where there is only one way to make the pairs, all layouts that this leads to are listed, or tossed
for. Otherwise a chain walks over them: each step makes pairs at random and tosses coins for their
paths, three times. Draws are made as Besag and Clifford say: some steps from the layout that was
fished to a layout in the middle, and from there as many steps to each draw. If the fished layout
was drawn with equal chances, then it and the draws are exchangeable, however badly the chain mixes;
what suffers then is only how much the test can see.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.design_efficiency import carry_over_counts
from trapline.science.layout import Scheme
from trapline.science.layout_scheme import BaitArray, RoundRules, checked_rounds
from trapline.science.layout_table import Task

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_STEPS = 8  # then the ends of chains have forgotten their middle, as far as tests see
_STEPS_EVENLY = 24  # where most changes are not taken
_TOSSES = 3  # for the same pairs: they take less time than to make pairs
_MOST_PATHS = 16  # of which all sets are looked through: 65,536
_MOST_CELLS = 50_000  # that a chain walks over at once; half a second of work
_LEAST_DRAWS = 500


def exchanged(
    scheme: Scheme,
    layout: npt.ArrayLike,
    pair: tuple[int, int],
    rng: np.random.Generator,
    n_draws: int,
    n_fished: int = 0,
) -> tuple[BaitArray, bool]:
    """Return layouts with the other baits where they were, and whether they are a whole set.

    Their shape is (n, n_rounds, n_places). A whole set holds the layout itself, each once, and
    each was as likely to be drawn; else they are draws.

    Parameters
    ----------
    scheme : Scheme
        What the layout was drawn by.
    layout : array_like of int, shape (n_rounds, n_places)
        A layout of the scheme.
    pair : tuple of int
        The two baits, 0 to n_baits - 1.
    rng : numpy.random.Generator
        Where the chance comes from.
    n_draws : int
        1 or more; with many places and rounds fewer are made, and a whole set has its own number.
    n_fished : int
        So many of the first rounds were given, not drawn: they stay.

    Raises
    ------
    InvalidValue
        Rounds that are not those of the scheme.

    References
    ----------
    Besag and Clifford (1989), Biometrika 76, 633-642: the parallel method (from memory).

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> square = [[0, 1, 2], [1, 2, 0], [2, 0, 1]]
    >>> found, is_whole = exchanged(Scheme(3, 3, 3), square, (0, 2), rng, 50)
    >>> is_whole, found.tolist()  # its six places hang together
    (True, [[[0, 1, 2], [1, 2, 0], [2, 0, 1]], [[2, 1, 0], [1, 0, 2], [0, 2, 1]]])
    """
    whole = checked_rounds(scheme, layout)
    if len(whole) != scheme.n_rounds:
        raise InvalidValue(f"{len(whole)} rounds of {scheme.n_rounds}.", "layout")
    if not scheme.rotated and n_fished:  # all was given
        return whole[None], True
    n_open = scheme.n_rounds - n_fished if scheme.rotated else 1
    cells = _Cells.made(scheme, whole[: n_fished + n_open], n_fished, pair)
    if not cells.line.size:
        return whole[None], True
    has_first, is_whole = _looked_through(cells, rng, n_draws)
    if has_first is None:
        has_first = _walked(cells, rng, n_draws)
    layouts = np.tile(whole, (len(has_first), 1, 1))
    layouts[:, n_fished:] = cells.layouts(has_first)
    return layouts, is_whole


@dataclass(frozen=True, eq=False)
class _Cells:
    """The open cells that hold one of two baits: in which line and on which place they are.

    A line is a round, or a block of one. ``has_first`` says which hold the first of the two.
    """

    task: Task
    rounds: BaitArray  # the open ones
    evenly: bool  # baits that follow each other evenly were more likely
    pair: tuple[int, int]
    row: IntArray
    place: IntArray
    line: IntArray
    has_first: BoolArray

    @classmethod
    def made(
        cls, scheme: Scheme, whole: BaitArray, n_fished: int, pair: tuple[int, int]
    ) -> "_Cells":
        rules = RoundRules(scheme)
        least, most = rules.per_place(scheme.n_rounds if scheme.rotated else 1)
        rounds = whole[n_fished:]
        task = Task(rules, whole[:n_fished], len(rounds), least, most)
        row, place = np.nonzero(np.isin(rounds, pair))
        line = row.astype(np.int64)
        evenly = scheme.even_succession and scheme.rotated
        if rules.in_blocks and set(pair) <= set(rules.free):
            before = np.cumsum(np.isin(rounds, rules.free), axis=1) - 1
            line = line * rules.n_places + before[row, place] // len(rules.free)
        return cls(task, rounds, evenly, pair, row, place, line, rounds[row, place] == pair[0])

    @property
    def are_linked_in_one_way(self) -> bool:
        """Whether no line or place has more than one of each bait, and both are bound alike."""
        return self.are_bound_alike and all(
            np.unique(np.stack([group, self.has_first]), axis=1).shape[1] == group.size
            for group in (self.line, self.place)
        )

    @property
    def are_bound_alike(self) -> bool:
        """Whether neither of the baits has a limit: a round may then hold each for the other."""
        return set(self.pair) <= set(self.task.rules.free)

    @property
    def can_all_change(self) -> bool:
        """Whether the layout stays as likely whichever paths change names."""
        is_bound = self.task.fished.size or self.task.rules.n_extra or self.evenly
        return self.are_bound_alike and not is_bound

    def layouts(self, has_first: BoolArray) -> BaitArray:
        """Return the open rounds, (n, n_open, n_places)."""
        rounds = np.tile(self.rounds, (len(has_first), 1, 1))
        rounds[:, self.row, self.place] = np.where(has_first, *self.pair)
        return rounds

    def stepped(self, has_first: BoolArray, rng: np.random.Generator) -> BoolArray:
        """Return one step of each chain, (n, cells)."""
        path = self.paths(has_first, rng)
        for _ in range(_TOSSES):
            tosses = rng.random(has_first.shape) < 0.5
            # Where many paths are open, most sets of them lead out; one alone may not.
            alone = rng.random((len(path), 1)) < 0.5
            one = rng.integers(path.shape[1], size=(len(path), 1))
            chosen = np.take_along_axis(path, one, axis=1)
            turned = np.where(alone, path == chosen, np.take_along_axis(tosses, path, axis=1))
            new = has_first ^ turned
            taken = self._could_be_drawn(has_first, new)
            has_first = np.where(taken[:, None], new, has_first)
        return has_first

    def paths(self, has_first: BoolArray, rng: np.random.Generator) -> IntArray:
        """Return for each cell (n, cells) the first cell that hangs together with it."""
        partners = [_partners(group, has_first, rng) for group in (self.line, self.place)]
        path = np.tile(np.arange(self.line.size), (len(has_first), 1))
        while True:
            least = path
            for partner in partners:
                least = np.minimum(least, np.take_along_axis(least, partner, axis=1))
            least = np.take_along_axis(least, least, axis=1)
            if (least == path).all():
                return path
            path = least

    def _could_be_drawn(self, old: BoolArray, new: BoolArray) -> BoolArray:
        """Return for each chain whether the new layout was as likely, if the old one was."""
        good = np.ones(len(new), dtype=bool)
        for group in (self.line, self.place):  # the pairs made are as many as can be
            apart = [_sums(np.where(has_first, 1, -1), group) for has_first in (old, new)]
            good &= (np.abs(apart[0]) == np.abs(apart[1])).all(axis=1)
        if self.can_all_change:
            return good
        rounds = self.layouts(new)
        if not self.are_bound_alike:
            flat = rounds.reshape(-1, rounds.shape[2])
            good &= self.task.rules.permitted(flat).reshape(len(new), -1).all(axis=1)
        good &= (self.on_places(rounds) == self.on_places(self.rounds[None])).all(axis=1)
        return good & self.are_as_even(self.counts(rounds))

    def on_places(self, rounds: BaitArray) -> IntArray:
        """Return how uneven the two baits are on each place, (n, n_places)."""
        uneven = np.zeros((len(rounds), rounds.shape[2]), dtype=np.int64)
        for bait in self.pair:
            counts = (rounds == bait).sum(axis=1) + (self.task.fished == bait).sum(axis=0)
            uneven += np.maximum(0, self.task.least[bait] - counts)
            uneven += np.maximum(0, counts - self.task.most[bait])
        return uneven

    def counts(self, rounds: BaitArray) -> IntArray:
        """Return how often each bait is used and, where it counts, follows each other one."""
        n_baits = self.task.rules.n_baits
        used = [(rounds == bait).sum(axis=(1, 2)) for bait in range(n_baits)]
        counts = np.stack(used, axis=1)
        if not self.evenly:
            return counts
        before = np.tile(self.task.fished, (len(rounds), 1, 1))
        following = carry_over_counts(np.concatenate([before, rounds], axis=1), n_baits)
        return np.concatenate([counts, following.reshape(len(rounds), -1)], axis=1)

    def are_as_even(self, counts: IntArray) -> BoolArray:
        """Return for each row of :meth:`counts` whether it is as even as that of the layout."""
        mine = self.counts(self.rounds[None])
        n_baits = self.task.rules.n_baits
        fished = np.array([(self.task.fished == bait).sum() for bait in range(n_baits)])
        uneven = [
            (
                self.task.unevenness_of_totals(some[:, :n_baits] + fished),
                (some[:, n_baits:] ** 2).sum(axis=1),
            )
            for some in (counts, mine)
        ]
        as_even: BoolArray = (uneven[0][0] == uneven[1][0]) & (uneven[0][1] == uneven[1][1])
        return as_even


def _looked_through(
    cells: _Cells, rng: np.random.Generator, n_draws: int
) -> tuple[BoolArray | None, bool]:
    """Return which cells have the first bait (n, cells) in all layouts or in tosses; or None.

    Only where pairs can be made in one way: then each path adds to the counts of baits and of
    their successions whatever the others do. Of very many paths some, chosen by chance, change.
    """
    if not cells.are_linked_in_one_way:
        return None, False
    first_cells, path = np.unique(
        cells.paths(cells.has_first[None, :], rng)[0], return_inverse=True
    )
    one_by_one = cells.has_first ^ (path == np.arange(first_cells.size)[:, None])
    rounds = cells.layouts(one_by_one)
    as_on_places = (cells.on_places(rounds) == cells.on_places(cells.rounds[None])).all(axis=1)
    changing = np.flatnonzero(as_on_places)
    if changing.size > _MOST_PATHS:
        if cells.can_all_change:
            return cells.has_first ^ (rng.random((n_draws, first_cells.size)) < 0.5)[:, path], False
        changing = np.sort(rng.choice(changing, _MOST_PATHS, replace=False))
    mine = cells.counts(cells.rounds[None])
    changes = cells.counts(rounds[changing]) - mine
    sets = (np.arange(2**changing.size)[:, None] >> np.arange(changing.size) & 1).astype(bool)
    counts = mine + np.rint(sets.astype(np.float64) @ changes).astype(np.int64)
    sets = sets[cells.are_as_even(counts)]
    turned = np.zeros((len(sets), first_cells.size), dtype=bool)
    turned[:, changing] = sets
    return cells.has_first ^ turned[:, path], True


def _walked(cells: _Cells, rng: np.random.Generator, n_draws: int) -> BoolArray:
    """Return which cells have the first bait (n, cells) at the ends of chains."""
    n_steps = _STEPS_EVENLY if cells.evenly else _STEPS
    middle = cells.has_first[None, :]
    for _ in range(n_steps):
        middle = cells.stepped(middle, rng)
    n = min(n_draws, max(_LEAST_DRAWS, _MOST_CELLS // cells.line.size))
    has_first = np.tile(middle, (n, 1))
    for _ in range(n_steps):
        has_first = cells.stepped(has_first, rng)
    return has_first


def _sums(values: IntArray, group: IntArray) -> IntArray:
    """Return the values (n, cells) summed over each group, (n, groups)."""
    order = np.argsort(group, kind="stable")
    first = np.flatnonzero(np.diff(group[order], prepend=-1))
    return np.add.reduceat(values[:, order], first, axis=1)


def _partners(group: IntArray, has_first: BoolArray, rng: np.random.Generator) -> IntArray:
    """Return for each cell (n, cells) the one it is paired with, or itself.

    Within a group each cell with the first bait gets a random one with the second, until the
    one or the other are used up.
    """
    n, m = has_first.shape
    kind = 2 * group + has_first
    order = np.argsort(kind + rng.random((n, m)), axis=1)
    in_order = np.take_along_axis(kind, order, axis=1)
    is_first = np.diff(in_order, axis=1, prepend=-1) != 0
    first = np.maximum.accumulate(np.where(is_first, np.arange(m), 0), axis=1)
    # The nth of the one bait in a group and the nth of the other come to stand side by side.
    token = 2 * (in_order // 2 * m + np.arange(m) - first) + in_order % 2
    by_token = np.argsort(token, axis=1)
    cells = np.take_along_axis(order, by_token, axis=1)
    half = np.take_along_axis(token, by_token, axis=1) // 2
    same = half[:, 1:] == half[:, :-1]
    partner = np.tile(np.arange(m), (n, 1))
    chain, at = np.nonzero(same)
    partner[chain, cells[chain, at]] = cells[chain, at + 1]
    partner[chain, cells[chain, at + 1]] = cells[chain, at]
    return partner

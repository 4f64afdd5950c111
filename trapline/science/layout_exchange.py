"""Layouts that differ from one that was drawn only in which of two baits stands where.

A chain walks over them. A step pairs, at random, places of the one bait with places of the other
within each round (and block), and rounds of the one with rounds of the other on each place, as many
as can be. Pairs hang together in paths and cycles. On each of these the two baits change names or
not, by the toss of a coin, and the step is taken where the layout is one that was as likely to be
drawn: no less even, and its baits follow each other as evenly where that counted. The same pairs
could be made in the new layout, so the way back is as likely: every layout is as likely in the long
run.

Draws are made as Besag and Clifford say: some steps from the layout that was fished to a layout in
the middle, and from there as many steps to each draw. If the fished layout was drawn with equal
chances, then it and the draws are exchangeable, however badly the chain mixes; what suffers then is
only how much the test can see.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.layout import Scheme
from trapline.science.layout_scheme import BaitArray, RoundRules, checked_rounds
from trapline.science.layout_succession import succession_unevenness
from trapline.science.layout_table import Task

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

_STEPS = 8  # each step lets half of all paths and cycles change


def exchanged(
    scheme: Scheme,
    layout: npt.ArrayLike,
    pair: tuple[int, int],
    rng: np.random.Generator,
    n_draws: int,
    n_fished: int = 0,
) -> BaitArray:
    """Return draws of layouts with two baits where they were, shape (n_draws, n_rounds, n_places).

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
        1 or more.
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
    >>> draws = exchanged(Scheme(3, 3, 3), square, (0, 2), rng, 50)
    >>> np.unique(draws, axis=0).tolist()  # its six places hang together
    [[[0, 1, 2], [1, 2, 0], [2, 0, 1]], [[2, 1, 0], [1, 0, 2], [0, 2, 1]]]
    """
    whole = checked_rounds(scheme, layout)
    if len(whole) != scheme.n_rounds:
        raise InvalidValue(f"{len(whole)} rounds of {scheme.n_rounds}.", "layout")
    draws = np.tile(whole, (n_draws, 1, 1))
    if not scheme.rotated and n_fished:  # all was given
        return draws
    n_open = scheme.n_rounds - n_fished if scheme.rotated else 1
    cells = _Cells.made(scheme, whole[: n_fished + n_open], n_fished, pair)
    if not cells.line.size:
        return draws
    if cells.hang_together_in_one_way() and cells.can_all_change():
        has_first = cells.tossed(n_draws, rng)
    else:
        middle = cells.has_first[None, :]
        for _ in range(_STEPS):
            middle = cells.stepped(middle, rng)
        has_first = np.tile(middle, (n_draws, 1))
        for _ in range(_STEPS):
            has_first = cells.stepped(has_first, rng)
    draws[:, n_fished:] = cells.layouts(has_first)
    return draws


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

    def hang_together_in_one_way(self) -> bool:
        """Return whether no line or place has more than one of each bait: then one step mixes."""
        return all(
            np.unique(np.stack([group, self.has_first]), axis=1).shape[1] == group.size
            for group in (self.line, self.place)
        )

    def layouts(self, has_first: BoolArray) -> BaitArray:
        """Return the open rounds, (n, n_open, n_places)."""
        rounds = np.tile(self.rounds, (len(has_first), 1, 1))
        rounds[:, self.row, self.place] = np.where(has_first, *self.pair)
        return rounds

    def can_all_change(self) -> bool:
        """Return whether the layout stays one of the scheme whichever paths change names."""
        rules = self.task.rules
        is_even = set(self.pair) <= set(rules.free) and not self.task.fished.size
        return is_even and not rules.n_extra and not self.evenly

    def tossed(self, n: int, rng: np.random.Generator) -> BoolArray:
        """Return draws of :meth:`hang_together_in_one_way` cells (n, cells)."""
        path = self._paths(self.has_first[None, :], rng)[0]
        turned: BoolArray = (rng.random((n, path.size)) < 0.5)[:, path]
        return self.has_first ^ turned

    def stepped(self, has_first: BoolArray, rng: np.random.Generator) -> BoolArray:
        """Return one step of each chain, (n, cells)."""
        path = self._paths(has_first, rng)
        tosses = rng.random(has_first.shape) < 0.5
        # Where many paths are open, most sets of them lead out; one alone may not.
        alone = rng.random((len(path), 1)) < 0.5
        chosen = np.take_along_axis(path, rng.integers(path.shape[1], size=(len(path), 1)), axis=1)
        turned = np.where(alone, path == chosen, np.take_along_axis(tosses, path, axis=1))
        new = has_first ^ turned
        taken = self._could_be_drawn(has_first, new)
        stepped: BoolArray = np.where(taken[:, None], new, has_first)
        return stepped

    def _paths(self, has_first: BoolArray, rng: np.random.Generator) -> IntArray:
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
        """Return for each chain whether the new layout is one of the scheme, if the old one is."""
        good = np.ones(len(new), dtype=bool)
        for group in (self.line, self.place):  # the pairs made are as many as can be
            apart = [_sums(np.where(has_first, 1, -1), group) for has_first in (old, new)]
            good &= (np.abs(apart[0]) == np.abs(apart[1])).all(axis=1)
        if self.can_all_change():
            return good
        rounds = self.layouts(new)
        flat = rounds.reshape(-1, rounds.shape[2])
        good &= self.task.rules.permitted(flat).reshape(len(new), -1).all(axis=1)
        as_even: BoolArray = self._unevenness(rounds) == self._unevenness(self.rounds[None])
        return np.asarray(good & as_even.all(axis=1))

    def _unevenness(self, rounds: BaitArray) -> IntArray:
        """Return how uneven each place is, the baits over the trip, and their successions."""
        baits = np.arange(self.task.rules.n_baits)
        counts = self.task.fished_counts() + (rounds[..., None] == baits).sum(axis=1)
        lack = np.maximum(0, np.array(self.task.least) - counts)
        excess = np.maximum(0, counts - np.array(self.task.most))
        totals = self.task.unevenness_of_totals(counts.sum(axis=1))
        uneven = [(lack + excess).sum(axis=2), totals[:, None]]
        if self.evenly:
            before = np.tile(self.task.fished, (len(rounds), 1, 1))
            whole = np.concatenate([before, rounds], axis=1)
            uneven.append(succession_unevenness(whole, self.task.rules.n_baits)[:, None])
        return np.concatenate(uneven, axis=1)


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

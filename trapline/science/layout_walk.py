"""Balanced layouts of large trips, drawn by a Markov chain; small ones are in ``layout_table``.

The chain walks over all arrangements whose rounds are permitted, balanced or not. A step
proposes one of four changes, each as likely as its reverse:

* two places change baits in one round;
* one place gets another bait in one round;
* two rounds change baits on the places of one cycle: every place of the one round is matched at
  random with a place of the other that has the same bait, which splits the places into cycles
  and open paths, and the one through a random place is taken. Both rounds keep their baits, and
  every place keeps its own;
* the same with two places and the rounds of one cycle.

It is taken with probability min(1, exp(-GREED × increase in unevenness)), never where a round
would not be permitted. The first two kinds alone lead from every permitted round to every other,
so the chain reaches every arrangement. It is watched only while it stands on layouts of the least
unevenness; the watched chain is reversible with the same chance for each of them.

A cycle is as likely to be taken back: reversing the matching along it gives the same cycle in the
changed layout, and both layouts have equally many matchings.
"""

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from trapline.science.layout_scheme import BaitArray, RoundRules, Scheme
from trapline.science.layout_table import Task

BoolArray = npt.NDArray[np.bool_]

GREED = 1.5  # higher ones left 3 baits × 6 places × 3 rounds unmixed before there were cycles
# Visits to balanced layouts before a draw, for each place and open round. With 3 the mean number
# of 2 × 2 exchanges agrees with exact draws where both can be had (7 schemes, 1000-4000 draws).
_VISITS_A_CELL = 5
_SEARCH_STEPS_A_CELL = 100  # steps in which the least unevenness is looked for
_MOST_CHAINS = 400


def walk_layouts(task: Task, rng: np.random.Generator, n_draws: int) -> tuple[BaitArray, int]:
    """Return the open rounds of drawn layouts (n_draws, n_open, n_places) and their unevenness.

    Unevenness 0 is balanced. Where it is not 0, a more even layout may exist that no chain met.
    """
    parts = [_walk_part(part, rng, n_draws) for part in _parts(task)]
    layouts: BaitArray = np.concatenate(parts, axis=2)
    return layouts, int(task.unevenness(layouts[:1])[0])


def _parts(task: Task) -> list[Task]:
    """Return the blocks one by one where they do not touch each other, else the whole line."""
    rules = task.rules
    size = len(rules.free)
    if not rules.in_blocks or rules.wandering or rules.n_places <= size:
        return [task]
    parts = []
    for first in range(0, rules.n_places, size):
        fished = task.fished[:, first : first + size]
        block = RoundRules(Scheme(fished.shape[1], rules.n_baits))
        parts.append(replace(task, rules=block, fished=fished))
    return parts


def _walk_part(task: Task, rng: np.random.Generator, n_draws: int) -> BaitArray:
    """Return the open rounds of drawn layouts of one part, (n_draws, n_open, n_places)."""
    n_cells = task.n_open * task.rules.n_places
    n_chains = min(n_draws, _MOST_CHAINS)
    walk = Walk(task, rng, n_chains)
    least = int(walk.costs.min())
    for _ in range(_SEARCH_STEPS_A_CELL * n_cells):
        if least == 0:
            break
        walk.step()
        least = min(least, int(walk.costs.min()))
    # Every chain gives equally many draws: the first ones to arrive are not a fair sample.
    draws_a_chain = -(-n_draws // n_chains)
    layouts = np.empty((draws_a_chain, n_chains, *walk.rounds.shape[1:]), dtype=np.int8)
    visits = np.zeros(n_chains, dtype=np.int64)
    apart = _VISITS_A_CELL * n_cells
    while visits.min() < apart * draws_a_chain:
        walk.step()
        lowest = int(walk.costs.min())
        if lowest < least:
            least = lowest
            visits[:] = 0
        at_least = walk.costs == least
        visits += at_least
        due = np.flatnonzero(at_least & (visits % apart == 0) & (visits <= apart * draws_a_chain))
        layouts[visits[due] // apart - 1, due] = walk.rounds[due]
    return layouts.reshape(-1, *walk.rounds.shape[1:])[:n_draws]


class Walk:
    """A number of independent chains side by side: ``rounds`` (n_chains, n_open, n_places)."""

    def __init__(self, task: Task, rng: np.random.Generator, n_chains: int) -> None:
        self.task = task
        self.rng = rng
        self.n_chains = n_chains
        self._chain = np.arange(n_chains)
        self._proposals = [self._places_swapped, self._rounds_cycled, self._places_cycled]
        if task.rules.n_extra:
            self._proposals.append(self._place_baited)
        rounds = [self._some_round() for _ in range(n_chains * task.n_open)]
        self.rounds = np.array(rounds, dtype=np.int8).reshape(n_chains, task.n_open, -1)
        self.costs = self._costs(self.rounds)

    def step(self) -> None:
        """Propose one change in every chain and take it or leave it."""
        new = self._proposals[self.rng.integers(len(self._proposals))]()
        changed = (new != self.rounds).any(axis=2)
        permitted = np.ones(self.n_chains, dtype=bool)
        chain, row = np.nonzero(changed)
        good = self.task.rules.permitted(new[chain, row])
        permitted[chain[~good]] = False
        costs = self._costs(new)
        chance = np.exp(np.minimum(0, GREED * (self.costs - costs)))
        taken = permitted & (self.rng.random(self.n_chains) < chance)
        self.rounds[taken] = new[taken]
        self.costs[taken] = costs[taken]

    def _places_swapped(self) -> BaitArray:
        new = self.rounds.copy()
        n_open, n_places = new.shape[1:]
        row = self.rng.integers(n_open, size=self.n_chains)
        a, b = self.rng.integers(n_places, size=(2, self.n_chains))
        new[self._chain, row, a] = self.rounds[self._chain, row, b]
        new[self._chain, row, b] = self.rounds[self._chain, row, a]
        return new

    def _place_baited(self) -> BaitArray:
        new = self.rounds.copy()
        n_open, n_places = new.shape[1:]
        row = self.rng.integers(n_open, size=self.n_chains)
        place = self.rng.integers(n_places, size=self.n_chains)
        new[self._chain, row, place] = self.rng.integers(
            self.task.rules.n_baits, size=self.n_chains
        )
        return new

    def _rounds_cycled(self) -> BaitArray:
        """Two rounds change baits on the places of one cycle."""
        rules = self.task.rules
        blocks = np.arange(rules.n_places) // len(rules.free)
        within = blocks if rules.in_blocks and not rules.wandering else 0 * blocks
        return self._cycled(self.rounds, within)

    def _places_cycled(self) -> BaitArray:
        """Two places change baits in the rounds of one cycle."""
        within = np.zeros(self.rounds.shape[1], dtype=np.int64)
        turned = self._cycled(self.rounds.transpose(0, 2, 1), within)
        return turned.transpose(0, 2, 1)

    def _cycled(self, lines: BaitArray, within: npt.NDArray[np.int64]) -> BaitArray:
        """Return lines (n, k, m) with two of the k lines swapped along a cycle of the m cells."""
        new = lines.copy()
        k, m = lines.shape[1:]
        if k == 1:
            return new
        one = self.rng.integers(k, size=self.n_chains)
        other = (one + self.rng.integers(1, k, size=self.n_chains)) % k
        a, b = lines[self._chain, one], lines[self._chain, other]
        labels = within * self.task.rules.n_baits
        rank_a, rank_b = self._ranks(a + labels), self._ranks(b + labels)
        start = self.rng.integers(m, size=self.n_chains)
        swapped = np.zeros((self.n_chains, m), dtype=bool)
        for ranks, others in ((rank_b, rank_a), (rank_a, rank_b)):
            matched = ranks[:, :, None] == others[:, None, :]
            following = np.where(matched.any(axis=2), matched.argmax(axis=2), -1)
            self._follow(following, start, swapped)
        new[self._chain, one] = np.where(swapped, b, a)
        new[self._chain, other] = np.where(swapped, a, b)
        return new

    def _ranks(self, labels: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """Return the labels, equal ones of a row told apart by a random rank among them."""
        n, m = labels.shape
        order = np.argsort(labels + self.rng.random((n, m)), axis=1)
        in_order = np.take_along_axis(labels, order, axis=1)
        is_first = np.diff(in_order, axis=1, prepend=-1) != 0
        first = np.maximum.accumulate(np.where(is_first, np.arange(m), 0), axis=1)
        ranks = np.empty((n, m), dtype=np.int64)
        np.put_along_axis(ranks, order, in_order * m + np.arange(m) - first, axis=1)
        return ranks

    def _follow(
        self, following: npt.NDArray[np.int64], start: npt.NDArray[np.int64], passed: BoolArray
    ) -> None:
        """Mark every cell from the start to the end of its path, or once round its cycle."""
        chain, cell = self._chain, start
        while chain.size:
            passed[chain, cell] = True
            cell = following[chain, cell]
            onward = (cell >= 0) & (cell != start[chain])
            chain, cell = chain[onward], cell[onward]

    def _some_round(self) -> list[int]:
        """Return a permitted round; not uniform, for the chain only needs a start."""
        rules = self.task.rules
        while True:
            baits: list[int] = []
            state = 0
            while len(baits) < rules.n_places:
                after = rules.following(state)
                open_baits = [b for b, s in enumerate(after) if s >= 0]
                if not open_baits:
                    break
                baits.append(open_baits[self.rng.integers(len(open_baits))])
                state = after[baits[-1]]
            else:
                return baits

    def _costs(self, rounds: BaitArray) -> npt.NDArray[np.int64]:
        # Without extra places the totals over the trip are the same in every layout.
        return self.task.unevenness(rounds, totals_too=self.task.rules.n_extra > 0)

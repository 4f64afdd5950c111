"""Balanced layouts counted, listed and drawn exactly, place by place along the line.

Open rounds are alike, and so are the baits until a round was fished. The state between two places
is therefore the tuple of the states of the open rounds, with rounds and baits put in an order of
their own; that keeps the table small. Trips too large for it are drawn in ``layout_walk``.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from trapline.science.layout_scheme import BaitArray, RoundRules, Rows, Scheme

States = tuple[int, ...]

# What a table may hold: about a second of building either way.
MOST_STEPS = 125_000  # from state to state
_MOST_STATES = 20_000  # put in standard order
_MOST_SLACK = 3  # uses too few or too many on one place that are still looked through exactly
_MOST_SORTINGS = 6
_PER_PLACE = 10_000  # weight of unevenness on a place against unevenness over the whole trip


class Filling(NamedTuple):
    """One way to bait a place over the open rounds, these in the order of their states."""

    baits: tuple[int, ...]
    ways: int
    following: tuple[int, ...]
    cost: int


@dataclass(frozen=True)
class Task:
    """What is to be drawn: ``n_open`` rounds after the ``fished`` ones (k, n_places).

    ``fished`` holds -1 where a place had no bait of the scheme. ``least`` and ``most`` are the
    rounds of each bait on one place, fished rounds counted.
    """

    rules: RoundRules
    fished: BaitArray
    n_open: int
    least: tuple[int, ...]
    most: tuple[int, ...]

    def fished_counts(self) -> npt.NDArray[np.int64]:
        """Return how often each bait was on each place, shape (n_places, n_baits)."""
        baits = np.arange(self.rules.n_baits)
        return np.asarray((self.fished[:, :, None] == baits).sum(axis=0), dtype=np.int64)

    def unevenness_of_totals(self, totals: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
        """Return by how much more than 1 the uses of equal baits differ over the trip."""
        free = totals[..., list(self.rules.free)]
        return np.asarray(np.maximum(0, free.max(axis=-1) - free.min(axis=-1) - 1))

    def unevenness(self, rounds: BaitArray, *, totals_too: bool = True) -> npt.NDArray[np.int64]:
        """Return how uneven whole trips are with these open rounds (n, n_open, n_places)."""
        baits = np.arange(self.rules.n_baits)
        counts = self.fished_counts() + (rounds[..., None] == baits).sum(axis=1)
        lack = np.maximum(0, np.array(self.least) - counts)
        excess = np.maximum(0, counts - np.array(self.most))
        uneven: npt.NDArray[np.int64] = (lack + excess).sum(axis=(1, 2))
        return uneven + self.unevenness_of_totals(counts.sum(axis=1)) if totals_too else uneven


def task_of(scheme: Scheme, fished: Rows) -> Task:
    """Return what is to be drawn after the fished rounds of a scheme."""
    n_rounds = scheme.n_rounds if scheme.rotated else 1
    rules = RoundRules(scheme)
    least, most = rules.per_place(n_rounds)
    rounds = np.array(fished, dtype=np.int8).reshape(len(fished), scheme.n_places)
    return Task(rules, rounds, n_rounds - len(fished), least, most)


@dataclass(frozen=True)
class _Choice:
    """The fillings of one place after one state that lead to layouts of the least cost."""

    baits: npt.NDArray[np.int8]
    orders: npt.NDArray[np.int16]
    names: npt.NDArray[np.int8]
    following: tuple[States, ...]
    cumulative: npt.NDArray[np.float64]


class LayoutTable:
    """All layouts of least unevenness that are left by a task; made by :func:`make_table`.

    A draw or listing keeps, beside the layout, ``order`` (which open round stands at each
    position of the state) and ``names`` (which bait each bait of the state stands for).
    """

    def __init__(self, task: Task, slack: int) -> None:
        self.task = task
        self.slack = slack
        self.n_layouts = 0
        self.cost = 0
        self._start: States = (0,) * task.n_open
        self._used = [tuple(map(int, counts)) for counts in task.fished_counts()]
        self._baits_alike = len(task.fished) == 0
        self._fillings: list[dict[States, list[Filling]]] = []
        self._ways: list[dict[States, tuple[int, int]]] = []
        self._choices: dict[tuple[int, States], _Choice] = {}
        self._keys: dict[States, States] = {}

    def build(self, most_steps: int) -> bool:
        """Fill the table; False when it would hold too much."""
        known: dict[tuple[States, States], list[Filling]] = {}
        layer = {self._start: None}
        n_steps = 0
        for used in self._used:
            fillings = {}
            for states in layer:
                if (used, states) not in known:
                    some = self._fill(used, states, most=most_steps - n_steps)
                    known[used, states] = [
                        f._replace(following=self._key(tuple(sorted(f.following)))) for f in some
                    ]
                fillings[states] = known[used, states]
                n_steps += len(fillings[states])
                if n_steps >= most_steps or len(self._keys) > _MOST_STATES:
                    return False
            self._fillings.append(fillings)
            layer = dict.fromkeys(f.following for some in fillings.values() for f in some)
        self._count_backwards(layer)
        return True

    def draw(self, rng: np.random.Generator, n_draws: int) -> BaitArray:
        """Return the open rounds of uniform draws, shape (n_draws, n_open, n_places)."""
        n_open = self.task.n_open
        layouts = np.empty((n_draws, n_open, len(self._used)), dtype=np.int8)
        order = np.tile(np.arange(n_open, dtype=np.int16), (n_draws, 1))
        names = np.tile(np.arange(self.task.rules.n_baits, dtype=np.int8), (n_draws, 1))
        groups = {self._start: np.arange(n_draws)}
        for place in range(len(self._used)):
            following: dict[States, list[npt.NDArray[np.intp]]] = {}
            for states, draws in groups.items():
                choice = self._choice(place, states)
                pick = np.searchsorted(choice.cumulative, rng.random(draws.size), side="right")
                # Rounds in the same state are alike: which of them gets which bait is drawn.
                runs = np.cumsum(np.diff(states, prepend=states[0]) != 0)
                keys = runs + rng.random((draws.size, n_open))
                mixed = np.take_along_axis(order[draws], np.argsort(keys, axis=1), axis=1)
                baits = np.take_along_axis(names[draws], choice.baits[pick], axis=1)
                layouts[draws[:, None], mixed, place] = baits
                order[draws] = np.take_along_axis(mixed, choice.orders[pick], axis=1)
                names[draws] = np.take_along_axis(names[draws], choice.names[pick], axis=1)
                by_pick = np.argsort(pick, kind="stable")
                ends = np.flatnonzero(np.diff(pick[by_pick])) + 1
                for part in np.split(by_pick, ends):
                    after = choice.following[int(pick[part[0]])]
                    following.setdefault(after, []).append(draws[part])
            groups = {states: np.concatenate(parts) for states, parts in following.items()}
        return layouts

    def listed(self) -> BaitArray:
        """Return the open rounds of every layout once, shape (n_layouts, n_open, n_places)."""
        n_open, n_baits = self.task.n_open, self.task.rules.n_baits
        start = (
            np.empty((1, n_open, 0), dtype=np.int8),
            np.arange(n_open, dtype=np.int16)[None, :],
            np.arange(n_baits, dtype=np.int8)[None, :],
        )
        groups: dict[States, tuple[npt.NDArray[np.integer], ...]] = {self._start: start}
        for place, used in enumerate(self._used):
            parts: dict[States, list[tuple[npt.NDArray[np.integer], ...]]] = {}
            for states, (layouts, order, names) in groups.items():
                for filling in self._fill(used, states, merge=False):
                    after, new_order, new_names = self._standard(filling.following)
                    if self._cost_through(place, filling, after) != self._ways[place][states][0]:
                        continue
                    column = np.empty((len(layouts), n_open), dtype=np.int8)
                    np.put_along_axis(column, order, names[:, list(filling.baits)], axis=1)
                    longer = np.concatenate([layouts, column[:, :, None]], axis=2)
                    part = (longer, order[:, new_order], names[:, new_names])
                    parts.setdefault(after, []).append(part)
            groups = {
                states: tuple(np.concatenate(arrays) for arrays in zip(*some, strict=True))
                for states, some in parts.items()
            }
        layouts = np.concatenate([group[0] for group in groups.values()])
        return layouts.astype(np.int8, copy=False)

    def _fill(
        self, used: States, states: States, *, merge: bool = True, most: int = 10**9
    ) -> list[Filling]:
        """Return the ways to bait a place; with ``merge`` equal rounds stand for each other.

        The following states keep the order of ``states``. With more than ``most`` ways some
        are left out.
        """
        task = self.task
        n_open = len(states)
        allowed = [task.rules.following(s) for s in states]
        run = [1] * n_open
        for i in range(1, n_open):
            run[i] = run[i - 1] + 1 if merge and states[i] == states[i - 1] else 1
        counts = list(used)
        baits = [0] * n_open
        after = [0] * n_open
        found: list[Filling] = []

        def fill(i: int, excess: int, lack: int, ways: int, streak: int) -> None:
            if excess + max(0, lack - (n_open - i)) > self.slack or len(found) > most:
                return
            if i == n_open:
                cost = (excess + lack) * _PER_PLACE
                found.append(Filling(tuple(baits), ways, tuple(after), cost))
                return
            for bait in range(baits[i - 1] if run[i] > 1 else 0, len(counts)):
                if allowed[i][bait] < 0:
                    continue
                same = streak + 1 if run[i] > 1 and bait == baits[i - 1] else 1
                baits[i], after[i] = bait, allowed[i][bait]
                more = int(counts[bait] >= task.most[bait])
                less = int(counts[bait] < task.least[bait])
                counts[bait] += 1
                # Multinomial coefficients of the runs of equal rounds, one factor at a time.
                fill(i + 1, excess + more, lack - less, ways * run[i] // same, same)
                counts[bait] -= 1

        excess = sum(max(0, c - m) for c, m in zip(counts, task.most, strict=True))
        lack = sum(max(0, m - c) for c, m in zip(counts, task.least, strict=True))
        fill(0, excess, lack, 1, 0)
        return found

    def _standard(self, states: Sequence[int]) -> tuple[States, list[int], list[int]]:
        """Return the states in standard order, and which round and bait comes to each position.

        Rounds are sorted, and baits too while none was fished, by turns until nothing changes.
        The standard does not depend on the order of the states, but tuples that differ only in
        the names of baits do not always get the same one; that costs steps, not correctness.
        """
        rules = self.task.rules
        names = list(range(rules.n_baits))
        if not self._baits_alike:
            order = sorted(range(len(states)), key=states.__getitem__)
            return tuple(states[i] for i in order), order, names
        rows = sorted((*rules.split(state), i) for i, state in enumerate(states))
        free = list(rules.free)
        for _ in range(_MOST_SORTINGS):
            columns = zip(*(of_baits for _, of_baits, _ in rows), strict=True)
            by_use = sorted(zip(columns, free, strict=True), reverse=True)
            free = [bait for _, bait in by_use]
            by_row = zip(*(column for column, _ in by_use), strict=True)
            before = rows
            rows = sorted(
                (r[0], of_baits, r[2]) for r, of_baits in zip(before, by_row, strict=True)
            )
            if rows == before:
                break
        for position, bait in zip(rules.free, free, strict=True):
            names[position] = bait
        after = tuple(rules.joined(of_line, of_baits) for of_line, of_baits, _ in rows)
        return after, [i for _, _, i in rows], names

    def _key(self, states: States) -> States:
        if states not in self._keys:
            self._keys[states] = self._standard(states)[0]
        return self._keys[states]

    def _count_backwards(self, last: Iterable[States]) -> None:
        """Set the least cost from every state to the end, and the ways to reach it."""
        fished = self.task.fished_counts().sum(axis=0)
        ends = {}
        for states in last:
            totals = fished + np.array([self.task.rules.counts(s) for s in states]).sum(axis=0)
            ends[states] = (int(self.task.unevenness_of_totals(totals)), 1)
        layers = [ends]
        for fillings in reversed(self._fillings):
            later = layers[-1]
            ways = {}
            for states, some in fillings.items():
                paths = [
                    (f.cost + later[f.following][0], f.ways * later[f.following][1])
                    for f in some
                    if f.following in later
                ]
                if paths:
                    least = min(cost for cost, _ in paths)
                    ways[states] = (least, sum(n for cost, n in paths if cost == least))
            layers.append(ways)
        self._ways = layers[::-1]
        self.cost, self.n_layouts = self._ways[0].get(self._start, (0, 0))

    def _cost_through(self, place: int, filling: Filling, after: States) -> int | None:
        rest = self._ways[place + 1].get(after)
        return None if rest is None else filling.cost + rest[0]

    def _choice(self, place: int, states: States) -> _Choice:
        key = (place, states)
        if key not in self._choices:
            least = self._ways[place][states][0]
            fillings = [
                f
                for f in self._fillings[place][states]
                if self._cost_through(place, f, f.following) == least
            ]
            weights = [f.ways * self._ways[place + 1][f.following][1] for f in fillings]
            total = sum(weights)
            allowed = [self.task.rules.following(s) for s in states]
            standards = [
                self._standard([a[b] for a, b in zip(allowed, f.baits, strict=True)])
                for f in fillings
            ]
            self._choices[key] = _Choice(
                baits=np.array([f.baits for f in fillings], dtype=np.int8),
                orders=np.array([order for _, order, _ in standards], dtype=np.int16),
                names=np.array([names for _, _, names in standards], dtype=np.int8),
                following=tuple(after for after, _, _ in standards),
                cumulative=np.cumsum([w / total for w in weights])[:-1],
            )
        return self._choices[key]


def make_table(task: Task, most_steps: int = MOST_STEPS) -> LayoutTable | None:
    """Return the table of the least uneven layouts, or None when it would be too large.

    Unevenness: first the places, by the uses of a bait below ``least`` or above ``most``, the
    worst place before the sum over places; then the totals of equal baits over the trip.
    """
    for slack in range(_MOST_SLACK + 1):
        table = LayoutTable(task, slack)
        if not table.build(most_steps):
            return None
        if table.n_layouts:
            return table
    return None

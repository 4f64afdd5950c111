"""What would settle it: how many more rounds or traps until a better bait is named as such.

Trials as large as what was fished and what is to come together are simulated, with rates,
patchiness, rounds and places as they look now, and judged by the very rule of the verdict.
How lucky the lifts so far were is not carried into them.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import numpy as np

from trapline.analyses.so_far import SoFar
from trapline.errors import InvalidValue
from trapline.science.power import FEWEST_SETS, sets_needed
from trapline.science.winner_power import (
    Truths,
    one_better,
    planned_table,
    simulated_trials,
)

Of = Literal["rounds", "traps a bait"]
Progress = Callable[[float], None]

RATIOS: Final = (1.5, 2.0, 3.0)
WANTED: Final = 0.8
SEED: Final = 20
_ROUNDS: Final = (1, 2, 4, 8)  # more of them
_QUICK_ROUNDS: Final = (1, 3, 8)
_TIMES: Final = (1, 2, 3, 5, 8)  # as many traps a bait
_QUICK_TIMES: Final = (1, 3, 8)
_MOST_TRIALS, _FEWEST_TRIALS = 200, 50
_QUICK_MOST_TRIALS, _QUICK_FEWEST_TRIALS = 100, 25
_ROWS_A_POINT: Final = 14_000  # trap sets that one point may take, all its trials together
_QUICK_ROWS_A_POINT: Final = 6_000
# Trap sets of one trial: larger sizes are left out, and where one more round is larger than
# the second number nothing is simulated.
_MOST_ROWS, _FAR_MOST_ROWS = 1_500, 2_500
_QUICK_MOST_ROWS, _QUICK_FAR_MOST_ROWS = 500, 1_000
# Between two sizes whose shares differ by less nothing is simulated.
_ALIKE: Final = 0.06


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """In which share of trials a bait that catches `ratio` times as much is named.

    Attributes
    ----------
    ratio : float
        Its catch over that of every other bait.
    rotates : bool
        Whether baits move between rounds, or stay where they are.
    of : {"rounds", "traps a bait"}
        What the sizes count: rounds to come with the traps of now, or traps of each bait in
        one round to come.
    sizes : tuple of int
        Ascending.
    shares : tuple of float
        0 to 1, nowhere falling.
    needed : int or None
        The smallest size at which the share is .8; None if that is beyond the largest.
    """

    ratio: float
    rotates: bool
    of: Of
    sizes: tuple[int, ...]
    shares: tuple[float, ...]
    needed: int | None


@dataclass(frozen=True, slots=True)
class WidthCurve:
    """High over low of the 95 % interval of the leader to its runner-up, median over trials."""

    rotates: bool
    sizes: tuple[int, ...]
    factors: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FormulaSets:
    """Trap sets a bait by the closed formula for two baits, by each of its three variances."""

    ratio: float
    sets: tuple[float, float, float]


@dataclass(frozen=True)
class NextTrip:
    """What would settle it; see the classes of its parts.

    `formula` has the ratios of which all three variances ask for 10 sets a bait or more.
    """

    found: SoFar
    curves: tuple[PowerCurve, ...]
    widths: tuple[WidthCurve, ...]
    formula: tuple[FormulaSets, ...]
    n_trials: tuple[int, int]
    is_quick: bool

    def curve(self, ratio: float, of: Of, *, rotates: bool) -> PowerCurve:
        """Return one of the curves."""
        return next(
            one for one in self.curves if (one.ratio, one.of, one.rotates) == (ratio, of, rotates)
        )

    def width(self, *, rotates: bool) -> WidthCurve:
        """Return how the interval narrows with rounds to come."""
        return next(one for one in self.widths if one.rotates == rotates)

    def as_dict(self) -> dict[str, Any]:
        """Return the numbers needed and what they rest on, as JSON holds them."""
        made: dict[str, Any] = {}
        for ratio in RATIOS:
            needed = {
                (of, rotates): self.curve(ratio, of, rotates=rotates).needed
                for of in _BOTH
                for rotates in (True, False)
            }
            made[f"x{ratio:g}"] = {
                "rounds": needed["rounds", True],
                "traps_a_bait": needed["traps a bait", True],
                "rounds_fixed_places": needed["rounds", False],
                "traps_a_bait_fixed_places": needed["traps a bait", False],
            }
        largest = {of: self.curve(RATIOS[0], of, rotates=True).sizes[-1] for of in _BOTH}
        made["assumed"] = {
            "share_of_trials": WANTED,
            "winner_chance": self.found.winner_chance,
            "baits": len(self.found.baits),
            "traps_a_bait_now": self.found.n_traps,
            "rounds_now": self.found.n_rounds,
            "catch_a_trap": self.found.catch_a_trap,
            "largest_rounds": largest["rounds"],
            "largest_traps_a_bait": largest["traps a bait"],
            "trials": list(self.n_trials),
            "rounds_assumed": self.found.are_rounds_assumed,
            "places_assumed": self.found.are_places_assumed,
        }
        return made


_BOTH: Final[tuple[Of, ...]] = ("rounds", "traps a bait")


def next_trip(
    found: SoFar,
    *,
    quick: bool = False,
    seed: int = SEED,
    progress: Progress | None = None,
) -> NextTrip:
    """Return how many more rounds or traps would name a better bait, by simulation.

    Parameters
    ----------
    found : SoFar
        What was found so far.
    quick : bool
        Fewer trials and sizes: for the command line.
    seed : int
        0 or more; the same one gives the same numbers.
    progress : callable, optional
        Told the share that is done, 0 to 1; may raise to end it.

    Raises
    ------
    InvalidValue
        One more round would make a trial of more than 2,500 trap sets, 1,000 where quick.

    Notes
    -----
    A trial is a fresh one of the whole size, what was fished included. Its truths are draws
    from the posterior; the baits' mean catch is that of now, and one of them is above all
    others by the ratio. Further rounds are those of one trip, soaks as long as those so far.
    Shares are made monotone by pooling neighbours, and in between lie on straight lines over
    the log of the size.

    References
    ----------
    Assurance, power averaged over what is known: O'Hagan, Stevens and Campbell (2005), Pharm.
    Stat. 4, 187-201; pooling: Ayer et al. (1955), Ann. Math. Stat. 26, 641-647 (both from
    memory).
    """
    simulated = _Simulated(found, quick, seed)
    curves, widths = _all_curves(simulated, progress or (lambda _: None))
    return NextTrip(
        found=found,
        curves=curves,
        widths=widths,
        formula=_formula(found),
        n_trials=simulated.n_trials,
        is_quick=quick,
    )


def _all_curves(
    simulated: "_Simulated", progress: Progress
) -> tuple[tuple[PowerCurve, ...], tuple[WidthCurve, ...]]:
    """Return all curves, and the widths at the ratio that is nearest to the one found."""
    found, is_quick = simulated.found, simulated.is_quick
    shown = min(RATIOS, key=lambda ratio: abs(np.log(ratio / found.leading_ratio)))
    tried: dict[Of, tuple[int, ...]] = {
        "rounds": simulated.sizes("rounds", _QUICK_ROUNDS if is_quick else _ROUNDS),
        "traps a bait": simulated.sizes(
            "traps a bait", [found.n_traps * by for by in (_QUICK_TIMES if is_quick else _TIMES)]
        ),
    }
    curves, widths = [], []
    tasks = [(ratio, rotates, of) for of in _BOTH for rotates in (True, False) for ratio in RATIOS]
    for done, (ratio, rotates, of) in enumerate(tasks):
        progress(done / len(tasks))
        sizes = tried[of]
        is_whole = of == "rounds" and ratio == shown
        points = _points(simulated, sizes, ratio, rotates, of, is_whole=is_whole)
        curves.append(_curve(found, points, ratio, rotates, of, sizes))
        if is_whole:
            factors = tuple(points[size].factor for size in sizes)
            widths.append(WidthCurve(rotates, sizes, factors))
    progress(1.0)
    return tuple(curves), tuple(widths)


@dataclass(frozen=True, slots=True)
class _Point:
    """Of one size: the share of trials that name the better bait, and the interval's factor."""

    share: float
    factor: float


@dataclass
class _Simulated:
    """The simulated points, each made once."""

    found: SoFar
    is_quick: bool
    seed: int
    known: dict[tuple[float, bool, tuple[int, ...]], _Point] = field(default_factory=dict)
    trials: list[int] = field(default_factory=list)

    @property
    def n_trials(self) -> tuple[int, int]:
        """The fewest and the most trials of a point."""
        return min(self.trials), max(self.trials)

    def traps(self, of: Of, size: int) -> list[int]:
        """Return the traps of each bait, round by round, of a whole trial."""
        now = [self.found.n_traps] * self.found.n_rounds
        return now + ([self.found.n_traps] * size if of == "rounds" else [size])

    def sizes(self, of: Of, wanted: Sequence[int]) -> tuple[int, ...]:
        """Return those of some sizes that are not too large; refuse to go beyond the farthest."""
        most, farthest = (
            (_QUICK_MOST_ROWS, _QUICK_FAR_MOST_ROWS)
            if self.is_quick
            else (_MOST_ROWS, _FAR_MOST_ROWS)
        )
        rows = {size: len(self.found.baits) * sum(self.traps(of, size)) for size in wanted}
        if rows[wanted[0]] > farthest:
            raise InvalidValue(
                f"{rows[wanted[0]]:,} trap sets are too many to be simulated here.",
                "traps",
                "Read the intervals: with so many they say it all.",
            )
        return (wanted[0], *(size for size in wanted[1:] if rows[size] <= most))

    def point(self, ratio: float, rotates: bool, of: Of, size: int) -> _Point:
        """Return the share of simulated trials that name the better bait."""
        key = (ratio, rotates, tuple(self.traps(of, size)))
        if key not in self.known:
            self.known[key] = self._simulate(*key)
        return self.known[key]

    def _simulate(self, ratio: float, rotates: bool, traps: tuple[int, ...]) -> _Point:
        found, n_baits = self.found, len(self.found.baits)
        table = planned_table(n_baits=n_baits, traps=traps, rotates=rotates)
        most, fewest, rows = (
            (_QUICK_MOST_TRIALS, _QUICK_FEWEST_TRIALS, _QUICK_ROWS_A_POINT)
            if self.is_quick
            else (_MOST_TRIALS, _FEWEST_TRIALS, _ROWS_A_POINT)
        )
        n = max(fewest, min(most, rows // table.catch.size))
        self.trials.append(n)
        truths = Truths(
            one_better(found.log_levels[:n], ratio, n_baits),
            found.spread[:n],
            found.round_sd[:n],
            found.place_sd[:n],
        )
        # The same luck for every ratio, so that a larger one is not named more rarely.
        words = [self.seed, int(rotates), *traps]
        seed = int(np.random.SeedSequence(words).generate_state(1)[0])
        judged = simulated_trials(table, truths, seed)
        named = judged.winners(found.winner_chance) == 0
        return _Point(float(named.mean()), float(np.median(judged.interval_factors())))


def _points(
    simulated: _Simulated,
    sizes: Sequence[int],
    ratio: float,
    rotates: bool,
    of: Of,
    *,
    is_whole: bool,
) -> dict[int, _Point]:
    """Return the points of some sizes: both ends, and those between which shares differ."""
    made: dict[int, _Point] = {}

    def point(at: int) -> float:
        size = sizes[at]
        if size not in made:
            made[size] = simulated.point(ratio, rotates, of, size)
        return made[size].share

    def fill(first: int, last: int) -> None:
        if last - first > 1 and (is_whole or point(last) - point(first) > _ALIKE):
            middle = (first + last) // 2
            point(middle)
            fill(first, middle)
            fill(middle, last)

    point(len(sizes) - 1)
    point(0)
    fill(0, len(sizes) - 1)
    return dict(sorted(made.items()))


def _curve(
    found: SoFar,
    points: dict[int, _Point],
    ratio: float,
    rotates: bool,
    of: Of,
    sizes: tuple[int, ...],
) -> PowerCurve:
    """Return the monotone curve through simulated points."""
    before = found.n_rounds * (1 if of == "rounds" else found.n_traps)

    def log_whole(sizes: Iterable[int]) -> list[float]:
        return [float(np.log(before + size)) for size in sizes]

    shares = pooled([point.share for point in points.values()])
    known = log_whole(points)
    every = range(sizes[0], sizes[-1] + 1)
    reached = np.interp(log_whole(every), known, shares) >= WANTED - 1e-9
    at_sizes = np.interp(log_whole(sizes), known, shares)
    return PowerCurve(
        ratio=ratio,
        rotates=rotates,
        of=of,
        sizes=sizes,
        shares=tuple(float(share) for share in at_sizes),
        needed=int(every[int(np.argmax(reached))]) if reached.any() else None,
    )


def pooled(shares: Sequence[float]) -> list[float]:
    """Return the nearest shares that nowhere fall: neighbours that do are averaged.

    Examples
    --------
    >>> pooled([0.1, 0.5, 0.25, 0.75])
    [0.1, 0.375, 0.375, 0.75]
    """
    blocks: list[list[float]] = []
    for share in shares:
        blocks.append([share])
        while len(blocks) > 1 and np.mean(blocks[-2]) > np.mean(blocks[-1]):
            last = blocks.pop()
            blocks[-1] += last
    return [float(np.mean(block)) for block in blocks for _ in block]


def _formula(found: SoFar) -> tuple[FormulaSets, ...]:
    """Return what the closed formula asks for, where it asks for enough to be trusted."""
    dispersion_k = float(np.median(np.maximum(found.spread, 1e-9))) ** -2.0
    made = []
    for ratio in RATIOS:
        # The mean catch of all baits is that of now, as in the trials.
        n_baits = len(found.baits)
        rate = found.catch_a_trap * n_baits / (ratio + n_baits - 1)
        one, two, three = (
            sets_needed(rate, ratio, dispersion_k, method=method) for method in (1, 2, 3)
        )
        if min(one, two, three) >= FEWEST_SETS:
            made.append(FormulaSets(ratio, (one, two, three)))
    return tuple(made)

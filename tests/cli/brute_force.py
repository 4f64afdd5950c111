"""The answers of ``gaps`` and ``compare`` worked out again, the slow and plain way.

Nothing here comes from the program: distances by GeographicLib, every labelling by
itertools, H by scipy, rates by adding up the density on a fine grid.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import scipy.stats
from geographiclib.geodesic import Geodesic
from scipy.optimize import brentq

WITHOUT_BAIT = ("no bait", "none", "control")


# --- gaps ---------------------------------------------------------------------------------


def distances(positions: Sequence[tuple[float, float]]) -> dict[tuple[int, int], float]:
    """Return the metres between every two (latitude, longitude), by their rows."""
    return {
        (i, j): float(Geodesic.WGS84.Inverse(*positions[i], *positions[j])["s12"])
        for i, j in itertools.combinations(range(len(positions)), 2)
    }


# --- a table of lifts ---------------------------------------------------------------------


@dataclass
class Lifts:
    """A table of lifts as lists; None is a blank cell, and no list a column that is not there."""

    bait: list[str]
    catch: list[int | None]
    soak_h: list[float | None]
    columns: dict[str, list[Any]] = field(default_factory=dict)

    def csv(self) -> str:
        heads = ["bait", "catch", "soak_h", *self.columns]
        rows = zip(self.bait, self.catch, self.soak_h, *self.columns.values(), strict=True)
        lines = [",".join("" if cell is None else str(cell) for cell in row) for row in rows]
        return "\n".join([",".join(heads), *lines, ""])

    def used(self) -> list[int]:
        conditions = self.columns.get("condition", ["fished"] * len(self.bait))
        return [
            i
            for i, condition in enumerate(conditions)
            if self.catch[i] is not None
            and self.soak_h[i] is not None
            and condition in ("fished", "")
        ]

    def days(self, i: int) -> float:
        """Return the trap-days that a row counts for."""
        soak_h = self.soak_h[i]
        assert soak_h is not None
        return soak_h / 24 * float(self.columns.get("fraction_counted", {i: 1})[i])

    def rate(self, i: int) -> float:
        catch = self.catch[i]
        assert catch is not None
        return catch / self.days(i)

    def rounds_of_places(self) -> dict[Any, set[Any]] | None:
        """Return in which rounds each place was fished; None where places are not given."""
        if "place" not in self.columns:
            return None
        rounds = self.columns.get("round", [1] * len(self.bait))
        found: dict[Any, set[Any]] = {}
        for place, number in zip(self.columns["place"], rounds, strict=True):
            found.setdefault(place, set()).add(number)
        return found


# --- the permutation test -----------------------------------------------------------------


def kruskal(rates: Sequence[float], labels: Sequence[str]) -> float:
    """Return H; 0 where the used rows hold one bait only."""
    groups = [[r for r, b in zip(rates, labels, strict=True) if b == name] for name in set(labels)]
    # Rounding in the rates must not part ties: 7 in 12 h is 14 in 24 h.
    groups = [[round(rate, 9) for rate in group] for group in groups]
    return float(scipy.stats.kruskal(*groups).statistic) if len(groups) > 1 else 0.0


def labellings(lifts: Lifts) -> tuple[list[tuple[str, ...]], str, str | None]:
    """Return every different labelling of the rows, the unit that moves and within what.

    Places that are fished in several rounds change their whole histories with places of the
    same block that were fished in the same rounds; else used rows change baits with those of
    their block and round.
    """
    n = len(lifts.bait)
    blocks = lifts.columns.get("block", [None] * n)
    rounds = lifts.columns.get("round", [None] * n)
    places = lifts.rounds_of_places()
    by_place = places is not None and any(len(when) > 1 for when in places.values())
    used = lifts.used()
    units: dict[Any, list[list[int]]] = {}
    if by_place:
        column = lifts.columns["place"]
        for place in dict.fromkeys(column):
            rows = sorted((i for i in range(n) if column[i] == place), key=lambda i: rounds[i])
            pattern = tuple((rounds[i], blocks[i]) for i in rows)
            units.setdefault(pattern, []).append(rows)
    else:
        for i in used:
            units.setdefault((rounds[i], blocks[i]), []).append([i])
    found = set()
    for dealt in itertools.product(*(itertools.permutations(group) for group in units.values())):
        labels = list(lifts.bait)
        for goals, sources in zip(units.values(), dealt, strict=True):
            for goal, source in zip(goals, sources, strict=True):
                for to, at in zip(goal, source, strict=True):
                    labels[to] = lifts.bait[at]
        found.add(tuple(labels))
    rows = range(n) if by_place else used
    moves = [("round", rounds), ("block", blocks)][1 if by_place else 0 :]
    within = [name for name, column in moves if len({column[i] for i in rows}) > 1]
    return sorted(found), "place" if by_place else "trap", "×".join(within) or None


def permutation(lifts: Lifts) -> dict[str, Any] | None:
    """Return what ``compare`` should say of the test, by going through every labelling."""
    used = lifts.used()
    rates = [lifts.rate(i) for i in used]
    observed = [lifts.bait[i] for i in used]
    if len(set(observed)) < 2 or len({round(rate, 9) for rate in rates}) < 2:
        return None
    every, unit, within = labellings(lifts)
    h = kruskal(rates, observed)
    others = [kruskal(rates, [labels[i] for i in used]) for labels in every]
    n_as_extreme = sum(other >= h - 1e-9 for other in others)
    return {
        "statistic": "kruskal_rate",
        "p": n_as_extreme / len(every),
        "n_as_extreme": n_as_extreme,
        "n_arrangements": len(every),
        "exact": True,
        "within": within,
        "unit": unit,
    }


def orders(n: int) -> list[tuple[int, ...]]:
    """Return every way in which n rates can be ordered, with ties."""
    return [
        order
        for order in itertools.product(range(n), repeat=n)
        if set(order) == set(range(max(order) + 1)) and max(order) > 0
    ]


def smallest_p(lifts: Lifts) -> float:
    """Return the smallest p over every order that the rates of a layout could have come in."""
    used = lifts.used()
    every = labellings(lifts)[0]
    ranks = np.array([scipy.stats.rankdata(order) for order in orders(len(used))])
    spread = np.zeros((len(every), len(ranks)))
    for name in set(lifts.bait):
        mine = np.array([[labels[i] == name for i in used] for labels in every], dtype=float)
        sizes = mine.sum(axis=1, keepdims=True)
        # H grows with this sum alone: ranks and ties are the same for all labellings.
        spread += np.where(sizes > 0, (mine @ ranks.T) ** 2 / np.maximum(sizes, 1), 0)
    mine = spread[every.index(tuple(lifts.bait))]
    return float((spread >= mine - 1e-6).sum(axis=0).min()) / len(every)


# --- rates --------------------------------------------------------------------------------


class Posterior:
    """Rates of baits by brute integration over dispersion, exponent of effort and log rate.

    Counts are negative binomial with mean rate × part counted × days^exponent and one size k
    for all; 1/√k is half-Cauchy(0.5); a log rate is normal with sd 1.5 about the log of
    (catch + ½) / effort over all baits, and for a trap without bait with sd 2.5 about 1.5 less.
    Where the longest soak is over 1.25 times the shortest the exponent is normal(0.8, 0.3)
    between 0 and 1.2, and 0.8 in that mean; else it is 1. Only for tables in which no place
    and no round comes twice.
    """

    def __init__(
        self, lifts: Lifts, n_spreads: int = 60, n_exponents: int = 12, n_logs: int = 701
    ) -> None:
        used = lifts.used()
        parts = [lifts.days(i) / ((lifts.soak_h[i] or 0) / 24) for i in used]
        rows = [
            (lifts.bait[i], lifts.catch[i] or 0, (lifts.soak_h[i] or 0) / 24, part)
            for i, part in zip(used, parts, strict=True)
        ]
        self.baits = list(dict.fromkeys(row[0] for row in rows))
        self.rivals = [b for b in self.baits if b.casefold() not in WITHOUT_BAIT]
        mean_of = [row for row in rows if row[0] in (self.rivals or self.baits)]
        soaks = [row[2] for row in rows]
        is_free = max(soaks) > 1.25 * min(soaks)
        effort = sum(part * days ** (0.8 if is_free else 1.0) for _, _, days, part in mean_of)
        mean = (sum(row[1] for row in mean_of) + 0.5) / effort
        # Midpoints of equal shares of the prior: each spread weighs the same before the counts.
        shares = (np.arange(n_spreads) + 0.5) / n_spreads
        sizes, exponents = (0.5 * np.tan(np.pi / 2 * shares)) ** -2, np.ones(1)
        if is_free:
            ends = scipy.stats.norm.cdf((np.array([0.0, 1.2]) - 0.8) / 0.3)
            middles = ends[0] + (ends[1] - ends[0]) * (np.arange(n_exponents) + 0.5) / n_exponents
            exponents = 0.8 + 0.3 * scipy.stats.norm.ppf(middles)
        sizes, exponents = (grid.ravel() for grid in np.meshgrid(sizes, exponents))
        self.logs = np.linspace(math.log(mean) - 12.0, math.log(mean) + 9.0, n_logs)
        density, evidence = {}, np.zeros(sizes.size)
        for bait in self.baits:
            is_control = bait not in self.rivals
            centre, sd = math.log(mean) - 1.5 * is_control, 2.5 if is_control else 1.5
            logp = np.tile(scipy.stats.norm.logpdf(self.logs, centre, sd), (sizes.size, 1))
            for name, catch, days, part in rows:
                if name == bait:
                    means = part * days ** exponents[:, None] * np.exp(self.logs)
                    chance = sizes[:, None] / (sizes[:, None] + means)
                    logp += scipy.stats.nbinom.logpmf(catch, sizes[:, None], chance)
            peak = logp.max(axis=1, keepdims=True)
            density[bait] = np.exp(logp - peak)
            total = density[bait].sum(axis=1)
            density[bait] /= total[:, None]
            evidence += peak[:, 0] + np.log(total)
        weights = np.exp(evidence - evidence.max())
        kept = weights > 1e-9 * weights.max()
        self.weights = weights[kept] / weights[kept].sum()
        self.density = {b: d[kept] for b, d in density.items()}
        self.below = {b: np.cumsum(d, axis=1) - d / 2 for b, d in self.density.items()}

    def rate(self, bait: str) -> list[float]:
        """Return low, median and high of a rate."""
        below = self.weights @ self.below[bait]
        return [
            math.exp(float(np.interp(share, below, self.logs))) for share in (0.025, 0.5, 0.975)
        ]

    def ratio(self, bait: str, other: str) -> list[float]:
        """Return low, median and high of the rate of one bait over that of another."""

        def below(log_ratio: float) -> float:
            """Chance that the ratio is less: each rate of `other`, and `bait` under it."""
            moved = [np.interp(self.logs + log_ratio, self.logs, row) for row in self.below[bait]]
            return float(self.weights @ (self.density[other] * np.array(moved)).sum(axis=1))

        return [
            math.exp(brentq(lambda x, s=share: below(x) - s, -20.0, 20.0, xtol=1e-5))
            for share in (0.025, 0.5, 0.975)
        ]

"""How long a verdict takes, beside a negative binomial fit of the same table by statsmodels.

    python tests/science/bench_posterior.py

needs the package's own requirements, and ``pip install statsmodels``. Each time is the least of
several, ours and theirs by turns in one run, after all imports. On a machine that does other
work the processor's own time, in brackets, says more than the clock. Set OMP_NUM_THREADS=1 for
one core.
"""

import argparse
import os
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, lift_table
from trapline.science.bait_posterior import bait_posterior
from trapline.science.permutation import permutation_test

K = 1.0
SEED = 1


@dataclass(frozen=True)
class Case:
    """A table, and the seconds that its verdict may take."""

    name: str
    table: LiftTable
    goal_s: float
    repeats: int
    is_tested: bool


def trial(n_baits: int, n_places: int, n_rounds: int) -> LiftTable:
    """Baits that move on by one place each night, on places and nights that differ."""
    rng = np.random.default_rng(SEED)
    place, night = (a.ravel() for a in np.meshgrid(np.arange(n_places), np.arange(n_rounds)))
    effects = rng.normal(0, 0.5, n_places)[place] + rng.normal(0, 0.4, n_rounds)[night]
    mean = 5.0 * np.exp(effects)
    return lift_table(
        rng.negative_binomial(K, K / (K + mean)),
        np.full(place.size, 24.0),
        (place + night) % n_baits,
        place=place.tolist(),
        round_=night.tolist(),
    )


def verdict(table: LiftTable) -> float:
    """Rates, all ratios, chances to beat and to be best, as a verdict needs them."""
    independent = bait_posterior(table, INDEPENDENT)
    pairs = list(combinations(range(table.n_baits), 2))
    found = [rate.median for rate in independent.rates]
    found += [independent.ratio(a, b).low for a, b in pairs]
    found += [float(independent.beats.max()), independent.spreads.spread.median]
    return sum(found) + float(bait_posterior(table, SHRINKING).best.max())


def permutations(table: LiftTable) -> float:
    """The design's own test of the same table."""
    found = permutation_test(
        table.catch.astype(float),
        table.bait.tolist(),
        round_=table.round_.tolist() if table.has_rounds else None,
        place=table.place.tolist() if table.has_places else None,
    )
    assert found is not None
    return found.statistic


def statsmodels_fit() -> Callable[[LiftTable], float]:
    """Return a fit with baits and nights as fixed effects."""
    try:
        from statsmodels.discrete.discrete_model import NegativeBinomial
    except ImportError:
        sys.exit("statsmodels is not installed: pip install statsmodels")

    def fit(table: LiftTable) -> float:
        columns = [table.bait[:, None] == np.arange(table.n_baits)]
        if table.has_rounds:
            columns.append(table.round_[:, None] == np.arange(1, table.n_rounds))
        design = np.concatenate(columns, axis=1).astype(float)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # an optimiser that was not content is its own affair
            found = NegativeBinomial(table.catch, design).fit(disp=0, maxiter=200)
            return float(found.conf_int().sum())

    return fit


def seconds(work: Callable[[LiftTable], float], table: LiftTable) -> tuple[float, float]:
    """Return how long one run takes, by the clock and of the processor."""
    start, own = time.perf_counter(), time.process_time()
    work(table)
    return time.perf_counter() - start, time.process_time() - own


def told(runs: list[tuple[float, float]]) -> str:
    """Return the least of both times in words."""
    clock, own = (min(times) * 1e3 for times in zip(*runs, strict=True))
    return f"{clock:.0f} ms ({own:.0f})"


def main() -> int:
    """Print one line for each table; return 1 if a goal was missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--without-statsmodels", action="store_true", help="time ours alone")
    args = parser.parse_args()
    fit = None if args.without_statsmodels else statsmodels_fit()
    cases = [
        Case("6 baits x 10 traps x 4 nights", trial(6, 60, 4), 0.150, 9, is_tested=True),
        Case("3 baits x 4 traps x 4 nights", trial(3, 12, 4), 0.150, 9, is_tested=True),
        Case("6 baits x 1,000 traps, one night", trial(6, 6000, 1), 1.0, 5, is_tested=False),
        Case("6 x 1,000 traps over 6 nights", trial(6, 1000, 6), 1.0, 3, is_tested=False),
    ]
    threads = os.environ.get("OMP_NUM_THREADS", "default")
    print(f"threads of linear algebra: {threads}; load: {os.getloadavg()[0]:.1f}")
    is_missed = False
    for case in cases:
        ours, theirs, test = [], [], []
        for _ in range(case.repeats + 1):  # the first run warms caches and late imports
            ours.append(seconds(verdict, case.table))
            if fit is not None:
                theirs.append(seconds(fit, case.table))
            if case.is_tested and len(test) < 3:
                test.append(seconds(permutations, case.table))
        is_missed |= min(ours[1:])[0] > case.goal_s or min(test, default=(0.0, 0.0))[0] > 1.0
        print(
            f"{case.name:34s} verdict {told(ours[1:])}, goal {case.goal_s * 1e3:.0f}"
            + (f"; statsmodels {told(theirs[1:])}" if theirs else "")
            + (f"; permutation test {told(test)}" if test else ""),
            flush=True,
        )
    return int(is_missed)


if __name__ == "__main__":
    sys.exit(main())

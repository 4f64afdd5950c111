"""The tables of the study: raw runs in, shares and rows out."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy import stats

from tests.studies.study_cells import FIRST_RUNS, Cell, Value, cells_of
from tests.studies.study_kept import Arrays, Kept
from tests.studies.study_peers import METHODS
from tests.studies.study_runs import RIGHT, WRONG

Row = dict[str, Any]

EVEN_K: Final = 15  # from here on catches are nearly as even as chance alone
LEAST_COVER: Final = 0.90
SURE: Final = 0.05
JUDGED_RUNS: Final = 1000
BINS: Final = (0.2, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0 + 1e-9)
_N_RANK_BINS: Final = 20


@dataclass(frozen=True)
class Found:
    """A cell with its runs; `common` are the first runs that every cell of its part has."""

    cell: Cell
    runs: Arrays
    n_common: int

    @property
    def common(self) -> Arrays:
        return {name: values[: self.n_common] for name, values in self.runs.items()}

    @property
    def n_runs(self) -> int:
        return len(next(iter(self.runs.values())))

    @property
    def judged(self) -> Arrays:
        """The runs after those by which cells were picked for more; empty if too few."""
        first = FIRST_RUNS[self.cell.part]
        if self.n_runs - first < JUDGED_RUNS or self.cell.count("traps") < 3:
            return {}
        return {name: values[first:] for name, values in self.runs.items()}

    @property
    def n_shown(self) -> int:
        """Return how many runs some table rests on."""
        if self.cell.part == "calibration" or self.judged:
            return self.n_runs
        return self.n_common


def found_in(kept: Kept, part: str) -> list[Found]:
    """Return the cells of a part that have results."""
    pairs = [(cell, kept.columns(cell)) for cell in cells_of(part)]
    sized = [(cell, runs, len(next(iter(runs.values())))) for cell, runs in pairs if runs]
    n_common = min((size for _, _, size in sized), default=0)
    return [Found(cell, runs, n_common) for cell, runs, _ in sized]


def coverage_rows(found: Sequence[Found], names: Sequence[str]) -> list[Row]:
    """Return one row for each value of each name, averaged over its cells, and one for all."""
    rows = [_coverage_row(found, "all", "")]
    for name in names:
        for value in values_of(found, name):
            chosen = [one for one in found if one.cell[name] == value]
            rows.append(_coverage_row(chosen, name, value))
    return rows


def by_k_rows(found: Sequence[Found]) -> list[Row]:
    """Return what explains a miss: each dispersion by number of traps and of baits."""
    rows: list[Row] = []
    for name in ("traps", "baits"):
        for value in values_of(found, name):
            for k in values_of(found, "k"):
                chosen = [one for one in found if one.cell[name] == value and one.cell["k"] == k]
                if not chosen:
                    continue
                equal = [one for one in chosen if one.cell.number("ratio") == 1]
                rows.append({
                    name: value,
                    "k": k,
                    "ratio_cover": mean_of(chosen, ratio_cover),
                    "reference_rate_cover": mean_of(chosen, share("rate_hit")),
                    "better_rate_cover": mean_of(chosen, share("better_hit")),
                    "false_winners": mean_of(equal, winners("our", WRONG)),
                    **width_row(chosen),
                })  # fmt: skip
    return rows


def values_of(found: Sequence[Found], name: str) -> list[Value]:
    return sorted({one.cell[name] for one in found}, key=lambda v: (isinstance(v, str), v))


def _coverage_row(found: Sequence[Found], name: str, value: Value) -> Row:
    patchy = [one for one in found if one.cell.number("k") < EVEN_K]
    even = [one for one in found if one.cell.number("k") >= EVEN_K]
    equal = [one for one in found if one.cell.number("ratio") == 1]
    apart = [one for one in found if one.cell.number("ratio") > 1]
    largest = [one for one in found if one.cell.number("ratio") == 4]
    methods = [m for m in ("our", *METHODS) if found and f"{m}_winner" in found[0].runs]
    row: Row = {
        "row": name,
        "value": value,
        "cells": len(found),
        "runs": sum(one.n_common for one in found),
        "ratio_cover": mean_of(found, ratio_cover),
        "ratio_cover_patchy": mean_of(patchy, ratio_cover),
        "ratio_cover_even": mean_of(even, ratio_cover),
        "rate_cover": mean_of(found, rate_cover),
        "rate_cover_patchy": mean_of(patchy, rate_cover),
        "rate_cover_even": mean_of(even, rate_cover),
        "false_winners": {m: mean_of(equal, winners(m, WRONG)) for m in methods},
        "wrong_winners": {m: mean_of(apart, winners(m, WRONG)) for m in methods},
        "right_winners_at_4": {m: mean_of(largest, winners(m, RIGHT)) for m in methods},
    }
    for m in ("poisson", "quasi", "nb", "t"):
        if found and f"{m}_hit" in found[0].runs:
            row.setdefault("cover_of_others", {})[m] = mean_of(found, share(f"{m}_hit"))
    if found and "quasi_width" in found[0].runs:
        row |= width_row(found)
    return row


Number = Callable[[Found], float]


def mean_of(found: Sequence[Found], number: Number) -> float | None:
    """Return the mean over cells, each with the same weight; None without cells."""
    return float(np.mean([number(one) for one in found])) if found else None


def share(column: str) -> Number:
    return lambda one: float(one.common[column].mean())


ratio_cover: Final = share("ratio_hit")


def rate_cover(one: Found) -> float:
    """Return the coverage of the rates of the reference and of the better bait."""
    return float((one.common["rate_hit"].mean() + one.common["better_hit"].mean()) / 2)


def winners(method: str, kind: int) -> Number:
    return lambda one: float((one.common[f"{method}_winner"] == kind).mean())


def width_row(found: Sequence[Found]) -> Row:
    """Return how wide our intervals are beside those of quasi-Poisson with t (log ratio)."""
    ours = np.concatenate([one.common["ratio_width"] for one in found])
    theirs = np.concatenate([one.common["quasi_width"] for one in found])
    of_cells = [
        float(np.median(one.common["ratio_width"]) / np.median(one.common["quasi_width"]))
        for one in found
    ]
    return {
        "width": float(np.median(ours)),
        "quasi_width": float(np.median(theirs)),
        "width_share": float(np.median(ours) / np.median(theirs)),
        "width_share_of_cells": float(np.median(of_cells)),
    }


def low_cells(found: Sequence[Found], column: str) -> list[Row]:
    """Return the cells with three traps a bait or more that were judged, worst first.

    Judged are the runs after those by which cells were picked for more, so that it is not
    held against a cell that it was picked for its bad luck. `p_under_90` is the chance of so
    few hits if it covered .90.
    """
    rows = []
    for one in found:
        if column not in one.judged:
            continue
        hits = one.judged[column]
        p = float(stats.binom.cdf(hits.sum(), len(hits), LEAST_COVER))
        rows.append({**dict(one.cell.items), "interval": column.removesuffix("_hit"),
                     "runs": len(hits), "cover": float(hits.mean()), "p_under_90": p})  # fmt: skip
    return sorted(rows, key=lambda row: float(row["cover"]))


def special_rows(found: Sequence[Found]) -> list[Row]:
    """Return one row a cell of the special cells, in a readable order."""
    rows = []
    for one in sorted(found, key=lambda one: one.cell.key):
        runs = one.common
        row: Row = {**dict(one.cell.items), "runs": one.n_common}
        row |= {name: float(runs[name].mean()) for name in runs if name.endswith("_hit")}
        row["median_ratio"] = float(np.exp(np.median(runs["ratio_median"])))
        row |= {
            name: {"right": float((runs[name] == RIGHT).mean()),
                   "wrong": float((runs[name] == WRONG).mean())}
            for name in runs if name.endswith("_winner")
        }  # fmt: skip
        rows.append(row)
    return rows


def calibration_rows(found: Sequence[Found]) -> list[Row]:
    """Return for each design and quantity whether ranks of the truth are even.

    Talts et al. (2018), Validating Bayesian inference algorithms with simulation-based
    calibration, arXiv:1804.06788: where truths come from the priors, ranks are uniform.
    """
    rows = []
    for one in sorted(found, key=lambda one: one.cell.key):
        for name, ranks in one.runs.items():
            if not name.endswith("_rank"):
                continue
            counts = np.histogram(ranks, _N_RANK_BINS, (0, 1))[0]
            rows.append({
                **dict(one.cell.items),
                "quantity": name.removesuffix("_rank"),
                "runs": len(ranks),
                "chi_square_p": float(stats.chisquare(counts).pvalue),
                "ks_p": float(stats.kstest(ranks, "uniform").pvalue),
                "in_95": float(((ranks > 0.025) & (ranks < 0.975)).mean()),
                "histogram": counts.tolist(),
            })  # fmt: skip
    return rows


def best_rows(found: Sequence[Found]) -> list[Row]:
    """Return for each spread of the truths and prior what a chance of being best came to."""
    rows = []
    for spread in [*values_of(found, "spread"), "all"]:
        chosen = [one.common for one in found if spread in ("all", one.cell["spread"])]
        for prior in ("shrinking", "independent"):
            chance = np.concatenate([runs[f"{prior}_chance"] for runs in chosen])
            right = np.concatenate([runs[f"{prior}_right"] for runs in chosen])
            brier = np.concatenate([runs[f"{prior}_brier"] for runs in chosen])
            where = np.digitize(chance, BINS) - 1
            bins = [
                {"from": BINS[index], "to": min(BINS[index + 1], 1.0), "runs": int(inside.sum()),
                 "said": float(chance[inside].mean()), "came_true": float(right[inside].mean())}
                for index in range(len(BINS) - 1)
                if (inside := where == index).any()
            ]  # fmt: skip
            rows.append({"spread": spread, "prior": prior, "runs": chance.size,
                         "brier": float(brier.mean()), "said": float(chance.mean()),
                         "came_true": float(right.mean()), "bins": bins})  # fmt: skip
    return rows

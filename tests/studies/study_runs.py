"""Runs of a cell: what the engine and the others say of simulated trials, one column a number."""

import math
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from tests.studies.study_cells import Cell, generator
from tests.studies.study_peers import METHODS, peers
from tests.studies.study_trials import (
    Trial,
    best_trial,
    calibration_trial,
    effects_trial,
    plain_catch,
    plain_trial,
    special_trial,
    true_log_rates,
)
from trapline.science.bait_model import INDEPENDENT, SHRINKING
from trapline.science.bait_posterior import bait_posterior
from trapline.science.intervals import Interval
from trapline.science.posterior import BaitPosterior

Row = dict[str, float]
Columns = dict[str, list[float]]

WINNER_CHANCE: Final = 0.975
N_DRAWS: Final = 256  # even points, whose ranks are even only at powers of two
NONE, RIGHT, WRONG = 0, 1, 2  # of the columns that end in _winner


def run_cell(cell: Cell, runs: Sequence[int]) -> Columns:
    """Return what was found in some runs of a cell, columns of numbers in the order of runs."""
    return _RUNNERS[cell.part](cell, runs)


def _coverage(cell: Cell, runs: Sequence[int]) -> Columns:
    rates = true_log_rates(cell)
    counts = np.stack([plain_catch(cell, generator(cell, run)) for run in runs])
    columns = _columns([_ours(plain_trial(catch, rates), cell) for catch in counts])
    return columns | _others(counts, cell)


def _effects(cell: Cell, runs: Sequence[int]) -> Columns:
    rows, counts = [], []
    for run in runs:
        trial, catch = effects_trial(cell, generator(cell, run))
        rows.append(_ours(trial, cell))
        counts.append(catch)
    others = _others(np.stack(counts), cell)
    kept = {name: values for name, values in others.items() if name.startswith(("nb", "poisson"))}
    return _columns(rows) | kept


def _special(cell: Cell, runs: Sequence[int]) -> Columns:
    rows = []
    for run in runs:
        trial = special_trial(cell, generator(cell, run))
        if cell["kind"] != "control":
            rows.append(_ours(trial, cell))
            continue
        posterior = bait_posterior(trial.table, INDEPENDENT)
        row = _against(posterior, trial, bait=0, reference=2)
        row["control_hit"] = _holds(posterior.rates[2], float(np.exp(trial.log_rates[2])))
        beats = posterior.beats
        row["shown_winner"] = RIGHT if beats[0, 2] >= WINNER_CHANCE else NONE
        row["our_winner"] = WRONG if max(beats[0, 1], beats[1, 0]) >= WINNER_CHANCE else NONE
        rows.append(row)
    return _columns(rows)


def _calibration(cell: Cell, runs: Sequence[int]) -> Columns:
    return _columns([_ranks(cell, run) for run in runs])


def _ranks(cell: Cell, run: int) -> Row:
    """Return where the truth stands in the posterior (0 to 1), and whether intervals hold it."""
    rng = generator(cell, run)
    trial = calibration_trial(cell, rng)
    assert trial.priors is not None
    posterior = bait_posterior(trial.table, trial.priors)
    draws = posterior.draws(N_DRAWS)
    apart = float(trial.log_rates[1] - trial.log_rates[0])
    last = len(trial.log_rates) - 1
    known = {
        "rate": (draws.log_rates[:, 0], trial.log_rates[0]),
        "last_rate": (draws.log_rates[:, last], trial.log_rates[last]),
        "ratio_drawn": (draws.log_rates[:, 1] - draws.log_rates[:, 0], apart),
        "spread": (draws.spread, trial.apart["spread"]),
    }
    for name, values in (("exponent", draws.exponent), ("round_sd", draws.round_sd),
                         ("place_sd", draws.place_sd)):  # fmt: skip
        if name in trial.apart:
            known[name] = (values, trial.apart[name])
    row = {"ratio_rank": 1.0 - posterior.beats_by(1, 0, math.exp(apart))}
    for name, (values, truth) in known.items():
        below = int((values < truth).sum())
        ties = int((values == truth).sum())
        row[f"{name}_rank"] = (below + rng.random() * (ties + 1)) / (N_DRAWS + 1)
    row["ratio_hit"] = _holds(posterior.ratio(1, 0), math.exp(apart))
    row["spread_hit"] = _holds(posterior.spreads.spread, trial.apart["spread"])
    if posterior.effective_share is not None:
        row["share"] = posterior.effective_share
    return row


def _best(cell: Cell, runs: Sequence[int]) -> Columns:
    """Return the largest chance of being best, whether it came true, and the Brier score."""
    rows = []
    for run in runs:
        trial = best_trial(cell, generator(cell, run))
        truth = np.zeros(len(trial.log_rates))
        truth[trial.log_rates.argmax()] = 1.0
        row = {}
        for name, priors in (("shrinking", SHRINKING), ("independent", INDEPENDENT)):
            chances = bait_posterior(trial.table, priors).best
            row[f"{name}_chance"] = float(chances.max())
            row[f"{name}_right"] = float(truth[chances.argmax()])
            row[f"{name}_brier"] = float(((chances - truth) ** 2).sum())
        rows.append(row)
    return _columns(rows)


_RUNNERS: Final[dict[str, Callable[[Cell, Sequence[int]], Columns]]] = {
    "coverage": _coverage,
    "effects": _effects,
    "special": _special,
    "calibration": _calibration,
    "best": _best,
}


def _ours(trial: Trial, cell: Cell) -> Row:
    """Return what the engine says: intervals of bait 2 to bait 1, rates, and our winner."""
    posterior = bait_posterior(trial.table, INDEPENDENT)
    row = _against(posterior, trial, bait=1, reference=0)
    beats = posterior.beats.copy()
    np.fill_diagonal(beats, 1.0)
    named = int(beats.min(axis=1).argmax()) if beats.min(axis=1).max() >= WINNER_CHANCE else -1
    row["our_winner"] = float(_verdicts(np.array([named]), cell)[0])
    return row


def _against(posterior: BaitPosterior, trial: Trial, bait: int, reference: int) -> Row:
    rates = np.exp(trial.log_rates)
    ratio = posterior.ratio(bait, reference)
    row = {
        "ratio_hit": _holds(ratio, float(rates[bait] / rates[reference])),
        "ratio_width": math.log(ratio.high / ratio.low),
        "ratio_median": math.log(ratio.median),
        "rate_hit": _holds(posterior.rates[0], float(rates[0])),
        "better_hit": _holds(posterior.rates[1], float(rates[1])),
    }
    if posterior.effective_share is not None:
        row["share"] = posterior.effective_share
    return row


def _others(counts: np.ndarray, cell: Cell) -> Columns:
    """Return what the other methods say; the first axis of `counts` is the runs."""
    columns: Columns = {}
    said = peers(counts)
    truth = math.log(cell.number("ratio"))
    for name in METHODS:
        columns[f"{name}_winner"] = _verdicts(said[name].winner, cell).astype(float).tolist()
        if name != "mean":
            held = (said[name].low <= truth) & (truth <= said[name].high)
            columns[f"{name}_hit"] = held.astype(float).tolist()
            columns[f"{name}_width"] = said[name].width.tolist()
    return columns


def _verdicts(named: np.ndarray, cell: Cell) -> np.ndarray:
    """Return NONE, RIGHT or WRONG for bait indices, -1 where none was named."""
    right = 1 if cell.number("ratio") > 1 else -2
    return np.where(named < 0, NONE, np.where(named == right, RIGHT, WRONG))


def _holds(interval: Interval, truth: float) -> float:
    return float(interval.low <= truth <= interval.high)


def _columns(rows: list[Row]) -> Columns:
    return {name: [row[name] for row in rows] for name in rows[0]}

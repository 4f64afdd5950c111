"""Tables of lifts, invented but for the sprays, that `make_answers.py` finds the answers for."""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

COUNTS = Path(__file__).parents[1] / "counts"

Rows = dict[str, list[Any]]


def counted(rng: np.random.Generator, mean: np.ndarray, dispersion_k: float) -> list[int]:
    """Negative binomial counts of these means."""
    counts = rng.negative_binomial(dispersion_k, dispersion_k / (dispersion_k + mean))
    return [int(count) for count in counts]


def one_round(rng: np.random.Generator) -> Rows:
    bait = np.repeat([0, 1, 2], 4)
    mean = np.array([6.0, 3.0, 1.5])[bait]
    return {"catch": counted(rng, mean, 1.5), "soak_h": [24.0] * 12, "bait": bait.tolist()}


def unequal_soaks(rng: np.random.Generator) -> Rows:
    """Bait 2 caught nothing; bait 3 is a control; every third trap was counted in part."""
    bait = np.repeat([0, 1, 2, 3], 6)
    soak_h = np.round(np.exp(rng.uniform(np.log(6.0), np.log(72.0), 24)))
    fraction = np.where(np.arange(24) % 3 == 0, 0.5, 1.0)
    mean = np.array([8.0, 4.0, 0.0, 0.6])[bait] * (soak_h / 24) ** 0.7 * fraction
    return {
        "catch": counted(rng, mean, 2.0),
        "soak_h": soak_h.tolist(),
        "bait": bait.tolist(),
        "fraction": fraction.tolist(),
    }


def rotated(rng: np.random.Generator) -> Rows:
    round_, place = (grid.ravel() for grid in np.mgrid[0:4, 0:6])
    bait = (round_ + place) % 3
    effect = rng.normal(0, 0.4, 4)[round_] + rng.normal(0, 0.5, 6)[place]
    mean = np.array([6.0, 4.0, 2.5])[bait] * np.exp(effect)
    return {
        "catch": counted(rng, mean, 3.0),
        "soak_h": [24.0] * 24,
        "bait": bait.tolist(),
        "round_": round_.tolist(),
        "place": place.tolist(),
    }


def left_in_place(rng: np.random.Generator) -> Rows:
    """Four lifts are missing, and soaks differ."""
    round_, place = (grid.ravel() for grid in np.mgrid[0:3, 0:8])
    kept = ~np.isin(np.arange(24), [3, 9, 14, 21])
    round_, place = round_[kept], place[kept]
    bait = place % 2
    soak_h = np.round(rng.uniform(14.0, 46.0, bait.size))
    effect = rng.normal(0, 0.4, 3)[round_] + rng.normal(0, 0.5, 8)[place]
    mean = np.array([5.0, 2.5])[bait] * (soak_h / 24) ** 0.8 * np.exp(effect)
    return {
        "catch": counted(rng, mean, 3.0),
        "soak_h": soak_h.tolist(),
        "bait": bait.tolist(),
        "round_": round_.tolist(),
        "place": place.tolist(),
    }


def two_trips(rng: np.random.Generator) -> Rows:
    trip, round_, place = (grid.ravel() for grid in np.mgrid[0:2, 0:3, 0:6])
    bait = (round_ + place) % 3
    effect = (
        rng.normal(0, 0.4, (2, 3))[trip, round_]
        + rng.normal(0, 0.5, 6)[place]
        + np.array([0.3, -0.3])[trip]
        + rng.normal(0, 0.3, (3, 2))[bait, trip]
    )
    mean = np.array([5.0, 3.5, 2.0])[bait] * np.exp(effect)
    return {
        "catch": counted(rng, mean, 3.0),
        "soak_h": [24.0] * 36,
        "bait": bait.tolist(),
        "round_": round_.tolist(),
        "place": place.tolist(),
        "trip": trip.tolist(),
    }


def sprays(_: np.random.Generator) -> Rows:
    """Beall (1942), Biometrika 32, 243-262: insects on plots under six sprays."""
    with (COUNTS / "InsectSprays.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        "catch": [int(row["count"]) for row in rows],
        "soak_h": [24.0] * len(rows),
        "bait": ["ABCDEF".index(row["spray"]) for row in rows],
    }


DATA_SETS: dict[str, tuple[Callable[[np.random.Generator], Rows], list[int]]] = {
    "one_round": (one_round, []),
    "unequal_soaks": (unequal_soaks, [3]),
    "rotated": (rotated, []),
    "left_in_place": (left_in_place, []),
    "two_trips": (two_trips, []),
    "sprays": (sprays, []),
}

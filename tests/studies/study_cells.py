"""The cells of the study of the verdict: what is simulated, and the seed of every run.

A cell is one set of truths and one plan of fishing. Its seed comes from its own words, and
each run has a generator of its own, so that no result depends on the order of the cells, on
where a study was stopped, or on how many workers shared it.
"""

import hashlib
import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.random import Generator

Value = int | float | str | bool

TRAPS: Final = (2, 3, 6, 12)
BAITS: Final = (2, 3, 4, 5, 6)
MEANS: Final = (1, 5, 40)
DISPERSIONS: Final = (0.5, 1, 4, 15, math.inf)
RATIOS: Final = (1, 2, 4)
SOAK_H: Final = 24.0
ROUND_SD: Final = 0.4
# A cell that looks bad in its first runs gets more, and is judged by those alone.
FIRST_RUNS: Final = {"coverage": 200, "effects": 150, "special": 300, "calibration": 1000,
                     "best": 300}  # fmt: skip


@dataclass(frozen=True)
class Cell:
    """One part of the study and its values, in a fixed order of names."""

    part: str
    items: tuple[tuple[str, Value], ...]

    def __getitem__(self, name: str) -> Value:
        return dict(self.items)[name]

    def number(self, name: str) -> float:
        return float(dict(self.items)[name])

    def count(self, name: str) -> int:
        return int(dict(self.items)[name])

    @property
    def key(self) -> str:
        return " ".join([self.part, *(f"{name}={value}" for name, value in self.items)])


def cell_of(part: str, **values: Value) -> Cell:
    """Return a cell; the order of the values makes no difference."""
    return Cell(part, tuple(sorted(values.items())))


def generator(cell: Cell, run: int) -> Generator:
    """Return the generator of one run of a cell."""
    digest = hashlib.sha256(cell.key.encode()).digest()
    words = np.frombuffer(digest[:16], dtype="<u4").tolist()
    return np.random.default_rng(np.random.SeedSequence([*words, run]))


def coverage_cells() -> list[Cell]:
    """One bait better than the others by a ratio; one round, every trap on its own place."""
    grid = itertools.product(TRAPS, BAITS, MEANS, DISPERSIONS, RATIOS)
    return [
        cell_of("coverage", traps=n, baits=baits, mean=mean, k=k, ratio=ratio)
        for n, baits, mean, k, ratio in grid
    ]


def effects_cells() -> list[Cell]:
    """Rounds and places that differ, baits rotated or fixed.

    Ratio and number of rounds alternate, so that each of their pairs meets each of the other
    values about equally often.
    """
    cells = []
    for r, s, n, j, d in itertools.product(range(2), range(2), range(3), range(2), range(3)):
        cells.append(
            cell_of(
                "effects",
                plan=("rotated", "fixed")[r],
                place_sd=(0.5, 0.9)[s],
                traps=(2, 3, 6)[n],
                baits=(2, 3)[j],
                k=(1, 4, math.inf)[d],
                ratio=(1, 2)[(r + s + n + j + d) % 2],
                rounds=(3, 4)[(s + n + j) % 2],
                mean=5,
            )
        )
    return cells


def special_cells() -> list[Cell]:
    """A control, baits that are unequally patchy, disturbance that is linked to a bait."""
    controls = [
        cell_of("special", kind="control", traps=n, mean=mean, k=k, baits=2, control=0.05)
        for n, mean, k in itertools.product((3, 6), (5, 40), (1, 4))
    ]
    # The reference (bait 1) has k, the other bait (bait 2) other_k.
    unequal = [
        cell_of("special", kind="unequal k", traps=n, mean=5, k=k, other_k=4.5 - k, ratio=ratio,
                baits=2)
        for n, k, ratio in [(3, 0.5, 1), (6, 0.5, 1), (12, 0.5, 1), (6, 0.5, 2), (6, 4, 2),
                            (12, 4, 2)]
    ]  # fmt: skip
    disturbed = [
        cell_of("special", kind="disturbed", animals=animals, treatment=treatment, traps=n,
                mean=5, k=2, baits=2, ratio=1)
        for animals, treatment, n in itertools.product(
            ("escaped", "kept", "stopped"), ("left out", "half a soak"), (6,))
    ]  # fmt: skip
    return controls + unequal + disturbed


def calibration_cells() -> list[Cell]:
    """Truths drawn from the priors; `engine` says which way of integrating is looked at."""
    exact = [
        cell_of("calibration", engine="exact", baits=j, traps=n, mean=mean, soaks=soaks, control=c)
        for j, n, mean, soaks, c in [
            (2, 2, 5, "equal", False),
            (3, 3, 5, "equal", False),
            (4, 6, 1, "equal", False),
            (2, 12, 40, "equal", False),
            (3, 4, 5, "unequal", False),
            (3, 3, 5, "equal", True),
        ]
    ]
    drawn = [
        cell_of("calibration", engine="drawn", baits=j, traps=n, mean=5, soaks=soaks, plan=plan,
                rounds=rounds, control=False)
        for j, n, soaks, plan, rounds in [
            (2, 3, "equal", "rotated", 3),
            (3, 2, "equal", "fixed", 3),
            (3, 2, "unequal", "rotated", 4),
        ]
    ]  # fmt: skip
    return exact + drawn


def best_cells() -> list[Cell]:
    """Truths of baits drawn at a spread about one mean."""
    return [
        cell_of("best", baits=j, spread=spread, traps=n, k=k, mean=5)
        for j, spread, n, k in itertools.product((3, 5), (0.25, 0.5, 1.0), (3, 6), (1, 4))
    ]


PARTS: Final = {
    "coverage": coverage_cells,
    "effects": effects_cells,
    "special": special_cells,
    "calibration": calibration_cells,
    "best": best_cells,
}


def cells_of(part: str, at_most: int | None = None) -> list[Cell]:
    """Return the cells of a part in a shuffled order, so that the first are spread out."""
    cells = sorted(PARTS[part](), key=lambda cell: hashlib.sha256(cell.key.encode()).digest())
    return cells[:at_most]

"""Results of the study on disk: one line of JSON for each finished stretch of runs of a cell."""

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.studies.study_cells import Cell
from tests.studies.study_runs import Columns

Arrays = dict[str, NDArray[np.float64]]


Stretch = tuple[int, int, Arrays]  # first run, how many, their columns


class Kept:
    """The results of one part in one folder, read once and then added to."""

    def __init__(self, folder: Path, part: str) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._path = folder / f"{part}.jsonl"
        self._found: dict[str, list[Stretch]] = {}
        for line in self._whole_lines():
            self._take(json.loads(line))

    def _whole_lines(self) -> list[str]:
        """Return the lines that were written to their end; cut off one that was not."""
        if not self._path.exists():
            return []
        text = self._path.read_text("ascii")
        whole, _, torn = text.rpartition("\n")
        if torn:
            self._path.write_text(whole + "\n" if whole else "", "ascii")
        return whole.splitlines()

    def _take(self, entry: dict[str, Any]) -> None:
        columns = {name: unpack(column) for name, column in entry["columns"].items()}
        stretch = (entry["first"], entry["count"], columns)
        self._found.setdefault(entry["cell"], []).append(stretch)

    def missing(self, cell: Cell, n_runs: int, at_once: int) -> list[range]:
        """Return the runs of a cell that are still to do, in stretches of at most `at_once`."""
        done: set[int] = set()
        for first, count, _ in self._found.get(cell.key, []):
            done.update(range(first, first + count))
        stretches: list[range] = []
        for run in range(n_runs):
            if run in done:
                continue
            if stretches and stretches[-1].stop == run and len(stretches[-1]) < at_once:
                stretches[-1] = range(stretches[-1].start, run + 1)
            else:
                stretches.append(range(run, run + 1))
        return stretches

    def add(self, cell: Cell, runs: range, columns: Columns) -> None:
        """Write one finished stretch, whole or not at all."""
        packed = {name: pack(values) for name, values in columns.items()}
        entry = {"cell": cell.key, "first": runs.start, "count": len(runs), "columns": packed}
        with self._path.open("a", encoding="ascii") as file:
            file.write(json.dumps(entry, separators=(",", ":")) + "\n")
        self._take(entry)

    def columns(self, cell: Cell, at_most: int | None = None) -> Arrays:
        """Return the results of a cell in the order of its runs; empty if there are none."""
        stretches = sorted(self._found.get(cell.key, []), key=lambda stretch: stretch[0])
        if not stretches:
            return {}
        names = set.intersection(*(set(columns) for _, _, columns in stretches))
        return {
            name: np.concatenate([columns[name] for _, _, columns in stretches])[:at_most]
            for name in sorted(names)
        }


def pack(values: Iterable[float]) -> str | list[float]:
    """Return digits as one text, other numbers in five digits."""
    numbers = list(values)
    if all(value in range(10) for value in numbers):
        return "".join(str(int(value)) for value in numbers)
    return [value if not math.isfinite(value) else float(f"{value:.5g}") for value in numbers]


def unpack(column: str | list[float]) -> NDArray[np.float64]:
    """Return the numbers that :func:`pack` wrote."""
    return np.array([float(value) for value in column])

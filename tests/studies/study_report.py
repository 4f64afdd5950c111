"""The report of the study: tables, pictures, and the files that the program ships."""

import datetime
import json
import math
import platform
from pathlib import Path
from typing import Any

import numpy as np
import scipy

import trapline
from tests.studies.study_cells import PARTS
from tests.studies.study_kept import Kept
from tests.studies.study_peers import WINNER_MEANS
from tests.studies.study_plots import (
    best_picture,
    coverage_picture,
    ranks_picture,
    winners_picture,
)
from tests.studies.study_tables import (
    Found,
    best_rows,
    by_k_rows,
    calibration_rows,
    coverage_rows,
    found_in,
    low_cells,
    special_rows,
)
from tests.studies.study_words import plain_table


def write_report(out: Path, results: Path) -> str:
    """Write pictures beside the raw results and the result files; return the plain table."""
    found = {part: found_in(Kept(out, part), part) for part in PARTS}
    result = result_of(found)
    if result["coverage"]:
        coverage_picture(found["coverage"], out / "coverage.png")
        winners_picture(result["coverage"], out / "false_winners.png")
    if result["calibration"]:
        ranks_picture(result["calibration"], out / "calibration.png")
    if result["best"]:
        best_picture(result["best"], out / "best.png")
    results.mkdir(parents=True, exist_ok=True)
    words = plain_table(result)
    (results / "verdict_study.txt").write_text(words, "utf-8", newline="\n")
    (results / "verdict_study.json").write_text(json_text(result), "utf-8", newline="\n")
    return words


def result_of(found: dict[str, list[Found]]) -> dict[str, Any]:
    """Return all tables; a part without results has an empty one."""
    every = [one for cells in found.values() for one in cells]
    low = [
        row
        for part in ("coverage", "effects", "special")
        for column in ("ratio_hit", "rate_hit", "better_hit")
        for row in low_cells(found[part], column)
    ]
    runs = {part: sorted({one.n_shown for one in cells}) for part, cells in found.items()}
    return {
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(),
        "versions": {
            "trapline": trapline.__version__,
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "winner_means": WINNER_MEANS,
        "n_runs": sum(one.n_shown for one in every),
        "cells": {part: len(cells) for part, cells in found.items()},
        "runs_of_cells": runs,
        "coverage": _rows(found["coverage"], ("traps", "baits", "mean", "ratio", "k")),
        "by_k": by_k_rows(found["coverage"]),
        "effects": _rows(found["effects"], ("plan", "place_sd", "rounds", "traps", "baits",
                                            "ratio", "k")),
        "special": special_rows(found["special"]),
        "calibration": calibration_rows(found["calibration"]),
        "best": best_rows(found["best"]) if found["best"] else [],
        "judged_cells": len(low),
        "low_cells": sorted(low, key=lambda row: float(row["cover"])),
    }  # fmt: skip


def json_text(result: dict[str, Any]) -> str:
    """Return a result as JSON with one line a row."""
    parts = []
    for name, value in _plain(result).items():
        text = json.dumps(value, allow_nan=False)
        if isinstance(value, list) and value:
            rows = (json.dumps(row, allow_nan=False) for row in value)
            text = "[\n  " + ",\n  ".join(rows) + "\n ]"
        parts.append(f" {json.dumps(name)}: {text}")
    return "{\n" + ",\n".join(parts) + "\n}\n"


def _rows(found: list[Found], names: tuple[str, ...]) -> list[dict[str, Any]]:
    return coverage_rows(found, names) if found else []


def _plain(value: Any) -> Any:
    """Return values as JSON knows them: no infinity, five digits."""
    if isinstance(value, dict):
        return {str(name): _plain(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return float(f"{value:.5g}") if math.isfinite(value) else str(value)
    return value

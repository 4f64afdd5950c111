"""Pictures of the study, beside its raw results."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from tests.studies.study_cells import DISPERSIONS, TRAPS
from tests.studies.study_tables import Found, Row, ratio_cover

_METHODS: Final = ("our", "quasi", "nb", "t", "poisson")
_LABELS: Final = {"our": "ours", "quasi": "quasi-Poisson", "nb": "NB GLM", "t": "t test",
                  "poisson": "Poisson GLM"}  # fmt: skip


def coverage_picture(found: Sequence[Found], path: Path) -> None:
    """Coverage of the ratio in every cell: one panel for each number of traps."""
    figure = Figure(figsize=(11, 4), layout="constrained")
    axes = figure.subplots(1, len(TRAPS), sharey=True)
    for panel, traps in zip(axes, TRAPS, strict=True):
        for position, k in enumerate(DISPERSIONS):
            values = [
                ratio_cover(one)
                for one in found
                if one.cell["traps"] == traps and one.cell["k"] == k
            ]
            spread = np.linspace(-0.3, 0.3, len(values)) if values else []
            panel.plot(position + np.asarray(spread), values, ".", ms=3, color=f"C{position}")
        panel.axhspan(0.93, 0.97, color="0.9", zorder=0)
        panel.axhline(0.95, color="0.4", lw=0.8)
        panel.set_xticks(range(len(DISPERSIONS)), [f"{k:g}" for k in DISPERSIONS])
        panel.set(title=f"{traps} traps a bait", xlabel="dispersion k")
    axes[0].set(ylabel="share of 95 % intervals that hold the true ratio")
    _save(figure, path)


def winners_picture(rows: Sequence[Row], path: Path) -> None:
    """False winners under no difference, by method, for each number of traps and baits."""
    figure = Figure(figsize=(10, 4), layout="constrained")
    panels = figure.subplots(1, 2, sharey=True)
    for panel, name in zip(panels, ("traps", "baits"), strict=True):
        chosen = [row for row in rows if row["row"] == name]
        for index, method in enumerate(_METHODS):
            shares = [100 * (row["false_winners"][method] or 0.0) for row in chosen]
            panel.bar(np.arange(len(chosen)) + 0.16 * (index - 2), shares, 0.15,
                      label=_LABELS[method])  # fmt: skip
        panel.axhline(5, color="0.4", lw=0.8)
        panel.set_xticks(range(len(chosen)), [str(row["value"]) for row in chosen])
        panel.set(xlabel=f"{name}{' a bait' if name == 'traps' else ''}")
    panels[0].set(ylabel="false winners among equal baits, %")
    panels[0].legend()
    _save(figure, path)


def ranks_picture(rows: Sequence[Row], path: Path) -> None:
    """Ranks of the truth in the posterior; all bars as high as the line is right."""
    columns = 6
    height = -(-len(rows) // columns)
    figure = Figure(figsize=(2.4 * columns, 1.7 * height), layout="constrained")
    panels: Any = figure.subplots(height, columns, squeeze=False)
    for panel in panels.flat[len(rows) :]:
        panel.set_axis_off()
    for panel, row in zip(panels.flat, rows, strict=False):
        counts = row["histogram"]
        panel.bar(np.arange(len(counts)), counts, 1.0)
        panel.axhline(sum(counts) / len(counts), color="k", lw=0.8)
        panel.set_xticks([])
        panel.set_title(
            f"{row['engine']} {row['baits']}x{row['traps']} {row['soaks']}\n{row['quantity']}",
            fontsize=7,
        )
    _save(figure, path)


def best_picture(rows: Sequence[Row], path: Path) -> None:
    """What a chance of being best came to, beside what was said."""
    spreads = list(dict.fromkeys(row["spread"] for row in rows))
    figure = Figure(figsize=(3.2 * len(spreads), 3.6), layout="constrained")
    panels = figure.subplots(1, len(spreads), sharey=True, squeeze=False)[0]
    for panel, spread in zip(panels, spreads, strict=True):
        _reliability(panel, [row for row in rows if row["spread"] == spread])
        panel.set(
            title="all spreads" if spread == "all" else f"baits' spread {spread}",
            xlabel="chance of being best, as said",
        )
    panels[0].set(ylabel="share that was best")
    panels[0].legend()
    _save(figure, path)


def _reliability(panel: Axes, rows: Sequence[Row]) -> None:
    panel.plot([0.2, 1], [0.2, 1], color="0.6", lw=0.8)
    for row in rows:
        said = [one["said"] for one in row["bins"]]
        panel.plot(said, [one["came_true"] for one in row["bins"]], "o-", ms=3,
                   label=f"{row['prior']} prior")  # fmt: skip


def _save(figure: Figure, path: Path) -> None:
    with mpl.rc_context({"font.size": 9}):
        figure.savefig(path, dpi=110)

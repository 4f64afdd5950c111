"""The charts of a bait comparison as matplotlib figures: every trap a point, and the ratios.

matplotlib is imported at once, so import this module only where a chart is made.
"""

import math
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.path import Path
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

from trapline.drawing.chart_content import BaitColumn, RatioRow
from trapline.drawing.theme import Theme


def _ring() -> Path:
    """Return a disc within a ring, as on the map."""
    circle = Path.unit_circle()
    inner = Path(np.asarray(circle.vertices) * 0.62, circle.codes)
    return Path.make_compound_path(circle, inner)


MARKERS: Final[dict[str, Any]] = {
    "circle": "o", "square": "s", "triangle": "^", "diamond": "D", "star": "*", "cross": "P",
    "pentagon": "p", "ring": _ring(),
}  # fmt: skip
SIZES: Final = {"diamond": 6.0, "star": 10.0, "cross": 8.0, "triangle": 7.5, "pentagon": 8.0}
# Heights in a row, from the middle outward.
LANES: Final = (0.0, -0.25, 0.25, -0.5, 0.5, -0.125, 0.125, -0.375, 0.375)
# A mark is about so wide on a chart of usual size, as a share of the axis.
MARK_SHARE: Final = 0.022
# Ratios farther out than this are shown by an arrow at the edge.
FARTHEST: Final = 50.0
# The letters of the rows and the axis, in points, where the window has letters of usual size.
_LETTERS_PT: Final = 9.0
_USUAL_WINDOW_PT: Final = 10.0
RATIO_TICKS: Final = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def bait_chart(
    columns: Sequence[BaitColumn],
    theme: Theme,
    *,
    noun: str = "animals",
    title: str = "",
) -> Figure:
    """Return the chart of all traps by bait, with each bait's rate and 95 % interval."""
    figure, axes = _empty(theme, len(columns), title)
    rates = [rate for column in columns for rate in _all_rates(column)]
    longest = 1.06 * max(rates, default=0.0) or 1.0
    for row, column in enumerate(columns):
        _paint_points(axes, row, column, theme, longest)
        _paint_interval(axes, row, column, theme)
    _name_rows(axes, [column.bait for column in columns], theme)
    # Points at 0 stand on the axis: they are not cut in half.
    axes.set_xlim(-0.02 * longest, longest)
    axes.set_xlabel(f"{noun} per trap and 24 h")
    _put_legend(figure, _legend(columns, theme), theme)
    return figure


def forest_chart(
    rows: Sequence[RatioRow], reference: str, theme: Theme, *, title: str = ""
) -> Figure:
    """Return the chart of the ratios to the reference bait, on a logarithmic axis."""
    figure, axes = ratio_axes(rows, theme, title=title)
    axes.set_xlabel(f"times the catch of {plain(reference)} (1: as much), and 95 % interval")
    return figure


def ratio_axes(
    rows: Sequence[RatioRow], theme: Theme, *, title: str = "", missing: str = "no lift counts"
) -> tuple[Figure, Axes]:
    """Return a chart with a row for each ratio, `missing` where there is none, and its axes."""
    figure, axes = _empty(theme, len(rows), title)
    low, high = _ratio_limits(rows)
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.axvline(1.0, color=theme.text, linewidth=1.0 * theme.line_scale, zorder=1)
    for row, ratio in enumerate(rows):
        _paint_ratio(axes, row, ratio, theme, low, high, missing)
    _name_rows(axes, [row.bait for row in rows], theme)
    axes.xaxis.set_major_locator(FixedLocator([t for t in RATIO_TICKS if low <= t <= high]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    return figure, axes


def _letters_pt(theme: Theme, share: float = 1.0) -> float:
    """Return a size of letters that grows with those of the window: large in the sun."""
    grown = (theme.window_font_pt or _USUAL_WINDOW_PT) / _USUAL_WINDOW_PT
    return _LETTERS_PT * share * grown


def plain(text: str) -> str:
    """Return a name that matplotlib takes as it is: a pair of $ would be mathematics to it."""
    return text.replace("$", r"\$")


def _empty(theme: Theme, n_rows: int, title: str) -> tuple[Figure, Axes]:
    figure = Figure(figsize=(6.4, 1.4 + 0.55 * max(n_rows, 1)), layout="constrained")
    figure.set_facecolor(theme.panel)
    axes = figure.add_subplot()
    axes.set_facecolor(theme.panel)
    if title:
        axes.set_title(
            plain(title), loc="left", color=theme.text, fontsize=_letters_pt(theme, 1.1),
            weight="bold",
        )  # fmt: skip
    for side, spine in axes.spines.items():
        spine.set_visible(side == "bottom")
        spine.set_color(theme.control_border)
    axes.tick_params(colors=theme.text, labelsize=_letters_pt(theme), length=3)
    axes.tick_params(axis="y", length=0, pad=8)
    axes.xaxis.label.set_color(theme.text)
    axes.xaxis.label.set_fontsize(_letters_pt(theme))
    axes.grid(visible=True, axis="x", color=theme.border, linewidth=0.6)
    axes.set_axisbelow(True)
    return figure, axes


def _name_rows(axes: Axes, names: Sequence[str], theme: Theme) -> None:
    """Write the baits at the left, the first on top, with a thin line between two."""
    axes.set_ylim(max(len(names), 1) - 0.5, -0.5)
    axes.set_yticks(range(len(names)), [plain(name) for name in names])
    for row in range(1, len(names)):
        axes.axhline(row - 0.5, color=theme.border, linewidth=0.6, zorder=0)


def _spread(rates: NDArray[np.float64], reach: float) -> NDArray[np.float64]:
    """Return offsets between -0.5 and 0.5 so that near rates stand beside each other.

    Each point, from the lowest rate on, takes the first lane that is free for a `reach`; where
    none is, the lane that was taken longest ago. The same every time, never by chance.
    """
    ends = np.full(len(LANES), -np.inf)
    offsets = np.zeros(rates.size)
    for at in np.argsort(rates, kind="stable"):
        free = np.flatnonzero(ends + reach <= rates[at])
        lane = int(free[0]) if free.size else int(np.argmin(ends))
        ends[lane] = rates[at] + (0.0 if free.size else 1e-9 * reach)
        offsets[at] = LANES[lane]
    return offsets


def _all_rates(column: BaitColumn) -> list[float]:
    shown = [one.rate_per_24h for one in column.left_out if one.rate_per_24h is not None]
    ends = [column.rate.high] if column.rate else []
    return [rate for rate in (*column.rates_per_24h, *shown, *ends) if math.isfinite(rate)]


def _marker(mark: str, colour: str, theme: Theme, *, is_hollow: bool = False) -> dict[str, Any]:
    fill, edge = colour, theme.mark_outline
    if theme.is_monochrome:
        # White edges keep black marks apart where they touch.
        fill = theme.mark_outline
        edge = theme.mark_outline if is_hollow else theme.panel
    return {
        "marker": MARKERS.get(mark, "o"),
        "markersize": SIZES.get(mark, 7.0),
        "markerfacecolor": theme.panel if is_hollow else fill,
        "markeredgecolor": edge,
        "markeredgewidth": 0.9 * min(theme.line_scale, 1.5),
        "linestyle": "none",
    }


def _paint_points(axes: Axes, row: int, column: BaitColumn, theme: Theme, longest: float) -> None:
    """Paint the traps in the upper part of the row; those left out hollow and crossed."""
    out = [one.rate_per_24h for one in column.left_out if one.rate_per_24h is not None]
    rates = np.array([*column.rates_per_24h, *out], dtype=np.float64)
    heights = row - 0.12 + 0.52 * _spread(rates, MARK_SHARE * longest)
    n = len(column.rates_per_24h)
    look = _marker(column.mark, column.colour, theme)
    axes.plot(rates[:n], heights[:n], zorder=3, clip_on=False, **look)
    if out:
        hollow = _marker(column.mark, column.colour, theme, is_hollow=True)
        axes.plot(rates[n:], heights[n:], zorder=2, clip_on=False, **hollow)
        axes.plot(rates[n:], heights[n:], zorder=4, clip_on=False, **_crossing(theme))


def _crossing(theme: Theme) -> dict[str, Any]:
    return {
        "marker": "x", "markersize": 8.5, "markeredgecolor": theme.bad, "markeredgewidth": 1.2,
        "linestyle": "none",
    }  # fmt: skip


def _paint_interval(axes: Axes, row: int, column: BaitColumn, theme: Theme) -> None:
    """Paint the interval as a bar under the points, its median as a tick across it."""
    if column.rate is None:
        return
    y, rate = row + 0.32, column.rate
    wide = 2.2 * min(theme.line_scale, 1.5)
    axes.plot([rate.low, rate.high], [y, y], color=theme.text, linewidth=wide, zorder=3,
              solid_capstyle="butt")  # fmt: skip
    axes.plot([rate.median] * 2, [y - 0.11, y + 0.11], color=theme.text, linewidth=wide, zorder=3,
              solid_capstyle="butt")  # fmt: skip


def _legend(columns: Sequence[BaitColumn], theme: Theme) -> list[Line2D]:
    """Return the handles: a trap, the interval, and each reason for leaving out with its number."""
    made = []
    if any(column.rates_per_24h for column in columns):
        made.append(Line2D([], [], label="one trap", **_marker("circle", theme.link, theme)))
    if any(column.rate for column in columns):
        made.append(
            Line2D(
                [],
                [],
                color=theme.text,
                linewidth=2.2,
                marker="|",
                markersize=8,
                label="rate of the bait, with its 95 % interval",
            )
        )
    shown, unseen = Counter[str](), Counter[str]()
    for column in columns:
        for one in column.left_out:
            (unseen if one.rate_per_24h is None else shown)[one.why] += 1
    for why, n in sorted(shown.items()):
        made.append(Line2D([], [], label=f"{n} × {plain(why)}", **_crossing(theme)))
    for why, n in sorted(unseen.items()):
        # Nothing to draw: no catch or no soak, so no rate.
        made.append(Line2D([], [], linestyle="none", label=f"{n} × {plain(why)} (not drawn)"))
    return made


def _put_legend(figure: Figure, handles: list[Line2D], theme: Theme) -> None:
    if not handles:
        return
    legend = figure.legend(
        handles=handles,
        loc="outside lower left",
        ncols=2,
        fontsize=_letters_pt(theme, 0.95),
        frameon=False,
        labelcolor=theme.text,
        handletextpad=0.6,
        columnspacing=1.6,
    )
    legend.set_in_layout(True)


def _ratio_limits(rows: Sequence[RatioRow]) -> tuple[float, float]:
    """Return limits of the axis about 1 that hold every interval, up to the farthest shown."""
    ends = [0.5, 2.0]
    for row in rows:
        if row.ratio is not None:
            ends += [row.ratio.low, row.ratio.high]
    held = [min(max(end, 1 / FARTHEST), FARTHEST) for end in ends if math.isfinite(end)]
    return min(held) / 1.25, max(held) * 1.25


def _paint_ratio(
    axes: Axes, row: int, ratio: RatioRow, theme: Theme, low: float, high: float, missing: str
) -> None:
    if ratio.ratio is None:
        axes.text(
            1.0, row, f"  {missing}", va="center", fontsize=_letters_pt(theme),
            color=theme.muted,
        )  # fmt: skip
        return
    interval = ratio.ratio
    left, right = max(interval.low, low), min(interval.high, high)
    wide = 2.0 * min(theme.line_scale, 1.5)
    axes.plot([left, right], [row, row], color=theme.text, linewidth=wide, zorder=2,
              solid_capstyle="butt")  # fmt: skip
    for end, is_beyond, arrow in (
        (left, interval.low < low, "<"),
        (right, interval.high > high, ">"),
    ):
        marker = arrow if is_beyond else "|"
        axes.plot([end], [row], marker=marker, markersize=8, color=theme.text, clip_on=False,
                  markeredgewidth=wide * 0.8, zorder=2)  # fmt: skip
    middle = min(max(interval.median, low), high)
    axes.plot([middle], [row], zorder=3, **_marker(ratio.mark, ratio.colour, theme))
    words = f"{_number(interval.median)}  ({_number(interval.low)} to {_number(interval.high)})"
    axes.annotate(
        words, (1.0, row), xycoords=("axes fraction", "data"), xytext=(10, 0),
        textcoords="offset points", va="center", fontsize=_letters_pt(theme), color=theme.text,
        annotation_clip=False,
    )  # fmt: skip


def _number(ratio: float) -> str:
    """Return a ratio with two digits that matter; beyond the axis only that it is beyond."""
    if ratio > 10 * FARTHEST:
        return f"over {10 * FARTHEST:g}"
    if ratio < 0.1 / FARTHEST:
        return f"under {0.1 / FARTHEST:g}"
    return f"{ratio:#.2g}" if ratio < 9.95 else f"{ratio:.0f}"

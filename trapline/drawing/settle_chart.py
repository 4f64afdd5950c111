"""The chart of what would settle it: shares of trials that name a winner, and the interval.

matplotlib is imported at once, so import this module only where a chart is made.
"""

from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from trapline.analyses.next_trip import RATIOS, WANTED, NextTrip
from trapline.drawing.theme import Theme

# The letters of the axes, in points, where the window has letters of usual size.
_LETTERS_PT: Final = 9.0
_USUAL_WINDOW_PT: Final = 10.0
_MARKERS: Final = {1.5: "^", 2.0: "o", 3.0: "s"}
_FACTORS: Final = (1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0, 50.0, 100.0)
# An interval wider than this is shown by an arrow at the edge.
_WIDEST: Final = 100.0


def settle_chart(trip: NextTrip, theme: Theme, *, title: str = "") -> Figure:
    """Return the chart: at the left how often a winner is named, at the right how sure its ratio.

    Solid lines are baits that rotate over the places, dashed ones baits that stay.
    """
    figure = Figure(figsize=(7.2, 4.1), layout="constrained")
    figure.set_facecolor(theme.panel)
    left, right = figure.subplots(1, 2, width_ratios=[1.7, 1.0])
    for axes in (left, right):
        _dress(axes, theme)
    if title:
        figure.suptitle(
            title.replace("$", r"\$"), x=0.01, ha="left", color=theme.text, weight="bold",
            fontsize=_letters_pt(theme, 1.1),
        )  # fmt: skip
    _paint_power(left, trip, theme)
    _paint_width(right, trip, theme)
    legend = figure.legend(
        handles=_legend(theme), loc="outside lower left", ncols=2, frameon=False,
        fontsize=_letters_pt(theme, 0.95), labelcolor=theme.text, handlelength=3.2,
        handletextpad=0.6, columnspacing=1.6,
    )  # fmt: skip
    legend.set_in_layout(True)
    return figure


def _letters_pt(theme: Theme, share: float = 1.0) -> float:
    """Return a size of letters that grows with those of the window: large in the sun."""
    grown = (theme.window_font_pt or _USUAL_WINDOW_PT) / _USUAL_WINDOW_PT
    return _LETTERS_PT * share * grown


def _dress(axes: Axes, theme: Theme) -> None:
    axes.set_facecolor(theme.panel)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("bottom", "left"))
        spine.set_color(theme.control_border)
    axes.tick_params(colors=theme.text, labelsize=_letters_pt(theme), length=3)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set_color(theme.text)
        label.set_fontsize(_letters_pt(theme))
    axes.grid(visible=True, axis="y", color=theme.border, linewidth=0.6)
    axes.set_axisbelow(True)


def _look(theme: Theme, ratio: float, *, rotates: bool) -> dict[str, Any]:
    """Return the look of a line: its ratio by marker and colour, its layout by dashes."""
    colours = {1.5: theme.warning, 2.0: theme.accent, 3.0: theme.text}
    colour = theme.mark_outline if theme.is_monochrome else colours[ratio]
    return {
        "color": colour,
        "linewidth": 1.8 * min(theme.line_scale, 1.5),
        "linestyle": "-" if rotates else (0, (4, 2.5)),
        "marker": _MARKERS[ratio],
        "markersize": 6.5,
        "markerfacecolor": colour if rotates else theme.panel,
        "markeredgecolor": colour,
        "markeredgewidth": 1.2,
    }


def _paint_power(axes: Axes, trip: NextTrip, theme: Theme) -> None:
    axes.axhline(100 * WANTED, color=theme.muted, linewidth=1.0 * theme.line_scale,
                 linestyle=":", zorder=1)  # fmt: skip
    sizes: tuple[int, ...] = ()
    for rotates in (False, True):
        for ratio in RATIOS:
            curve = trip.curve(ratio, "rounds", rotates=rotates)
            sizes = curve.sizes
            shares = [100 * share for share in curve.shares]
            axes.plot(sizes, shares, clip_on=False, zorder=4 if rotates else 3,
                      **_look(theme, ratio, rotates=rotates))  # fmt: skip
    axes.set_ylim(0, 100)
    axes.set_yticks(range(0, 101, 20))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g} %"))
    _name_rounds(axes, sizes, 0.0 if sizes[0] > 1 else 0.6)
    axes.set_ylabel("trials that name the winner")


def _paint_width(axes: Axes, trip: NextTrip, theme: Theme) -> None:
    now = trip.found.factor_now
    ends = [now]
    sizes: tuple[int, ...] = ()
    for rotates in (False, True):
        width = trip.width(rotates=rotates)
        sizes = width.sizes
        ends += width.factors
        look = _look(theme, 3.0, rotates=rotates) | {"marker": "D", "markersize": 5.0}
        axes.plot(sizes, width.factors, zorder=4 if rotates else 3, **look)
    low, high = 1.0, 1.3 * min(max(ends), _WIDEST)
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    is_beyond = now > high
    axes.plot([0], [min(now, high)], clip_on=False, zorder=5,
              **_now(theme, marker="^" if is_beyond else "o"))  # fmt: skip
    axes.yaxis.set_major_locator(FixedLocator([f for f in _FACTORS if low <= f <= high]))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    _name_rounds(axes, (0, *sizes), -0.5)
    axes.set_ylabel("leader's interval: high / low")


def _name_rounds(axes: Axes, sizes: tuple[int, ...], first: float) -> None:
    """Put a tick at each size that was tried."""
    axes.set_xlim(first, max(sizes[-1], 2) + 0.3)
    axes.set_xticks(sizes)
    axes.set_xlabel("more rounds")


def _now(theme: Theme, *, marker: str = "o") -> dict[str, Any]:
    colour = theme.mark_outline if theme.is_monochrome else theme.bad
    return {"color": colour, "marker": marker, "markersize": 7.5, "linestyle": "none"}


def _legend(theme: Theme) -> list[Line2D]:
    """Return the handles: the ratios by their markers, the layouts by their lines."""
    ratios = [
        Line2D([], [], label=f"a bait that catches {ratio:g} times as much",
               **_look(theme, ratio, rotates=True))
        for ratio in sorted(RATIOS, reverse=True)
    ]  # fmt: skip
    plain: dict[str, Any] = {"color": theme.text, "linewidth": 1.8 * min(theme.line_scale, 1.5)}
    return [
        *ratios,
        Line2D([], [], label="the interval now", **_now(theme)),
        Line2D([], [], label="baits rotated throughout", **plain),
        Line2D([], [], label="baits kept throughout", linestyle=(0, (4, 2.5)),
               **plain),
        Line2D([], [], label=f"{10 * WANTED:.0f} trials of 10", color=theme.muted, linestyle=":",
               linewidth=1.0 * theme.line_scale),
    ]  # fmt: skip

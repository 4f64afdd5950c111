"""The ratio of two baits as a forest: one line a trip, and one for all trips together.

matplotlib is imported at once, so import this module only where a chart is made.
"""

from matplotlib.figure import Figure

from trapline.drawing.bait_chart import plain, ratio_axes
from trapline.drawing.chart_content import TripsForest
from trapline.drawing.theme import Theme


def trips_chart(forest: TripsForest, theme: Theme, *, title: str = "") -> Figure:
    """Return the chart of a ratio trip by trip, that of all trips set apart at the bottom."""
    rows = (*forest.trips, forest.together)
    figure, axes = ratio_axes(rows, theme, title=title, missing="not both baits, or no catch")
    apart = len(rows) - 1.5
    axes.axhline(apart, color=theme.text, linewidth=1.0 * theme.line_scale, zorder=1)
    axes.axhspan(apart, len(rows) - 0.5, color=theme.border, alpha=0.35, linewidth=0, zorder=0)
    axes.get_yticklabels()[-1].set_fontweight("bold")
    axes.set_xlabel(
        f"{plain(forest.bait)}: times the catch of {plain(forest.other)} "
        "(1: as much), and 95 % interval"
    )
    return figure

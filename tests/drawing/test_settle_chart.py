import io

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from pypdf import PdfReader
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.analyses.next_trip import RATIOS, NextTrip, PowerCurve, WidthCurve
from trapline.analyses.so_far import SoFar
from trapline.drawing.figure_painter import paint_figure
from trapline.drawing.paper import PageSetup, page_rect, pdf_bytes
from trapline.drawing.settle_chart import settle_chart
from trapline.drawing.theme import DARK, LIGHT, PAPER_MONOCHROME, SUNLIGHT

ONES = np.ones(2)
SIZES = (1, 2, 4, 8)
SHARES = {
    (1.5, True): (0.20, 0.30, 0.40, 0.70), (1.5, False): (0.05, 0.06, 0.10, 0.14),
    (2.0, True): (0.55, 0.70, 0.85, 0.97), (2.0, False): (0.16, 0.25, 0.35, 0.41),
    (3.0, True): (0.90, 0.96, 0.99, 1.00), (3.0, False): (0.52, 0.60, 0.66, 0.72),
}  # fmt: skip
FACTORS = {True: (2.8, 2.4, 2.0, 1.7), False: (5.2, 4.6, 4.0, 3.6)}


def _trip(*, factor_now=4.0, factors=FACTORS) -> NextTrip:
    found = SoFar(
        baits=("Fish", "Liver"), n_traps=4, n_rounds=2, rotates=True, log_means=np.ones((2, 2)),
        catch_means=np.ones((2, 2)), spread=ONES, round_sd=ONES, place_sd=ONES,
        factor_now=factor_now, leading_ratio=2.0,
    )  # fmt: skip
    curves = tuple(
        PowerCurve(ratio, rotates, "rounds", SIZES, shares, None)
        for (ratio, rotates), shares in SHARES.items()
    )
    widths = tuple(WidthCurve(rotates, SIZES, factors[rotates]) for rotates in (True, False))
    return NextTrip(found, curves, widths, (), (60, 200), False)


def _lines(axes) -> dict[tuple, bool]:
    """Return each line of several points by its x and y, and whether it is dashed."""
    return {
        (tuple(map(float, line.get_xdata())), tuple(map(float, line.get_ydata()))):
            line.get_linestyle() != "-"
        for line in axes.lines
        if len(line.get_xdata()) == len(SIZES)
    }  # fmt: skip


def _text(figure) -> str:
    data = pdf_bytes(
        lambda painter, writer: paint_figure(painter, page_rect(writer), figure), PageSetup()
    )
    return " ".join(PdfReader(io.BytesIO(data)).pages[0].extract_text().split())


def _painted(figure, width=720, height=410) -> np.ndarray:
    image = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    paint_figure(painter, QRectF(0, 0, width, height), figure)
    painter.end()
    raw = np.array(image.constBits()).reshape(height, width, 4)
    return raw[:, :, 2::-1].astype(int)


def _count(pixels: np.ndarray, colour: str) -> int:
    wanted = np.array(QColor(colour).getRgb()[:3])
    return int((np.abs(pixels - wanted).max(axis=2) <= 6).sum())


def test_every_curve_is_drawn_in_percent_solid_where_baits_rotate_and_dashed_where_they_stay(qapp):
    drawn = _lines(settle_chart(_trip(), LIGHT).axes[0])
    assert len(drawn) == len(SHARES)
    for (_, rotates), shares in SHARES.items():
        at = (tuple(map(float, SIZES)), tuple(100 * share for share in shares))
        assert drawn[at] is not rotates


def test_each_ratio_has_a_mark_of_its_own_and_the_same_in_the_legend(qapp):
    figure = settle_chart(_trip(), LIGHT)
    marks = {}
    for line in figure.axes[0].lines:
        if len(line.get_xdata()) == len(SIZES):
            marks.setdefault(line.get_marker(), []).append(round(max(line.get_ydata())))
    assert {mark: sorted(tops) for mark, tops in marks.items()} == {
        "^": [14, 70], "o": [41, 97], "s": [72, 100],
    }  # fmt: skip
    (legend,) = figure.legends
    named = {
        text.get_text(): handle.get_marker()
        for text, handle in zip(legend.get_texts(), legend.legend_handles, strict=True)
    }
    for ratio, mark in zip(RATIOS, "^os", strict=True):
        assert named[f"a bait that catches {ratio:g} times as much"] == mark


def test_eight_in_ten_is_a_line_across(qapp):
    across = [
        line for line in settle_chart(_trip(), LIGHT).axes[0].lines if line.get_linestyle() == ":"
    ]
    assert [tuple(line.get_ydata()) for line in across] == [(80.0, 80.0)]


def test_the_interval_starts_from_now_and_narrows(qapp):
    axes = settle_chart(_trip(), LIGHT).axes[1]
    assert axes.get_yscale() == "log"
    drawn = _lines(axes)
    for rotates, factors in FACTORS.items():
        assert drawn[tuple(map(float, SIZES)), factors] is not rotates
    points = [line for line in axes.lines if len(line.get_xdata()) == 1]
    assert [(line.get_xdata()[0], line.get_ydata()[0]) for line in points] == [(0, 4.0)]
    low, high = axes.get_ylim()
    assert low == 1.0
    assert 5.2 < high < 10


def test_an_interval_beyond_the_axis_is_an_arrow_at_its_edge(qapp):
    axes = settle_chart(_trip(factor_now=5e4), LIGHT).axes[1]
    (point,) = [line for line in axes.lines if len(line.get_xdata()) == 1]
    assert point.get_marker() == "^"
    assert point.get_ydata()[0] == axes.get_ylim()[1] <= 150


def test_everything_is_named(qapp):
    text = _text(settle_chart(_trip(), LIGHT, title="Round $1 & $2"))
    for words in ("more rounds", "trials that name the winner", "baits rotated",
                  "baits kept throughout", "8 trials of 10",
                  "the interval now", "high / low", "Round $1 & $2"):  # fmt: skip
        assert words in text


@pytest.mark.parametrize("theme", [LIGHT, SUNLIGHT, DARK], ids=lambda theme: theme.name)
def test_no_words_lie_on_others_or_outside(qapp, theme):
    figure = settle_chart(_trip(), theme, title="What would settle it")
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    boxes = [one.get_window_extent(renderer) for one in figure.texts]
    boxes += [legend.get_window_extent(renderer) for legend in figure.legends]
    for axes in figure.axes:
        labels = [axes.xaxis.label, axes.yaxis.label]
        labels += [*axes.get_xticklabels(), *axes.get_yticklabels()]
        boxes += [one.get_window_extent(renderer) for one in labels if one.get_text()]
    whole = figure.bbox
    for at, box in enumerate(boxes):
        assert whole.x0 - 1 <= box.x0 <= box.x1 <= whole.x1 + 1
        assert whole.y0 - 1 <= box.y0 <= box.y1 <= whole.y1 + 1
        for other in boxes[:at]:
            assert not box.padded(-1).overlaps(other.padded(-1))


@pytest.mark.parametrize("theme", [LIGHT, DARK, SUNLIGHT], ids=lambda theme: theme.name)
def test_the_chart_takes_the_colours_of_the_theme(qapp, theme):
    pixels = _painted(settle_chart(_trip(), theme))
    assert _count(pixels, theme.panel) > 100_000
    for colour in (theme.accent, theme.warning, theme.text):
        assert _count(pixels, colour) > 50


def test_letters_grow_with_those_of_the_window(qapp):
    def sizes(theme):
        figure = settle_chart(_trip(), theme)
        found = {text.get_fontsize() for text in figure.legends[0].get_texts()}
        for axes in figure.axes:
            found |= {label.get_fontsize() for label in axes.get_yticklabels()}
            found |= {axes.xaxis.label.get_fontsize(), axes.yaxis.label.get_fontsize()}
        return found

    assert min(sizes(SUNLIGHT)) >= 1.3 * min(sizes(LIGHT))


def test_a_black_and_white_chart_has_no_colour(qapp):
    pixels = _painted(settle_chart(_trip(), PAPER_MONOCHROME))
    assert ((pixels.max(axis=2) - pixels.min(axis=2)) > 24).mean() < 0.001

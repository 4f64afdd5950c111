import io

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.drawing.bait_chart import bait_chart, forest_chart
from trapline.drawing.chart_content import BaitColumn, LeftOut, RatioRow, bait_looks
from trapline.drawing.figure_painter import paint_figure
from trapline.drawing.paper import PageSetup, page_rect, pdf_bytes
from trapline.drawing.theme import DARK, LIGHT, PAPER_MONOCHROME, SUNLIGHT
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.science.intervals import Interval

COLUMNS = (
    BaitColumn("Fish & chips", "#0072B2", "circle", (0.0, 0.0, 3.0, 6.5),
               (LeftOut("robbed: no valid count", 5.0), LeftOut("the catch is blank", None)),
               Interval(2.4, 1.1, 4.9)),
    BaitColumn("Liver $5 <b>", "#E69F00", "square", (9.0,), (), Interval(9.0, 4.0, 17.0)),
    BaitColumn("No bait", "#F0E442", "ring", (), (LeftOut("lost: no valid count", None),), None),
)  # fmt: skip
RATIOS = (
    RatioRow("Fish & chips", "#0072B2", "circle", Interval(4.0, 2.0, 9.0)),
    RatioRow("Liver $5 <b>", "#E69F00", "square", Interval(300.0, 0.9, 1e9)),
    RatioRow("Mussel", "#009E73", "star", None),
)


def _text(figure) -> str:
    data = pdf_bytes(
        lambda painter, writer: paint_figure(painter, page_rect(writer), figure), PageSetup()
    )
    return " ".join(PdfReader(io.BytesIO(data)).pages[0].extract_text().split())


def _painted(figure, width=640, height=320) -> np.ndarray:
    image = QImage(width, height, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    paint_figure(painter, QRectF(0, 0, width, height), figure)
    painter.end()
    raw = np.array(image.constBits()).reshape(height, width, 4)
    return raw[:, :, 2::-1].astype(int)


def _count(pixels: np.ndarray, colour: str) -> int:
    wanted = np.array(QColor(colour).getRgb()[:3])
    return int((np.abs(pixels - wanted).max(axis=2) <= 6).sum())


def _points(figure, marker) -> list[tuple[float, float]]:
    """Return x and y of every point that is drawn with a marker."""
    return [
        (float(x), float(y))
        for line in figure.axes[0].lines
        if line.get_marker() == marker
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    ]


def test_every_trap_is_a_point_at_its_rate_in_its_baits_row(qapp):
    figure = bait_chart(COLUMNS, LIGHT)
    circles = _points(figure, "o")
    # The four that count, and the hollow one that does not.
    assert sorted(x for x, _ in circles) == [0.0, 0.0, 3.0, 5.0, 6.5]
    assert all(-0.5 < y < 0.5 for _, y in circles)
    assert _points(figure, "s")[0][0] == 9.0
    assert 0.5 < _points(figure, "s")[0][1] < 1.5


def test_equal_rates_stand_beside_each_other_the_same_every_time(qapp):
    column = BaitColumn("x", "#0072B2", "circle", (2.0,) * 6, (), None)
    points = _points(bait_chart([column], LIGHT), "o")
    assert len(set(points)) == 6
    assert points == _points(bait_chart([column], LIGHT), "o")


def test_what_was_left_out_is_hollow_crossed_and_explained(qapp):
    figure = bait_chart(COLUMNS, LIGHT)
    assert [x for x, _ in _points(figure, "x")] == [5.0]
    hollow = [line for line in figure.axes[0].lines if line.get_markerfacecolor() == LIGHT.panel]
    assert [line.get_xdata().tolist() for line in hollow] == [[5.0]]
    text = _text(figure)
    assert "1 × robbed: no valid count" in text
    assert "1 × the catch is blank (not drawn)" in text
    assert "1 × lost: no valid count (not drawn)" in text


def test_the_interval_runs_from_low_to_high_with_the_median_on_it(qapp):
    lines = [
        (line.get_xdata(), line.get_ydata())
        for line in bait_chart(COLUMNS, LIGHT).axes[0].lines
        if line.get_marker() == "None" and line.get_linestyle() == "-"
    ]
    drawn = [tuple(map(float, x)) for x, _ in lines]
    assert (1.1, 4.9) in drawn
    assert (2.4, 2.4) in drawn
    assert (4.0, 17.0) in drawn


def test_the_axis_starts_at_nothing_and_holds_everything(qapp):
    left, right = bait_chart(COLUMNS, LIGHT).axes[0].get_xlim()
    assert -0.5 < left < 0.0
    assert right > 17.0


def test_names_are_shown_as_they_are(qapp):
    text = _text(bait_chart(COLUMNS, LIGHT, noun="crayfish", title="Round $1 & $2"))
    for words in ("Fish & chips", "Liver $5 <b>", "No bait", "crayfish per trap and 24 h",
                  "Round $1 & $2"):  # fmt: skip
        assert words in text


def test_ratios_stand_on_a_logarithmic_axis_about_one(qapp):
    axes = forest_chart(RATIOS, "No bait", LIGHT).axes[0]
    assert axes.get_xscale() == "log"
    low, high = axes.get_xlim()
    assert low < 0.9
    assert 9.0 < high < 100.0
    assert _points(axes.figure, "o") == [(4.0, 0.0)]


def test_a_ratio_beyond_the_axis_has_an_arrow_and_its_number(qapp):
    figure = forest_chart(RATIOS, "No bait", LIGHT)
    assert len(_points(figure, ">")) == 1
    assert _points(figure, "<") == []
    text = _text(figure)
    assert "4.0 (2.0 to 9.0)" in text
    assert "300 (0.90 to over 500)" in text
    assert "no lift counts" in text
    assert "times the catch of No bait" in text


def test_empty_charts_are_painted(qapp):
    for figure in (bait_chart((), LIGHT), forest_chart((), "No bait", LIGHT)):
        assert _count(_painted(figure), LIGHT.panel) > 100_000


def test_rates_of_nothing_only_still_have_an_axis(qapp):
    column = BaitColumn("x", "#0072B2", "circle", (0.0, 0.0), (), None)
    figure = bait_chart([column], LIGHT)
    assert figure.axes[0].get_xlim()[1] == 1.0
    _painted(figure)


@pytest.mark.parametrize("theme", [LIGHT, DARK, SUNLIGHT], ids=lambda theme: theme.name)
def test_charts_take_the_colours_of_the_theme(qapp, theme):
    pixels = _painted(bait_chart(COLUMNS, theme))
    assert _count(pixels, theme.panel) > 100_000
    assert _count(pixels, "#0072B2") > 50


def test_letters_grow_with_those_of_the_window(qapp):
    def sizes(theme):
        found = set()
        for figure in (bait_chart(COLUMNS, theme), forest_chart(RATIOS, "No bait", theme)):
            axes = figure.axes[0]
            found |= {label.get_fontsize() for label in (*axes.get_yticklabels(), axes.xaxis.label)}
            found |= {text.get_fontsize() for text in axes.texts}
            found |= {text.get_fontsize() for one in figure.legends for text in one.get_texts()}
        return found

    assert min(sizes(SUNLIGHT)) >= 1.3 * min(sizes(LIGHT))
    assert max(sizes(SUNLIGHT)) <= SUNLIGHT.window_font_pt


def test_black_and_white_charts_have_no_colour(qapp):
    for figure in (
        bait_chart(COLUMNS, PAPER_MONOCHROME),
        forest_chart(RATIOS, "No bait", PAPER_MONOCHROME),
    ):
        pixels = _painted(figure)
        assert ((pixels.max(axis=2) - pixels.min(axis=2)) > 24).mean() < 0.001


def test_a_bait_keeps_its_look_and_others_get_one_of_their_own():
    baits = (Bait(name="Fish", colour=COLOURS[1], mark=MARKS[1]),)
    looks = bait_looks(["Corn", "fish", "Fish (old bait)", "Liver"], baits)
    assert looks["fish"] == looks["Fish (old bait)"] == (COLOURS[1], MARKS[1])
    assert looks["Corn"] == (COLOURS[0], MARKS[0])
    assert looks["Liver"] == (COLOURS[2], MARKS[2])
    many = bait_looks([f"b{n}" for n in range(20)])
    assert len(many) == 20

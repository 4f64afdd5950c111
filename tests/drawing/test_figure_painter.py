import io

import numpy as np
import pytest
from matplotlib.figure import Figure
from pypdf import PdfReader
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.drawing.figure_painter import paint_figure
from trapline.drawing.paper import PageSetup, page_rect, pdf_bytes


def _painted(figure: Figure, width: int = 400, height: int = 300) -> np.ndarray:
    """Return the picture as (height, width, 3), red, green, blue; painted 10 px from each edge."""
    image = QImage(width + 20, height + 20, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(QColor("#ff00ff"))
    painter = QPainter(image)
    paint_figure(painter, QRectF(10, 10, width, height), figure)
    painter.end()
    raw = np.array(image.constBits()).reshape(image.height(), image.width(), 4)
    return raw[:, :, 2::-1].astype(int)


def _is(pixels: np.ndarray, colour: str, tolerance: int = 6) -> np.ndarray:
    return np.abs(pixels - np.array(QColor(colour).getRgb()[:3])).max(axis=2) <= tolerance


def _bare() -> tuple[Figure, object]:
    """Axes that fill the figure, one unit a pixel of 400 × 300, without anything in them."""
    figure = Figure()
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, 400)
    axes.set_ylim(0, 300)
    axes.axis("off")
    return figure, axes


def test_up_is_up_and_colours_are_right(qapp):
    figure, axes = _bare()
    axes.fill([100, 140, 140, 100], [200, 200, 240, 240], "#0072B2", linewidth=0)
    pixels = _painted(figure)
    rows, columns = np.nonzero(_is(pixels, "#0072B2"))
    # From 200 to 240 above the lower edge: 60 to 100 below the upper, and the 10 px of room.
    assert (rows.min(), rows.max() + 1) == (70, 110)
    assert (columns.min(), columns.max() + 1) == (110, 150)


def test_it_paints_what_matplotlibs_own_renderer_paints(qapp):
    """Outside check: the same figure by matplotlib's Agg, compared pixel by pixel."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure, axes = _bare()
    angles = np.linspace(0, 2 * np.pi, 40)
    axes.plot(200 + 150 * np.cos(angles), 150 + 100 * np.sin(angles), color="#D55E00", linewidth=4)
    axes.plot([20, 380], [30, 270], color="#009E73", linewidth=6, linestyle=(0, (4, 2)))
    axes.scatter([60, 340], [250, 50], s=[900, 400], marker="D", color="#0072B2", alpha=0.5)
    axes.plot([60, 200, 340], [60, 150, 240], "s", color="#000000", markersize=14)
    mine = _painted(figure)[10:310, 10:410]
    figure.set_dpi(96)
    figure.set_size_inches(400 / 96, 300 / 96)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    theirs = np.asarray(canvas.buffer_rgba())[:, :, :3].astype(int)
    difference = np.abs(mine - theirs).max(axis=2)
    # Edges are smoothed differently; whole areas are not.
    assert (difference > 100).mean() < 0.004
    assert difference.mean() < 2.5


def test_what_lies_outside_the_axes_is_cut_off(qapp):
    figure = Figure()
    axes = figure.add_axes((0.25, 0.25, 0.5, 0.5))
    axes.axis("off")
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    axes.plot([-5, 5], [0.5, 0.5], color="#D55E00", linewidth=10)
    rows, columns = np.nonzero(_is(_painted(figure), "#D55E00"))
    assert columns.min() == 110
    assert columns.max() + 1 == 310
    assert rows.size > 1000


def test_a_clip_path_cuts_too(qapp):
    from matplotlib.patches import Circle

    figure, axes = _bare()
    (line,) = axes.plot([0, 400], [150, 150], color="#D55E00", linewidth=40)
    line.set_clip_path(Circle((200, 150), 50, transform=axes.transData))
    columns = np.nonzero(_is(_painted(figure), "#D55E00"))[1]
    assert abs(columns.min() - 160) <= 1
    assert abs(columns.max() - 259) <= 1


def test_nothing_is_painted_outside_the_rectangle(qapp):
    figure, axes = _bare()
    axes.text(390, 150, "a long text that runs out of the picture", fontsize=20)
    figure.set_facecolor("#ffffff")
    pixels = _painted(figure)
    edge = _is(pixels, "#ff00ff", 0)
    edge[10:-10, 10:-10] = True
    assert edge.all()


def test_an_image_is_painted_the_right_way_up(qapp):
    figure, axes = _bare()
    data = np.zeros((2, 2, 3))
    data[0, 0], data[0, 1], data[1, 0], data[1, 1] = (1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0)
    axes.imshow(data, extent=(100, 300, 50, 250), interpolation="nearest", aspect="auto")
    axes.set_xlim(0, 400)
    axes.set_ylim(0, 300)
    pixels = _painted(figure)
    # Row 0 of the data is on top.
    assert pixels[10 + 80, 10 + 130].tolist() == [255, 0, 0]
    assert pixels[10 + 80, 10 + 270].tolist() == [0, 255, 0]
    assert pixels[10 + 220, 10 + 130].tolist() == [0, 0, 255]
    assert pixels[10 + 220, 10 + 270].tolist() == [255, 255, 0]


def test_text_stands_where_its_alignment_says(qapp):
    figure, axes = _bare()
    axes.text(200, 150, "HHHH", ha="left", va="baseline", fontsize=24, color="#000000")
    rows, columns = np.nonzero(_is(_painted(figure), "#000000", 90))
    assert 208 <= columns.min() <= 218
    # The base line is 150 px above the lower edge, and capitals stand on it.
    assert 157 <= rows.max() <= 161
    figure, axes = _bare()
    axes.text(200, 150, "HHHH", ha="center", va="center", rotation=90, fontsize=24)
    rows, columns = np.nonzero(_is(_painted(figure), "#000000", 90))
    assert np.ptp(rows) > 2 * np.ptp(columns)
    assert abs(rows.mean() - 160) < 6
    assert abs(columns.mean() - 210) < 6


def test_values_that_are_not_known_make_no_line(qapp):
    figure, axes = _bare()
    axes.plot([50, np.nan, 150, 200], [50, 60, 150, np.inf], color="#D55E00", linewidth=5)
    assert not _is(_painted(figure), "#D55E00").any()


def test_on_paper_a_figure_is_vectors_and_searchable_text(qapp):
    figure = Figure(layout="constrained")
    axes = figure.add_subplot()
    axes.plot([1, 2, 3], [4, 5, 6], "o", label="difficult fish")
    axes.set_title("Traps & lifts < 100 %")
    axes.set_xlabel("soak, hours")
    axes.legend()
    data = pdf_bytes(
        lambda painter, writer: paint_figure(painter, page_rect(writer), figure), PageSetup()
    )
    page = PdfReader(io.BytesIO(data)).pages[0]
    text = " ".join(page.extract_text().split())
    for words in ("Traps & lifts < 100 %", "difficult fish", "soak, hours"):
        assert words in text
    assert "/XObject" not in page["/Resources"] or not [
        1 for thing in page["/Resources"]["/XObject"].values()
        if thing.get_object()["/Subtype"] == "/Image"
    ]  # fmt: skip


def test_letters_have_their_size_in_points_on_any_device(qapp):
    """72 points are an inch: the capitals of DejaVu Sans are 0.729 of the size high."""
    from trapline.drawing.paper import paper_family

    if paper_family() != "DejaVu Sans":
        pytest.fail("This test measures the letters of DejaVu Sans; install it to run the tests.")
    figure, axes = _bare()
    axes.text(20, 100, "H", fontsize=72, family="DejaVu Sans")
    rows = np.nonzero(_is(_painted(figure), "#000000", 90))[0]
    assert np.ptp(rows) + 1 == pytest.approx(0.729 * 96, abs=2)

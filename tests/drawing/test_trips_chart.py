import io

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from trapline.analyses.bait_comparison import lift_rows
from trapline.analyses.counted_lifts import CompareOptions
from trapline.analyses.trips_apart import trip_ratios
from trapline.drawing.bait_chart import forest_chart
from trapline.drawing.chart_content import RatioRow, TripsForest
from trapline.drawing.figure_painter import paint_figure
from trapline.drawing.paper import PageSetup, page_rect, pdf_bytes
from trapline.drawing.theme import DARK, LIGHT, PAPER_MONOCHROME, SUNLIGHT
from trapline.drawing.trips_chart import trips_chart
from trapline.science.intervals import Interval

FOREST = TripsForest(
    "Fish $5",
    "Liver & co",
    (
        RatioRow("Summer at the reed edge", "#0072B2", "circle", Interval(3.0, 1.5, 6.0)),
        RatioRow("Autumn <b>", "#0072B2", "circle", None),
        RatioRow("Winter", "#0072B2", "circle", Interval(400.0, 0.5, 1e8)),
    ),
    RatioRow("all trips together", "#0072B2", "circle", Interval(2.0, 1.1, 3.7)),
)


def _text(figure) -> str:
    data = pdf_bytes(
        lambda painter, writer: paint_figure(painter, page_rect(writer), figure), PageSetup()
    )
    return " ".join(PdfReader(io.BytesIO(data)).pages[0].extract_text().split())


def test_every_trip_has_a_line_and_all_together_the_last():
    figure = trips_chart(FOREST, LIGHT)
    (axes,) = figure.axes
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names == ["Summer at the reed edge", "Autumn <b>", "Winter", "all trips together"]
    weights = [label.get_fontweight() for label in axes.get_yticklabels()]
    assert weights == ["normal", "normal", "normal", "bold"]
    # The line of all trips together is set apart from the trips above it.
    apart = [line for line in axes.lines if set(np.atleast_1d(line.get_ydata())) == {2.5}]
    assert apart


def test_each_interval_is_written_and_a_trip_without_both_baits_says_so():
    said = _text(trips_chart(FOREST, LIGHT))
    assert "3.0 (1.5 to 6.0)" in said
    assert "2.0 (1.1 to 3.7)" in said
    assert "not both baits, or no catch" in said
    assert "Fish $5: times the catch of Liver & co" in said


def test_the_reference_chart_still_says_that_no_lift_counts():
    said = _text(forest_chart(FOREST.trips, "Liver", LIGHT))
    assert "no lift counts" in said
    assert "times the catch of Liver" in said


@pytest.mark.parametrize("theme", [LIGHT, DARK, SUNLIGHT, PAPER_MONOCHROME])
def test_the_chart_is_painted_in_every_theme(theme):
    image = QImage(640, 320, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    paint_figure(painter, QRectF(0, 0, 640, 320), trips_chart(FOREST, theme, title="Trip by trip"))
    painter.end()
    raw = np.array(image.constBits()).reshape(320, 640, 4)
    assert len(np.unique(raw.reshape(-1, 4), axis=0)) > 8


def test_a_trip_by_itself_has_the_ratio_of_its_own_lifts():
    rows = lift_rows(
        [
            {"bait": bait, "catch": catch, "soak_h": 24, "trip": trip}
            for trip, counts in (("a", {"fish": 9, "corn": 3}), ("b", {"fish": 2, "corn": 8}))
            for bait, catch in counts.items()
            for _ in range(4)
        ]
    )
    one, other = trip_ratios(rows, {"a": "Summer", "b": "Autumn"}, CompareOptions())
    assert (one.trip, other.trip) == ("Summer", "Autumn")
    assert one.ratios["fish", "corn"].median > 1.5
    assert other.ratios["fish", "corn"].median < 0.67

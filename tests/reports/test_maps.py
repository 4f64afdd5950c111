"""Maps in a report."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from tests.made_trips import make_trip
from tests.reports.pdf_reading import all_words, n_pictures, reader
from trapline.drawing.map_builder import build_map
from trapline.drawing.map_content import MapContent
from trapline.drawing.paper import PageSetup
from trapline.drawing.theme import PAPER
from trapline.reports.maps import is_crowded, map_pieces, stretches
from trapline.reports.page import Report, mm
from trapline.reports.pdf_file import report_bytes


def content(n_places: int, gap_deg: float = 0.00016) -> MapContent:
    made = make_trip(n_places, gap_deg=gap_deg)
    return build_map(made.snapshot, made.round_id)


def pdf(shown: MapContent) -> bytes:
    report = Report(
        PageSetup("Letter", margin_mm=12),
        "Maps",
        lambda width, room: map_pieces(shown, PAPER, width, room),
    )
    return report_bytes(report)


def test_a_short_line_is_one_map() -> None:
    data = pdf(content(7))
    assert len(reader(data).pages) == 1
    assert Counter(all_words(data).split())["P4"] == 1


@pytest.mark.parametrize("n_places", [40, 200])
def test_every_place_of_a_long_line_can_be_read_on_a_stretch(n_places: int) -> None:
    data = pdf(content(n_places))
    said = Counter(all_words(data).split())
    assert [n for n in range(1, n_places + 1) if not said[f"P{n}"]] == []
    assert n_pictures(data) == 0


def test_stretches_hold_each_place_once_and_about_equally_many() -> None:
    parts = stretches(content(40))
    assert [row for part in parts for row in part] == list(range(40))
    assert {len(part) for part in parts} == {13, 14}


def test_a_line_is_crowded_by_its_gaps_on_paper_and_not_by_its_number_alone() -> None:
    width = mm(150)
    assert is_crowded(content(40), width, mm(100))
    assert not is_crowded(content(10, 1e-6), width, mm(100))
    # Forty places on a grid of 8 by 5, far apart on paper.
    grid = content(40)
    rows = np.arange(40)
    grid = replace(grid, east_m=rows % 8 * 10.0, north_m=rows // 8 * 10.0)
    assert not is_crowded(grid, width, mm(100))


def test_places_without_a_position_are_no_stretch() -> None:
    made = make_trip(40, has_positions=False)
    shown = build_map(made.snapshot, made.round_id)
    assert not is_crowded(shown, mm(150), mm(100))
    assert len(reader(pdf(shown)).pages) == 1

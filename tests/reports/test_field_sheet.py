"""The field sheet, read back from its PDF."""

import json
import subprocess
from pathlib import Path

import pytest

from tests.made_trips import MadeTrip, make_trip, write_project
from tests.needed import require
from tests.reports.pdf_reading import (
    all_words,
    colours,
    n_pictures,
    reader,
    size_mm,
    unembedded_fonts,
    words,
)
from trapline.analyses.spacing_check import check_spacing
from trapline.cli.main import main
from trapline.model.line import Place
from trapline.model.trip import Round
from trapline.reports.field_sheet import field_sheet, field_sheet_pdf
from trapline.reports.pdf_file import report_bytes
from trapline.units import length_text

PAPERS = {"A4": (210, 297), "Letter": (216, 279)}


def sheet(made: MadeTrip, paper: str = "A4") -> bytes:
    return report_bytes(field_sheet(made.snapshot, made.round_id, paper))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("n_places", [1, 7, 40])
def test_everything_of_the_round_is_on_the_sheet(paper: str, n_places: int) -> None:
    made = make_trip(n_places)
    data = sheet(made, paper)
    said = all_words(data)
    assert size_mm(data) == PAPERS[paper]
    for number in range(1, n_places + 1):
        # Order, place, trap, tag and bait of one row, in the order of the columns.
        bait = made.snapshot.bait_of(made.sets()[number - 1])
        assert bait is not None
        row = f"{number} P{number} T{number} AB {99 + number} (2026) {bait.name}"
        assert said.count(row) == 1
    assert said.count("F D R L N") == n_places
    assert "Summer trial" in said
    assert "Reed Pond (still)" in said


@pytest.mark.parametrize("paper", PAPERS)
def test_forty_pots_run_over_pages_with_their_headers(paper: str) -> None:
    pages = reader(sheet(make_trip(40), paper)).pages
    assert len(pages) in (3, 4)
    for number, page in enumerate(pages, 1):
        said = words(page)
        assert f"Page {number} of {len(pages)}" in said
        has_rows = "F D R L N" in said
        assert has_rows == ("No. Place Trap, tag Bait To next Set Lift Count Escapes" in said)


def test_two_hundred_pots_are_all_there() -> None:
    data = sheet(make_trip(200))
    said = all_words(data)
    assert all(f"{n} P{n} T{n} AB {99 + n}" in said for n in range(1, 201))
    n_pages = len(reader(data).pages)
    assert f"Page {n_pages} of {n_pages}" in said


def test_the_distances_are_those_that_gaps_gives(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = make_trip(7, gap_deg=0.0001)
    path = write_project(made, tmp_path / "t.gpkg")
    assert main(["gaps", str(path), "--json"]) == 1
    pairs = json.loads(capsys.readouterr().out)["pairs"]
    assert len(pairs) == 6
    said = all_words(sheet(made))
    for pair in pairs:
        distance = length_text(pair["distance_m"])
        assert f"{pair['a']} and {pair['b']} are {distance} apart, under your 10.0 m." in said
        # In the row of the first place and on the map as well.
        assert said.count(distance) >= 3


def test_the_way_to_the_next_trap_stands_in_the_row_of_each() -> None:
    made = make_trip(7)
    said = all_words(sheet(made))
    legs = check_spacing(made.snapshot, made.round_id).legs
    for leg in legs:
        assert f"{length_text(leg.distance_m)} E" in said


def test_the_sheet_is_vectors_in_black_and_grey_with_its_fonts() -> None:
    data = sheet(make_trip(40, gap_deg=0.0001))
    assert n_pictures(data) == 0
    assert unembedded_fonts(data) == []
    found = colours(data)
    assert (0.0, 0.0, 0.0) in found
    assert [colour for colour in found if max(colour) - min(colour) > 0.01] == []


def test_poppler_agrees_about_fonts_and_pictures(tmp_path: Path) -> None:
    require("pdffonts", "poppler-utils")
    made = make_trip(7)
    path = field_sheet_pdf(made.snapshot, made.round_id, tmp_path / "x.pdf")
    fonts = subprocess.run(["pdffonts", path], capture_output=True, text=True, check=True).stdout
    rows = fonts.splitlines()[2:]
    assert rows
    assert all(row.split()[-5] == "yes" for row in rows)
    images = subprocess.run(
        ["pdfimages", "-list", path], capture_output=True, text=True, check=True
    )
    assert len(images.stdout.splitlines()) == 2
    text = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    assert "punctured can" in text.stdout


def test_baits_have_shapes_and_not_only_colours() -> None:
    # In black and white two baits differ on paper: other marks, other drawing.
    one = make_trip(1, baits=("fish",))
    bait = one.snapshot.bait_of(one.sets()[0])
    assert bait is not None
    two = one.with_rows(bait.with_(mark="square"))
    recoloured = one.with_rows(bait.with_(colour="#D55E00"))
    first = reader(sheet(one)).pages[0].get_contents()
    second = reader(sheet(two)).pages[0].get_contents()
    third = reader(sheet(recoloured)).pages[0].get_contents()
    assert first is not None
    assert second is not None
    assert third is not None
    assert first.get_data() != second.get_data()
    assert first.get_data() == third.get_data()


def test_places_without_a_position_get_no_distance() -> None:
    said = all_words(sheet(make_trip(3, has_positions=False)))
    assert said.count("no position") == 3
    assert "No position: drawn in order" in said


def test_a_distance_over_a_place_without_position_is_not_made_up() -> None:
    made = make_trip(3)
    middle = made.snapshot.need(Place, made.place_ids[1])
    made = made.with_rows(middle.with_(lon_deg=None, lat_deg=None))
    said = all_words(sheet(made))
    assert "not known" in said
    assert said.count("no position") == 1


def test_what_is_known_of_the_round_is_filled_in() -> None:
    made = make_trip(2)
    fished = made.snapshot.need(Round, made.round_id)
    made = made.with_rows(
        fished.with_(crew="A. Rower", current_m_s=0.2, current_to_deg=90.0, water_temp_c=14.5)
    )
    said = all_words(sheet(made))
    assert "A. Rower" in said
    assert "0.2 m/s towards 90°" in said
    assert "14.5 °C" in said


def test_a_set_trap_has_its_time_in_the_zone_of_the_trip() -> None:
    made = make_trip(2).lifted([1, 2])
    assert "12:00 12:00" in all_words(sheet(made))


def test_the_sheet_tells_zero_from_not_counted_and_asks_for_care() -> None:
    said = all_words(sheet(make_trip(2)))
    assert "write 0 where you counted and found none" in said
    assert "leave the box empty where you did not count" in said
    assert "Local rules come first" in said


def test_long_names_are_wrapped_and_cut_and_stay_in_their_column() -> None:
    made = make_trip(2, name="A trip with a very long name " * 6)
    place = made.snapshot.need(Place, made.place_ids[0])
    made = made.with_rows(place.with_(label="Behind the third willow from the old mill " * 4))
    data = sheet(made)
    said = all_words(data)
    assert "Behind" in said
    assert "…" in said
    assert len(reader(data).pages) <= 2


def test_text_is_text_whatever_it_holds() -> None:
    made = make_trip(1, name="<b>Bold</b> & $x$ %s {0}")
    assert "<b>Bold</b> & $x$ %s {0}" in all_words(sheet(made))


def test_a_round_without_traps_still_prints() -> None:
    made = make_trip(0)
    assert "Page 1 of 1" in all_words(sheet(made))

import csv
import io
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InputProblem
from trapline.exchange.files import clean_label
from trapline.exchange.found import FoundPlace
from trapline.exchange.tables import read_lifts, read_places_table, read_positions_strict


def places_of(text):
    return read_places_table(text.encode(), "a.csv")


def problem_of(call, text):
    with pytest.raises(InputProblem) as caught:
        call(text.encode() if isinstance(text, str) else text, "a.csv")
    assert caught.value.where
    assert caught.value.what_to_do
    return caught.value


# Places -------------------------------------------------------------------------------


def test_a_row_gives_name_position_depth_note_and_origin():
    found = places_of("Name,Lat,Lon,Depth,Note\nT1,52.1,-4.5,3,reeds\n")
    assert found.places == (FoundPlace("T1", -4.5, 52.1, 3.0, "reeds", 1, "a.csv, line 2"),)
    assert found.columns == {
        "Name": "label", "Lat": "latitude", "Lon": "longitude", "Depth": "depth", "Note": "note",
    }  # fmt: skip
    assert found.sentence() == "1 of 1 row understood"
    assert (found.source, found.format) == ("a.csv", "table, comma, UTF-8")


@pytest.mark.parametrize(
    ("lat", "lon"),
    [
        ("lat", "lon"),
        ("LATITUDE", "Long"),
        ("y", "x"),
        ("Breedte", "Lengte"),
        ("Breite", "Länge"),
        ("Latitude (deg)", "Longitude [°]"),
        ("lat_deg", "lng_deg"),
        ("decimalLatitude", "decimalLongitude"),
        ("GPS latitude", "GPS longitude"),
        ("latitud", "longitud"),
    ],
)
@pytest.mark.parametrize("is_lon_first", [False, True])
def test_latitude_and_longitude_are_found_by_header_in_either_order(lat, lon, is_lon_first):
    headers, values = [lat, lon], ["52.1", "4.5"]
    if is_lon_first:
        headers, values = headers[::-1], values[::-1]
    found = places_of(";".join(["id", *headers]) + "\n" + ";".join(["7", *values]) + "\n")
    assert [(p.label, p.lon_deg, p.lat_deg) for p in found.places] == [("7", 4.5, 52.1)]
    assert found.columns[lat] == "latitude"


@pytest.mark.parametrize("header", ["name", "ID", "Label", "No.", "number", "Place", "trap", "#"])
def test_the_name_is_found_by_many_words(header):
    assert places_of(f"{header},lat,lon\n007,1,2\n").places[0].label == "007"


def test_without_a_name_the_row_number_names_the_place():
    assert [p.label for p in places_of("lat,lon\n1,2\n3,4\n").places] == ["WP 1", "WP 2"]


def test_one_column_may_hold_both_with_latitude_first():
    found = places_of('name,Coordinates\nT1,"52.1, 4.5"\nT2,"S 1.5, W 2.5"\n')
    assert [(p.lon_deg, p.lat_deg) for p in found.places] == [(4.5, 52.1), (-2.5, -1.5)]
    assert found.columns["Coordinates"] == "position"


def test_a_position_number_is_no_coordinate_where_latitude_and_longitude_are():
    found = places_of("trap,position,lat,lon\nT1,1,52.1,4.5\n")
    assert "position" not in found.columns
    assert found.places[0].lat_deg == 52.1


def test_decimal_commas_and_letters_are_read():
    found = places_of("name;lat;lon\nT1;52,1;4,5\nT2;52.1 N;4.5 W\n")
    assert [(p.lon_deg, p.lat_deg) for p in found.places] == [(4.5, 52.1), (-4.5, 52.1)]


@pytest.mark.parametrize(
    ("header", "cell", "depth_m"),
    [
        ("depth", "3,5", 3.5),
        ("depth_m", "3.5", 3.5),
        ("Depth (ft)", "10", 3.048),
        ("depth_fathoms", "2", 3.6576),
        ("Diepte", "10 ft", 3.048),
        ("Tiefe [m]", "", None),
    ],
)
def test_a_depth_is_read_in_the_unit_of_its_header_or_cell(header, cell, depth_m):
    """Source: 1 ft = 0.3048 m, 1 fathom = 1.8288 m (NIST Special Publication 811)."""
    place = places_of(f"name;lat;lon;{header}\nT1;1;2;{cell}\n").places[0]
    assert place.depth_m == (None if depth_m is None else pytest.approx(depth_m, abs=1e-12))


@pytest.mark.parametrize("cell", ["deep", "-3", "NaN", "12000", "1e999"])
def test_a_depth_that_is_none_refuses_its_row(cell):
    found = places_of(f"name,lat,lon,depth\nT1,1,2,{cell}\nT2,1,3,4\n")
    assert [p.label for p in found.places] == ["T2"]
    assert cell in found.refused[0].why


BAD_POSITIONS = [
    ("91", "4.5", ["latitude", "91"]),
    ("-90.1", "4.5", ["latitude", "-90.1"]),
    ("52.1", "180.5", ["longitude", "180.5"]),
    ("NaN", "4.5", ["latitude", "NaN"]),
    ("52.1", "inf", ["longitude", "inf"]),
    ("1e99", "4.5", ["latitude", "1e99"]),
    ("abc", "4.5", ["latitude", "abc"]),
    ("5_2", "4.5", ["latitude", "5_2"]),
    ("", "4.5", ["latitude", "empty"]),
    ("52.1", "", ["longitude", "empty"]),
    ("52.1 W", "4.5", ["latitude", "52.1 W"]),
]


@pytest.mark.parametrize(("lat", "lon", "words"), BAD_POSITIONS)
def test_a_bad_position_is_refused_with_line_value_and_advice(lat, lon, words):
    found = places_of(f"name;lat;lon\nT1;1;2\n\nT2;{lat};{lon}\nT3;1;2\n")
    assert [p.label for p in found.places] == ["T1", "T3"]
    (refused,) = found.refused
    assert (refused.row, refused.where) == (2, "a.csv, line 4")
    assert all(word.lower() in refused.why.lower() for word in words)
    assert refused.what_to_do
    assert "T2" in refused.text
    assert found.sentence() == "2 of 3 rows understood"


def test_a_row_with_a_name_only_is_a_place_without_a_position():
    found = places_of("name,lat,lon,note\nT1,,,stake\n,,,x\n")
    assert found.places == (FoundPlace("T1", None, None, None, "stake", 1, "a.csv, line 2"),)
    assert found.refused[0].where == "a.csv, line 3"
    combined = places_of("name;position\nT1;\n")
    assert combined.places[0].lat_deg is None


def test_the_second_place_of_one_name_is_refused_and_names_the_first():
    found = places_of("name,lat,lon\nT1,1,2\nT2,1,3\nT1,1,4\n")
    assert [p.lon_deg for p in found.places] == [2.0, 3.0]
    (refused,) = found.refused
    assert (refused.row, refused.where) == (3, "a.csv, line 4")
    assert "'T1'" in refused.why
    assert "a.csv, line 2" in refused.why


def test_ragged_rows_are_reported_in_the_order_of_the_file():
    found = places_of("name,lat,lon\nT1,91,2\nT2,52,1,4,5\nT3,1,3\n")
    assert [refused.row for refused in found.refused] == [1, 2]
    assert found.sentence() == "1 of 3 rows understood"


def test_a_table_without_columns_for_a_position_quotes_its_first_line():
    problem = problem_of(read_places_table, "T1,52.1,4.5\nT2,52.2,4.6\n")
    assert "latitude and longitude" in problem.error
    assert "'T1', '52.1', '4.5'" in problem.error
    assert problem.where == "a.csv, line 1"
    half = problem_of(read_places_table, "name,lat\nT1,1\n")
    assert half.error.startswith("No column for longitude;")


def test_two_columns_that_both_look_like_latitude_are_refused():
    problem = problem_of(read_places_table, "Lat,lat (deg),lon\n1,2,3\n")
    assert "'Lat', 'lat (deg)'" in problem.error


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "0 bytes"),
        (b"name,lat,lon\n", "no rows"),
        (b"PK\x03\x04", "XLSX"),
        ("é,lat,lon\n".encode() + b"\xff,1,2\n", "0xFF"),
        (b'name,lat,lon\n"T1,1,2\n', "unexpected end"),
    ],
)
def test_a_file_that_is_no_table_is_refused_as_a_whole(data, word):
    assert word in problem_of(read_places_table, data).error


def test_row_50001_is_refused():
    rows = "".join(f"{i},1,2\n" for i in range(50_001))
    problem = problem_of(read_places_table, "name,lat,lon\n" + rows)
    assert "more than 50,000 rows" in problem.error
    assert problem.where == "a.csv, line 50002"


letters = st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\u202d\u202e\ufeff")
names = st.text(letters, min_size=1, max_size=12).map(clean_label).filter(bool)
degrees = st.tuples(st.floats(-180, 180), st.floats(-90, 90))


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    places=st.dictionaries(names, degrees, min_size=1, max_size=6),
    delimiter=st.sampled_from(",;\t|"),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
    has_decimal_comma=st.booleans(),
)
def test_whatever_a_csv_writer_writes_is_understood(places, delimiter, codec, has_decimal_comma):
    """Source: the csv module of the standard library as the writer."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter)
    writer.writerow(["Longitude", "name", "Latitude"])
    for name, pair in places.items():
        lon, lat = (f"{value:.15f}" for value in pair)
        if has_decimal_comma:
            lon, lat = lon.replace(".", ","), lat.replace(".", ",")
        guard = "'" if name.lstrip("'")[:1] in tuple("=+-@") else ""
        writer.writerow([lon, guard + name, lat])
    found = read_places_table(stream.getvalue().encode(codec), "a.csv")
    assert not found.refused
    assert [place.label for place in found.places] == list(places)
    for place, (lon_deg, lat_deg) in zip(found.places, places.values(), strict=True):
        assert abs(place.lon_deg - lon_deg) < 1e-13
        assert abs(place.lat_deg - lat_deg) < 1e-13


# Positions to check -------------------------------------------------------------------


def test_ids_stay_as_written_and_longitude_comes_before_latitude():
    text = "ID,note,LAT,Lon\n007,x,52.1,4.5\n1.0,,-33.5,-5e-05\n'=2,,1,2\n"
    ids, lon_deg, lat_deg = read_positions_strict(text.encode(), "a.csv")
    assert ids == ["007", "1.0", "'=2"]
    np.testing.assert_array_equal(lon_deg, [4.5, -5e-05, 2.0])
    np.testing.assert_array_equal(lat_deg, [52.1, -33.5, 1.0])


def test_the_id_column_is_preferred_to_a_name_column():
    ids, _, _ = read_positions_strict(b"name,id,latitude,longitude\na,b,1,2\n", "a.csv")
    assert ids == ["b"]


@pytest.mark.parametrize(("lat", "lon", "words"), BAD_POSITIONS)
def test_a_bad_position_stops_the_check_at_its_line(lat, lon, words):
    problem = problem_of(read_positions_strict, f"id;lat;lon\nT1;1;2\nT2;{lat};{lon}\n")
    assert problem.where == "a.csv, line 3"
    assert all(word.lower() in problem.error.lower() for word in words)


def test_an_id_used_twice_or_empty_stops_the_check_at_its_line():
    problem = problem_of(read_positions_strict, "id,lat,lon\nT1,1,2\nT2,1,3\nT1,1,4\n")
    assert problem.error == "The id 'T1' is used before, on line 2."
    assert problem.where == "a.csv, line 4"
    assert "empty" in problem_of(read_positions_strict, "id,lat,lon\n,1,2\n").error


def test_a_ragged_row_a_missing_column_or_no_row_stops_the_check():
    assert "5 cells" in problem_of(read_positions_strict, "id,lat,lon\nT1,52,1,4,5\n").error
    missing = problem_of(read_positions_strict, "id,lat\nT1,1\n")
    assert "called lon" in missing.error
    assert "'id', 'lat'" in missing.error
    assert "'lat'" in problem_of(read_positions_strict, "Lat,lat,lon,id\n1,1,2,3\n").error
    assert "no rows" in problem_of(read_positions_strict, "id,lat,lon\n").error
    assert "0 bytes" in problem_of(read_positions_strict, "").error


def test_all_positions_are_finite():
    _, lon_deg, lat_deg = read_positions_strict(b"id,lat,lon\n1,-0,-0.0\n", "a.csv")
    assert math.copysign(1, lon_deg[0]) == math.copysign(1, lat_deg[0]) == 1.0


# Lifts --------------------------------------------------------------------------------


def test_lifts_have_lower_case_headers_and_nights_are_rounds():
    table = read_lifts(b"\xef\xbb\xbfTrap,Night,Soak h,Catch\nT1,n1,24.0,\n\nT2,n1,12,0\n", "a.csv")
    assert table.headers == ("trap", "round", "soak_h", "catch")
    assert table.rows[0] == {"trap": "T1", "round": "n1", "soak_h": "24.0", "catch": ""}
    assert table.rows[1]["catch"] == "0"
    assert table.lines == (2, 4)


def test_a_column_called_round_leaves_nights_alone():
    table = read_lifts(b"round,night,catch\n1,n1,2\n", "a.csv")
    assert table.headers == ("round", "night", "catch")


def test_a_lift_with_a_cell_too_few_is_never_left_out_in_silence():
    problem = problem_of(read_lifts, "trap,bait,catch\nT1,liver,3\nT2,liver\n")
    assert (problem.error, problem.where) == (
        "The row 'T2,liver' has 2 cells; the header has 3.",
        "a.csv, line 3",
    )


def test_two_headers_that_differ_in_case_only_are_refused():
    assert "'bait'" in problem_of(read_lifts, "Bait,bait\na,b\n").error

import math
import re
import struct

import gpxpy
import gpxpy.gpx
import pyogrio.raw
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InputProblem, InvalidValue
from trapline.exchange.files import clean_label
from trapline.exchange.found import FoundPlace
from trapline.exchange.gpx import read_gpx, write_gpx

WPT = '<wpt lat="52.1" lon="-4.5"><name>T1</name></wpt>'


def gpx(body, version="1.1", codec="UTF-8"):
    head = f'<?xml version="1.0" encoding="{codec}"?>\n<gpx version="{version}" creator="x"'
    space = version.replace(".", "/")
    text = f'{head} xmlns="http://www.topografix.com/GPX/{space}">\n{body}</gpx>'
    return text.encode(codec, "xmlcharrefreplace")


def refused_of(data):
    with pytest.raises(InputProblem) as caught:
        read_gpx(data, "line.gpx")
    assert caught.value.what_to_do
    return caught.value


# Reading ------------------------------------------------------------------------------


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_a_waypoint_gives_name_position_and_origin(version):
    found = read_gpx(gpx(WPT, version), "line.gpx")
    assert found.places == (
        FoundPlace("T1", -4.5, 52.1, None, "", 1, "line.gpx, waypoint 1, line 3"),
    )
    assert (found.format, found.source) == (f"GPX {version}", "line.gpx")
    assert found.sentence() == "1 of 1 waypoint understood"


def test_a_file_without_namespace_is_read():
    assert len(read_gpx(f"<gpx>{WPT}</gpx>".encode(), "line.gpx").places) == 1


def test_what_another_library_writes_is_read():
    """Source: gpxpy, an independent reader and writer of GPX."""
    other = gpxpy.gpx.GPX()
    other.waypoints.append(
        gpxpy.gpx.GPXWaypoint(
            52.1234567, -4.7654321, elevation=1.5, name="Träp & 2", comment="near <reeds>",
            description="near the post", symbol="Anchor",
        )
    )  # fmt: skip
    place = read_gpx(other.to_xml("1.1").encode(), "line.gpx").places[0]
    assert (place.lon_deg, place.lat_deg, place.label) == (-4.7654321, 52.1234567, "Träp & 2")
    assert place.note == "near <reeds>; near the post; symbol: Anchor; elevation: 1.5"


def test_one_text_in_comment_and_description_is_one_note():
    body = '<wpt lat="1" lon="2"><cmt>reeds</cmt><desc>reeds</desc></wpt>'
    assert read_gpx(gpx(body), "a.gpx").places[0].note == "reeds"


@pytest.mark.parametrize("codec", ["UTF-8", "UTF-16", "ISO-8859-1", "windows-1252"])
def test_any_encoding_gives_the_same_names(codec):
    body = WPT.replace("T1", "Träp 2 é €")
    assert read_gpx(gpx(body, codec=codec), "a.gpx").places[0].label == "Träp 2 é €"


def test_a_byte_order_mark_is_no_hindrance():
    assert read_gpx(b"\xef\xbb\xbf" + gpx(WPT), "a.gpx").places[0].label == "T1"


def test_names_stay_as_they_are_but_for_control_characters():
    body = WPT.replace("T1", "007 \u202eb\u0085&lt;b&gt;x&lt;/b&gt; 🦞")
    assert read_gpx(gpx(body), "a.gpx").places[0].label == "007 b<b>x</b> 🦞"


def test_a_waypoint_without_a_name_is_called_after_its_number():
    body = '<wpt lat="1" lon="2"/><wpt lat="1" lon="3"><name>WP 1</name></wpt>'
    labels = [place.label for place in read_gpx(gpx(body), "a.gpx").places]
    assert labels == ["WP 1a", "WP 1"]


def test_the_depth_is_read_from_an_extension():
    body = (
        '<wpt lat="1" lon="2"><extensions><m:x xmlns:m="u"><m:Depth>3.5</m:Depth></m:x>'
        "</extensions></wpt>"
    )
    assert read_gpx(gpx(body), "a.gpx").places[0].depth_m == 3.5


@pytest.mark.parametrize("depth", ["deep", "NaN", "-1", "1e9", ""])
def test_a_depth_that_is_none_refuses_its_waypoint(depth):
    body = f'<wpt lat="1" lon="2"><extensions><depth>{depth}</depth></extensions></wpt>'
    found = read_gpx(gpx(body), "a.gpx")
    assert not found.places
    assert f"'{depth}'" in found.refused[0].why


def test_route_points_are_places_only_where_no_waypoints_are():
    route = '<rte><rtept lat="1" lon="2"><name>R1</name></rtept><rtept lat="3" lon="4"/></rte>'
    found = read_gpx(gpx(route), "a.gpx")
    assert [(p.label, p.lon_deg, p.lat_deg) for p in found.places] == [
        ("R1", 2.0, 1.0),
        ("WP 2", 4.0, 3.0),
    ]
    assert found.sentence() == "2 of 2 route points understood"
    assert [p.label for p in read_gpx(gpx(WPT + route), "a.gpx").places] == ["T1"]


def test_each_segment_of_a_track_is_a_line_of_its_own():
    points = '<trkpt lat="1" lon="2"/><trkpt lat="3" lon="4"/>'
    body = (
        f"<trk><name>Bank</name><trkseg>{points}</trkseg><trkseg/><trkseg>{points}</trkseg></trk>"
    )
    found = read_gpx(gpx(body + f"<trk><trkseg>{points}</trkseg></trk>"), "a.gpx")
    assert [track.name for track in found.tracks] == ["Bank, part 1", "Bank, part 2", "Track 2"]
    assert found.tracks[0].lon_deg == (2.0, 4.0)
    assert found.tracks[0].lat_deg == (1.0, 3.0)
    assert found.sentence() == "3 tracks"


def test_a_bad_track_point_is_left_out_and_reported_but_is_no_place():
    body = (
        '<trk><name>Bank</name><trkseg><trkpt lat="1" lon="2"/>\n<trkpt lat="91" lon="2"/>'
        '<trkpt lat="3" lon="4"/></trkseg></trk>'
    )
    found = read_gpx(gpx(WPT + body), "a.gpx")
    assert found.tracks[0].lat_deg == (1.0, 3.0)
    assert [(r.row, r.where) for r in found.refused] == [
        (0, "a.gpx, track 'Bank', point 2, line 4")
    ]
    assert found.sentence() == "1 of 1 waypoint understood, 1 track"


def test_a_track_of_one_point_is_reported():
    found = read_gpx(gpx('<trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk>'), "a.gpx")
    assert not found.tracks
    assert "two sound points" in found.refused[0].why


# Refusing one waypoint ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("attributes", "value"),
    [
        ('lat="91" lon="4"', "latitude 91 is not between"),
        ('lat="-90.0001" lon="4"', "latitude -90.0001 is not between"),
        ('lat="52" lon="180.5"', "longitude 180.5 is not between"),
        ('lat="NaN" lon="4"', "latitude 'NaN'"),
        ('lat="52" lon="inf"', "longitude 'inf'"),
        ('lat="52" lon="1e400"', "longitude 1e400"),
        ('lat="5_2" lon="4"', "latitude '5_2'"),
        ('lat="52,1" lon="4"', "latitude '52,1'"),
        ('lat="٥٢" lon="4"', "latitude '٥٢'"),
        ('lat="" lon="4"', "latitude ''"),
        ('lon="4"', "latitude is missing"),
        ('lat="52"', "longitude is missing"),
    ],
)
def test_a_bad_waypoint_is_refused_with_number_line_value_and_the_rest_is_kept(attributes, value):
    body = f"{WPT}\n\n<wpt {attributes}><name>T2</name></wpt>{WPT.replace('T1', 'T3')}"
    found = read_gpx(gpx(body), "a.gpx")
    assert [place.label for place in found.places] == ["T1", "T3"]
    (refused,) = found.refused
    assert (refused.row, refused.where) == (2, "a.gpx, waypoint 2, line 5")
    assert value in refused.why
    assert refused.what_to_do
    assert "T2" in refused.text
    assert found.sentence() == "2 of 3 waypoints understood"


def test_the_second_waypoint_of_one_name_is_refused_and_names_the_first():
    found = read_gpx(gpx(f"{WPT}\n{WPT}"), "a.gpx")
    assert len(found.places) == 1
    (refused,) = found.refused
    assert refused.row == 2
    assert "'T1'" in refused.why
    assert "waypoint 1, line 3" in refused.why
    assert refused.what_to_do == "Rename one of the two."


def test_an_endless_name_is_refused():
    found = read_gpx(gpx(WPT.replace("T1", "x" * 20_001)), "a.gpx")
    assert "20001 characters" in found.refused[0].why
    assert read_gpx(gpx(WPT.replace("T1", "x" * 20_000)), "a.gpx").places


# Refusing a file ----------------------------------------------------------------------


def test_empty_truncated_and_wrongly_coded_files_name_the_byte():
    assert "empty (0 bytes)" in refused_of(b"").error
    cut = gpx(WPT)[:-30]
    assert f"at byte {len(cut)}" in refused_of(cut).error
    wrong = gpx(WPT).replace(b"T1", b"Tr\xe4p")
    problem = refused_of(wrong)
    assert f"Byte {wrong.index(0xE4)} (0xE4)" in problem.error
    assert "line 3" in problem.where


def test_xml_that_is_not_gpx_is_named():
    assert "'kml'" in refused_of(b"<kml/>").error


def test_gpx_with_nothing_in_it_is_refused():
    assert "no waypoint" in refused_of(gpx("<metadata/>")).error


def test_a_document_type_and_deep_nesting_are_refused():
    assert "<!DOCTYPE" in refused_of(b"<!DOCTYPE gpx>" + gpx(WPT)[38:]).error
    assert "64 levels" in refused_of(gpx("<a>" * 200_000 + "</a>" * 200_000)).error


# Writing ------------------------------------------------------------------------------

PLACES = [
    FoundPlace("Träp & <2>", -4.7654321, 52.1234567, 3.25, "near \u0001<reeds>\r\n& post"),
    FoundPlace("no position", None, None),
    FoundPlace("T3", 4.5, -52.1),
]


def test_another_library_reads_what_is_written():
    """Source: gpxpy, an independent reader and writer of GPX."""
    other = gpxpy.parse(write_gpx(PLACES, "Lake & line").decode())
    assert other.name == "Lake & line"
    assert [(w.name, w.longitude, w.latitude) for w in other.waypoints] == [
        ("Träp & <2>", -4.7654321, 52.1234567),
        ("T3", 4.5, -52.1),
    ]
    first, last = other.waypoints
    assert (first.comment, first.description) == ("near <reeds>\n& post",) * 2
    assert (first.extensions[0].text, last.comment) == ("3.25", None)


def test_gdal_reads_what_is_written(tmp_path):
    """Source: GDAL's GPX driver through pyogrio; points as little-endian WKB: x, y at byte 5."""
    file = tmp_path / "line.gpx"
    file.write_bytes(write_gpx(PLACES, "Lake"))
    meta, _, points, columns = pyogrio.raw.read(file, layer="waypoints")
    table = dict(zip(meta["fields"], columns, strict=True))
    assert list(table["name"]) == ["Träp & <2>", "T3"]
    assert list(table["desc"]) == ["near <reeds>\n& post", None]
    assert [struct.unpack_from("<dd", point, 5) for point in points] == [
        (-4.7654321, 52.1234567),
        (4.5, -52.1),
    ]


def test_elements_stand_in_the_order_of_the_schema():
    """Source: GPX 1.1 schema, wptType: name, cmt, desc, then extensions."""
    order = re.findall(r"<(name|cmt|desc|extensions)>", write_gpx(PLACES[:1], "x").decode())
    assert order[1:] == ["name", "cmt", "desc", "extensions"]


def test_coordinates_have_7_decimals_and_180_east_is_written_west():
    """Source: GPX 1.1 schema, longitudeType: from -180 to less than 180."""
    data = write_gpx([FoundPlace("a", 179.99999999, 1 / 3)], "x").decode()
    assert '<wpt lat="0.3333333" lon="-180.0000000">' in data


@pytest.mark.parametrize(
    "place",
    [
        FoundPlace("bad", math.nan, 1.0),
        FoundPlace("bad", 1.0, 90.1),
        FoundPlace("bad", 181.0, 1.0),
        FoundPlace("bad", 1.0, None),
        FoundPlace("bad", 1.0, 1.0, -1.0),
        FoundPlace("bad", 1.0, 1.0, math.inf),
    ],
)
def test_an_impossible_place_is_never_written(place):
    with pytest.raises(InvalidValue, match="'bad'"):
        write_gpx([place], "x")


letters = st.characters(
    exclude_categories=("Cs", "Cc"), exclude_characters="\u202d\u202e\ufffe\uffff"
)
names = st.text(letters, min_size=1, max_size=20).map(clean_label).filter(bool)
positions = st.tuples(
    names,
    st.floats(-180, 180, exclude_max=True),
    st.floats(-90, 90),
    st.none() | st.floats(0, 11_000),
    st.text(letters, max_size=20).map(str.strip),
)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(st.lists(positions, min_size=1, max_size=6, unique_by=lambda one: one[0]))
def test_what_is_written_is_read_again(rows):
    written = [FoundPlace(*row) for row in rows]
    data = write_gpx(written, "x")
    found = read_gpx(data, "a.gpx")
    assert not found.refused
    assert [p.label for p in found.places] == [p.label for p in written]
    assert [p.note for p in found.places] == [p.note for p in written]
    for got, sent in zip(found.places, written, strict=True):
        east_deg = (got.lon_deg - sent.lon_deg + 180) % 360 - 180
        assert abs(east_deg) < 6e-8
        assert abs(got.lat_deg - sent.lat_deg) < 6e-8
        assert (got.depth_m is None) == (sent.depth_m is None)
        assert abs((got.depth_m or 0) - (sent.depth_m or 0)) < 0.006
    other = gpxpy.parse(data.decode())
    assert [(w.longitude, w.latitude) for w in other.waypoints] == [
        (p.lon_deg, p.lat_deg) for p in found.places
    ]
    assert [w.name.strip() for w in other.waypoints] == [p.label for p in found.places]

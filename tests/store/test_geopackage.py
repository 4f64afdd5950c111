"""The file is a GeoPackage: the bytes of a point, the functions of an index, the list of layers."""

import math
import sqlite3
import struct
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.model.line import Place
from trapline.store.geopackage import envelope_functions, point_blob, point_of
from trapline.store.project import Project


def test_a_point_has_the_bytes_of_the_standard() -> None:
    """OGC 12-128r17, clause 2.1.3: magic, version, flags, srs id; then OGC 06-103r4 WKB.

    1.0 and -2.0 as IEEE 754 doubles written out by hand.
    """
    expected = "4750 00 01 e6100000" + "01 01000000 000000000000f03f 00000000000000c0"
    assert point_blob(1.0, -2.0) == bytes.fromhex(expected)
    assert len(point_blob(1.0, -2.0)) == 29


@settings(derandomize=True, deadline=None)
@given(st.floats(-180, 180), st.floats(-90, 90))
def test_a_point_comes_back_exactly(lon_deg: float, lat_deg: float) -> None:
    assert point_of(point_blob(lon_deg, lat_deg)) == (lon_deg, lat_deg)


@pytest.mark.parametrize("envelope", range(5))
@pytest.mark.parametrize("order", "<>")
@pytest.mark.parametrize("extra", [0, 1000, 2000, 3000])
def test_a_point_is_read_as_any_gis_may_write_it(envelope: int, order: str, extra: int) -> None:
    """Any envelope, either byte order, with Z or M (clause 2.1.3 table 15; ISO WKB types)."""
    header = b"GP\0" + bytes([envelope << 1 | (order == "<")]) + struct.pack(order + "i", 4326)
    box = b"\0" * (0, 32, 48, 48, 64)[envelope]
    body = struct.pack(order + "BIdd", order == "<", 1 + extra, 10.5, 60.25)
    assert point_of(header + box + body + b"\0" * (8 * (extra // 1000 + 1) // 2)) == (10.5, 60.25)


def test_an_empty_point_is_no_position() -> None:
    """Clause 2.1.3: the empty flag, or a point of NaN."""
    empty = bytearray(point_blob(math.nan, math.nan))
    assert point_of(bytes(empty)) is None
    empty[3] |= 0b10000
    assert point_of(bytes(empty)) is None
    assert point_of(None) is None


@pytest.mark.parametrize(
    "blob",
    [
        b"",
        b"GP",
        b"XX" + point_blob(1, 2)[2:],
        point_blob(1, 2)[:-1],
        point_blob(1, 2)[:3] + b"\x0b" + point_blob(1, 2)[4:],  # envelope 5 does not exist
        point_blob(1, 2)[:9] + b"\x02" + point_blob(1, 2)[10:],  # a line
    ],
)
def test_what_is_no_point_is_refused(blob: bytes) -> None:
    with pytest.raises(ValueError, match=r"GeoPackage|point"):
        point_of(blob)


@settings(derandomize=True, deadline=None)
@given(st.binary(max_size=40), st.booleans())
def test_any_bytes_are_a_point_or_a_value_error(blob: bytes, ours: bool) -> None:
    try:
        found = point_of(b"GP\0\1" + blob if ours else blob)
    except ValueError:
        return
    assert found is None or len(found) == 2


def test_the_functions_of_an_index_answer_from_the_point() -> None:
    functions = envelope_functions()
    blob = point_blob(10.5, 60.25)
    assert {name: function(blob) for name, function in functions.items()} == {
        "ST_MinX": 10.5,
        "ST_MaxX": 10.5,
        "ST_MinY": 60.25,
        "ST_MaxY": 60.25,
        "ST_IsEmpty": 0,
    }
    assert {function(None) for function in functions.values()} == {None}
    empty = point_blob(math.nan, math.nan)
    assert [functions["ST_MinX"](empty), functions["ST_IsEmpty"](empty)] == [None, 1]


def test_the_file_says_what_it_is(lake_path: Path) -> None:
    """Clauses 1.1.1.1.1 and 1.1.1.2.1: 'GPKG' and 10300 in the header of SQLite; no write-ahead."""
    start = lake_path.read_bytes()[:100]
    assert start[:16] == b"SQLite format 3\0"
    assert start[68:72] == b"GPKG"
    assert struct.unpack(">I", start[60:64]) == (10300,)
    assert start[18:20] == b"\1\1"


def test_the_list_of_layers_has_the_box_and_the_time_of_the_last_change(lake: Project) -> None:
    def contents(table: str) -> sqlite3.Row:
        found = lake.connection().execute(
            "SELECT last_change, min_x, min_y, max_x, max_y FROM gpkg_contents"
            " WHERE table_name = ?",
            (table,),
        )
        return found.fetchone()

    before = contents("place")
    assert tuple(before)[1:] == (10.001, 60.0, 10.003, 60.0)
    untouched = tuple(contents("bait"))
    with lake.change("Move") as change:
        change.update(change.snapshot.all(Place)[1].with_(lon_deg=9.5, lat_deg=61.0))
    after = contents("place")
    assert tuple(after)[1:] == (9.5, 60.0, 10.003, 61.0)
    assert after[0] > before[0]
    assert tuple(contents("bait")) == untouched


def test_the_validator_does_find_faults(
    lake_path: Path, gdal_python: str, assert_valid_gpkg: Callable[[Path], None]
) -> None:
    """Else its silence about the other files would mean nothing."""
    assert_valid_gpkg(lake_path)
    with closing(sqlite3.connect(lake_path)) as db:
        db.execute("UPDATE gpkg_contents SET data_type = 'features' WHERE table_name = 'bait'")
        db.commit()
    with pytest.raises(AssertionError, match=r"Req|bait"):
        assert_valid_gpkg(lake_path)
    lake_path.unlink()

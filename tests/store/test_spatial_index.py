"""A GIS worked on the file: it added a spatial index, edited features, added layers and columns.

The GIS is GDAL (the library under most of them), in a process of its own.
"""

import json
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.store.project import Project

EDIT = """
import json, sys
from osgeo import gdal, ogr
gdal.UseExceptions()
path, script = sys.argv[1:]
dataset = gdal.OpenEx(path, gdal.OF_UPDATE | gdal.OF_VECTOR)
exec(json.loads(script))
layer = feature = None
dataset = None
"""
INDEX = """
for table in ("place", "trap_set"):
    dataset.ExecuteSQL(f"SELECT CreateSpatialIndex('{table}', 'geom')")
"""


@pytest.fixture
def gis(gdal_python: str) -> Callable[[Path, str], None]:
    """Run some lines of GDAL's Python on a file; it must have nothing to complain about."""

    def run(path: Path, script: str) -> None:
        done = subprocess.run(
            [gdal_python, "-c", EDIT, str(path), json.dumps(script)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        assert done.stdout + done.stderr == ""

    return run


def index_of(path: Path, table: str) -> dict[int, tuple[float, float]]:
    """The (lon, lat) by row number that the spatial index holds; it keeps them as 32-bit."""
    with closing(sqlite3.connect(path)) as db:
        rows = db.execute(f"SELECT id, minx, maxx, miny, maxy FROM rtree_{table}_geom").fetchall()
    for _, west, east, south, north in rows:
        assert east - west < 1e-5
        assert north - south < 1e-5
    return {row[0]: (round(row[1], 4), round(row[3], 4)) for row in rows}


def positions_of(project: Project, table: str) -> dict[int, tuple[float, float]]:
    numbers = dict(project.connection().execute(f"SELECT id, fid FROM {table}").fetchall())
    return {
        numbers[row.id]: (round(row.lon_deg, 4), round(row.lat_deg, 4))
        for row in project.snapshot().rows[table].values()
        if isinstance(row, Place | TrapSet) and row.lon_deg is not None and row.lat_deg is not None
    }


def test_a_project_with_a_spatial_index_is_edited_undone_and_redone(
    lake_path: Path, gis: Callable[[Path, str], None]
) -> None:
    gis(lake_path, INDEX)
    with Project.open(lake_path) as project:
        assert not project.read_only, project.why_read_only
        start = project.snapshot()
        places = start.all(Place)
        with project.change("Everything an index must follow") as change:
            change.insert(Place(label="new", lon_deg=11, lat_deg=61))
            change.insert(Place(label="nowhere"))
            change.update(places[1].with_(lon_deg=10.5))
            change.update(places[2].with_(lon_deg=None, lat_deg=None))
            change.update(places[3].with_(label="renamed"))
            for catch in change.snapshot.catches(start.all(TrapSet)[0].id):
                change.delete(catch)
            change.delete(start.all(TrapSet)[0])
        after = project.snapshot()
        for table in ("place", "trap_set"):
            assert index_of(lake_path, table) == positions_of(project, table)
        project.undo()
        assert project.snapshot() == start
        for table in ("place", "trap_set"):
            assert index_of(lake_path, table) == positions_of(project, table)
        project.redo()
        assert project.snapshot() == after
        for table in ("place", "trap_set"):
            assert index_of(lake_path, table) == positions_of(project, table)
    with closing(sqlite3.connect(lake_path)) as db:
        assert db.execute("SELECT rtreecheck('rtree_place_geom')").fetchone() == ("ok",)


def test_the_index_is_what_makes_the_functions_necessary(
    lake_path: Path, gis: Callable[[Path, str], None]
) -> None:
    """Without them the same edit fails, so that the test above tests something."""
    gis(lake_path, INDEX)
    with (
        closing(sqlite3.connect(lake_path)) as db,
        pytest.raises(sqlite3.OperationalError, match="no such function: ST_"),
    ):
        db.execute("INSERT INTO place (id, label, fix, bottom, notes) VALUES ('a', '', '', '', '')")


def test_what_a_gis_edits_is_seen_and_stops_only_the_undo_of_that_row(
    lake_path: Path, gis: Callable[[Path, str], None]
) -> None:
    with Project.open(lake_path) as project:
        with project.change("Deepen") as change:
            change.update(change.snapshot.all(Place)[2].with_(depth_m=4))
        gis(
            lake_path,
            """
layer = dataset.GetLayerByName("place")
feature = layer.GetFeature(2)
feature.SetGeometry(ogr.CreateGeometryFromWkt("POINT (10.75 60.5)"))
feature["depth_m"] = 7.5
feature["notes"] = "seen from the GIS"
layer.SetFeature(feature)
""",
        )
        moved = project.snapshot().all(Place)[1]
        assert (moved.lon_deg, moved.lat_deg, moved.depth_m) == (10.75, 60.5, 7.5)
        assert moved.notes == "seen from the GIS"
        project.undo()
        assert project.snapshot().all(Place)[2].depth_m == 1.5


def test_an_edit_that_a_gis_makes_without_changing_anything_does_not_stop_undo(
    lake_path: Path, gis: Callable[[Path, str], None]
) -> None:
    """It writes each value anew, in its own spelling: the same as ours."""
    with Project.open(lake_path) as project:
        before = project.snapshot()
        with project.change("Edit a place and a trap set") as change:
            change.update(before.all(Place)[1].with_(notes="x"))
            change.update(before.all(TrapSet)[0].with_(notes="x"))
        gis(
            lake_path,
            """
for name in ("place", "trap_set"):
    layer = dataset.GetLayerByName(name)
    for feature in list(layer):
        layer.SetFeature(feature)
""",
        )
        project.undo()
        assert project.snapshot() == before


def test_a_column_and_a_layer_that_a_gis_adds_do_no_harm(
    lake_path: Path, gis: Callable[[Path, str], None]
) -> None:
    gis(
        lake_path,
        """
layer = dataset.GetLayerByName("place")
layer.CreateField(ogr.FieldDefn("seen by", ogr.OFTString))
feature = layer.GetFeature(2)
feature["seen by"] = "me"
layer.SetFeature(feature)
layer = dataset.CreateLayer("mine", geom_type=ogr.wkbPoint, options=["GEOMETRY_NAME=shape"])
feature = ogr.Feature(layer.GetLayerDefn())
feature.SetGeometry(ogr.CreateGeometryFromWkt("POINT (1 2)"))
layer.CreateFeature(feature)
""",
    )
    with Project.open(lake_path) as project:
        assert not project.read_only, project.why_read_only
        place = project.snapshot().all(Place)[1]
        with project.change("Rename") as change:
            change.update(place.with_(label="other"))
        project.undo()
        found = project.connection().execute('SELECT "seen by" FROM place WHERE fid = 2')
        assert found.fetchone()[0] == "me"

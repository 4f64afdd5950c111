"""The invented samples: rebuilt, opened, analysed, printed, and never written to."""

import csv
import hashlib
import importlib.util
import json
import sqlite3
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from trapline.actions.importing import fix_of, import_places
from trapline.actions.samples import copy_sample, list_samples
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import check_spacing
from trapline.analyses.trip_summary import trip_summary
from trapline.cli.main import main
from trapline.errors import ReadOnlyProject
from trapline.exchange.places_file import read_places
from trapline.folders import shipped_folder
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.trapset import TrapSet
from trapline.model.water import Water
from trapline.reports.field_sheet import field_sheet_pdf
from trapline.reports.pdf_file import write_report
from trapline.reports.trip_summary import trip_summary_report
from trapline.store.project import Project

FOLDER = shipped_folder("sample_projects")
NAMES = ("lake_bait_trial", "shore_line")


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture(autouse=True)
def untouched() -> Any:
    """Fail a test here that writes to a shipped sample or leaves a file beside it."""
    before = {path.name: digest(path) for path in FOLDER.iterdir()}
    yield
    assert {path.name: digest(path) for path in FOLDER.iterdir()} == before


def builder() -> ModuleType:
    path = shipped_folder("resources") / "build_samples.py"
    spec = importlib.util.spec_from_file_location("build_samples", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def snapshot_of(path: Path) -> Any:
    with Project.open(path, read_only=True) as project:
        return project.snapshot()


def sqlite_version_of(path: Path) -> int:
    """Return the library that wrote a file last (SQLite file format, 1.3.1, offset 96)."""
    return int.from_bytes(path.read_bytes()[96:100], "big")


def test_the_samples_are_these() -> None:
    assert tuple(list_samples()) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_a_shipped_sample_opens_for_reading_only(name: str) -> None:
    with Project.open(FOLDER / f"{name}.gpkg") as project:
        assert project.read_only
        assert "open a fresh copy" in project.why_read_only
        with pytest.raises(ReadOnlyProject), project.change("Write") as change:
            change.insert(Water(name="Puddle"))


def test_the_script_rebuilds_them(tmp_path: Path) -> None:
    builder().main(tmp_path)

    assert {path.name for path in tmp_path.iterdir()} == {path.name for path in FOLDER.iterdir()}
    for path in FOLDER.iterdir():
        again = tmp_path / path.name
        if path.suffix == ".gpkg":
            assert snapshot_of(again) == snapshot_of(path)
            same_library = sqlite_version_of(again) == sqlite_version_of(path)
            if not same_library:
                continue
        assert digest(again) == digest(path), path.name


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_says_that_it_is_invented_and_tells_its_story(name: str) -> None:
    snapshot = snapshot_of(FOLDER / f"{name}.gpkg")

    assert snapshot.project.is_example
    assert snapshot.project.notes.startswith("AN INVENTED EXAMPLE.")
    assert len(snapshot.project.notes) > 500
    assert all("(invented)" in water.name for water in snapshot.all(Water))


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_valid_for_a_gis(name: str, tmp_path: Path) -> None:
    import pyogrio

    path = copy_sample(name, tmp_path)
    layers = {str(layer): kind for layer, kind in pyogrio.list_layers(path)}

    assert layers["place"] == "Point"
    assert layers["trap_set"] == "Point"
    database = sqlite3.connect(path)
    assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert database.execute("PRAGMA foreign_key_check").fetchall() == []
    database.close()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("suffix", [".gpx", "_places.csv"])
def test_the_files_beside_a_sample_give_its_places_back(
    name: str, suffix: str, tmp_path: Path
) -> None:
    path = FOLDER / f"{name}{suffix}"
    found = read_places(path.read_bytes(), path.name)
    assert found.refused == ()

    with Project.create(tmp_path / "new.gpkg", ProjectInfo(name="new")) as project:
        line = Line()
        with project.change("Line") as change:
            change.insert(line)
        import_places(project, line.id, None, found.places, fix=fix_of(found))
        got = {place.label: place for place in project.snapshot().all(Place)}

    wanted = {place.label: place for place in snapshot_of(FOLDER / f"{name}.gpkg").all(Place)}
    assert list(got) == list(wanted)
    for label, place in wanted.items():
        # Seven decimals of a degree are a centimetre.
        assert got[label].lon_deg == pytest.approx(place.lon_deg, abs=6e-8)
        assert got[label].lat_deg == pytest.approx(place.lat_deg, abs=6e-8)


def test_the_lake_has_one_short_gap_and_the_quay_is_a_choice_test() -> None:
    lake = snapshot_of(FOLDER / "lake_bait_trial.gpkg")
    round_id = lake.rounds(lake.trips()[0].id)[-1].id
    gaps = check_spacing(lake, round_id).gaps
    assert [(gap.first.label, gap.second.label) for gap in gaps] == [("P7", "P8")]

    quay = snapshot_of(FOLDER / "shore_line.gpkg")
    for trip in quay.trips():
        for fished in quay.rounds(trip.id):
            assert check_plumes(quay, fished.id).all_meet


def test_the_quay_is_measured_by_rope_to_a_centimetre() -> None:
    quay = snapshot_of(FOLDER / "shore_line.gpkg")
    places = [place for place in quay.all(Place) if not place.is_stake]
    round_id = quay.rounds(quay.trips()[0].id)[-1].id
    legs = check_spacing(quay, round_id).legs

    assert len(places) == 8
    assert {place.fix for place in places} == {"rope and bearing"}
    assert [leg.distance_m for leg in legs] == pytest.approx([1.7] * 7, abs=1e-3)


def test_baits_of_the_lake_were_rotated_so_that_each_place_held_each_bait() -> None:
    lake = snapshot_of(FOLDER / "lake_bait_trial.gpkg")
    trip = lake.trips()[0]
    by_place: dict[str | None, set[str | None]] = {}
    for _, row in lake.sets_of_trip(trip.id):
        by_place.setdefault(row.place_id, set()).add(row.bait_id)

    assert len(lake.rounds(trip.id)) == 4
    assert {len(baits) for baits in by_place.values()} == {4}
    assert len(lake.all(TrapSet)) == 48


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_prints(name: str, tmp_path: Path) -> None:
    snapshot = snapshot_of(FOLDER / f"{name}.gpkg")
    trip = snapshot.trips()[-1]
    sheet = field_sheet_pdf(snapshot, snapshot.rounds(trip.id)[-1].id, tmp_path / "sheet.pdf")
    report = trip_summary_report(snapshot, trip_summary(snapshot, trip.id))
    summary = write_report(report, tmp_path / "summary.pdf")

    for path in (sheet, summary):
        assert path.read_bytes().startswith(b"%PDF-")
        assert path.stat().st_size > 10_000


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_compared(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = FOLDER / f"{name}.gpkg"
    trip = snapshot_of(path).trips()[-1].name

    assert main(["compare", str(path), "--trip", trip, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert len(answer["baits"]) == 4
    assert answer["winner"] is None
    assert "not settled" in answer["verdict"]


def test_the_places_of_the_table_stand_in_the_order_of_the_line() -> None:
    with (FOLDER / "lake_bait_trial_places.csv").open(encoding="utf-8") as stream:
        names = [row["name"] for row in csv.DictReader(stream)]

    assert names == [f"P{number}" for number in range(1, 13)]

"""Places enter by four doors and come out by four others with the same distance.

The distances are those of GeographicLib (Karney 2013), an implementation that the
program does not use.
"""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from pypdf import PdfReader
from PySide6.QtCore import QPoint, QSettings, Qt

from trapline.actions.importing import fix_of, import_places
from trapline.actions.places import add_places
from trapline.actions.trips import start_trip
from trapline.cli.main import main
from trapline.drawing.map_builder import build_map
from trapline.exchange.places_file import read_places
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.reports.field_sheet import field_sheet_pdf
from trapline.store.project import Project
from trapline.ui.app import make_application, make_window
from trapline.ui.window import MainWindow

# Latitude and longitude differ so much that a swap changes every distance.
SPOTS = (("A", 61.2500001, 4.7500002), ("B", 61.2500402, 4.7500807))
TRUE_M = Geodesic.WGS84.Inverse(SPOTS[0][1], SPOTS[0][2], SPOTS[1][1], SPOTS[1][2])["s12"]
SWAPPED_M = Geodesic.WGS84.Inverse(SPOTS[0][2], SPOTS[0][1], SPOTS[1][2], SPOTS[1][1])["s12"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A project with one trip, no places, and a minimum gap over the distance."""
    path = tmp_path / "doors.gpkg"
    with Project.create(path, ProjectInfo(name="doors")) as project:
        trip = Trip(name="T", started_on="2026-08-01", min_gap_m=10.0, max_gap_m=50.0)
        water, line = Water(name="W"), Line(name="L")
        start_trip(project, trip, water=water, line=line, first_round=Round())
    return path


@pytest.fixture
def window(qtbot: Any, path: Path, tmp_path: Path) -> MainWindow:
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    window = make_window(make_application([]), settings)
    qtbot.addWidget(window)
    window.resize(1366, 740)
    window.show()
    window.open_path(path)
    return window


def by_file(path: Path, data: bytes, name: str) -> None:
    found = read_places(data, name)
    assert not found.refused
    with Project.open(path) as project:
        snapshot = project.snapshot()
        trip = snapshot.trips()[0]
        import_places(
            project, trip.line_id or "", snapshot.rounds(trip.id)[0].id, found.places,
            fix=fix_of(found),
        )  # fmt: skip


def by_csv(path: Path) -> None:
    rows = "".join(f"{name},{lat!r},{lon!r}\n" for name, lat, lon in SPOTS)
    by_file(path, f"name,latitude,longitude\n{rows}".encode(), "spots.csv")


def by_gpx(path: Path) -> None:
    points = "".join(
        f'<wpt lat="{lat!r}" lon="{lon!r}"><name>{name}</name></wpt>' for name, lat, lon in SPOTS
    )
    gpx = f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    by_file(path, gpx.encode(), "spots.gpx")


def exits(path: Path, folder: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, float]:
    """Return the distance as every exit gives it, in metres."""
    code = main(["gaps", str(path), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert code == 1
    assert [(row["a"], row["b"]) for row in answer["pairs"]] == [("A", "B")]
    with Project.open(path, read_only=True) as project:
        snapshot = project.snapshot()
    from trapline.analyses.plume_check import check_plumes
    from trapline.analyses.spacing_check import check_spacing

    round_id = snapshot.rounds(snapshot.trips()[0].id)[0].id
    spacing = check_spacing(snapshot, round_id)
    content = build_map(snapshot, round_id, spacing, check_plumes(snapshot, round_id))
    pdf = field_sheet_pdf(snapshot, round_id, folder / "sheet.pdf")
    text = " ".join(page.extract_text() for page in PdfReader(pdf).pages)
    # The table prints the leg to the next place with its compass word.
    printed = re.findall(r"(\d+\.\d\d)\s+m\s+[NESW]+", text)
    return {
        "gaps": answer["pairs"][0]["distance_m"],
        "map": float(content.gaps[0].text.split()[0]),
        "warning": float(re.findall(r"(\d+\.\d\d) m apart", spacing.warnings[0].text)[0]),
        "pdf": float(printed[0]),
    }


def check(found: dict[str, float]) -> None:
    assert found["gaps"] == pytest.approx(TRUE_M, abs=1e-6)
    for exit_ in ("map", "warning", "pdf"):
        assert found[exit_] == pytest.approx(TRUE_M, abs=0.005), exit_


def test_the_two_spots_tell_a_swap_of_latitude_and_longitude() -> None:
    assert abs(SWAPPED_M - TRUE_M) > 1.0


@pytest.mark.parametrize("door", [by_csv, by_gpx])
def test_a_file_comes_out_with_the_true_distance(
    door: Any, path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    door(path)

    check(exits(path, tmp_path, capsys))


def test_a_swapped_file_comes_out_with_another_distance(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = "".join(f"{name},{lat!r},{lon!r}\n" for name, lat, lon in SPOTS)
    by_file(path, f"name,longitude,latitude\n{rows}".encode(), "spots.csv")

    assert exits(path, tmp_path, capsys)["gaps"] == pytest.approx(SWAPPED_M, abs=1e-6)


def test_typing_comes_out_with_the_true_distance(
    window: MainWindow, path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = window.session
    places = [Place(label=name) for name, _, _ in SPOTS]
    session.do(add_places, session.line.id, places, round_id=session.round_id)
    table = window.pages[0].table
    titles = [column.title for column in table.grid.columns]
    for row, (_, lat, lon) in enumerate(SPOTS):
        # A place without a position takes the pair at once; then each half is typed again.
        table.grid.setData(table.grid.index(row, titles.index("Latitude")), "1.0, 2.0")
        for title, value in (("Latitude", lat), ("Longitude", lon)):
            assert table.grid.setData(table.grid.index(row, titles.index(title)), repr(value))

    session.close_project()
    check(exits(path, tmp_path, capsys))


def test_dragging_comes_out_where_the_mouse_let_go(
    window: MainWindow, path: Path, qtbot: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    session = window.session
    lon, lat = SPOTS[0][2], SPOTS[0][1]
    places = [
        Place(label="A", lon_deg=lon, lat_deg=lat, fix="typed"),
        Place(label="B", lon_deg=lon + 0.0004, lat_deg=lat, fix="typed"),
    ]
    session.do(add_places, session.line.id, places, round_id=session.round_id)
    canvas = window.pages[0].canvas
    canvas.fit()
    plane, view, area = canvas.picture.content.plane, canvas.picture.view, canvas.rect()
    from PySide6.QtCore import QRectF

    def pixel(lon_deg: float, lat_deg: float) -> QPoint:
        x, y = view.to_px(QRectF(area), *plane.to_plane(lon_deg, lat_deg))
        return QPoint(round(x), round(y))

    start, goal = pixel(lon + 0.0004, lat), pixel(SPOTS[1][2], SPOTS[1][1])
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start)
    for step in range(1, 6):
        qtbot.mouseMove(canvas, start + (goal - start) * step / 5)
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=goal)

    moved = session.snapshot.places(session.line.id)[1]
    away = Geodesic.WGS84.Inverse(moved.lat_deg, moved.lon_deg, SPOTS[1][1], SPOTS[1][2])["s12"]
    assert away < 1.5 * view.metres_per_px
    true_m = Geodesic.WGS84.Inverse(lat, lon, moved.lat_deg, moved.lon_deg)["s12"]
    session.close_project()
    found = exits(path, tmp_path, capsys)
    assert found["gaps"] == pytest.approx(true_m, abs=1e-6)
    for exit_ in ("map", "warning", "pdf"):
        assert found[exit_] == pytest.approx(true_m, abs=0.005), exit_

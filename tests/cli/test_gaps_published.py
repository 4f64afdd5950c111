"""Published lines through the command that trappers use: a table in, a distance out."""

import json
from pathlib import Path
from typing import Any

import pytest

from trapline.cli.main import main

LINES = json.loads(
    (Path(__file__).parent.parent / "reference" / "geodesy" / "published_lines.json").read_text()
)


def distance_m(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], first: Any, second: Any
) -> float:
    """Return what ``gaps`` says between two (latitude, longitude) pairs."""
    table = tmp_path / "line.csv"
    rows = "".join(f"{n},{lat!r},{lon!r}\n" for n, (lat, lon) in enumerate((first, second)))
    table.write_text(f"id,lat,lon\n{rows}")
    assert main(["gaps", str(table), "--min-gap", "30000km", "--json"]) == 1
    return float(json.loads(capsys.readouterr().out)["pairs"][0]["distance_m"])


def test_flinders_peak_to_buninyong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The worked example of the Geocentric Datum of Australia Technical Manual (ICSM).

    It is on GRS 80, which over this line differs from WGS 84 by less than 0.1 mm.
    """
    line = LINES["flinders_buninyong"]
    found = distance_m(tmp_path, capsys, *line["points_lat_lon"].values())

    assert found == pytest.approx(line["published"]["distance_m"], abs=1e-3)


@pytest.mark.parametrize("number", range(len(LINES["karney_testcases_wgs84"]["rows"])))
def test_karney_lines(number: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Karney's GeodTest lines, WGS 84 (in geographiclib's own tests)."""
    row = LINES["karney_testcases_wgs84"]["rows"][number]
    found = distance_m(
        tmp_path, capsys, (row["lat1"], row["lon1"]), (row["lat2"], _wrapped(row["lon2"]))
    )

    assert found == pytest.approx(row["s12"], abs=1e-6)


@pytest.mark.parametrize(
    ("first", "second", "metres"),
    [
        # A hundredth of a degree of latitude next to the pole, and over it: the meridian's
        # radius of curvature there is a²/b = 6399593.6258 m (WGS 84 defining constants).
        ((90.0, 0.0), (89.9999, 77.0), 6399593.6258 * 1e-4 * 3.141592653589793 / 180),
        ((89.9999, 0.0), (89.9999, 180.0), 6399593.6258 * 2e-4 * 3.141592653589793 / 180),
        # Across the antimeridian on the equator: a · Δλ with a = 6378137 m.
        ((0.0, 179.99995), (0.0, -179.99995), 6378137 * 1e-4 * 3.141592653589793 / 180),
    ],
)
def test_poles_and_antimeridian(
    first: Any,
    second: Any,
    metres: float,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert distance_m(tmp_path, capsys, first, second) == pytest.approx(metres, abs=1e-6)


def _wrapped(lon_deg: float) -> float:
    return (lon_deg + 180.0) % 360.0 - 180.0

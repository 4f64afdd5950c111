"""``gaps`` on scattered positions against every pair measured with GeographicLib."""

import json
import random
from pathlib import Path
from typing import Any

import pytest

from tests.cli.brute_force import distances
from trapline.cli.main import main

# Where longitudes and straight lines are difficult, and where they are not.
CENTRES = {
    "middle latitude": (45.6, -71.3),
    "equator": (0.0, 12.0),
    "antimeridian": (-17.0, 180.0),
    "north pole": (90.0, 0.0),
    "south pole": (-90.0, 50.0),
}
_PER_DEGREE_M = 111_195.0


def scattered(centre: str, seed: int) -> list[tuple[str, str]]:
    """Return latitudes and longitudes as a file holds them: clusters, doubles and loners."""
    rnd = random.Random(f"{centre} {seed}")
    lat, lon = CENTRES[centre]
    found: list[tuple[str, str]] = []
    for _ in range(rnd.randint(1, 30)):
        if found and rnd.random() < 0.1:
            found.append(rnd.choice(found))
            continue
        reach = rnd.choice([8.0, 30.0, 30.0, 400.0]) / _PER_DEGREE_M
        if abs(lat) == 90:
            at = lat - (reach * rnd.random() if lat > 0 else -reach * rnd.random())
            east = rnd.uniform(-180, 180)
        else:
            at = lat + reach * rnd.uniform(-1, 1)
            east = (lon + reach * rnd.uniform(-1, 1) + 180) % 360 - 180
        found.append((f"{at:.7f}", f"{east:.7f}"))
    return found


@pytest.mark.parametrize("centre", CENTRES)
def test_pairs_and_lonely_are_those_of_every_pair_measured(
    centre: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    n_pairs = n_lonely = 0
    for seed in range(12):
        texts = scattered(centre, seed)
        ids = [f"{n:03}" for n in range(len(texts))]
        path = tmp_path / "places.csv"
        rows = [f"{name},{lat},{lon}" for name, (lat, lon) in zip(ids, texts, strict=True)]
        path.write_text("\n".join(["id,lat,lon", *rows]))
        apart = distances([(float(lat), float(lon)) for lat, lon in texts])
        code = main(["gaps", str(path), "--min-gap", "11yd", "--max-gap", "50ft", "--json"])
        answer: dict[str, Any] = json.loads(capsys.readouterr().out)

        least, most = 11 * 0.9144, 50 * 0.3048  # the yard and foot of 1959, exact
        assert all(
            abs(metres - limit) > 1e-5 for metres in apart.values() for limit in (least, most)
        )
        close = sorted((metres, pair) for pair, metres in apart.items() if metres < least)
        assert {(row["a"], row["b"]) for row in answer["pairs"]} == {
            (ids[i], ids[j]) for _, (i, j) in close
        }
        for row, (metres, _) in zip(answer["pairs"], close, strict=True):
            assert row["distance_m"] == pytest.approx(metres, abs=1e-6)
        in_order = [(row["distance_m"], row["a"], row["b"]) for row in answer["pairs"]]
        assert in_order == sorted(in_order)

        nearest = {
            i: min(metres for pair, metres in apart.items() if i in pair)
            for i in range(len(ids))
            if apart
        }
        assert [row["id"] for row in answer["lonely"]] == [
            ids[i] for i, metres in nearest.items() if metres > most
        ]
        for row in answer["lonely"]:
            i, j = ids.index(row["id"]), ids.index(row["nearest"])
            assert row["distance_m"] == pytest.approx(nearest[i], abs=1e-6)
            assert apart[min(i, j), max(i, j)] == pytest.approx(nearest[i], abs=1e-6)
        assert answer["n_positions"] == len(ids)
        assert code == bool(answer["pairs"] or answer["lonely"])
        n_pairs, n_lonely = n_pairs + len(close), n_lonely + len(answer["lonely"])
    assert n_pairs > 30
    assert n_lonely > 10

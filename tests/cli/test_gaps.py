"""``trapline gaps``, through the command line's own entry and its JSON."""

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from trapline.cli.main import main

# Pairs by brute force with GeographicLib; see tests/reference/layouts/SOURCES.md.
LAYOUTS = Path(__file__).parent.parent / "reference" / "layouts"


@pytest.fixture
def gaps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def ask(table: str, *options: str) -> tuple[int, dict[str, Any]]:
        path = tmp_path / "places.csv"
        path.write_text(table, "utf-8")
        code = main(["gaps", str(path), *options, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return ask


THREE = "id,lat,lon\n01,45,7\n2,45,7.0001\n3,45,7.001\n"


@pytest.mark.parametrize("name", ["equator_50", "lat45_500", "south46_500"])
def test_the_pairs_are_those_found_by_brute_force(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with (LAYOUTS / f"{name}_pairs_lt10m.csv").open(newline="") as file:
        wanted = {
            (row["id1"], row["id2"]): float(row["distance_m"]) for row in csv.DictReader(file)
        }
    code = main(["gaps", str(LAYOUTS / f"{name}_traps.csv"), "--min-gap", "10m", "--json"])
    answer = json.loads(capsys.readouterr().out)
    found = {(row["a"], row["b"]): row["distance_m"] for row in answer["pairs"]}
    assert code == 1
    assert found == pytest.approx(wanted, abs=2e-6)
    assert len(answer["pairs"]) == len(wanted)
    assert [row["distance_m"] for row in answer["pairs"]] == sorted(found.values())
    assert answer["lonely"] == []
    assert answer["n_positions"] == int(name.split("_")[1])


def test_ids_are_texts_as_written_and_the_earlier_row_comes_first(gaps: Any) -> None:
    code, answer = gaps(THREE, "--min-gap", "10m", "--max-gap", "50m")
    assert code == 1
    assert [(row["a"], row["b"]) for row in answer["pairs"]] == [("01", "2")]
    assert [(row["id"], row["nearest"]) for row in answer["lonely"]] == [("3", "2")]
    # Computed independently with GeographicLib: Inverse(45, 7.0001, 45, 7.001).
    assert answer["lonely"][0]["distance_m"] == pytest.approx(70.962152, abs=2e-6)


def test_equally_close_pairs_come_in_the_order_of_the_rows(gaps: Any) -> None:
    table = "id,lat,lon\nd,0,0\nc,0,0\nb,0,0\n"
    _, answer = gaps(table, "--min-gap", "1m")
    assert [(row["a"], row["b"]) for row in answer["pairs"]] == [("d", "c"), ("d", "b"), ("c", "b")]


def test_nothing_found_is_exit_code_0(gaps: Any) -> None:
    code, answer = gaps(THREE, "--min-gap", "5m", "--max-gap", "80m")
    assert (code, answer) == (0, {"pairs": [], "lonely": [], "n_positions": 3})


def test_a_gap_of_exactly_the_limit_is_neither_close_nor_lonely(gaps: Any) -> None:
    table = "id,lat,lon\na,45,7\nb,45,7.0001\n"
    _, answer = gaps(table, "--min-gap", "100m")
    exact = f"{answer['pairs'][0]['distance_m']!r}m"
    code, answer = gaps(table, "--min-gap", exact, "--max-gap", exact)
    assert (code, answer["pairs"], answer["lonely"]) == (0, [], [])


@pytest.mark.parametrize(("limit", "found"), [("26ft", 1), ("25ft", 0), ("8.7yd", 1), ("8yd", 0)])
def test_lengths_take_feet_and_yards(gaps: Any, limit: str, found: int) -> None:
    # The pair is 7.885 m apart: 25.87 ft, 8.62 yd.
    assert len(gaps(THREE, "--min-gap", limit)[1]["pairs"]) == found


def test_a_single_position_has_no_neighbour_to_be_far_from(gaps: Any) -> None:
    one = "id,lat,lon\na,45,7\n"
    nothing = {"pairs": [], "lonely": [], "n_positions": 1}
    assert gaps(one, "--min-gap", "5m") == (0, nothing)
    assert gaps(one, "--min-gap", "5m", "--max-gap", "50m") == (0, nothing)


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("id,lat,lon\na,45,7\nb,45,8\na,46,7\n", "line 4"),
        ("id,lat,lon\na,45,7\nb,95,8\n", "line 3"),
        ("id,lat,lon\na,nan,7\n", "line 2"),
        ("id,lat,lon\na,,7\n", "line 2"),
        ("id,lat,lon\na,inf,7\n", "line 2"),
        ("id,lat,lon\na,45\n", "line 2"),
        ("id,lat\na,45\n", "line 1"),
    ],
)
def test_a_bad_row_is_named_by_its_line(gaps: Any, table: str, words: str) -> None:
    code, answer = gaps(table, "--min-gap", "5m")
    assert code == 2
    assert set(answer) == {"error", "where", "what_to_do"}
    assert words in answer["where"]
    assert answer["error"]
    assert answer["what_to_do"]


@pytest.mark.parametrize(
    ("options", "where"),
    [
        (["--min-gap", "ten"], "--min-gap"),
        (["--min-gap=-1m"], "--min-gap"),
        (["--min-gap", "-1m"], "--min-gap"),
        (["--min-gap", "1m", "--max-gap", "-.5m"], "--max-gap"),
        (["--min-gap", "1e999"], "--min-gap"),
        (["--min-gap", "10m", "--max-gap", "9m"], "--max-gap"),
        ([], "--min-gap"),
    ],
)
def test_a_bad_limit_is_named_by_its_option(gaps: Any, options: list[str], where: str) -> None:
    code, answer = gaps(THREE, *options)
    assert (code, answer["where"]) == (2, where)


def test_a_negative_limit_is_told_from_an_option(gaps: Any) -> None:
    code, answer = gaps(THREE, "--min-gap", "-5m")
    assert (code, answer["error"]) == (2, "'-5m' is less than nothing.")


@pytest.mark.parametrize(
    "header",
    ["id,lat,lon,note,note", "id,lat,lon,Note,note", "note,id,lat,note,lon", "id,,,lat,lon"],
)
def test_columns_that_are_not_read_may_share_a_header(gaps: Any, header: str) -> None:
    cells = {"id": ("01", "2"), "lat": ("45", "45"), "lon": ("7", "7.0001")}
    lines = [",".join(cells.get(word, "xy")[row] for word in header.split(",")) for row in (0, 1)]
    code, answer = gaps("\n".join([header, *lines]), "--min-gap", "10m")
    assert (code, len(answer["pairs"])) == (1, 1)


@pytest.mark.parametrize(
    "header",
    [
        "id,lat,lat,lon",
        "id,lon,lat,lon",
        "id,id,lat,lon",
        "ID,lat,lon,id",
        "latitude,id,Lat,lon,lat",
    ],
)
def test_two_columns_for_one_thing_are_refused(gaps: Any, header: str) -> None:
    row = ",".join(["1"] * len(header.split(",")))
    code, answer = gaps(f"{header}\n{row}\n", "--min-gap", "10m")
    assert (code, answer["where"]) == (2, "places.csv, line 1")


def test_too_many_pairs_to_list_are_counted_and_refused(gaps: Any) -> None:
    same = "".join(f"{n},45,7\n" for n in range(2100))
    code, answer = gaps(f"id,lat,lon\n{same}", "--min-gap", "10m")
    # 2100 · 2099 / 2
    assert (code, answer["error"].split()[1]) == (2, "2,203,950")
    code, answer = gaps(f"id,lat,lon\n{same}", "--min-gap", "0m")
    assert (code, answer["pairs"], answer["n_positions"]) == (0, [], 2100)


def test_a_missing_file_is_said_with_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["gaps", "nowhere.csv", "--min-gap", "5m", "--json"]) == 2
    assert "nowhere.csv" in json.loads(capsys.readouterr().out)["where"]


def test_people_get_sentences(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "places.csv"
    path.write_text(THREE)
    assert main(["gaps", str(path), "--min-gap", "10m", "--max-gap", "50m"]) == 1
    assert capsys.readouterr().out.splitlines() == [
        "01 and 2 are 7.88 m apart.",
        "3 is 71.0 m from 2, its nearest neighbour.",
        "Positions: 3, pairs closer than 10.0 m: 1, farther than 50.0 m from all others: 1.",
    ]


def test_a_name_cannot_send_codes_to_the_terminal(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "places.csv"
    path.write_text("id,lat,lon\na\x1b[2J,45,7\nb,45,7\n")
    main(["gaps", str(path), "--min-gap", "10m"])
    assert "\x1b" not in capsys.readouterr().out

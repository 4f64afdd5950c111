"""Places from files, taken over in one step; nothing is ever overwritten."""

from dataclasses import replace

import pytest

from tests.actions.bench import Bench, dump
from trapline.actions.importing import fix_of, import_places
from trapline.errors import InvalidValue
from trapline.exchange.found import FoundPlace, Track
from trapline.exchange.places_file import read_places
from trapline.model.line import Place
from trapline.model.water import Water

GPX = """<?xml version="1.0"?>
<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="a receiver">
<wpt lat="60.001" lon="10.001"><name>WPT 007</name><cmt>under the alder</cmt></wpt>
<wpt lat="60.002" lon="10.002"><name>Näs &amp; vik</name></wpt>
</gpx>"""
TABLE = "name,lat,lon,depth\nA,60.001,10.001,1.5\nB,,,\n"
ROUND = Track("Shore", (10.0, 10.01, 10.01, 10.0), (60.0, 60.0, 60.01, 60.01))


def found_in(text: str, name: str) -> tuple[FoundPlace, ...]:
    return read_places(text.encode(), name).places


def test_names_of_a_receiver_are_kept(bench: Bench) -> None:
    found = read_places(GPX.encode(), "unit.gpx")
    bench.does(import_places, bench.line_id, bench.round_id, found.places, fix=fix_of(found))
    places = bench.snapshot.places(bench.line_id)[-2:]
    assert [place.label for place in places] == ["WPT 007", "Näs & vik"]
    assert [place.fix for place in places] == ["GPS", "GPS"]
    assert (places[0].lon_deg, places[0].lat_deg) == (10.001, 60.001)
    assert places[0].notes == "under the alder"
    assert len(bench.snapshot.sets(bench.round_id)) == 9


def test_places_of_a_table_are_typed_and_may_lack_a_position(bench: Bench) -> None:
    found = read_places(TABLE.encode(), "places.csv")
    bench.does(import_places, bench.line_id, None, found.places, fix=fix_of(found))
    first, second = bench.snapshot.places(bench.line_id)[-2:]
    assert (first.fix, first.depth_m) == ("typed", 1.5)
    assert (second.fix, second.has_position) == ("not fixed", False)
    assert len(bench.snapshot.sets(bench.round_id)) == 7


def test_a_file_is_known_by_how_it_begins() -> None:
    assert [one.label for one in found_in(GPX, "waypoints.txt")] == ["WPT 007", "Näs & vik"]
    assert [one.label for one in found_in(TABLE, "places.gps")] == ["A", "B"]
    utf16 = ("\ufeff" + GPX.replace('"1.0"?', '"1.0" encoding="UTF-16"?')).encode("utf-16-le")
    assert len(read_places(utf16, "unit.dat").places) == 2


def test_an_existing_place_is_never_overwritten(bench: Bench) -> None:
    found = (FoundPlace("New", 11.0, 61.0), FoundPlace("p3", 11.0, 61.0))
    problem = bench.refuses(import_places, bench.line_id, bench.round_id, found)
    assert "p3" in problem.error


def test_a_track_becomes_the_shoreline_in_the_same_step(bench: Bench) -> None:
    bench.does(import_places, bench.line_id, None, found_in(TABLE, "t.csv"), shoreline=ROUND)
    water = bench.snapshot.need(Water, bench.water_id)
    assert water.shoreline == (
        (10.0, 60.0), (10.01, 60.0), (10.01, 60.01), (10.0, 60.01), (10.0, 60.0),
    )  # fmt: skip
    assert bench.project.history()[0].label == "Import 2 places and the shoreline"


def test_a_track_alone_can_be_imported(bench: Bench) -> None:
    bench.does(import_places, bench.line_id, None, (), shoreline=ROUND)
    assert bench.project.history()[0].label == "Import the shoreline"


def test_a_track_that_encloses_nothing_takes_the_places_back(bench: Bench) -> None:
    there_and_back = replace(ROUND, lon_deg=(10.0, 10.1, 10.0), lat_deg=(60.0, 60.1, 60.0))
    bench.refuses(
        import_places, bench.line_id, None, found_in(TABLE, "t.csv"), shoreline=there_and_back
    )


def test_nothing_is_not_imported(bench: Bench) -> None:
    assert isinstance(bench.refuses(import_places, bench.line_id, None, ()), InvalidValue)
    bench.refuses(import_places, "no such line", None, found_in(TABLE, "t.csv"))


@pytest.mark.parametrize("n", [1, 2000])
def test_many_places_are_one_step(bench: Bench, n: int) -> None:
    found = tuple(FoundPlace(f"N{row}", 10.0 + row * 1e-4, 60.0) for row in range(n))
    before = dump(bench.project)
    import_places(bench.project, bench.line_id, bench.round_id, found)
    assert len(bench.snapshot.all(Place)) == 7 + n
    bench.project.undo()
    assert dump(bench.project) == before

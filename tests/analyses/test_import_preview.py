"""What an import would meet: nearest places, double names, and what is proposed."""

import pytest
from geographiclib.geodesic import Geodesic

from trapline.analyses.import_preview import (
    NEW,
    RENAME,
    SKIP,
    chosen_places,
    preview_import,
)
from trapline.errors import InvalidValue
from trapline.exchange.found import FoundPlace
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.water import Water

WATER = Water(id="pond", name="Pond")
LINE = Line(id="west", name="West", water_id="pond")
OTHER = Line(id="east", name="East", water_id="pond")
FAR = Line(id="sea", name="Sea", water_id=None)


def snapshot(*places: Place) -> Snapshot:
    return Snapshot({}).with_rows((WATER, LINE, OTHER, FAR, *places))


def place(label: str, lon_deg: float | None = 10.0, line_id: str = "west") -> Place:
    lat_deg = None if lon_deg is None else 60.0
    return Place(label=label, lon_deg=lon_deg, lat_deg=lat_deg, line_id=line_id)


def found(label: str, lon_deg: float | None) -> FoundPlace:
    return FoundPlace(label, lon_deg, None if lon_deg is None else 60.0)


def test_the_nearest_place_of_the_water_is_told_with_its_distance() -> None:
    there = snapshot(place("P1"), place("E1", 10.002, "east"), place("S1", 10.0011, "sea"))
    (one,) = preview_import(there, "west", [found("new", 10.0013)])
    # Computed independently with GeographicLib: the inverse problem.
    wanted = Geodesic.WGS84.Inverse(60.0, 10.0013, 60.0, 10.002)["s12"]
    assert one.nearest == "E1"
    assert one.nearest_m == pytest.approx(wanted, abs=1e-6)
    assert (one.treatment, one.remark, one.treatments) == (NEW, "", (NEW, SKIP))


def test_a_new_name_close_to_a_place_is_remarked_and_still_imported() -> None:
    (one,) = preview_import(snapshot(place("P1")), "west", [found("new", 10.00001)])
    assert one.treatment == NEW
    assert one.remark == "only 0.56 m from 'P1'"


@pytest.mark.parametrize(
    ("lon_deg", "treatment"),
    [
        (10.00008, SKIP),  # 4.5 m
        (10.0001, RENAME),  # 5.6 m
        (None, SKIP),
    ],
)
def test_the_same_name_is_skipped_near_by_and_renamed_farther_off(
    lon_deg: float | None, treatment: str
) -> None:
    (one,) = preview_import(snapshot(place("P1")), "west", [found("p1", lon_deg)])
    assert (one.same_name, one.treatment, one.new_label) == ("P1", treatment, "p1 2")
    assert one.treatments == (SKIP, RENAME)
    assert one.remark.startswith("name taken")


def test_the_same_name_on_another_line_is_free() -> None:
    (one,) = preview_import(snapshot(place("P1", 10.0, "east")), "west", [found("P1", 10.01)])
    assert one.treatment == NEW


def test_names_that_differ_in_case_only_are_kept_apart_within_the_file() -> None:
    arrivals = preview_import(snapshot(), "west", [found("a", 10.0), found("A", 10.1)])
    assert [one.treatment for one in arrivals] == [NEW, RENAME]
    assert [one.label for one in chosen_places(arrivals)] == ["a", "A 2"]


def test_a_new_name_is_free_everywhere() -> None:
    there = snapshot(place("P1"), place("P1 2", 10.1))
    file = [found("P1", 10.2), found("P1 3", 10.3), found("p1", 10.4)]
    arrivals = preview_import(there, "west", file)
    assert [one.label for one in chosen_places(arrivals)] == ["P1 4", "P1 3", "p1 5"]


def test_what_the_user_chooses_is_done() -> None:
    arrivals = preview_import(snapshot(place("P1")), "west", [found("P1", 10.0), found("B", 10.1)])
    assert [one.label for one in chosen_places(arrivals)] == ["B"]
    assert [one.label for one in chosen_places(arrivals, {0: RENAME, 1: SKIP})] == ["P1 2"]


def test_places_without_a_position_have_no_neighbour() -> None:
    (one,) = preview_import(snapshot(place("P1")), "west", [found("B", None)])
    assert (one.nearest, one.nearest_m, one.remark) == ("", None, "without a position")
    (one,) = preview_import(snapshot(place("P1", None)), "west", [found("B", 10.0)])
    assert one.nearest_m is None


def test_thousands_are_looked_at_in_parts() -> None:
    there = snapshot(*(place(f"P{n}", n * 1e-3) for n in range(700)))
    file = [found(f"F{n}", n * 1e-3 + 1e-4) for n in range(699)]
    arrivals = preview_import(there, "west", file)
    assert [one.nearest for one in arrivals] == [f"P{n}" for n in range(699)]


def test_a_line_must_be_there() -> None:
    with pytest.raises(InvalidValue):
        preview_import(snapshot(), "north", [found("B", 10.0)])

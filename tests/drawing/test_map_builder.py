import numpy as np
import pytest
from pyproj import Geod

from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import check_spacing
from trapline.drawing.map_builder import NO_BAIT_COLOUR, build_map
from trapline.model.bait import Bait
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

GEOD = Geod(ellps="WGS84")
LON, LAT = 7.1, 46.2
# Metres along a line to the east: the second and third are 6 m apart, the last is far off.
EASTS_M = (0.0, 30.0, 36.0, 60.0, 260.0)


def _place(number: int, east_m: float | None, **more: object) -> Place:
    position = {}
    if east_m is not None:
        lon_deg, lat_deg, _ = GEOD.fwd(LON, LAT, 90.0, east_m)
        position = {"lon_deg": lon_deg, "lat_deg": lat_deg}
    return Place(
        id=f"p{number}", line_id="line", ordinal=number, label=f"L{number}", **position, **more
    )


@pytest.fixture
def project() -> Snapshot:
    ring = ((7.09, 46.19), (7.12, 46.19), (7.12, 46.21), (7.09, 46.21))
    fish = Bait(id="fish", name="Fish", colour="#0072B2", mark="circle", still_reach_m=20.0)
    corn = Bait(id="corn", name="Corn", colour="#009E73", mark="triangle", still_reach_m=10.0)
    places = [_place(n + 1, east_m) for n, east_m in enumerate(EASTS_M)]
    loose = _place(6, None)
    stake = Place(id="stake", line_id="line", ordinal=7, label="Stake", lon_deg=LON, lat_deg=LAT,
                  is_stake=True)  # fmt: skip
    sets = [
        TrapSet(
            id=f"s{n}",
            round_id="round",
            place_id=f"p{n}",
            planned_bait_id="fish" if n % 2 else "corn",
            bait_id="fish" if n % 2 else "corn",
            state="set" if n < 4 else "planned",
            condition="lost" if n == 3 else "",
        )
        for n in range(1, 7)
    ]
    return Snapshot({}).with_rows(
        [
            Water(id="water", name="Lake", shoreline=ring),
            Line(id="line", water_id="water"),
            Trip(id="trip", name="T", water_id="water", line_id="line", min_gap_m=10.0,
                 max_gap_m=50.0),
            Round(id="round", trip_id="trip", current_m_s=0.1, current_to_deg=90.0),
            fish, corn, *places, loose, stake, *sets,
        ]
    )  # fmt: skip


def _built(project: Snapshot, **more: object):
    checks = check_spacing(project, "round"), check_plumes(project, "round")
    return build_map(project, "round", *checks, **more)


def test_places_come_in_the_order_of_the_line_with_their_looks(project):
    content = _built(project)
    assert content.ids == ("p1", "p2", "p3", "p4", "p5", "stake")
    assert content.set_ids == ("s1", "s2", "s3", "s4", "s5", "")
    assert content.labels[:2] == ("L1", "L2")
    looks = [content.style(row) for row in range(6)]
    assert [look.state for look in looks] == ["set", "set", "lost", "planned", "planned", "stake"]
    assert (looks[0].bait, looks[0].colour, looks[0].mark) == ("Fish", "#0072B2", "circle")
    assert looks[1].mark == "triangle"


def test_distances_on_the_plane_are_those_of_the_ellipsoid(project):
    """Outside check: positions made with pyproj's Geod along one geodesic."""
    content = _built(project)
    legs_m = np.hypot(np.diff(content.east_m[:5]), np.diff(content.north_m[:5]))
    # Held to a micrometre within 300 m of the anchor: the plane stretches lengths across
    # the direction to it by s²/6R², here 4e-10.
    assert legs_m == pytest.approx(np.diff(EASTS_M), abs=1e-6)
    back = content.plane.to_earth(content.east_m[:5], content.north_m[:5])
    assert np.all(np.diff(back[0]) > 0)  # east is east, not north
    assert back[1] == pytest.approx(LAT, abs=1e-6)


def test_longitude_and_latitude_are_not_swapped(project):
    content = _built(project)
    assert content.anchor_lon_deg == pytest.approx(LON, abs=0.01)
    assert content.anchor_lat_deg == pytest.approx(LAT, abs=0.01)
    west, south, east, north = content.shorelines[0].min(axis=0).tolist() + (
        content.shorelines[0].max(axis=0).tolist()
    )
    # 0.03° of longitude at 46.2° N is 2.3 km, 0.02° of latitude 2.2 km.
    assert east - west == pytest.approx(2316, abs=5)
    assert north - south == pytest.approx(2223, abs=5)


def test_short_and_wide_gaps_are_drawn_as_the_check_found_them(project):
    content = _built(project)
    told = [(gap.first, gap.second, gap.text, gap.kind) for gap in content.gaps]
    assert told == [(1, 2, "6.00 m", "short"), (4, 3, "200 m", "wide")]
    in_feet = _built(project, length_unit="ft").gaps[0]
    assert in_feet.text == "19.7 ft"


def test_reaches_belong_to_their_places_and_meet_only_other_baits(project):
    still = project.with_rows([Round(id="round", trip_id="trip")])
    content = _built(still)
    assert [plume.owner for plume in content.plumes] == [0, 1, 2, 3, 4]
    outline = content.plumes[1].outline
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    assert middle == pytest.approx([content.east_m[1], content.north_m[1]], abs=0.1)
    width = np.ptp(content.plumes[1].outline[:, 0])
    assert width == pytest.approx(20.0, abs=0.2)
    # Fish at 0, 36 and 260 m reaches 20 m, corn at 30 and 60 m 10 m: every pair that is nearer
    # than 30 m meets. 1 and 2 stand exactly 30 m apart and only touch.
    assert content.meetings.tolist() == [[1, 2], [2, 3]]


def test_a_place_without_position_is_beside_the_map(project):
    content = _built(project)
    assert [(spot.id, spot.set_id, spot.label) for spot in content.unplaced] == [("p6", "s6", "L6")]
    assert "p6" not in content.ids


def test_the_line_runs_through_the_places_but_not_the_stake(project):
    assert [link.tolist() for link in _built(project).links] == [[0, 1, 2, 3, 4]]


def test_the_current_of_the_round_is_taken_along(project):
    content = _built(project)
    assert (content.current_m_s, content.current_to_deg) == (0.1, 90.0)
    still = build_map(project.with_rows([Round(id="round", trip_id="trip")]), "round")
    assert (still.current_m_s, still.current_to_deg) == (None, None)


def test_a_trap_set_elsewhere_stands_where_it_was_really_set(project):
    lon_deg, lat_deg, _ = GEOD.fwd(LON, LAT, 0.0, 50.0)
    moved = TrapSet(id="s1", round_id="round", place_id="p1", state="set", lon_deg=lon_deg,
                    lat_deg=lat_deg)  # fmt: skip
    plane = _built(project).plane
    content = build_map(project.with_rows([moved]), "round", plane=plane)
    before = _built(project)
    assert content.east_m[0] == pytest.approx(before.east_m[0], abs=1e-3)
    assert content.north_m[0] - before.north_m[0] == pytest.approx(50.0, abs=1e-3)
    assert content.plane == plane


def test_a_line_without_a_round_shows_its_places_without_baits(project):
    content = build_map(project, None, line_id="line")
    assert content.ids == ("p1", "p2", "p3", "p4", "p5", "stake")
    assert {content.style(row).colour for row in range(5)} == {NO_BAIT_COLOUR}
    assert content.set_ids == ("",) * 6
    assert len(content.shorelines) == 1


def test_of_two_sets_at_one_place_the_later_is_shown(project):
    again = TrapSet(id="again", round_id="round", place_id="p1", planned_bait_id="corn",
                    state="set", set_utc="2026-08-02T06:00:00Z")  # fmt: skip
    content = build_map(project.with_rows([again]), "round")
    assert content.set_ids[0] == "again"
    assert content.ids.count("p1") == 1


def test_sizes_go_by_the_place(project):
    content = build_map(project, "round", size_factors={"p2": 4.0})
    assert content.size_factors.tolist() == [1.0, 4.0, 1.0, 1.0, 1.0, 1.0]
    assert build_map(project, "round").size_factors.size == 0


def test_an_empty_project_gives_an_empty_map():
    content = build_map(Snapshot({}), None)
    assert content.ids == ()
    assert content.extent() is None

"""Which scents of a round meet, on snapshots alone."""

import numpy as np
import pytest

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.plume_check import CHOICE_TEST, check_plumes
from trapline.model.bait import Bait
from trapline.model.trip import Round
from trapline.science.geodesy import LocalPlane


def reaching(made: MadeTrip, still: float, down: float = 20.0, side: float = 2.0) -> MadeTrip:
    baits = [
        made.snapshot.need(Bait, key).with_(
            still_reach_m=still, down_reach_m=down, side_reach_m=side
        )
        for key in made.bait_ids
    ]
    return made.with_rows(*baits)


def flowing(made: MadeTrip, towards_deg: float, speed: float = 0.05) -> MadeTrip:
    fished = made.snapshot.need(Round, made.round_id)
    return made.with_rows(fished.with_(current_m_s=speed, current_to_deg=towards_deg))


def test_circles_meet_when_their_reaches_together_are_longer_than_the_gap() -> None:
    apart = reaching(make_trip(4), 6.0)  # places stand 12.8 to 13.4 m apart
    near = reaching(make_trip(4), 6.8)

    assert check_plumes(apart.snapshot, apart.round_id).meetings == ()
    found = check_plumes(near.snapshot, near.round_id).meetings
    assert [(one.first.label, one.second.label) for one in found] == [
        ("P1", "P2"), ("P2", "P3"), ("P3", "P4"),
    ]  # fmt: skip


def test_different_baits_that_meet_are_a_warning_and_the_same_bait_a_note() -> None:
    made = reaching(make_trip(4, baits=("herring",)), 6.8)
    mixed = reaching(make_trip(4, baits=("herring", "liver")), 6.8)

    same = check_plumes(made.snapshot, made.round_id).warnings
    other = check_plumes(mixed.snapshot, mixed.round_id).warnings

    assert {one.kind for one in same} == {"same bait"}
    assert {one.kind for one in other} == {"different baits"}
    assert "The scents of P1 and P2 may overlap (herring and liver)." in [one.text for one in other]


def test_a_plume_lies_down_current_of_its_trap() -> None:
    made = flowing(reaching(make_trip(2), 5.0), 90.0)
    plume = check_plumes(made.snapshot, made.round_id).plumes[0]
    plane = LocalPlane(plume.standing.lon_deg, plume.standing.lat_deg)

    east, north = plane.to_plane(plume.outline[:, 0], plume.outline[:, 1])

    assert east.max() == pytest.approx(20.0, rel=0.005)
    assert east.min() == pytest.approx(-2.0, rel=0.01)
    assert np.abs(north).max() < 3.0


def test_a_line_along_the_current_meets_where_one_across_it_does_not() -> None:
    made = reaching(make_trip(5), 5.0)
    along, across = flowing(made, 90.0), flowing(made, 0.0)

    found = check_plumes(along.snapshot, along.round_id).meetings
    # P4 stands 4 m to the side of P3's narrow plume.
    assert [one.second.label for one in found] == ["P2", "P3", "P5"]
    assert check_plumes(across.snapshot, across.round_id).meetings == ()


def test_when_all_scents_meet_one_sentence_says_so() -> None:
    made = reaching(make_trip(7, gap_deg=0.00002), 5.0)
    found = check_plumes(made.snapshot, made.round_id)

    assert found.all_meet
    assert [one.text for one in found.warnings] == [CHOICE_TEST]
    assert len(found.meetings) > 10


def test_traps_without_bait_do_not_keep_a_round_from_being_a_choice_test() -> None:
    made = make_trip(8, gap_deg=0.00002, baits=("herring", "liver", "no bait"))
    baits = [made.snapshot.need(Bait, key) for key in made.bait_ids]
    made = made.with_rows(*(bait.with_(still_reach_m=5.0) for bait in baits[:2]))

    found = check_plumes(made.snapshot, made.round_id)

    assert found.all_meet
    assert len(found.plumes) == 6


def test_one_bait_alone_is_no_choice_test() -> None:
    made = reaching(make_trip(7, gap_deg=0.00002, baits=("herring",)), 5.0)
    found = check_plumes(made.snapshot, made.round_id)

    assert not found.all_meet
    assert [one.text for one in found.warnings] == ["All scents meet; they are of one bait only."]


def test_nothing_is_drawn_where_nothing_is_assumed() -> None:
    made = make_trip(3)
    found = check_plumes(made.snapshot, made.round_id)

    assert (found.plumes, found.meetings, found.all_meet) == ((), (), False)


def test_the_assumptions_are_said_as_assumptions() -> None:
    made = reaching(make_trip(2), 5.0)
    current = flowing(made, 135.0)

    assert "set by you" in check_plumes(made.snapshot, made.round_id).assumptions
    words = check_plumes(current.snapshot, current.round_id).assumptions
    assert "0.05 m/s towards 135°" in words
    assert "mixing assumed for lake shore" in words


def test_a_round_without_positions_has_no_plumes() -> None:
    made = reaching(make_trip(3, has_positions=False), 5.0)

    assert check_plumes(made.snapshot, made.round_id).plumes == ()

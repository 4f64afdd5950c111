"""Places: added, moved, measured, ordered, deleted; every step undone and redone."""

from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from tests.actions.bench import Bench
from trapline.actions.editing import edit
from trapline.actions.fair_order import draw_fair_order
from trapline.actions.places import (
    add_places,
    clear_position,
    delete_places,
    edit_place,
    labels_from,
    leave_out,
    move_place,
    next_label,
    order_places,
    take_in,
)
from trapline.actions.setting import record_really_done
from trapline.errors import Conflict, InvalidValue
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip


def labels(bench: Bench) -> list[str]:
    return [row.label for row in bench.snapshot.places(bench.line_id)]


def measured(bench: Bench, label: str, rope_m: float, origin: str = "P1") -> Place:
    """Return a place 90° from another one, not yet written."""
    return Place(
        label=label,
        fix="rope and bearing",
        from_place_id=bench.place(origin).id,
        rope_m=rope_m,
        bearing_deg=90.0,
    )


def test_added_places_come_last_and_are_planned_in_the_round(bench: Bench) -> None:
    new = [Place(label="A"), Place(label="B", lon_deg=10.0, lat_deg=60.1, fix="map")]
    bench.does(add_places, bench.line_id, new, round_id=bench.round_id)
    assert labels(bench)[-2:] == ["A", "B"]
    assert [bench.snapshot.place_label(row) for row in bench.snapshot.sets(bench.round_id)] == (
        labels(bench)
    )


def test_without_a_round_places_are_on_the_line_only(bench: Bench) -> None:
    bench.does(add_places, bench.line_id, [Place(label="A")])
    assert len(bench.snapshot.sets(bench.round_id)) == 7


def test_a_stake_is_not_fished(bench: Bench) -> None:
    stake = Place(label="Stake", is_stake=True, lon_deg=10.0, lat_deg=60.0, fix="typed")
    bench.does(add_places, bench.line_id, [stake], round_id=bench.round_id)
    assert len(bench.snapshot.sets(bench.round_id)) == 7


def test_a_stake_is_not_taken_into_a_round_and_what_is_planned_for_is_no_stake(
    bench: Bench,
) -> None:
    stake = Place(label="Stake", is_stake=True)
    add_places(bench.project, bench.line_id, [stake])
    problem = bench.refuses(take_in, bench.round_id, [stake.id])
    assert "'Stake' is a stake" in problem.error
    one, two = bench.place("P1"), bench.place("P2")
    row = bench.snapshot.sets(bench.round_id)[0]
    leave_out(bench.project, [bench.snapshot.sets(bench.round_id)[1].id])
    record_really_done(bench.project, row.id, place_id=two.id)
    bench.refuses(edit_place, one.id, is_stake=True)  # the next round goes there again


def test_a_place_measured_from_one_added_with_it_gets_its_position(bench: Bench) -> None:
    stake = Place(label="Stake", is_stake=True, lon_deg=10.0, lat_deg=60.0, fix="typed")
    rope = Place(
        label="R", fix="rope and bearing", from_place_id=stake.id, rope_m=12.0, bearing_deg=30.0
    )
    bench.does(add_places, bench.line_id, [stake, rope])
    # Computed independently with GeographicLib: the direct problem.
    wanted = Geodesic.WGS84.Direct(60.0, 10.0, 30.0, 12.0)
    found = bench.place("R")
    assert (found.lon_deg, found.lat_deg) == pytest.approx(
        (wanted["lon2"], wanted["lat2"]), abs=1e-12
    )


@pytest.mark.parametrize("label", ["P3", " p3 "])
def test_a_taken_label_is_refused_and_nothing_of_the_batch_is_kept(
    bench: Bench, label: str
) -> None:
    problem = bench.refuses(add_places, bench.line_id, [Place(label="A"), Place(label=label)])
    assert label in problem.error


def test_a_label_doubled_within_the_batch_is_refused(bench: Bench) -> None:
    bench.refuses(add_places, bench.line_id, [Place(label="A"), Place(label="a")])


def test_places_need_a_line_and_a_round_that_are_there(bench: Bench) -> None:
    bench.refuses(add_places, "no such line", [Place(label="A")])
    bench.refuses(add_places, bench.line_id, [Place(label="A")], round_id="no such round")


def test_labels_count_on_and_leave_out_those_that_are_taken(bench: Bench) -> None:
    snapshot, line_id = bench.snapshot, bench.line_id
    assert next_label(snapshot, line_id) == "P8"
    assert next_label(snapshot, line_id, ["p8"]) == "P9"
    assert next_label(snapshot, "an empty line") == "P1"
    assert labels_from(snapshot, line_id, "P6", 3) == ["P8", "P9", "P10"]
    assert labels_from(snapshot, line_id, "007", 2) == ["007", "008"]
    assert labels_from(snapshot, line_id, "Bay", 3) == ["Bay", "Bay 2", "Bay 3"]


def test_moving_carries_along_what_is_measured_rope_by_rope(bench: Bench) -> None:
    first = measured(bench, "R1", 10.0)
    add_places(bench.project, bench.line_id, [first])
    add_places(bench.project, bench.line_id, [measured(bench, "R2", 5.0, "R1")])
    bench.does(move_place, bench.place("P1").id, 11.0, 61.0)
    one = Geodesic.WGS84.Direct(61.0, 11.0, 90.0, 10.0)
    two = Geodesic.WGS84.Direct(one["lat2"], one["lon2"], 90.0, 5.0)
    found = bench.place("R2")
    assert (found.lon_deg, found.lat_deg) == pytest.approx((two["lon2"], two["lat2"]), abs=1e-12)


def test_a_moved_place_forgets_its_rope_and_its_accuracy(bench: Bench) -> None:
    place = measured(bench, "R1", 10.0).with_(accuracy_m=3.0)
    add_places(bench.project, bench.line_id, [place])
    bench.does(move_place, place.id, 11.0, 61.0, fix="typed")
    found = bench.place("R1")
    assert (found.fix, found.rope_m, found.from_place_id) == ("typed", None, None)
    assert found.accuracy_m is None


@pytest.mark.parametrize(("lon_deg", "lat_deg"), [(10.0, 91.0), (float("nan"), 60.0)])
def test_a_place_cannot_move_off_the_earth(bench: Bench, lon_deg: float, lat_deg: float) -> None:
    bench.refuses(move_place, bench.place("P1").id, lon_deg, lat_deg)


def test_clearing_a_position_clears_what_is_measured_from_it(bench: Bench) -> None:
    add_places(bench.project, bench.line_id, [measured(bench, "R1", 10.0)])
    bench.does(clear_position, [bench.place("P1").id, bench.place("P2").id])
    assert [bench.place(label).has_position for label in ("P1", "P2", "P3", "R1")] == [
        False, False, True, False,
    ]  # fmt: skip
    assert bench.place("P1").fix == "not fixed"
    assert bench.place("R1").fix == "rope and bearing"  # found again when P1 is


def test_clearing_a_place_that_is_not_there_is_refused(bench: Bench) -> None:
    bench.refuses(clear_position, [bench.place("P1").id, "no such place"])


def by_rope(from_place_id: str, rope_m: float, bearing_deg: float) -> dict[str, Any]:
    """Return what fixes a place by rope and bearing."""
    return {
        "fix": "rope and bearing", "from_place_id": from_place_id, "rope_m": rope_m,
        "bearing_deg": bearing_deg,
    }  # fmt: skip


def test_a_place_is_measured_from_another(bench: Bench) -> None:
    bench.does(edit_place, bench.place("P2").id, **by_rope(bench.place("P1").id, 8.0, 270.0))
    wanted = Geodesic.WGS84.Direct(60.0, bench.place("P1").lon_deg, 270.0, 8.0)
    assert bench.place("P2").lon_deg == pytest.approx(wanted["lon2"], abs=1e-12)


def test_no_circle_of_ropes(bench: Bench) -> None:
    one, two = bench.place("P1").id, bench.place("P2").id
    edit_place(bench.project, two, **by_rope(one, 8.0, 90.0))
    problem = bench.refuses(edit_place, one, **by_rope(two, 8.0, 90.0))
    assert isinstance(problem, InvalidValue)
    bench.refuses(edit_place, one, **by_rope(one, 8.0, 90.0))


def test_a_circle_of_ropes_from_another_program_is_not_gone_round_for_ever(bench: Bench) -> None:
    one, two, three = (bench.place(label) for label in ("P1", "P2", "P3"))
    with bench.project.change("As another program may write it") as change:
        change.update(one.with_(**by_rope(two.id, 8.0, 90.0)))
        change.update(two.with_(**by_rope(one.id, 8.0, 270.0)))
    bench.does(move_place, two.id, 10.0, 60.0)  # which breaks it
    assert bench.place("P1").lon_deg == pytest.approx(10.000143, abs=1e-6)
    with bench.project.change("As another program may write it") as change:
        change.update(bench.place("P2").with_(**by_rope(one.id, 8.0, 270.0)))
    bench.refuses(edit_place, three.id, **by_rope(one.id, 5.0, 0.0))


def test_editing_a_place_is_one_step_whatever_the_fields(bench: Bench) -> None:
    add_places(bench.project, bench.line_id, [measured(bench, "R1", 10.0)])
    bench.does(
        edit_place, bench.place("P1").id,
        label="Alder", depth_m=1.5, bottom="sand", lon_deg=11.0, lat_deg=61.0, fix="GPS",
        accuracy_m=4.0,
    )  # fmt: skip
    assert bench.place("Alder").accuracy_m == 4.0
    assert bench.place("R1").lat_deg == pytest.approx(61.0, abs=1e-6)


def test_an_edited_place_without_a_position_is_not_fixed(bench: Bench) -> None:
    bench.does(edit_place, bench.place("P1").id, lon_deg=None, lat_deg=None)
    assert (bench.place("P1").fix, bench.place("P1").accuracy_m) == ("not fixed", None)
    bench.does(edit_place, bench.place("P1").id, lon_deg=10.0, lat_deg=60.0)
    assert bench.place("P1").fix == "typed"


@pytest.mark.parametrize(
    "values",
    [
        {"label": "P2"},
        {"label": " "},
        {"depth_m": -1.0},
        {"lon_deg": None},
        {"fix": "rope and bearing"},
        {"is_stake": True},
    ],
)
def test_an_edit_that_cannot_be_is_refused(bench: Bench, values: dict[str, object]) -> None:
    bench.refuses(edit_place, bench.place("P1").id, **values)


def test_the_order_along_the_line_can_be_changed(bench: Bench) -> None:
    ids = [row.id for row in bench.snapshot.places(bench.line_id)]
    bench.does(order_places, bench.line_id, ids[::-1])
    assert labels(bench) == ["P7", "P6", "P5", "P4", "P3", "P2", "P1"]
    assert bench.snapshot.place_label(bench.snapshot.sets(bench.round_id)[0]) == "P7"


def test_an_order_must_name_every_place_once(bench: Bench) -> None:
    ids = [row.id for row in bench.snapshot.places(bench.line_id)]
    bench.refuses(order_places, bench.line_id, ids[:-1])
    bench.refuses(order_places, bench.line_id, [*ids[:-1], ids[0]])
    bench.refuses(order_places, bench.line_id, [*ids, ids[0]])


def test_a_trap_that_was_put_elsewhere_stays_when_its_planned_place_goes(bench: Bench) -> None:
    one, two = bench.snapshot.sets(bench.round_id)[:2]
    leave_out(bench.project, [two.id])
    record_really_done(bench.project, one.id, place_id=two.place_id)
    bench.does(delete_places, [bench.place("P1").id])
    row = bench.snapshot.need(TrapSet, one.id)
    assert (row.place_id, row.planned_place_id) == (two.place_id, two.place_id)


def test_a_deleted_place_takes_its_planned_traps_along(bench: Bench) -> None:
    bench.does(delete_places, [bench.place("P1").id])
    assert labels(bench)[0] == "P2"
    assert len(bench.snapshot.sets(bench.round_id)) == 6


def test_places_measured_from_one_another_go_together_only(bench: Bench) -> None:
    add_places(bench.project, bench.line_id, [measured(bench, "R1", 10.0)])
    problem = bench.refuses(delete_places, [bench.place("P1").id])
    assert isinstance(problem, Conflict)
    assert "R1" in problem.error
    bench.does(delete_places, [bench.place("P1").id, bench.place("R1").id])


def test_a_place_where_a_trap_was_set_stays(bench: Bench) -> None:
    bench.set_all()
    problem = bench.refuses(delete_places, [bench.place("P1").id])
    assert "P1" in problem.error


def test_a_place_is_left_out_of_a_round_and_taken_in_again(bench: Bench) -> None:
    row = bench.snapshot.sets(bench.round_id)[2]
    bench.does(leave_out, [row.id])
    assert bench.snapshot.get(TrapSet, row.id) is None
    assert "P3" in labels(bench)
    bench.does(take_in, bench.round_id, [bench.place("P3").id, bench.place("P4").id])
    assert len(bench.snapshot.sets(bench.round_id)) == 7


def test_a_place_taken_in_again_has_the_bait_that_was_drawn_for_it(bench: Bench) -> None:
    draw_fair_order(bench.project, bench.trip_id, bench.bait_ids()[:2], n_rounds=2, seed=1)
    drawn = bench.snapshot.sets(bench.round_id)[2]
    leave_out(bench.project, [drawn.id])
    spare = Place(label="Spare")
    add_places(bench.project, bench.line_id, [spare])
    bench.does(take_in, bench.round_id, [bench.place("P3").id, spare.id])
    again = bench.snapshot.sets(bench.round_id)
    assert again[2].with_(id=drawn.id) == drawn
    assert (again[-1].place_id, again[-1].bait_id) == (spare.id, None)
    edit(bench.project, Trip, bench.trip_id, layout_draw="{]")
    leave_out(bench.project, [again[2].id])
    take_in(bench.project, bench.round_id, [bench.place("P3").id])
    assert bench.snapshot.sets(bench.round_id)[2].bait_id is None


def test_a_trap_in_the_water_is_not_left_out(bench: Bench) -> None:
    bench.set_all()
    bench.refuses(leave_out, [bench.snapshot.sets(bench.round_id)[0].id])


def test_only_known_places_are_taken_into_known_rounds(bench: Bench) -> None:
    bench.refuses(take_in, "no such round", [bench.place("P3").id])
    bench.refuses(take_in, bench.round_id, ["no such place"])

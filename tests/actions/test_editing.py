"""The lists: rows added, edited, deleted; names used once, nothing deleted that is in use."""

import pytest

from tests.actions.bench import Bench, assign_bait
from trapline.actions.editing import add, delete, edit, name_of, write
from trapline.actions.fair_order import assign_traps, draw_fair_order
from trapline.actions.places import leave_out
from trapline.errors import Conflict, InvalidValue
from trapline.model.bait import Bait
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip
from trapline.model.water import Water


def test_rows_are_added_in_one_step(bench: Bench) -> None:
    bench.does(add, Species(name="Noble crayfish"), Water(name="Upper pond"))
    assert [row.name for row in bench.snapshot.all(Species)] == ["Noble crayfish"]


@pytest.mark.parametrize(
    "row",
    [
        Water(name="mill pond"),
        Bait(name=" Liver "),
        Trap(number="7"),
        Trip(name="FIRST"),
    ],
)
def test_a_name_is_used_once_in_its_list(bench: Bench, row: Water | Bait | Trap | Trip) -> None:
    problem = bench.refuses(add, Species(name="Perch"), row)
    assert isinstance(problem, InvalidValue)
    assert name_of(row) in problem.error


def test_names_of_places_and_lines_are_used_once_where_they_are(bench: Bench) -> None:
    bench.refuses(add, Place(label="p1", line_id=bench.line_id))
    bench.does(add, Place(label="P1", line_id=None))
    bench.refuses(add, Line(name="west BANK", water_id=bench.water_id))
    bench.does(add, Line(name="West bank"))


def test_rows_are_edited_alike_in_one_step(bench: Bench) -> None:
    traps = [row.id for row in bench.snapshot.all(Trap)[:3]]
    bench.does(edit, Trap, traps, kind="funnel", mesh_mm=10.0)
    assert [row.kind for row in bench.snapshot.all(Trap)[:4]] == ["funnel"] * 3 + [""]


def test_a_field_may_be_called_label(bench: Bench) -> None:
    bench.does(edit, Place, bench.place("P1").id, "Rename place", label="Alder")
    assert bench.place("Alder").ordinal == 1
    assert bench.project.history()[0].label == "Rename place"


def test_one_bad_row_of_several_changes_none(bench: Bench) -> None:
    baits = bench.bait_ids()
    bench.refuses(edit, Bait, baits, name="all alike")
    bench.refuses(edit, Bait, [*baits, "no such bait"], cost="1")
    bench.refuses(edit, Bait, baits[0], still_reach_m=-1.0)
    bench.refuses(edit, Bait, baits[0], colour="blue")


def test_two_names_that_differ_in_spaces_are_one(bench: Bench) -> None:
    for name in ("Maize  cake", "maize\u00a0cake", " maize cake"):
        assert "already a bait" in bench.refuses(add, Bait(name=name)).error


def test_a_bait_may_keep_its_own_name(bench: Bench) -> None:
    bench.does(edit, Bait, bench.bait_id("liver"), name="Liver")


def test_whole_rows_are_changed_and_added_in_one_step_and_may_swap_names(bench: Bench) -> None:
    liver, corn = bench.snapshot.all(Bait)[:2]
    rows = [liver.with_(name="corn"), corn.with_(name="liver"), Bait(name="fish heads")]
    bench.does(write, rows, "Paste")
    assert [row.name for row in bench.snapshot.all(Bait)] == [
        "corn", "liver", "maize cake", "no bait", "fish heads",
    ]  # fmt: skip
    bench.refuses(write, [liver.with_(name="no bait")], "Paste")
    bench.refuses(write, [Bait(name="a"), Bait(name="A")], "Paste")


def test_unused_rows_are_deleted_together(bench: Bench) -> None:
    bench.does(delete, Trap, [row.id for row in bench.snapshot.all(Trap)])
    assert bench.snapshot.all(Trap) == ()


def test_what_is_in_use_stays_with_all_that_was_to_go_with_it(bench: Bench) -> None:
    sets = bench.snapshot.sets(bench.round_id)
    traps = [row.id for row in bench.snapshot.all(Trap)]
    assign_traps(bench.project, {sets[0].id: traps[0]})
    assign_bait(bench.project, [sets[0].id, sets[1].id], bench.bait_id("corn"))
    problem = bench.refuses(delete, Trap, traps)
    assert isinstance(problem, Conflict)
    assert "1 trap set uses it" in problem.error
    assert "2 trap sets use it" in bench.refuses(delete, Bait, bench.bait_ids()).error
    bench.refuses(delete, Water, [bench.water_id])
    bench.refuses(delete, Line, [bench.line_id])
    bench.refuses(delete, Round, [bench.round_id])


def test_a_bait_that_a_fair_order_still_deals_out_stays(bench: Bench) -> None:
    """Without it the next round could not be planned."""
    row = bench.snapshot.sets(bench.round_id)[0]
    leave_out(bench.project, [one.id for one in bench.snapshot.sets(bench.round_id)[2:]])
    baits = bench.bait_ids()[:3]
    draw_fair_order(bench.project, bench.trip_id, baits, kind="whole line", n_rounds=3, seed=1)
    hung = {one.bait_id for one in bench.snapshot.sets(row.round_id or "")}
    (later,) = set(baits) - hung
    problem = bench.refuses(delete, Bait, [later])
    assert "the fair order of 'First' deals it out" in problem.error
    draw_fair_order(bench.project, bench.trip_id, [one for one in baits if one != later], seed=1)
    bench.does(delete, Bait, [later])


def test_a_reference_of_the_trip_counts_as_use(bench: Bench) -> None:
    perch = Species(name="Perch")
    add(bench.project, perch)
    edit(bench.project, Trip, bench.trip_id, target_species_id=perch.id)
    bench.refuses(delete, Species, [perch.id])


def test_an_unknown_row_is_refused(bench: Bench) -> None:
    bench.refuses(delete, Trap, ["no such trap"])
    bench.refuses(edit, Trap, "no such trap", kind="x")


def test_the_project_is_renamed_like_any_row(bench: Bench) -> None:
    info = bench.snapshot.project
    bench.does(edit, ProjectInfo, info.id, name="Mill pond", notes="Begun in the rain.")
    bench.refuses(edit, ProjectInfo, info.id, name="")


def test_rows_without_a_name_are_called_by_their_noun(bench: Bench) -> None:
    assert name_of(bench.round()) == "round 1"
    assert name_of(bench.snapshot.sets(bench.round_id)[0]) == "trap set"

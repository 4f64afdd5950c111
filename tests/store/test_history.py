"""Undo and redo as rows, across openings and beside other programs, and putting one line back."""

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from trapline.errors import Conflict
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.store.project import EarlierSitting, Project

Dump = Callable[[Path], list[str]]
Outside = Callable[..., None]


def nouns_of(dumped: list[str]) -> list[str]:
    """The rows of a dump that undo answers for: not the history, nor when a layer changed last."""
    outside = ('INSERT INTO "app_', 'INSERT INTO "gpkg_contents"', 'INSERT INTO "sqlite_sequence"')
    return sorted(line for line in dumped if not line.startswith(outside))


def test_undo_and_redo_bring_the_rows_back_exactly(lake: Project, dump: Dump) -> None:
    before = nouns_of(dump(lake.path))
    trap_set = lake.snapshot().all(TrapSet)[0]
    with lake.change("Delete a trap set and its catch") as change:
        for catch in change.snapshot.catches(trap_set.id):
            change.delete(catch)
        change.delete(trap_set)
    after = nouns_of(dump(lake.path))
    assert after != before
    undone = lake.undo()
    assert undone.label == "Delete a trap set and its catch"
    assert undone.ids("trap_set") == {trap_set.id}
    assert lake.last_changes == undone
    assert nouns_of(dump(lake.path)) == before  # the row numbers too
    lake.redo()
    assert nouns_of(dump(lake.path)) == after


def test_a_step_that_touches_a_row_several_times_is_taken_back_whole(
    lake: Project, dump: Dump
) -> None:
    before = nouns_of(dump(lake.path))
    old = lake.snapshot().all(Place)[-1]
    with lake.change("Busy") as change:
        bait = change.insert(Bait(name="One"))
        bait = change.update(bait.with_(name="Two"))
        change.delete(bait)
        change.insert(bait.with_(name="Three"))
        change.update(old.with_(depth_m=2))
        change.update(old.with_(depth_m=3))
        change.update(old)
    after = nouns_of(dump(lake.path))
    assert lake.snapshot().need(Bait, bait.id).name == "Three"
    lake.undo()
    assert nouns_of(dump(lake.path)) == before
    lake.redo()
    assert nouns_of(dump(lake.path)) == after


def test_a_new_step_gives_up_what_could_be_redone(lake: Project) -> None:
    for name in ("one", "two"):
        with lake.change(f"Add {name}") as change:
            change.insert(Bait(name=name))
    lake.undo()
    step = lake.next_redo()
    assert step is not None
    assert step.label == "Add two"
    with lake.change("Add three") as change:
        change.insert(Bait(name="three"))
    assert lake.next_redo() is None
    with pytest.raises(Conflict, match="nothing to redo"):
        lake.redo()
    assert [step.state for step in lake.history(3)] == ["done", "dropped", "done"]


def test_several_steps_are_redone_in_their_order(lake: Project) -> None:
    for name in ("one", "two", "three"):
        with lake.change(f"Add {name}") as change:
            change.insert(Bait(name=name))
    for _ in range(3):
        lake.undo()
    assert [lake.redo().label for _ in range(3)] == ["Add one", "Add two", "Add three"]


def test_an_earlier_sitting_is_undone_only_when_that_is_wanted(lake: Project) -> None:
    for name in ("Squid", "Liver"):
        with lake.change(f"Add {name}") as change:
            change.insert(Bait(name=name))
    here = lake.next_undo()
    assert here is not None
    assert not lake.is_earlier(here)
    for _ in range(2):
        lake.undo(into_earlier_sitting=False)
    step = lake.next_undo()
    assert step is not None
    assert lake.is_earlier(step)
    kept = lake.snapshot()
    with pytest.raises(EarlierSitting, match="earlier sitting"):
        lake.undo(into_earlier_sitting=False)
    assert lake.snapshot() is kept
    lake.undo()
    assert lake.snapshot().all(Bait) == ()


@pytest.mark.parametrize("verb", ["undo", "redo"])
def test_undo_refuses_where_another_program_changed_the_row(
    lake: Project, dump: Dump, change_outside: Outside, verb: str
) -> None:
    place = lake.snapshot().all(Place)[1]
    with lake.change("Deepen") as change:
        change.update(change.snapshot.all(Bait)[0].with_(cost="3"))
        change.update(place.with_(depth_m=4))
    if verb == "redo":
        lake.undo()
    change_outside(lake.path, f"UPDATE place SET depth_m = 5 WHERE id = '{place.id}'")
    before = dump(lake.path)
    with pytest.raises(Conflict, match="changed by another program") as caught:
        getattr(lake, verb)()
    assert "nothing was changed" in caught.value.what_to_do
    assert dump(lake.path) == before
    assert lake.snapshot().need(Place, place.id).depth_m == 5


def test_undo_refuses_where_another_program_deleted_the_row(
    lake: Project, dump: Dump, change_outside: Outside
) -> None:
    with lake.change("Count") as change:
        catch = change.snapshot.all(Catch)[0]
        change.update(catch.with_(count=4))
    change_outside(lake.path, f"DELETE FROM catch WHERE id = '{catch.id}'")
    before = dump(lake.path)
    with pytest.raises(Conflict):
        lake.undo()
    assert dump(lake.path) == before


def test_a_row_that_came_back_under_a_number_in_use_is_refused_in_a_sentence(
    lake: Project, dump: Dump, change_outside: Outside
) -> None:
    with lake.change("Delete") as change:
        catch = change.snapshot.all(Catch)[-1]
        change.delete(catch)
    change_outside(
        lake.path,
        "INSERT INTO catch (fid, id, fate, count, measure_name, notes)"
        " VALUES (3, 'from elsewhere', 'kept', 1, '', '')",
    )
    before = dump(lake.path)
    with pytest.raises(Conflict, match="refuses this step"):
        lake.undo()
    assert dump(lake.path) == before


def test_a_column_that_a_gis_added_is_kept_by_change_and_undo(
    lake: Project, dump: Dump, change_outside: Outside
) -> None:
    places = lake.snapshot().all(Place)
    with lake.change("Before the column") as change:
        change.update(places[1].with_(depth_m=2))
    change_outside(
        lake.path,
        'ALTER TABLE place ADD COLUMN "seen ""by""" TEXT',
        f'UPDATE place SET "seen ""by""" = \'me\' WHERE id = \'{places[2].id}\'',
    )
    before = nouns_of(dump(lake.path))
    with lake.change("Edit, delete") as change:
        change.update(places[2].with_(depth_m=9))
        trap_set = next(row for row in change.snapshot.all(TrapSet) if row.place_id == places[2].id)
        for catch in change.snapshot.catches(trap_set.id):
            change.delete(catch)
        change.delete(trap_set)
        change.delete(places[2])
    lake.undo()
    assert nouns_of(dump(lake.path)) == before
    step = lake.next_undo()
    with lake.change("Nothing new") as change:
        change.update(change.snapshot.need(Place, places[2].id))
    assert lake.next_undo() == step
    lake.undo()  # the step from before the column still fits
    assert lake.snapshot().need(Place, places[1].id) == places[1]


@pytest.mark.parametrize(
    "text",
    [
        "{\"label = 'x' --\": 1}",
        '{"id": "a", "nothing": 1}',
        "[1, 2]",
        "not JSON",
        '{"label": {"hex": "zz"}}',
        '{"label": {}}',
        "[" * 100_000,
    ],
)
def test_a_forged_or_damaged_history_is_refused(lake: Project, dump: Dump, text: str) -> None:
    with lake.change("Rename") as change:
        change.update(change.snapshot.all(Place)[0].with_(label="renamed"))
    with closing(sqlite3.connect(lake.path)) as other:
        other.execute("UPDATE app_step_row SET before = ? WHERE step = 3", (text,))
        other.commit()
    before = dump(lake.path)
    with pytest.raises(Conflict, match="does not fit the table 'place'"):
        lake.undo()
    assert dump(lake.path) == before


def test_a_history_that_names_a_table_of_another_kind_is_refused(
    lake: Project, dump: Dump, change_outside: Outside
) -> None:
    change_outside(lake.path, "UPDATE app_step_row SET table_name = 'app_meta'")
    before = dump(lake.path)
    with pytest.raises(Conflict, match="app_meta"):
        lake.undo()
    assert dump(lake.path) == before


# Putting one line back


def test_one_line_is_put_back_as_a_new_step(lake: Project) -> None:
    place = lake.snapshot().all(Place)[1]
    with lake.change("Move P1") as change:
        change.update(place.with_(lon_deg=10.5))
        change.update(place.with_(lon_deg=10.6))
    with lake.change("Add a bait") as change:
        bait = change.insert(Bait(name="Squid"))
    moved = lake.history()[1]
    changes = lake.revert(moved.step)
    assert changes.label == "Put back: Move P1"
    assert lake.snapshot().need(Place, place.id) == place
    assert lake.snapshot().get(Bait, bait.id) == bait
    assert lake.history(1)[0].label == "Put back: Move P1"
    lake.undo()
    assert lake.snapshot().need(Place, place.id).lon_deg == 10.6


def test_a_deleted_row_is_put_back_with_its_number(lake: Project, dump: Dump) -> None:
    before = nouns_of(dump(lake.path))
    with lake.change("Delete a catch") as change:
        change.delete(change.snapshot.all(Catch)[0])
    with lake.change("Look elsewhere") as change:
        change.insert(Bait(name="Squid"))
    lake.revert(lake.history()[1].step)
    with Project.open(lake.path) as again:
        assert [row.id for row in again.snapshot().all(Catch)] == [
            row.id for row in lake.snapshot().all(Catch)
        ]
    lake.revert(lake.history()[1].step)  # the bait away again
    assert nouns_of(dump(lake.path)) == before


def test_a_line_is_not_put_back_where_something_later_touched_its_rows(
    lake: Project, dump: Dump
) -> None:
    place = lake.snapshot().all(Place)[1]
    for depth_m in (2, 3):
        with lake.change(f"Depth {depth_m}") as change:
            change.update(place.with_(depth_m=depth_m))
    before = dump(lake.path)
    with pytest.raises(Conflict, match="changed again since"):
        lake.revert(lake.history()[1].step)
    assert dump(lake.path) == before


def test_a_line_is_not_put_back_twice_nor_after_its_undo(lake: Project, dump: Dump) -> None:
    with lake.change("Add") as change:
        change.insert(Bait(name="Squid"))
    number = lake.history(1)[0].step
    lake.undo()
    with pytest.raises(Conflict, match="it was undone"):
        lake.revert(number)
    lake.redo()
    lake.revert(number)
    before = dump(lake.path)
    with pytest.raises(Conflict, match="changed again since"):
        lake.revert(number)
    with pytest.raises(Conflict, match="no step 99"):
        lake.revert(99)
    with pytest.raises(Conflict, match="began the project"):
        lake.revert(1)
    assert dump(lake.path) == before


def test_a_line_whose_rows_are_in_use_now_is_not_put_back(lake: Project, dump: Dump) -> None:
    with lake.change("Add") as change:
        bait = change.insert(Bait(name="Squid"))
    number = lake.history(1)[0].step
    with lake.change("Use it") as change:
        change.update(change.snapshot.all(TrapSet)[0].with_(bait_id=bait.id))
    before = dump(lake.path)
    with pytest.raises(Conflict, match=r"The bait 'Squid' is still used by: 1 × trap set"):
        lake.revert(number)
    assert dump(lake.path) == before

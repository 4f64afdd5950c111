"""A row that others refer to does not go, and the refusal names what still needs it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from trapline.errors import Conflict
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project

Dump = Callable[[Path], list[str]]
Outside = Callable[..., None]


@pytest.mark.parametrize(
    ("noun", "sentence"),
    [
        (Water, "The water 'Long pond' is still used by: 1 × line, 1 × trip."),
        (Line, "The line 'North bank' is still used by: 4 × place, 1 × trip."),
        (Place, "The place 'Stake' is still used by: 3 × place."),
        (Trap, "The trap '7' is still used by: 3 × trap set."),
        (Bait, "The bait 'Fish & oil' is still used by: 1 × trip, 6 × trap set."),
        (Species, "The species 'Crayfish' is still used by: 1 × trip, 3 × catch."),
        (Trip, "The trip 'August' is still used by: 1 × round."),
        (Round, "The round '1' is still used by: 3 × trap set."),
        (TrapSet, "A trap set is still used by: 1 × catch."),
    ],
)
def test_a_row_that_is_referred_to_is_not_deleted(
    lake: Project, dump: Dump, noun: type[Noun], sentence: str
) -> None:
    before, kept = dump(lake.path), lake.snapshot()
    with pytest.raises(Conflict) as caught, lake.change("Delete") as change:
        change.delete(change.snapshot.all(noun)[0])
    said = caught.value
    head, _, users = sentence.partition("by: ")
    assert said.error.startswith(head)
    assert set(said.error.partition("by: ")[2].rstrip(".").split(", ")) == set(
        users.rstrip(".").split(", ")
    )
    assert said.where == noun.noun
    assert "nothing was changed" in said.what_to_do
    assert dump(lake.path) == before
    assert lake.snapshot() == kept


def test_a_row_cannot_refer_to_one_that_is_not_there(lake: Project, dump: Dump) -> None:
    before = dump(lake.path)
    with pytest.raises(Conflict) as caught, lake.change("Set") as change:
        change.insert(Line(name="Ghost line", water_id="nowhere"))
    assert caught.value.error == "The line 'Ghost line' refers to a water that is not there."
    assert dump(lake.path) == before


def test_rows_may_go_in_any_order_within_a_change(lake: Project) -> None:
    with lake.change("Delete all trap sets") as change:
        catches = change.snapshot.all(Catch)
        for row in (*change.snapshot.all(TrapSet), *catches):
            change.delete(row)
    assert lake.snapshot().all(Catch) == ()
    lake.undo()
    assert lake.snapshot().all(Catch) == catches


def test_an_undo_that_would_leave_a_reference_of_another_program_is_refused(
    lake: Project, dump: Dump, change_outside: Outside
) -> None:
    with lake.change("Add") as change:
        bait = change.insert(Bait(name="Squid"))
    change_outside(lake.path, f"UPDATE trap_set SET bait_id = '{bait.id}' WHERE fid = 1")
    before = dump(lake.path)
    with pytest.raises(Conflict, match=r"The bait 'Squid' is still used by: 1 × trap set"):
        lake.undo()
    assert dump(lake.path) == before
    assert lake.next_redo() is None


def test_references_that_another_program_broke_do_not_stop_other_work(
    lake: Project, change_outside: Outside
) -> None:
    change_outside(lake.path, "UPDATE catch SET species_id = 'gone' WHERE fid = 1")
    with lake.change("Go on") as change:
        change.insert(Bait(name="Squid"))
    with pytest.raises(Conflict, match="The trap '7'"), lake.change("Delete") as change:
        change.delete(change.snapshot.all(Trap)[0])
    with lake.change("Mend") as change:
        catch = change.snapshot.all(Catch)[0]
        change.update(catch.with_(species_id=None))

"""A small project to change, and the one check that every action has to pass."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from trapline.actions.editing import add
from trapline.actions.places import add_places
from trapline.actions.round_table import edit_round
from trapline.actions.trips import start_trip
from trapline.errors import TraplineError
from trapline.model.bait import Bait
from trapline.model.changes import Changes
from trapline.model.line import Line, Place
from trapline.model.nouns import NOUNS
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project

BAITS = ("liver", "corn", "maize cake", "no bait")
N_PLACES = 7

Dump = dict[str, list[tuple[Any, ...]]]


def dump(project: Project) -> Dump:
    """Return every row of every table that the user knows, as the file has it."""
    db = project.connection()
    return {
        noun.table: db.execute(f"SELECT * FROM {noun.table} ORDER BY fid").fetchall()
        for noun in NOUNS
    }


def fill(project: Project) -> None:
    """Write a trip of seven places in a row, four baits and ten traps."""
    water = Water(name="Mill pond")
    line = Line(name="West bank", kind="set apart")
    trip = Trip(name="First", started_on="2026-07-01", zone="Europe/Oslo")
    add(project, *(Bait(name=name, is_control=name == "no bait") for name in BAITS))
    add(project, *(Trap(number=str(number)) for number in range(1, 11)))
    start_trip(project, trip, water=water, line=line)
    places = [
        Place(label=f"P{n}", lon_deg=10.0 + n * 2e-4, lat_deg=60.0, fix="GPS")
        for n in range(1, N_PLACES + 1)
    ]
    add_places(project, line.id, places, round_id=project.snapshot().rounds(trip.id)[0].id)


def assign_baits(project: Project, baits: Mapping[str, str | None]) -> Changes:
    """Choose baits by hand, as a pasted column does: trap set id to bait id."""
    return edit_round(project, "Assign baits", baits=baits)


def assign_bait(project: Project, set_ids: Sequence[str], bait_id: str | None) -> Changes:
    """Choose one bait by hand for several trap sets."""
    return assign_baits(project, dict.fromkeys(set_ids, bait_id))


class Bench:
    """The project of :func:`fill`, and what the tests ask of it."""

    def __init__(self, project: Project) -> None:
        self.project = project
        trip = self.snapshot.trips()[0]
        self.trip_id, self.water_id, self.line_id = trip.id, trip.water_id or "", trip.line_id or ""
        self.round_id = self.snapshot.rounds(trip.id)[0].id

    @property
    def snapshot(self) -> Snapshot:
        return self.project.snapshot()

    def place(self, label: str) -> Place:
        return next(row for row in self.snapshot.all(Place) if row.label == label)

    def bait_id(self, name: str) -> str:
        return next(row.id for row in self.snapshot.all(Bait) if row.name == name)

    def bait_ids(self) -> list[str]:
        return [self.bait_id(name) for name in BAITS]

    def round(self, number: int = 1) -> Round:
        return self.snapshot.round_numbered(self.trip_id, number)

    def trip(self) -> Trip:
        return self.snapshot.need(Trip, self.trip_id)

    def set_all(self, round_id: str | None = None) -> None:
        """Put every trap of a round into the water."""
        with self.project.change("Set") as change:
            for row in change.snapshot.sets(round_id or self.round_id):
                change.update(row.with_(state="set", set_utc="2026-07-01T18:00:00Z"))

    def hung(self, round_id: str | None = None) -> list[str]:
        """The names of the planned baits along the line."""
        return [
            bait.name if (bait := self.snapshot.get(Bait, row.planned_bait_id)) else ""
            for row in self.snapshot.sets(round_id or self.round_id)
        ]

    def does(self, action: Callable[..., Changes], *args: Any, **values: Any) -> Changes:
        """Run an action, and see that it is one step which undo and redo carry exactly."""
        steps = len(self.project.history())
        before = dump(self.project)
        rows_before = self.snapshot
        changes = action(self.project, *args, **values)
        after = dump(self.project)
        rows_after = self.snapshot
        assert after != before, "the action changed nothing"
        assert len(self.project.history()) == steps + 1, "the action is not one step"
        self.project.undo()
        assert dump(self.project) == before, "undo left something else"
        assert self.snapshot == rows_before, "undo is not what the program sees"
        self.project.redo()
        assert dump(self.project) == after, "redo made something else"
        assert self.snapshot == rows_after, "redo is not what the program sees"
        return changes

    def refuses(self, action: Callable[..., Changes], *args: Any, **values: Any) -> TraplineError:
        """Run an action that must not be, and see that it left nothing behind."""
        before, steps = dump(self.project), self.project.history()
        with pytest.raises(TraplineError) as caught:
            action(self.project, *args, **values)
        assert dump(self.project) == before, "the refused action left something"
        assert self.project.history() == steps, "the refused action is in the history"
        assert caught.value.error
        assert caught.value.what_to_do
        return caught.value

"""The bench with traps and baits along its line and species to count: ready to go to the water."""

from tests.actions.bench import Bench, assign_baits
from trapline.actions.editing import add, edit
from trapline.actions.fair_order import assign_traps
from trapline.actions.setting import set_in_sequence
from trapline.model.catch import Catch
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip

# 18:00 on the first evening at the trip's place, summer time.
FIRST = "2026-07-01T16:00:00Z"
NEXT_MORNING = "2026-07-02T05:30:00Z"


class WetBench:
    """Short ways to the rows of a :class:`Bench`."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.project = bench.project
        self.target = Species(name="crayfish")
        self.perch = Species(name="perch", role="by-catch")
        add(self.project, self.target, self.perch)
        edit(self.project, Trip, bench.trip_id, target_species_id=self.target.id)
        sets, traps = bench.snapshot.sets(bench.round_id), bench.snapshot.all(Trap)
        numbers = {row.id: trap.id for row, trap in zip(sets, traps, strict=False)}
        assign_traps(self.project, numbers)
        baits = bench.bait_ids()[:2]
        assign_baits(self.project, {row.id: baits[n % 2] for n, row in enumerate(sets)})

    def ids(self, number: int = 1) -> list[str]:
        """The trap sets of a round along the line."""
        return [row.id for row in self.bench.snapshot.sets(self.bench.round(number).id)]

    def row(self, at: int, number: int = 1) -> TrapSet:
        """The trap set at a place of the line, from 1."""
        return self.bench.snapshot.sets(self.bench.round(number).id)[at - 1]

    def trap(self, number: int) -> Trap:
        traps = self.bench.snapshot.all(Trap)
        return next(row for row in traps if row.number == str(number))

    def catches(self, at: int, number: int = 1) -> list[tuple[str | None, str, int | None]]:
        """What was written down at a place: species id, fate, count."""
        rows: tuple[Catch, ...] = self.bench.snapshot.catches(self.row(at, number).id)
        return [(row.species_id, row.fate, row.count) for row in rows]

    def set_all(self) -> None:
        """Set the first round, a trap every two minutes."""
        set_in_sequence(self.project, self.ids(), FIRST, 2)

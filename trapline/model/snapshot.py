"""A frozen picture of the whole project, which every analysis takes and no one can change."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Self, TypeVar, cast

from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

N = TypeVar("N", bound=Noun)


@dataclass(frozen=True)
class Picture:
    """Rows by table and id, as they were at one moment."""

    rows: Mapping[str, Mapping[str, Noun]]

    def all(self, noun: type[N]) -> tuple[N, ...]:
        """Every row of a noun, in the order in which it was first written."""
        return tuple(cast("N", row) for row in self.rows.get(noun.table, {}).values())

    def get(self, noun: type[N], key: str | None) -> N | None:
        """The row with that id, or None."""
        return cast("N | None", self.rows.get(noun.table, {}).get(key or ""))

    def need(self, noun: type[N], key: str | None) -> N:
        """The row with that id.

        Raises
        ------
        InvalidValue
            When it is not there.
        """
        row = self.get(noun, key)
        if row is None:
            raise InvalidValue(
                f"There is no {noun.noun} with the key {key}.", noun.noun, "Choose another one."
            )
        return row

    # Other pictures

    def with_rows(self, changed: Iterable[Noun], gone: Iterable[Noun] = ()) -> Self:
        """Return the same picture with some rows added or replaced and some left out."""
        rows = dict(self.rows)
        for row in changed:
            rows[row.table] = {**rows.get(row.table, {}), row.id: row}
        for row in gone:
            rows[row.table] = {k: v for k, v in rows.get(row.table, {}).items() if k != row.id}
        return replace(self, rows=rows)

    def after(self, changes: Changes) -> Self:
        """Return the picture after a step, as the store has it now."""
        tables: dict[str, dict[str, Noun]] = {}
        for row in changes.rows:
            table = tables.setdefault(row.table, dict(self.rows.get(row.table, {})))
            if row.after is None:
                table.pop(row.id, None)
            else:
                table[row.id] = row.after
        return replace(self, rows={**self.rows, **tables})


class Snapshot(Picture):
    """The picture with the questions that every room asks. Made by the store."""

    @property
    def project(self) -> ProjectInfo:
        """The project's own row."""
        return self.all(ProjectInfo)[0]

    def trips(self) -> tuple[Trip, ...]:
        """All trips, newest first; of the same day the one made last."""
        latest_first = reversed(self.all(Trip))
        return tuple(sorted(latest_first, key=lambda trip: trip.started_on or "", reverse=True))

    def rounds(self, trip_id: str) -> tuple[Round, ...]:
        """The rounds of a trip in their order."""
        found = (row for row in self.all(Round) if row.trip_id == trip_id)
        return tuple(sorted(found, key=lambda row: row.number))

    def round_numbered(self, trip_id: str, number: int | None) -> Round:
        """The round of that number; with None the last one."""
        rounds = self.rounds(trip_id)
        for row in reversed(rounds):
            if number is None or row.number == number:
                return row
        raise InvalidValue(
            f"The trip has no round {number if number is not None else ''}".rstrip() + ".",
            "round",
            f"It has {len(rounds)} rounds.",
        )

    def lines(self, water_id: str | None) -> tuple[Line, ...]:
        """The lines of a water."""
        return tuple(row for row in self.all(Line) if row.water_id == water_id)

    def places(self, line_id: str | None, *, stakes: bool = False) -> tuple[Place, ...]:
        """The places of a line in their order, with its stakes only when asked."""
        found = (row for row in self.all(Place) if row.line_id == line_id)
        kept = (row for row in found if stakes or not row.is_stake)
        return tuple(sorted(kept, key=lambda row: (row.ordinal, row.label)))

    def sets(self, round_id: str) -> tuple[TrapSet, ...]:
        """The trap sets of a round in the order of the line."""
        return self._sets_by_round.get(round_id, ())

    def sets_of_trip(self, trip_id: str) -> Iterator[tuple[Round, TrapSet]]:
        """Every trap set of a trip with its round, in order."""
        for fished in self.rounds(trip_id):
            for row in self.sets(fished.id):
                yield fished, row

    def catches(self, trap_set_id: str) -> tuple[Catch, ...]:
        """The catch rows of one trap set."""
        return tuple(self.catches_by_set.get(trap_set_id, ()))

    @cached_property
    def catches_by_set(self) -> dict[str, list[Catch]]:
        """All catch rows by trap set, gone through once a picture."""
        found: dict[str, list[Catch]] = {}
        for row in self.all(Catch):
            found.setdefault(row.trap_set_id or "", []).append(row)
        return found

    def trip_of(self, trap_set: TrapSet) -> Trip | None:
        """The trip that a trap set belongs to."""
        fished = self.get(Round, trap_set.round_id)
        return self.get(Trip, fished.trip_id) if fished else None

    def position(self, trap_set: TrapSet) -> tuple[float, float] | None:
        """(lon_deg, lat_deg) where the trap really stands, else its place's, else None."""
        if trap_set.lon_deg is not None and trap_set.lat_deg is not None:
            return trap_set.lon_deg, trap_set.lat_deg
        place = self.get(Place, trap_set.place_id)
        if place is None or place.lon_deg is None or place.lat_deg is None:
            return None
        return place.lon_deg, place.lat_deg

    def bait_of(self, trap_set: TrapSet) -> Bait | None:
        """The bait really in the trap; what was planned says nothing of a trap that was set."""
        planned = trap_set.planned_bait_id if trap_set.state == "planned" else None
        return self.get(Bait, trap_set.bait_id or planned)

    def trap_label(self, trap_set: TrapSet) -> str:
        """The number of the trap, or an empty text while none is chosen."""
        trap = self.get(Trap, trap_set.trap_id)
        return trap.number if trap else ""

    def place_label(self, trap_set: TrapSet) -> str:
        """The label of the place of a trap set."""
        place = self.get(Place, trap_set.place_id)
        return place.label if place else ""

    def species(self, role: str | None = None) -> tuple[Species, ...]:
        """The species, all of them or those of one role."""
        return tuple(row for row in self.all(Species) if role in (None, row.role))

    def water_of(self, trip: Trip) -> Water | None:
        """The water of a trip."""
        return self.get(Water, trip.water_id)

    @cached_property
    def _sets_by_round(self) -> dict[str, tuple[TrapSet, ...]]:
        found: dict[str, list[TrapSet]] = {}
        for row in self.all(TrapSet):
            found.setdefault(row.round_id or "", []).append(row)
        return {key: tuple(sorted(rows, key=self._order_along_line)) for key, rows in found.items()}

    def _order_along_line(self, row: TrapSet) -> tuple[str, int, str]:
        place = self.get(Place, row.place_id)
        if place is None:
            return ("", 0, row.id)
        return (place.line_id or "", place.ordinal, row.id)

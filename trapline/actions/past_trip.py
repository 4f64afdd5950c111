"""Past trips typed in from paper: one step, however many rows."""

from collections.abc import Sequence
from typing import TypeVar

from trapline.actions.editing import name_of, plain_name, refuse_double
from trapline.actions.lifting import number_of_lost
from trapline.actions.setting import refuse_two_waters
from trapline.actions.trips import with_gaps
from trapline.errors import InvalidValue
from trapline.exchange.past_rows import PastRow
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.model.catch import Catch
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.instants import local_text
from trapline.model.line import Line, Place
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project
from trapline.store.transaction import Change

N = TypeVar("N", bound=Noun)
_CONTROLS = ("none", "no bait", "control")


def record_past_trip(
    project: Project,
    trip: Trip,
    rows: Sequence[PastRow],
    *,
    water: Water,
    line: Line,
    target: Species,
) -> Changes:
    """Write a whole past trip in one step: rounds, places, traps, baits, lifts and counts.

    What the project knows by name (water, place of the line, trap, bait, species) is used;
    the rest is new. A trap lost then is marked as lost when it is new to the project and no
    later row fishes it.

    Raises
    ------
    InvalidValue
        No rows, a place twice in one round, a stake for a place, or a trap at two places at
        once; `where` names the row.
    """
    if not rows:
        raise InvalidValue("There is no row to write down.", "Rows", "Type or paste some.")
    with project.change(f"Type in past trip {trip.name}".strip()) as change:
        for noun in (water, line.with_(water_id=water.id), target):
            _insert_new(change, noun)
        trip = _insert_trip(change, trip, rows, line, target)
        writer = _Writer(change, trip, line, target)
        for number in sorted({row.round for row in rows}):
            writer.write_round(number, [row for row in rows if row.round == number])
        writer.mark_lost(rows)
        refuse_two_waters(change.snapshot, writer.set_ids)
    return project.last_changes


def _insert_new(change: Change, row: Noun) -> None:
    if change.snapshot.get(type(row), row.id) is None:
        refuse_double(change.snapshot, row)
        change.insert(row)


def _insert_trip(
    change: Change, trip: Trip, rows: Sequence[PastRow], line: Line, target: Species
) -> Trip:
    days = [local_text(row.set_utc, trip.zone, "%Y-%m-%d") for row in rows if row.set_utc]
    trip = trip.with_(
        water_id=change.snapshot.need(Line, line.id).water_id,
        line_id=line.id,
        target_species_id=target.id,
        started_on=min(days) if days else trip.started_on,
    )
    trip = with_gaps(trip, line.kind)
    refuse_double(change.snapshot, trip)
    return change.insert(trip)


class _Writer:
    """Writes the rounds of one past trip inside an open change."""

    def __init__(self, change: Change, trip: Trip, line: Line, target: Species) -> None:
        self.change, self.trip, self.line, self.target = change, trip, line, target
        self.set_ids: list[str] = []
        self.new_traps: set[str] = set()

    def write_round(self, number: int, rows: Sequence[PastRow]) -> None:
        """Write one round with its lifts."""
        days = [local_text(row.set_utc, self.trip.zone, "%Y-%m-%d") for row in rows if row.set_utc]
        fished = Round(trip_id=self.trip.id, number=number, set_on=min(days) if days else None)
        self.change.insert(fished)
        taken: dict[str, int] = {}
        for row in rows:
            for name in (f"place '{row.place}'", f"trap {row.trap}" if row.trap else ""):
                key = name.casefold()
                if name and key in taken:
                    raise InvalidValue(
                        f"Round {number} has {name} twice, in rows {taken[key]} and {row.row}.",
                        f"Row {row.row}",
                        "Correct one of them.",
                    )
                taken[key] = row.row
            self._write_lift(fished, row)

    def _write_lift(self, fished: Round, row: PastRow) -> None:
        place = self._place(row)
        trap = self._trap(row.trap) if row.trap else None
        if trap is None and row.condition == "lost":
            number = number_of_lost(self.change.snapshot, place.label)
            trap = self.change.insert(
                Trap(number=number, state="lost", state_note=self._lost_note(row))
            )
        bait = self._bait(row.bait) if row.bait else None
        counted = row.count is not None and row.condition not in ("robbed", "lost")
        lifted = self.change.insert(
            TrapSet(
                round_id=fished.id,
                trap_id=trap.id if trap else None,
                planned_place_id=place.id,
                place_id=place.id,
                planned_bait_id=bait.id if bait else None,
                bait_id=bait.id if bait else None,
                state="lifted",
                lon_deg=place.lon_deg,
                lat_deg=place.lat_deg,
                set_utc=row.set_utc,
                lift_utc=row.lift_utc,
                bait_hung_utc=row.set_utc,
                condition=row.condition,
                counted=counted,
                afterwards="" if row.condition == "lost" else "out of the water",
                notes=row.note,
            )
        )
        self.set_ids.append(lifted.id)
        if row.count is not None:
            self.change.insert(
                Catch(trap_set_id=lifted.id, species_id=self.target.id, count=row.count)
            )
        for name, count in row.by_catch:
            species = self._known(Species, "name", name) or self.change.insert(
                Species(name=name, role="by-catch")
            )
            self.change.insert(
                Catch(trap_set_id=lifted.id, species_id=species.id, fate="put back", count=count)
            )

    def mark_lost(self, rows: Sequence[PastRow]) -> None:
        """Mark new traps as lost that were lost in the last row that fishes them."""
        last: dict[str, PastRow] = {}
        for row in sorted(rows, key=lambda one: one.round):
            if row.trap:
                last[row.trap.casefold()] = row
        for row in last.values():
            trap = self._known(Trap, "number", row.trap)
            if row.condition == "lost" and trap is not None and trap.id in self.new_traps:
                self.change.update(trap.with_(state="lost", state_note=self._lost_note(row)))

    def _lost_note(self, row: PastRow) -> str:
        when = local_text(row.lift_utc or row.set_utc, self.trip.zone)
        return f"Lost at {row.place}{f', {when}' if when else ''} ({self.trip.name})"

    def _place(self, row: PastRow) -> Place:
        label = row.place
        places = self.change.snapshot.places(self.line.id, stakes=True)
        for place in places:
            if plain_name(place.label) == plain_name(label):
                if place.is_stake:
                    raise InvalidValue(
                        f"'{place.label}' is a stake, and a stake is not fished.",
                        f"Row {row.row}",
                        "Give the place a name of its own.",
                    )
                return place
        last = max((place.ordinal for place in places), default=0)
        return self.change.insert(Place(line_id=self.line.id, ordinal=last + 1, label=label))

    def _trap(self, number: str) -> Trap:
        known = self._known(Trap, "number", number)
        if known is None:
            known = self.change.insert(Trap(number=number))
            self.new_traps.add(known.id)
        return known

    def _bait(self, name: str) -> Bait:
        known = self._known(Bait, "name", name)
        if known is not None:
            return known
        n = len(self.change.snapshot.all(Bait))
        is_control = name.casefold() in _CONTROLS
        return self.change.insert(
            Bait(
                name=name,
                colour=COLOURS[n % len(COLOURS)],
                mark=MARKS[n % len(MARKS)],
                is_control=is_control,
                form="none" if is_control else "whole",
            )
        )

    def _known(self, noun: type[N], field: str, text: str) -> N | None:
        for row in self.change.snapshot.all(noun):
            if plain_name(str(getattr(row, field))) == plain_name(text):
                return row
        return None


def named_or_new(rows: Sequence[N], text: str, new: N) -> N:
    """Return the row of that name, else the new one."""
    return next((row for row in rows if plain_name(name_of(row)) == plain_name(text)), new)

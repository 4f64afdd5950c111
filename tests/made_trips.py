"""Invented trips for tests: a line of places, rounds set and lifted, all of it made up."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project

BAIT_NAMES = ("punctured can", "cut herring", "chicken skin", "no bait")


@dataclass(frozen=True)
class MadeTrip:
    """A snapshot with the ids of what tests ask about."""

    snapshot: Snapshot
    trip_id: str
    round_ids: tuple[str, ...]
    bait_ids: tuple[str, ...]
    place_ids: tuple[str, ...]
    target_id: str
    bycatch_id: str

    @property
    def round_id(self) -> str:
        return self.round_ids[0]

    def sets(self, number: int = 1) -> tuple[TrapSet, ...]:
        return self.snapshot.sets(self.round_ids[number - 1])

    def with_rows(self, *rows: Noun) -> "MadeTrip":
        return MadeTrip(
            self.snapshot.with_rows(rows), self.trip_id, self.round_ids, self.bait_ids,
            self.place_ids, self.target_id, self.bycatch_id,
        )  # fmt: skip

    def lifted(
        self,
        counts: Sequence[int | None],
        number: int = 1,
        conditions: Sequence[str] = (),
        soak_h: int = 24,
    ) -> "MadeTrip":
        """Return the trip with a round set at noon and lifted; None is a trap not counted."""
        rows: list[Noun] = []
        for at, (row, n_caught) in enumerate(zip(self.sets(number), counts, strict=True)):
            condition = conditions[at] if conditions else "fished"
            counted = n_caught is not None
            rows.append(
                row.with_(
                    state="lifted",
                    set_utc=f"2026-07-{number:02d}T10:00:00Z",
                    lift_utc=f"2026-07-{number + soak_h // 24:02d}T10:00:00Z",
                    condition=condition,
                    counted=counted,
                )
            )
            if n_caught is not None:
                rows.append(
                    Catch(
                        id=f"catch-{row.id}",
                        trap_set_id=row.id,
                        species_id=self.target_id,
                        fate="kept",
                        count=n_caught,
                    )
                )
        return self.with_rows(*rows)


def make_trip(
    n_places: int = 7,
    n_rounds: int = 1,
    *,
    gap_deg: float = 0.00016,
    baits: Sequence[str] = BAIT_NAMES[:3],
    has_positions: bool = True,
    name: str = "Summer trial",
) -> MadeTrip:
    """Return a planned trip: places about 12.5 m apart eastward at 45° north, baits in turn."""
    water = Water(id="water", name="Reed Pond", kind="still")
    line = Line(id="line", water_id=water.id, name="North shore")
    target = Species(id="target", name="crayfish")
    bycatch = Species(id="bycatch", name="perch", role="by-catch")
    kinds = [
        Bait(
            id=f"bait-{at}", name=bait, colour=COLOURS[at], mark=MARKS[at],
            is_control=bait == "no bait",
        )
        for at, bait in enumerate(baits)
    ]  # fmt: skip
    trip = Trip(
        id="trip", name=name, water_id=water.id, line_id=line.id, started_on="2026-07-01",
        zone="Europe/Oslo", min_gap_m=10.0, max_gap_m=50.0, target_species_id=target.id,
        reference_bait_id=kinds[0].id,
    )  # fmt: skip
    places = [
        Place(
            id=f"place-{at}", line_id=line.id, ordinal=at + 1, label=f"P{at + 1}",
            lon_deg=7.0 + gap_deg * at if has_positions else None,
            lat_deg=45.0 + 0.00002 * (at % 3) if has_positions else None,
        )
        for at in range(n_places)
    ]  # fmt: skip
    traps = [
        Trap(id=f"trap-{at}", number=f"T{at + 1}", tags=((2026, f"AB {100 + at}"),))
        for at in range(n_places)
    ]
    rounds = [
        Round(id=f"round-{n + 1}", trip_id=trip.id, number=n + 1, set_on=f"2026-07-{n + 1:02d}")
        for n in range(n_rounds)
    ]
    sets = [
        TrapSet(
            id=f"set-{n + 1}-{at}", round_id=rounds[n].id, trap_id=traps[at].id,
            planned_place_id=places[at].id, place_id=places[at].id,
            planned_bait_id=kinds[(at + n) % len(kinds)].id,
            bait_id=kinds[(at + n) % len(kinds)].id,
        )
        for n in range(n_rounds)
        for at in range(n_places)
    ]  # fmt: skip
    rows: list[Noun] = [
        ProjectInfo(id="project", name="Trials"), water, line, target, bycatch, *kinds, trip,
        *places, *traps, *rounds, *sets,
    ]  # fmt: skip
    return MadeTrip(
        Snapshot({}).with_rows(rows), trip.id, tuple(r.id for r in rounds),
        tuple(k.id for k in kinds), tuple(p.id for p in places), target.id, bycatch.id,
    )  # fmt: skip


def write_project(made: MadeTrip, path: Path) -> Path:
    """Write a made trip to a new project file and return its path."""
    with Project.create(path, made.snapshot.project) as project, project.change("Make") as change:
        for noun in NOUNS:
            for row in made.snapshot.all(noun):
                if not isinstance(row, ProjectInfo):
                    change.insert(row)
    return path

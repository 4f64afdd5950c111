"""What still stands in the water, and what was lost and neither found nor given up."""

from collections.abc import Iterable
from dataclasses import dataclass

from trapline.model.instants import local_text
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip


@dataclass(frozen=True, slots=True)
class InWater:
    """One trap that was set and not yet lifted; `since` is local time of its trip, or empty."""

    set_id: str
    trip_id: str
    trip: str
    round_id: str
    round_number: int
    place_id: str
    place: str
    trap: str
    since_utc: str | None
    since: str

    @property
    def words(self) -> str:
        """The trap, its place and since when, in a few words."""
        name = f"trap {self.trap} at {self.place}" if self.trap else f"trap at {self.place}"
        return f"{name} since {self.since}" if self.since else f"{name}, set time not noted"


@dataclass(frozen=True, slots=True)
class LostTrap:
    """One trap that is recorded as lost; where and when is in `note`."""

    trap_id: str
    trap: str
    note: str
    set_id: str
    trip_id: str
    place: str
    round_number: int = 0

    @property
    def words(self) -> str:
        """The trap and where and in which round it was lost."""
        name = self.trap if self.trap.startswith("lost at ") else f"trap {self.trap}"
        where = f" at {self.place}" if self.place and self.place not in name else ""
        when = f" (round {self.round_number})" if self.round_number else ""
        return f"{name}{where}{when}"


@dataclass(frozen=True, slots=True)
class GearLedger:
    """All gear that is not accounted for, oldest first."""

    in_water: tuple[InWater, ...]
    lost: tuple[LostTrap, ...]

    def of_trip(self, trip_id: str | None) -> "GearLedger":
        """Return the part of one trip."""
        return GearLedger(
            tuple(row for row in self.in_water if row.trip_id == trip_id),
            tuple(row for row in self.lost if row.trip_id == trip_id),
        )

    def outside_round(self, round_id: str | None) -> tuple[InWater, ...]:
        """Return what stands in the water from all other rounds and trips."""
        return tuple(row for row in self.in_water if row.round_id != round_id)

    def is_clear(self) -> bool:
        """Whether all gear is accounted for."""
        return not self.in_water and not self.lost


def gear_ledger(snapshot: Snapshot) -> GearLedger:
    """Return every trap of the project that stands in the water or is lost.

    Parameters
    ----------
    snapshot : Snapshot
        All trips: a trap stays listed until it is lifted, found or retired, however old.

    References
    ----------
    Common practice, no source: nothing is left behind. Lost traps go on fishing: Antonelis
    et al. (2011), N. Am. J. Fish. Manage. 31, 880-893.

    Examples
    --------
    >>> gear_ledger(Snapshot({})).is_clear()
    True
    """
    in_water: list[InWater] = []
    lost_at: dict[str, TrapSet] = {}
    for row in snapshot.all(TrapSet):
        if row.is_in_water:
            in_water.append(_in_water(snapshot, row))
        elif row.condition == "lost" and row.trap_id:
            # The latest loss counts: a past trip may be typed in afterwards.
            lost_at[row.trap_id] = max(
                lost_at.get(row.trap_id, row),
                row,
                key=lambda one: one.lift_utc or one.set_utc or "",
            )
    in_water.sort(key=lambda one: (one.since_utc or "", one.trip, one.round_number))
    lost = [
        _lost(snapshot, trap, lost_at.get(trap.id))
        for trap in snapshot.all(Trap)
        if trap.state == "lost"
    ]
    return GearLedger(tuple(in_water), tuple(lost))


def _in_water(snapshot: Snapshot, row: TrapSet) -> InWater:
    fished = snapshot.get(Round, row.round_id)
    trip = snapshot.get(Trip, fished.trip_id) if fished else None
    return InWater(
        set_id=row.id,
        trip_id=trip.id if trip else "",
        trip=trip.name if trip else "",
        round_id=row.round_id or "",
        round_number=fished.number if fished else 0,
        place_id=row.place_id or "",
        place=snapshot.place_label(row),
        trap=snapshot.trap_label(row),
        since_utc=row.set_utc,
        since=local_text(row.set_utc, trip.zone if trip else "UTC"),
    )


def _lost(snapshot: Snapshot, trap: Trap, row: TrapSet | None) -> LostTrap:
    trip = snapshot.trip_of(row) if row else None
    fished = snapshot.get(Round, row.round_id) if row else None
    return LostTrap(
        trap_id=trap.id,
        trap=trap.number,
        note=trap.state_note,
        set_id=row.id if row else "",
        trip_id=trip.id if trip else "",
        place=snapshot.place_label(row) if row else "",
        round_number=fished.number if fished else 0,
    )


def in_water_sentence(rows: Iterable[InWater], *, with_trip: bool = False, most: int = 4) -> str:
    """Return one sentence on what stands in the water, or "" when nothing does.

    Parameters
    ----------
    with_trip : bool
        Name the trip of each.
    most : int
        How many are named one by one; the rest are counted.

    References
    ----------
    None: words.

    Examples
    --------
    >>> one = InWater("s", "t", "Bay", "r", 1, "p", "P3", "7", None, "2026-08-01 18:30")
    >>> in_water_sentence([one])
    'Still in the water: trap 7 at P3 since 2026-08-01 18:30 (round 1).'
    """
    found = list(rows)
    if not found:
        return ""
    named = []
    for row in found[:most]:
        where = f"round {row.round_number}"
        named.append(
            f"{row.words} ({row.trip}, {where})" if with_trip else f"{row.words} ({where})"
        )
    more = f"; and {len(found) - most} more" if len(found) > most else ""
    head = "Still in the water" if len(found) == 1 else f"{len(found)} traps still in the water"
    return f"{head}: {'; '.join(named)}{more}."


def lost_sentence(rows: Iterable[LostTrap], *, most: int = 6) -> str:
    """Return one sentence on lost traps that are neither found nor given up, or "".

    Parameters
    ----------
    most : int
        How many are named one by one; the rest are counted.

    References
    ----------
    None: words.

    Examples
    --------
    >>> lost_sentence([LostTrap("t", "7", "", "s", "trip", "P3")])
    'Lost and not found: trap 7 at P3.'
    """
    found = list(rows)
    if not found:
        return ""
    more = f"; and {len(found) - most} more" if len(found) > most else ""
    return f"Lost and not found: {'; '.join(row.words for row in found[:most])}{more}."

"""Which places catch most? The catch per 24 h of each, over the rounds and trips chosen."""

from collections.abc import Sequence
from dataclasses import dataclass

from trapline.analyses.trip_lifts import TripLift, trip_lifts
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.science.effort import trip_rate


@dataclass(frozen=True, slots=True)
class PlaceCatch:
    """One place over the rounds: `rate_per_24h` is None where no count is valid.

    `baits` are those that hung there while it counted, `n_sets` all trap sets there.
    """

    place_id: str
    place: str
    n_sets: int
    n_counted: int
    catch: int
    effort_h: float
    rate_per_24h: float | None
    baits: tuple[str, ...]


@dataclass(frozen=True)
class PlaceCatches:
    """The places, the best first; those without a valid count last, in the order of the line.

    `caution` says in words what a good place may owe to its baits; empty where all had all.
    """

    places: tuple[PlaceCatch, ...]
    caution: str

    @property
    def counted(self) -> tuple[PlaceCatch, ...]:
        """The places with a rate."""
        return tuple(row for row in self.places if row.rate_per_24h is not None)

    @property
    def best_rate_per_24h(self) -> float:
        """The highest rate; 0 without any."""
        return max((row.rate_per_24h or 0.0 for row in self.places), default=0.0)


def catch_per_place(
    snapshot: Snapshot, round_ids: Sequence[str], species_id: str | None = None
) -> PlaceCatches:
    """Return the catch per 24 h of each place over some rounds, the best place first.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    round_ids : sequence of str
        Rounds of one trip or of several.
    species_id : str, optional
        What is counted; without it the target of each trip.

    Returns
    -------
    PlaceCatches
        Total catch over total hours of fishing, disturbed traps with half their soak.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Ratio of sums: `trapline.science.effort.trip_rate`.
    """
    return place_catches(snapshot, trip_lifts(snapshot, round_ids, species_id))


def place_catches(snapshot: Snapshot, lifts: Sequence[TripLift]) -> PlaceCatches:
    """Return the same for lifts that are already at hand."""
    by_place: dict[str, list[TripLift]] = {}
    for lift in lifts:
        if lift.trap_set.place_id and lift.condition != "planned":
            by_place.setdefault(lift.trap_set.place_id, []).append(lift)
    order = {place_id: number for number, place_id in enumerate(by_place)}
    rows = [_place(snapshot, place_id, here) for place_id, here in by_place.items()]
    rows.sort(key=lambda row: (-(row.rate_per_24h if row.rate_per_24h is not None else -1.0),
                               order[row.place_id]))  # fmt: skip
    every = {bait for row in rows for bait in row.baits}
    differ = any(set(row.baits) != every for row in rows if row.n_counted)
    caution = (
        "Not every place had every bait: a good place may owe its catch to its bait."
        if differ and len(rows) > 1
        else ""
    )
    return PlaceCatches(tuple(rows), caution)


def _place(snapshot: Snapshot, place_id: str, lifts: Sequence[TripLift]) -> PlaceCatch:
    place = snapshot.get(Place, place_id)
    counted = [(lift, effort_h) for lift in lifts if (effort_h := lift.effort_h())]
    catches = [lift.caught or 0 for lift, _ in counted]
    hours = [effort_h for _, effort_h in counted]
    return PlaceCatch(
        place_id=place_id,
        place=place.label if place else "",
        n_sets=len(lifts),
        n_counted=len(counted),
        catch=sum(catches),
        effort_h=sum(hours),
        rate_per_24h=trip_rate(catches, hours) if counted else None,
        baits=tuple(dict.fromkeys(lift.bait_name for lift, _ in counted)),
    )

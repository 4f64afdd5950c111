"""What each trap of some rounds caught, and whether that is a valid count: one row a trap set."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.instants import hours_between
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import MOST_SOAK_H, TrapSet
from trapline.model.trip import Round, Trip
from trapline.science.effort import HOURS_PER_DAY, effort_hours

DROPPED_BACK = "dropped back at the lift"


@dataclass(frozen=True, slots=True)
class TripLift:
    """One trap set with its catch of the species that is counted.

    Attributes
    ----------
    condition : str
        fished, disturbed, robbed, lost, not lifted; "planned" where it was never set.
    soak_h : float or None
        Hours from setting to lifting; None while one of the times is missing.
    fished_h : float or None
        The same, until it was disturbed where that moment is known.
    caught : int or None
        Animals with every fate; None where nobody counted, which is not 0, and where those
        of one fate were only weighed or measured.
    dropped_back : int
        Those of them that dropped back at the lift.
    weight_kg : float or None
        What was weighed instead of, or beside, counting.
    measures : str
        What was measured out: "2 bucket"; and what was counted beside, where that is not all.
    bycatch : tuple of (species, fate, number)
        Everything else; the number is a count or a text.
    is_taken_as_none : bool
        Whether `caught` is 0 because the species is by-catch of its trip, which is written
        down where there is any, and the trap was counted without an entry of it.
    """

    trap_set: TrapSet
    trip: Trip
    round: Round
    place: str
    trap: str
    tag: str
    bait: Bait | None
    condition: str
    soak_h: float | None
    fished_h: float | None
    caught: int | None
    dropped_back: int
    weight_kg: float | None
    measures: str
    bycatch: tuple[tuple[str, str, str], ...]
    is_taken_as_none: bool = False

    @property
    def bait_name(self) -> str:
        """What hung in the trap, in a word."""
        return self.bait.name if self.bait else "bait not written down"

    @property
    def is_known_when_disturbed(self) -> bool:
        """Whether it was disturbed at a moment that is known, so that its hours are as well."""
        return self.condition == "disturbed" and self.trap_set.disturbed_utc is not None

    @property
    def counts(self) -> bool:
        """Whether its catch and its soak are valid, disturbed traps among them."""
        return (
            self.condition in ("fished", "disturbed")
            and self.trap_set.counted
            and self.caught is not None
            and bool(self.soak_h)
        )

    @property
    def catch_words(self) -> str:
        """The catch as it is to be read: a number, or in words why there is none."""
        if self.condition == "planned":
            return "not set"
        if self.condition in ("lost", "not lifted"):
            return self.condition
        if self.condition == "robbed":
            left = f", {self.caught} left in it" if self.caught else ""
            return f"robbed{left}"
        amounts = [f"{self.weight_kg:g} kg" if self.weight_kg is not None else "", self.measures]
        words = ", ".join(word for word in amounts if word)
        if not self.trap_set.counted or self.caught is None:
            return f"not counted, {words}" if words else "not counted"
        part = self.trap_set.fraction_counted
        counted = (
            f"{self.caught}" if part == 1 else f"{self.caught} in {part:.0%}".replace("%", " %")
        )
        return f"{counted}, {words}" if words else counted

    @property
    def bycatch_words(self) -> str:
        """Everything else that came up, as one cell."""
        return ", ".join(
            f"{number} {species}" + (f" ({fate})" if fate else "")
            for species, fate, number in self.bycatch
        )

    def effort_h(self) -> float | None:
        """Return the hours that count for the catch of the trip; None without a valid count.

        Disturbed traps count until that moment where it is known, else half their soak.
        """
        if not self.counts or self.soak_h is None:
            return None
        if self.is_known_when_disturbed:
            return (self.fished_h or None) and self._whole(self.fished_h or 0.0)
        hours = effort_hours(self.soak_h, self.condition)
        return None if hours is None else self._whole(hours)

    def _whole(self, hours: float) -> float:
        """Return hours less where only a part of the catch was counted."""
        return hours * self.trap_set.fraction_counted

    def rate_per_24h(self) -> float | None:
        """Return the catch per 24 h, under the same rule; None without a valid count."""
        effort_h = self.effort_h()
        return None if not effort_h else HOURS_PER_DAY * (self.caught or 0) / effort_h


def target_of(snapshot: Snapshot, trip: Trip) -> Species | None:
    """Return the species that a trip counts, else the first target species of the list."""
    chosen = snapshot.get(Species, trip.target_species_id)
    return chosen or next(iter(snapshot.species("target")), None)


def trip_lifts(
    snapshot: Snapshot, round_ids: Sequence[str], species_id: str | None = None
) -> tuple[TripLift, ...]:
    """Return what each trap of some rounds caught, in the order of rounds and line.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    round_ids : sequence of str
        Rounds of one trip or of several.
    species_id : str, optional
        What is counted; without it the target of each trip. Of a trip with another target
        it is by-catch: a counted trap without an entry of it had none.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Common practice, no source: zero is data, blank is not.
    """
    chosen = [snapshot.need(Round, round_id) for round_id in round_ids]
    wanted = {fished.id for fished in chosen}
    catches = snapshot.catches_by_set
    found: list[TripLift] = []
    for trip_id in dict.fromkeys(fished.trip_id for fished in chosen):
        trip = snapshot.need(Trip, trip_id)
        target = snapshot.get(Species, species_id) or target_of(snapshot, trip)
        found += (
            _lift(snapshot, trip, fished, row, catches.get(row.id, []), target)
            for fished, row in snapshot.sets_of_trip(trip.id)
            if fished.id in wanted
        )
    return tuple(found)


def rounds_in_order(snapshot: Snapshot, trip_ids: Iterable[str]) -> tuple[str, ...]:
    """Return the ids of all rounds of some trips, the earliest trip first."""
    wanted = set(trip_ids)
    trips = [trip for trip in reversed(snapshot.trips()) if trip.id in wanted]
    return tuple(fished.id for trip in trips for fished in snapshot.rounds(trip.id))


def _lift(
    snapshot: Snapshot,
    trip: Trip,
    fished: Round,
    row: TrapSet,
    catches: Sequence[Catch],
    target: Species | None,
) -> TripLift:
    trap = snapshot.get(Trap, row.trap_id)
    own = [one for one in catches if target is not None and one.species_id == target.id]
    is_taken_as_none = not own and row.counted and target != target_of(snapshot, trip)
    weights = [one.weight_kg for one in own if one.weight_kg is not None]
    soak_h = _hours(row.set_utc, row.lift_utc)
    return TripLift(
        trap_set=row,
        trip=trip,
        round=fished,
        place=snapshot.place_label(row),
        trap=trap.number if trap else "",
        tag=trap.tag_text if trap else "",
        bait=snapshot.bait_of(row),
        condition=_condition(row),
        soak_h=soak_h,
        fished_h=_hours(row.set_utc, row.disturbed_utc) if row.disturbed_utc else soak_h,
        caught=0 if is_taken_as_none else caught_of(own),
        dropped_back=sum(one.count or 0 for one in own if one.fate == DROPPED_BACK),
        weight_kg=sum(weights) if weights else None,
        measures=_measures_beside(own),
        bycatch=_bycatch(snapshot, catches, target),
        is_taken_as_none=is_taken_as_none,
    )


def caught_of(catches: Sequence[Catch]) -> int | None:
    """Return the animals of one species in a trap, of every fate; None where not all are counted.

    Parameters
    ----------
    catches : sequence of Catch
        The entries of that species; a weight beside a count of the same fate changes nothing.

    References
    ----------
    Common practice, no source: zero is data, blank is not.

    Examples
    --------
    >>> caught_of([Catch(fate="kept", weight_kg=2.0), Catch(fate="put back", count=0)]) is None
    True
    """
    counted = {one.fate for one in catches if one.count is not None}
    if not counted or any(one.fate not in counted for one in catches):
        return None
    return sum(one.count or 0 for one in catches)


def _measures_beside(catches: Sequence[Catch]) -> str:
    n_counted = sum(one.count or 0 for one in catches) if caught_of(catches) is None else 0
    return ", ".join(
        word for word in (_measures(catches), f"{n_counted} counted" if n_counted else "") if word
    )


def _condition(row: TrapSet) -> str:
    if row.state == "planned":
        return "planned"
    if row.state == "set":
        return "not lifted"
    return row.condition if row.condition not in ("", "not lifted") else "fished"


def _hours(start_utc: str | None, end_utc: str | None) -> float | None:
    """Return the hours of a soak; None when a moment is missing, or it cannot have been one."""
    if not start_utc or not end_utc:
        return None
    hours = hours_between(start_utc, end_utc)
    return hours if 0 < hours <= MOST_SOAK_H else None


def _measures(catches: Iterable[Catch]) -> str:
    totals: dict[str, float] = {}
    for one in catches:
        if one.measure_n is not None:
            totals[one.measure_name] = totals.get(one.measure_name, 0.0) + one.measure_n
    return ", ".join(f"{n:g} {name or 'measures'}" for name, n in totals.items())


def _bycatch(
    snapshot: Snapshot, catches: Iterable[Catch], target: Species | None
) -> tuple[tuple[str, str, str], ...]:
    counted: dict[tuple[str, str], int] = {}
    other = []
    for one in catches:
        species = snapshot.get(Species, one.species_id)
        if target is not None and one.species_id == target.id:
            continue
        name = species.name if species else "species not written down"
        if one.count is not None:
            counted[name, one.fate] = counted.get((name, one.fate), 0) + one.count
        elif one.weight_kg is not None:
            other.append((name, one.fate, f"{one.weight_kg:g} kg"))
        else:
            other.append((name, one.fate, _measures([one])))
    return (*((name, fate, str(n)) for (name, fate), n in counted.items() if n), *other)

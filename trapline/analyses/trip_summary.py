"""All numbers of the summary of a trip, as they are printed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trapline.analyses.gear_ledger import GearLedger, gear_ledger
from trapline.analyses.place_catch import PlaceCatches, place_catches
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import check_spacing
from trapline.analyses.trip_comparison import CompareChoice, TripComparison, compare_trips
from trapline.analyses.trip_lifts import TripLift, rounds_in_order, target_of, trip_lifts
from trapline.model.catch import FATES
from trapline.model.instants import local_text
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trip import Round, Trip
from trapline.science.effort import trip_rate, trip_rate_interval
from trapline.units import length_text

Fact = tuple[str, str]


@dataclass(frozen=True, slots=True)
class RoundSummary:
    """One round in words and counts; `caught` is of valid counts only."""

    number: int
    set_on: str
    times: str
    crew: str
    boat: str
    conditions: str
    n_sets: int
    n_lifted: int
    n_counted: int
    caught: int


@dataclass(frozen=True, slots=True)
class Totals:
    """The trip in one line: `rate_per_24h` is total catch over total hours of fishing.

    `caught` is of valid counts only, `fates` of all that was counted, also where a time is
    missing: what was kept was kept.
    `interval` is its 95 % bootstrap interval over traps; None with fewer than two.
    `n_halved` counted with half their soak; `left_out` says how many for which reason.
    """

    n_sets: int
    n_lifted: int
    n_counted: int
    n_halved: int
    left_out: tuple[tuple[str, int], ...]
    caught: int
    fates: tuple[tuple[str, int], ...]
    effort_h: float
    rate_per_24h: float | None
    interval: tuple[float, float] | None


@dataclass(frozen=True)
class TripSummary:
    """Everything that the summary of a trip says."""

    trip: Trip
    target: str
    facts: tuple[Fact, ...]
    rounds: tuple[RoundSummary, ...]
    lifts: tuple[TripLift, ...]
    totals: Totals
    bycatch: tuple[tuple[str, str, str], ...]
    warnings: tuple[str, ...]
    comparison: TripComparison
    places: PlaceCatches
    gear: GearLedger
    map_round: Round | None

    @property
    def in_short(self) -> str:
        """The trip in one or two sentences."""
        totals, target = self.totals, self.target
        n_rounds = len(self.rounds)
        said = (
            f"{_many(n_rounds, 'round')}, {_many(totals.n_sets, 'trap set')},"
            f" {totals.n_lifted} lifted, {totals.n_counted} with a valid count"
        )
        if totals.rate_per_24h is None:
            return f"{said}."
        low_high = ""
        # Of nothing caught a bootstrap knows no spread: "0 to 0" would promise too much.
        if totals.interval is not None and totals.caught:
            low_high = f" (95 % interval {totals.interval[0]:.2g} to {totals.interval[1]:.2g})"
        return (
            f"{said}: {totals.caught} {target} in {totals.effort_h:.0f} trap-hours of fishing,"
            f" {totals.rate_per_24h:.2f} per trap per 24 h{low_high}."
        )


def trip_summary(
    snapshot: Snapshot,
    trip_id: str,
    choice: CompareChoice | None = None,
    known: TripComparison | None = None,
) -> TripSummary:
    """Return all numbers and words of the summary of a trip.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    trip_id : str
        The trip.
    choice : CompareChoice, optional
        What the comparison of the baits counts; without it the usual, over all rounds.
    known : TripComparison, optional
        A whole comparison of the same snapshot: if its choice is this one, it is taken over,
        with what it may know besides, and not made again.

    Raises
    ------
    InvalidValue
        There is no such trip.

    References
    ----------
    Catch per effort: `trapline.science.effort`; half a soak for disturbed traps.
    """
    trip = snapshot.need(Trip, trip_id)
    round_ids = rounds_in_order(snapshot, [trip_id])
    lifts = trip_lifts(snapshot, round_ids)
    target = target_of(snapshot, trip)
    if choice is None:
        choice = CompareChoice(
            round_ids=round_ids,
            species_id=target.id if target else None,
            reference_bait_id=trip.reference_bait_id,
        )
    if known is None or known.choice != choice:
        known = compare_trips(snapshot, choice)
    rounds = snapshot.rounds(trip_id)
    return TripSummary(
        trip=trip,
        target=target.name if target else "animals",
        facts=_facts(snapshot, trip, rounds, target),
        rounds=tuple(_round(trip, row, lifts) for row in rounds),
        lifts=lifts,
        totals=_totals(snapshot, lifts, target),
        bycatch=_bycatch(snapshot, lifts, target),
        warnings=_warnings(snapshot, rounds),
        comparison=known,
        places=place_catches(snapshot, lifts),
        gear=gear_ledger(snapshot).of_trip(trip_id),
        map_round=_round_of_map(rounds, lifts),
    )


def _many(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _facts(
    snapshot: Snapshot, trip: Trip, rounds: Sequence[Round], target: Species | None
) -> tuple[Fact, ...]:
    water = snapshot.water_of(trip)
    days = [row.set_on for row in rounds if row.set_on]
    first, last = (min(days), max(days)) if days else (trip.started_on or "", "")
    species = target.name if target else "not chosen"
    if target and target.scientific_name:
        species += f" ({target.scientific_name})"
    limits = [
        f"at least {length_text(trip.min_gap_m)}" if trip.min_gap_m is not None else "",
        f"at most {length_text(trip.max_gap_m)}" if trip.max_gap_m is not None else "",
    ]
    schemes = {"none": "baits chosen by hand", "blocks": "drawn in blocks along the line",
               "whole line": "drawn over the whole line"}  # fmt: skip
    seed = f", seed {trip.layout_seed}" if trip.layout_seed is not None else ""
    found = (
        ("Water", f"{water.name} ({water.kind})" if water else ""),
        ("Set on", f"{first} to {last}" if last and last != first else first),
        ("Counted", species),
        ("Purpose", trip.purpose),
        ("Gaps (yours)", ", ".join(one for one in limits if one)),
        ("Layout", schemes[trip.layout_scheme] + seed),
        ("Crew", _joined(row.crew for row in rounds)),
        ("Boat", _joined(row.boat for row in rounds)),
        ("Times in", trip.zone),
    )
    return tuple((label, text) for label, text in found if text)


def _joined(words: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(word for word in words if word))


def _round(trip: Trip, row: Round, lifts: Sequence[TripLift]) -> RoundSummary:
    own = [lift for lift in lifts if lift.round.id == row.id]
    fished = [lift for lift in own if lift.condition != "planned"]
    starts = [lift.trap_set.set_utc for lift in fished if lift.trap_set.set_utc]
    ends = [lift.trap_set.lift_utc for lift in fished if lift.trap_set.lift_utc]
    span = [min(starts, default=None), max(ends, default=None)]
    times = [local_text(moment, trip.zone, "%d %b %H:%M") or "?" for moment in span]
    tide = row.tide_state
    if row.high_water_utc:
        tide = f"{tide}, high water {local_text(row.high_water_utc, trip.zone)}".strip(", ")
    conditions = [
        row.weather,
        "" if row.water_temp_c is None else f"water {row.water_temp_c:g} °C",
        f"current {row.current_m_s:g} m/s towards {row.current_to_deg:.0f}°"
        if row.has_current
        else "",
        tide,
    ]
    return RoundSummary(
        number=row.number,
        set_on=row.set_on or "",
        times=f"{times[0]} to {times[1]}" if starts or ends else "",
        crew=row.crew,
        boat=row.boat,
        conditions=", ".join(one for one in conditions if one),
        n_sets=len(fished),
        n_lifted=sum(lift.trap_set.state == "lifted" for lift in fished),
        n_counted=sum(lift.counts for lift in fished),
        caught=sum(lift.caught or 0 for lift in fished if lift.counts),
    )


def _totals(snapshot: Snapshot, lifts: Sequence[TripLift], target: Species | None) -> Totals:
    fished = [lift for lift in lifts if lift.condition != "planned"]
    counted = [(lift, effort_h) for lift in fished if (effort_h := lift.effort_h())]
    catches = [lift.caught or 0 for lift, _ in counted]
    hours = [effort_h for _, effort_h in counted]
    left_out: dict[str, int] = {}
    for lift in fished:
        if not lift.effort_h():
            why = lift.condition if lift.condition not in ("fished", "disturbed") else "not counted"
            if lift.trap_set.counted and lift.soak_h is None and why == "not counted":
                why = "no time of setting or lifting"
            left_out[why] = left_out.get(why, 0) + 1
    return Totals(
        n_sets=len(fished),
        n_lifted=sum(lift.trap_set.state == "lifted" for lift in fished),
        n_counted=len(counted),
        n_halved=sum(
            lift.condition == "disturbed" and not lift.is_known_when_disturbed
            for lift, _ in counted
        ),
        left_out=tuple(left_out.items()),
        caught=sum(catches),
        fates=_fates(snapshot, fished, target),
        effort_h=sum(hours),
        rate_per_24h=trip_rate(catches, hours) if counted else None,
        interval=trip_rate_interval(catches, hours) if len(counted) > 1 else None,
    )


def _fates(
    snapshot: Snapshot, lifts: Sequence[TripLift], target: Species | None
) -> tuple[tuple[str, int], ...]:
    """Return what became of all counted animals, in the order of the list of fates."""
    catches = snapshot.catches_by_set
    sums = dict.fromkeys(FATES, 0)
    for lift in lifts:
        for one in catches.get(lift.trap_set.id, ()):
            if target is not None and one.species_id == target.id:
                sums[one.fate] += one.count or 0
    return tuple((fate, n) for fate, n in sums.items() if n)


def _bycatch(
    snapshot: Snapshot, lifts: Sequence[TripLift], target: Species | None
) -> tuple[tuple[str, str, str], ...]:
    """Return everything else by species and fate: what was counted, weighed and measured."""
    sums: dict[tuple[str, str, str], float] = {}
    for one in (one for lift in lifts for one in snapshot.catches(lift.trap_set.id)):
        if target is not None and one.species_id == target.id:
            continue
        species = snapshot.get(Species, one.species_id)
        name = species.name if species else "species not written down"
        amounts = (
            ("", one.count), (" kg", one.weight_kg),
            (f" {one.measure_name or 'measures'}", one.measure_n),
        )  # fmt: skip
        for unit, amount in amounts:
            if amount:
                sums[name, one.fate, unit] = sums.get((name, one.fate, unit), 0) + amount
    return tuple((name, fate, f"{n:.10g}{unit}") for (name, fate, unit), n in sums.items())


def _warnings(snapshot: Snapshot, rounds: Sequence[Round]) -> tuple[str, ...]:
    """Return the warnings about gaps and scents, each once with the rounds that it is about."""
    about: dict[str, list[int]] = {}
    for row in rounds:
        texts = (
            *check_spacing(snapshot, row.id).warnings,
            *check_plumes(snapshot, row.id).warnings,
        )
        for warning in texts:
            about.setdefault(warning.text, []).append(row.number)
    if len(rounds) == 1:
        return tuple(about)
    return tuple(
        text if len(numbers) == len(rounds) else f"{text.removesuffix('.')} ({_listed(numbers)})."
        for text, numbers in about.items()
    )


def _listed(numbers: Sequence[int]) -> str:
    return f"round{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"


def _round_of_map(rounds: Sequence[Round], lifts: Sequence[TripLift]) -> Round | None:
    """Return the latest round of which a trap was set, else the latest planned one."""
    fished = {lift.round.id for lift in lifts if lift.condition != "planned"}
    return next(
        (row for row in reversed(rounds) if row.id in fished), rounds[-1] if rounds else None
    )

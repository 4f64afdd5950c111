"""What to be careful about when the lifts of trips are compared, each in one sentence."""

import datetime as dt
from collections.abc import Iterator, Sequence

from trapline.analyses.trip_lifts import TripLift, target_of
from trapline.model.snapshot import Snapshot

# Our judgement; that baits change places with temperature is published for crawfish ponds
# (Beecher and Romaire 2010, J. Shellfish Res. 29; abstract).
_WARMER_C = 4.0
_SEASON_DAYS = 60


def warnings_of_trips(snapshot: Snapshot, lifts: Sequence[TripLift]) -> tuple[str, ...]:
    """Return the warnings about trips taken together, old bait, weights and species, in words.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    lifts : sequence of TripLift
        All trap sets of the rounds that are compared.

    References
    ----------
    Common practice, no source.

    Examples
    --------
    >>> warnings_of_trips(Snapshot({}), [])
    ()
    """
    return (*_about_trips(snapshot, lifts), *_about_lifts(lifts), *_about_entries(lifts))


def _about_trips(snapshot: Snapshot, lifts: Sequence[TripLift]) -> Iterator[str]:
    trips = {lift.trip.id: lift.trip for lift in lifts}.values()
    yield from _about_seasons(lifts)
    if len({trip.water_id for trip in trips}) > 1:
        yield "The trips were on different waters: a good water may pass for a good bait."
    if len({target_of(snapshot, trip) for trip in trips}) > 1:
        yield "The trips do not count the same species."


def _about_seasons(lifts: Sequence[TripLift]) -> Iterator[str]:
    """Warn where trips in cold and in warm water are taken together."""
    by_trip: dict[str, list[float]] = {}
    days: dict[str, dt.date] = {}
    for lift in lifts:
        own = by_trip.setdefault(lift.trip.id, [])
        if lift.round.water_temp_c is not None:
            own.append(lift.round.water_temp_c)
        day = lift.round.set_on or lift.trip.started_on
        if day:
            days.setdefault(lift.trip.id, dt.date.fromisoformat(day))
    means = [sum(own) / len(own) for own in by_trip.values() if own]
    if len(by_trip) < 2:
        return
    places = "Baits can change places as the water warms or cools: look at each trip alone too."
    if len(means) > 1 and max(means) - min(means) >= _WARMER_C:
        yield (
            f"The water was {min(means):.0f} °C on one trip and {max(means):.0f} °C on another."
            f" {places}"
        )
    elif len(days) > 1 and (gap := (max(days.values()) - min(days.values())).days) >= _SEASON_DAYS:
        yield f"The trips lie {gap} days apart. {places}"


def _about_lifts(lifts: Sequence[TripLift]) -> Iterator[str]:
    topped_up = sum(
        lift.trap_set.bait_action == "topped up" and lift.condition != "planned" for lift in lifts
    )
    if topped_up:
        yield f"{topped_up} soaks on topped-up bait count as fresh."
    if any(lift.weight_kg is not None and lift.caught is None for lift in lifts):
        yield "Weights give a rate and no model: only counts are compared."


def _about_entries(lifts: Sequence[TripLift]) -> Iterator[str]:
    none = sum(lift.is_taken_as_none for lift in lifts)
    if none:
        yield (
            f"{none} traps of a trip that counts another species have no entry of this one: they"
            " are taken to have held none."
        )
    missing = [
        lift
        for lift in lifts
        if lift.trap_set.counted
        and lift.caught is None
        and lift.weight_kg is None
        and not lift.measures
    ]
    if missing and any(lift.counts for lift in lifts):
        yield (
            f"{len(missing)} traps were counted before the trip counted this species: those that"
            " held none are missing, so that the rates may be too high."
        )

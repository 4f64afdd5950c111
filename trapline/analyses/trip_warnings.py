"""What to be careful about when the lifts of trips are compared, each in one sentence."""

from collections.abc import Iterator, Sequence

from trapline.analyses.trip_lifts import TripLift, target_of
from trapline.model.snapshot import Snapshot


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
    if len(trips) > 1:
        yield (
            f"{len(trips)} trips are taken together as if all their nights were alike: the"
            " intervals are narrower than they should be."
        )
    if len({trip.water_id for trip in trips}) > 1:
        yield "The trips were on different waters: a good water may pass for a good bait."
    if len({target_of(snapshot, trip) for trip in trips}) > 1:
        yield "The trips do not count the same species."


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

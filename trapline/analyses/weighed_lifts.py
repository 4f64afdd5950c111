"""What was weighed with each bait: a rate where nobody counted, and no model of it."""

from collections.abc import Iterable
from dataclasses import dataclass

from trapline.analyses.trip_lifts import TripLift
from trapline.science.effort import HOURS_PER_DAY


@dataclass(frozen=True, slots=True)
class Weighed:
    """What was weighed with a bait; `n_sets` are the traps weighed and those counted empty."""

    bait: str
    n_sets: int
    weight_kg: float
    kg_per_24h: float


def weighed_lifts(lifts: Iterable[TripLift]) -> tuple[Weighed, ...]:
    """Return the weight per 24 h of each bait with which anything was weighed, in kg.

    A trap that was counted empty is not laid on the scales: it weighs 0 kg, and its soak counts.

    Parameters
    ----------
    lifts : iterable of TripLift
        Only traps that fished undisturbed, with both times, enter.

    References
    ----------
    Ratio of sums: `trapline.science.effort.trip_rate`.

    Examples
    --------
    >>> weighed_lifts([])
    ()
    """
    by_bait: dict[str, list[tuple[float, float]]] = {}
    scaled = set()
    for lift in lifts:
        if lift.condition != "fished" or not lift.soak_h:
            continue
        if lift.weight_kg is not None:
            scaled.add(lift.bait_name)
        elif not (lift.counts and lift.caught == 0):
            continue
        by_bait.setdefault(lift.bait_name, []).append((lift.weight_kg or 0.0, lift.soak_h))
    found = []
    for bait, rows in by_bait.items():
        if bait in scaled:
            weight_kg, soak_h = (sum(column) for column in zip(*rows, strict=True))
            found.append(Weighed(bait, len(rows), weight_kg, HOURS_PER_DAY * weight_kg / soak_h))
    return tuple(found)

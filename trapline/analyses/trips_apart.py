"""Each of several trips by itself, beside the answer over all of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trapline.analyses.compared_baits import compared_baits
from trapline.analyses.counted_lifts import CompareOptions, count_lifts
from trapline.analyses.lifts import LiftRow
from trapline.science.intervals import Interval


@dataclass(frozen=True, slots=True)
class TripRatios:
    """The ratios that one trip alone gives, by (bait, other bait); only baits it counted."""

    trip: str
    ratios: Mapping[tuple[str, str], Interval]


def trip_ratios(
    rows: Sequence[LiftRow], names: Mapping[str, str], options: CompareOptions
) -> tuple[TripRatios, ...]:
    """Return the ratios of every two baits on each trip alone; empty with fewer than two trips.

    Parameters
    ----------
    rows : sequence of LiftRow
        Lifts of all trips.
    names : mapping of str to str
        The name of each trip, in the order in which they are to stand.
    options : CompareOptions
        What counts.

    References
    ----------
    Model: `trapline.science.bait_model`.
    """
    by_trip = {trip: [row for row in rows if row.trip == trip] for trip in names}
    fished = [trip for trip, own in by_trip.items() if own]
    if len(fished) < 2:
        return ()
    found = []
    for trip in fished:
        compared = compared_baits(count_lifts(by_trip[trip], options), options)
        ratios = {}
        if compared is not None and compared.table.catch.any():
            ratios = {
                (bait, other): compared.ratio(bait, other)
                for bait in compared.names
                for other in compared.names
                if bait != other
            }
        found.append(TripRatios(names[trip], ratios))
    return tuple(found)

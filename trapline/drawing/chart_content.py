"""What the charts of a bait comparison show, without Qt and matplotlib.

Every trap is a point; a row that was left out is a point too, where it has a rate.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trapline.analyses.counted_lifts import OLD_BAIT, CompareOptions, count_lifts
from trapline.analyses.lifts import LiftRow
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.science.effort import HOURS_PER_DAY
from trapline.science.intervals import Interval

if TYPE_CHECKING:
    # Its shape is read; what it is computed with is not needed here.
    from trapline.analyses.bait_comparison import BaitComparison
    from trapline.analyses.trip_comparison import TripComparison


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A lift that does not count: why, and its rate where it has one."""

    why: str
    rate_per_24h: float | None


@dataclass(frozen=True, slots=True)
class BaitColumn:
    """One bait: its look, the rate of each trap that counts, those left out, its interval."""

    bait: str
    colour: str
    mark: str
    rates_per_24h: tuple[float, ...]
    left_out: tuple[LeftOut, ...]
    rate: Interval | None


@dataclass(frozen=True, slots=True)
class RatioRow:
    """How many times the reference's catch one bait makes; None where it is not known."""

    bait: str
    colour: str
    mark: str
    ratio: Interval | None


@dataclass(frozen=True, slots=True)
class TripsForest:
    """How many times as much as another a bait caught: on each trip, and over all of them."""

    bait: str
    other: str
    trips: tuple[RatioRow, ...]
    together: RatioRow


Looks = Mapping[str, tuple[str, str]]


def bait_looks(names: Sequence[str], baits: Sequence[Bait] = ()) -> dict[str, tuple[str, str]]:
    """Return the colour and mark of each bait: its own, else one that no other here has."""
    known = {bait.name.casefold(): (bait.colour, bait.mark) for bait in baits}
    found = {
        name: known[plain]
        for name in names
        if (plain := name.removesuffix(OLD_BAIT).casefold()) in known
    }
    pairs = list(zip(COLOURS, MARKS, strict=True))
    free = [pair for pair in pairs if pair not in found.values()] or pairs
    others = [name for name in names if name not in found]
    found.update({name: free[at % len(free)] for at, name in enumerate(others)})
    return found


def bait_columns(
    comparison: "BaitComparison",
    rows: Sequence[LiftRow],
    options: CompareOptions,
    baits: Sequence[Bait] = (),
) -> tuple[BaitColumn, ...]:
    """Return the columns of a comparison, in its order, made from the rows it was made from."""
    lifts = count_lifts(rows, options)
    looks = bait_looks([bait.bait for bait in comparison.baits], baits)
    by_number = {row.row: row for row in rows}
    left_out: dict[str, list[LeftOut]] = {}
    for one in comparison.excluded:
        row = by_number.get(one.row)
        if row is None:
            continue
        rate = None
        if row.catch is not None and row.soak_h:
            rate = row.catch / row.fraction_counted / (row.soak_h / HOURS_PER_DAY)
        name = " ".join(row.bait.split())
        if row.old_bait and options.include_old_bait:
            name += OLD_BAIT
        left_out.setdefault(name.casefold(), []).append(LeftOut(one.why, rate))
    return tuple(
        BaitColumn(
            bait.bait,
            *looks[bait.bait],
            tuple(lift.catch / lift.exposure_days for lift in lifts.of(bait.bait)),
            tuple(left_out.get(bait.bait.casefold(), ())),
            bait.rate_per_24h,
        )
        for bait in comparison.baits
    )


def ratio_rows(comparison: "BaitComparison", baits: Sequence[Bait] = ()) -> tuple[RatioRow, ...]:
    """Return the ratios of a comparison to its reference; none where there are none."""
    looks = bait_looks([bait.bait for bait in comparison.baits], baits)
    return tuple(RatioRow(row.bait, *looks[row.bait], row.ratio) for row in comparison.ratios or ())


def trips_forest(
    found: "TripComparison", bait: str, other: str, baits: Sequence[Bait] = ()
) -> TripsForest | None:
    """Return the ratio of two baits trip by trip; None where there are not several trips."""
    comparison = found.comparison
    compared = comparison.compared if comparison else None
    if comparison is None or compared is None or not found.by_trip:
        return None
    if not {bait, other} <= set(compared.names):
        return None
    colour, mark = bait_looks([one.bait for one in comparison.baits], baits)[bait]
    return TripsForest(
        bait,
        other,
        tuple(
            RatioRow(one.trip, colour, mark, one.ratios.get((bait, other))) for one in found.by_trip
        ),
        RatioRow("all trips together", colour, mark, compared.ratio(bait, other)),
    )

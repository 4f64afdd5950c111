"""The comparison of baits over chosen rounds and trips, and on which switches it hangs.

The numbers come from `bait_comparison`; here the lifts of a project become its rows, and
rows that were left out get the names of their traps back.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from trapline.analyses.bait_comparison import (
    BaitComparison,
    completed,
)
from trapline.analyses.comparison_dict import EMPTY
from trapline.analyses.counted_lifts import CompareOptions, Excluded, count_lifts
from trapline.analyses.design_tests import Progress
from trapline.analyses.lifts import LiftRow
from trapline.analyses.trip_lifts import TripLift, trip_lifts
from trapline.analyses.trip_rows import CompareChoice, TripTable, label_of, options_of, table_of
from trapline.analyses.trip_switches import Switch, compared_or_why, switches_of
from trapline.analyses.trip_tests import drawn_tests
from trapline.analyses.trip_warnings import warnings_of_trips
from trapline.analyses.trips_apart import TripRatios, trip_ratios
from trapline.analyses.weighed_lifts import Weighed, weighed_lifts
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot

if TYPE_CHECKING:
    from trapline.analyses.next_trip import NextTrip

__all__ = [
    "CompareChoice",
    "DisturbedShare",
    "LeftOut",
    "Switch",
    "TripComparison",
    "compare_trips",
    "completed_trips",
    "first_look_at_trips",
    "label_of",
    "settled_trips",
]

NO_BAIT_WRITTEN: Final = "no bait was written down"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One trap set that does not count, where and with what bait, and why."""

    label: str
    bait: str
    why: str


@dataclass(frozen=True, slots=True)
class DisturbedShare:
    """How many of a bait's lifted traps were found disturbed."""

    bait: str
    n_disturbed: int
    n_lifted: int


@dataclass(frozen=True)
class TripComparison:
    """The comparison with what belongs to it; `comparison` is None where `problem` says why.

    `rows` and `options` are what it was made from, for the chart. A first look has no
    switches and no `by_trip` yet; `by_trip` has the ratios of each of several trips alone.
    """

    choice: CompareChoice
    comparison: BaitComparison | None
    problem: str
    rows: tuple[LiftRow, ...]
    options: CompareOptions
    left_out: tuple[LeftOut, ...]
    halved: tuple[str, ...]
    disturbed: tuple[DisturbedShare, ...]
    weighed: tuple[Weighed, ...]
    switches: tuple[Switch, ...]
    warnings: tuple[str, ...]
    by_trip: tuple[TripRatios, ...] = ()

    @property
    def verdict(self) -> str:
        """The verdict in plain words, or why there is none."""
        return self.comparison.verdict if self.comparison else self.problem

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison as the command line prints it."""
        if self.comparison is None:
            return {
                "baits": [],
                **EMPTY,
                "excluded": [],
                "verdict": self.problem,
                "warnings": list(self.warnings),
            }
        found = self.comparison.as_dict()
        found["warnings"] = list(self.warnings)
        found["excluded"] = [
            {**row, "where": left.label, "bait": left.bait}
            for row, left in zip(found["excluded"], self.left_out, strict=False)
        ]
        return found


def compare_trips(
    snapshot: Snapshot, choice: CompareChoice, progress: Progress | None = None
) -> TripComparison:
    """Return the comparison of the baits over rounds of one trip or of several.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    choice : CompareChoice
        Rounds, reference and what counts.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the work.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Model and test: `trapline.analyses.bait_comparison`.
    """
    return completed_trips(snapshot, first_look_at_trips(snapshot, choice), progress)


def first_look_at_trips(snapshot: Snapshot, choice: CompareChoice) -> TripComparison:
    """Return what the model says; tests, checks and switches, which take longer, come later.

    Parameters
    ----------
    snapshot, choice
        As for `compare_trips`.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Model: `trapline.science.bait_model`.
    """
    lifts = trip_lifts(snapshot, choice.round_ids, choice.species_id)
    table = table_of(lifts, choice)
    options = options_of(snapshot, choice, lifts)
    comparison, problem = compared_or_why(table, options)
    counted = count_lifts(table.rows, options).counted
    return _shown(
        snapshot,
        TripComparison(
            choice=choice,
            comparison=comparison,
            problem=problem,
            rows=table.rows,
            options=options,
            left_out=(),
            halved=tuple(
                label_of(table.lifts[one.row.row - 1])
                for one in counted
                if one.soak_h != one.row.soak_h
            ),
            disturbed=_disturbed(lifts),
            weighed=weighed_lifts(lifts),
            switches=(),
            warnings=(),
        ),
        table,
        lifts,
    )


def completed_trips(
    snapshot: Snapshot, first: TripComparison, progress: Progress | None = None
) -> TripComparison:
    """Return a first look with the tests, the checks, the switches and each trip alone.

    Parameters
    ----------
    snapshot : Snapshot
        The project of the first look.
    first : TripComparison
        What `first_look_at_trips` gave.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the work.

    References
    ----------
    `trapline.analyses.design_tests` and `trapline.analyses.model_checks`.
    """
    if first.comparison is None:
        return first
    tell = progress or (lambda _: None)
    choice, options = first.choice, first.options
    lifts = trip_lifts(snapshot, choice.round_ids, choice.species_id)
    table = table_of(lifts, choice)
    whole = completed(
        first.comparison,
        partial(drawn_tests, snapshot, table.lifts, options),
        lambda done: tell(0.6 * done),
    )
    tell(0.6)
    found = replace(
        first,
        comparison=whole,
        switches=switches_of(lifts, choice, options, whole, lambda done: tell(0.6 + 0.3 * done)),
        by_trip=trip_ratios(table.rows, {lift.trip.id: lift.trip.name for lift in lifts}, options),
    )
    tell(1.0)
    return _shown(snapshot, found, table, lifts)


def settled_trips(found: TripComparison, next_trip: "NextTrip") -> TripComparison:
    """Return a comparison that says what would settle it, from simulated trials.

    Parameters
    ----------
    found : TripComparison
        What was compared.
    next_trip : NextTrip
        What simulated trials say.

    References
    ----------
    `trapline.analyses.next_trip`.
    """
    if found.comparison is None:
        return found
    from trapline.analyses.settle import settled

    return replace(found, comparison=settled(found.comparison, next_trip))


def _shown(
    snapshot: Snapshot, found: TripComparison, table: TripTable, lifts: Sequence[TripLift]
) -> TripComparison:
    """Return a comparison with its rows and warnings in the words of the project."""
    comparison = found.comparison
    if comparison is not None:
        comparison = replace(comparison, excluded=_reworded(table, comparison.lifts.excluded))
    return replace(
        found,
        comparison=comparison,
        left_out=_left_out(table, comparison),
        warnings=(
            *_about_reference(snapshot, found.choice, found.options),
            *_warnings(table, comparison),
            *warnings_of_trips(snapshot, lifts),
        ),
    )


def _reworded(table: TripTable, excluded: Sequence[Excluded]) -> tuple[Excluded, ...]:
    return tuple(replace(row, why=_why(table.lifts[row.row - 1], row.why)) for row in excluded)


def _left_out(table: TripTable, comparison: BaitComparison | None) -> tuple[LeftOut, ...]:
    found = []
    for row in comparison.excluded if comparison else ():
        lift = table.lifts[row.row - 1]
        found.append(LeftOut(label_of(lift), lift.bait_name, row.why))
    found += [LeftOut(label_of(lift), "–", NO_BAIT_WRITTEN) for lift in table.nameless]
    return tuple(found)


def _why(lift: TripLift, why: str) -> str:
    """Return the reason in the words of a trip where a table would say less."""
    if why == "the catch is blank":
        if lift.weight_kg is not None or lift.measures:
            return "weighed or measured, not counted"
        return "not counted"
    if why == "the soak is blank":
        return "no time of setting or lifting"
    return why


def _disturbed(lifts: Sequence[TripLift]) -> tuple[DisturbedShare, ...]:
    lifted: dict[str, list[bool]] = {}
    for lift in lifts:
        if lift.bait and lift.condition not in ("planned", "not lifted"):
            lifted.setdefault(lift.bait.name, []).append(lift.condition == "disturbed")
    return tuple(DisturbedShare(bait, sum(rows), len(rows)) for bait, rows in lifted.items())


def _about_reference(
    snapshot: Snapshot, choice: CompareChoice, options: CompareOptions
) -> tuple[str, ...]:
    reference = snapshot.get(Bait, choice.reference_bait_id)
    if reference is None or options.reference:
        return ()
    return (f"The reference bait, {reference.name}, hung fresh in none of these rounds.",)


def _warnings(table: TripTable, comparison: BaitComparison | None) -> tuple[str, ...]:
    """Return the warnings about the rows with traps called by their places."""

    def named(match: re.Match[str]) -> str:
        return label_of(table.lifts[int(match.group(1)) - 1])

    found = comparison.warnings if comparison else ()
    return tuple(re.sub(r"^Row (\d+)", named, text) for text in found)

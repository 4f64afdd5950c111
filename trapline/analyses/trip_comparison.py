"""The comparison of baits over chosen rounds and trips, and on which switches it hangs.

The numbers come from `bait_comparison`; here the lifts of a project become its rows, and
rows that were left out get the names of their traps back.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

from trapline.analyses.bait_comparison import BaitComparison, TestOf, compare_baits
from trapline.analyses.bait_verdict import Finding
from trapline.analyses.counted_lifts import CompareOptions, Excluded, count_lifts
from trapline.analyses.drawn_layout import drawn_test
from trapline.analyses.lifts import LiftRow
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.trip_lifts import TripLift, trip_lifts
from trapline.analyses.trip_warnings import warnings_of_trips
from trapline.analyses.weighed_lifts import Weighed, weighed_lifts
from trapline.errors import InputProblem
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot

NO_BAIT_WRITTEN: Final = "no bait was written down"


@dataclass(frozen=True, kw_only=True, slots=True)
class CompareChoice:
    """What is compared, and what counts. Robbed traps count by what was left in them."""

    round_ids: tuple[str, ...]
    species_id: str | None = None
    reference_bait_id: str | None = None
    disturbed: bool = False
    half_soak: bool = False
    robbed: bool = False
    old_bait: bool = False
    without_dropped_back: bool = False


@dataclass(frozen=True, slots=True)
class Switch:
    """One switch: how it stands, how many trap sets it is about, what turning it would find.

    `changes` is None where nothing is there for it to change, or nothing can be found.
    """

    name: str
    label: str
    is_on: bool
    n_sets: int
    changes: bool | None
    other: Finding | None

    @property
    def words(self) -> str:
        """Whether the verdict depends on it, in a few words."""
        if not self.n_sets and self.name == "half_soak":
            return "where disturbed traps count"
        if not self.n_sets:
            return "none here"
        if self.changes is None or self.other is None:
            return "cannot be told"
        if not self.changes:
            return "the verdict stays"
        if self.other.word in ("winner", "leads"):
            verb = "would be the winner" if self.other.word == "winner" else "would lead"
            return f"the verdict changes: {self.other.bait} {verb}"
        return f"the verdict changes: {self.other.word}"


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

    `rows` and `options` are what it was made from, for the chart.
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

    @property
    def verdict(self) -> str:
        """The verdict in plain words, or why there is none."""
        return self.comparison.verdict if self.comparison else self.problem

    def as_dict(self) -> dict[str, Any]:
        """Return the comparison as the command line prints it."""
        if self.comparison is None:
            return {
                "baits": [],
                **dict.fromkeys(("ratios", "permutation", "winner")),
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


@dataclass(frozen=True)
class _Table:
    """The lifts that became rows, in step, and the trap sets without a bait."""

    lifts: tuple[TripLift, ...]
    rows: tuple[LiftRow, ...]
    nameless: tuple[TripLift, ...]


def compare_trips(snapshot: Snapshot, choice: CompareChoice) -> TripComparison:
    """Return the comparison of the baits over rounds of one trip or of several.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    choice : CompareChoice
        Rounds, reference and what counts.

    Raises
    ------
    InvalidValue
        There is no such round.

    References
    ----------
    Model and test: `trapline.analyses.bait_comparison`.
    """
    lifts = trip_lifts(snapshot, choice.round_ids, choice.species_id)
    table = _table(lifts, choice)
    options = _options(snapshot, choice, lifts)
    comparison, problem = _compare(table, options, partial(drawn_test, snapshot, table.lifts))
    if comparison is not None:
        comparison = replace(comparison, excluded=_reworded(table, comparison.excluded))
    switches = _switches(lifts, choice, options, comparison)
    counted = count_lifts(table.rows, options).counted
    return TripComparison(
        choice=choice,
        comparison=comparison,
        problem=problem,
        rows=table.rows,
        options=options,
        left_out=_left_out(table, comparison),
        halved=tuple(
            label_of(table.lifts[one.row.row - 1])
            for one in counted
            if one.soak_h != one.row.soak_h
        ),
        disturbed=_disturbed(lifts),
        weighed=weighed_lifts(lifts),
        switches=switches,
        warnings=(*_about_reference(snapshot, choice, options),
                  *_warnings(table, comparison), *warnings_of_trips(snapshot, lifts)),
    )  # fmt: skip


def label_of(lift: TripLift) -> str:
    """Return where and when a trap set was: ``P3, round 2``."""
    return f"{lift.place or 'a place without a name'}, round {lift.round.number}"


def _table(lifts: Sequence[TripLift], choice: CompareChoice) -> _Table:
    set_ones = [lift for lift in lifts if lift.condition != "planned"]
    named = tuple(lift for lift in set_ones if lift.bait is not None)
    rows = tuple(_row(lift, number, choice) for number, lift in enumerate(named, 1))
    return _Table(named, rows, tuple(lift for lift in set_ones if lift.bait is None))


def _row(lift: TripLift, number: int, choice: CompareChoice) -> LiftRow:
    condition, soak_h = lift.condition, lift.soak_h
    caught = lift.caught if lift.trap_set.counted else None
    if lift.is_known_when_disturbed and choice.disturbed:
        # Its hours of fishing are known: nothing is left to halve.
        condition, soak_h = "fished", lift.fished_h
    elif condition == "robbed" and choice.robbed and lift.caught is not None:
        condition, caught = "fished", lift.caught
    if caught is not None and choice.without_dropped_back:
        caught -= lift.dropped_back
    row = lift.trap_set
    return LiftRow(
        bait=lift.bait_name,
        catch=caught,
        soak_h=soak_h,
        row=number,
        trap=lift.trap,
        place=row.place_id or "",
        round=lift.round.id,
        block="" if row.block is None else str(row.block),
        condition=condition,
        fraction_counted=row.fraction_counted,
        old_bait=_is_old(lift),
    )


def _is_old(lift: TripLift) -> bool:
    return lift.trap_set.bait_action == "left as it was"


def _options(
    snapshot: Snapshot, choice: CompareChoice, lifts: Sequence[TripLift]
) -> CompareOptions:
    usual = CompareOptions()
    reference = snapshot.get(Bait, choice.reference_bait_id)
    # As a bait of its own a soak on old bait has another name.
    hung = {
        lift.bait.id
        for lift in lifts
        if lift.bait and lift.condition != "planned" and not _is_old(lift)
    }
    trips = {lift.trip.id: lift.trip for lift in lifts}
    return CompareOptions(
        reference=reference.name if reference and reference.id in hung else "",
        control_names=(
            *usual.control_names,
            *(bait.name for bait in snapshot.all(Bait) if bait.is_control),
        ),
        include_disturbed=choice.disturbed,
        half_soak_for_disturbed=choice.disturbed and choice.half_soak,
        include_old_bait=choice.old_bait,
        all_scents_meet=any(check_plumes(snapshot, one).all_meet for one in choice.round_ids),
        winner_chance=max((trip.winner_threshold for trip in trips.values()), default=0.975),
        seed=next((t.layout_seed for t in trips.values() if t.layout_seed is not None), 0),
    )


def _compare(
    table: _Table, options: CompareOptions, test_of: TestOf
) -> tuple[BaitComparison | None, str]:
    """Return the comparison, or None and why there is none."""
    if not table.rows:
        return None, "No trap of these rounds was set yet: there is nothing to compare."
    try:
        return compare_baits(table.rows, options, test_of), ""
    except InputProblem as problem:
        return None, str(problem)


def _switches(
    lifts: Sequence[TripLift],
    choice: CompareChoice,
    options: CompareOptions,
    comparison: BaitComparison | None,
) -> tuple[Switch, ...]:
    """Return each switch turned over, what is found then, and whether that differs."""
    # What is found does not rest on the test, which takes the most time: it stays.
    known = comparison.permutation if comparison else None
    n_disturbed = sum(lift.condition == "disturbed" for lift in lifts)
    turned = (
        ("disturbed", "Count disturbed traps", n_disturbed),
        ("half_soak", "Count half the soak of disturbed traps",
         sum(lift.condition == "disturbed" and not lift.is_known_when_disturbed
             for lift in lifts) if choice.disturbed else 0),
        ("robbed", "Count robbed traps by what was left in them",
         sum(lift.condition == "robbed" and lift.caught is not None for lift in lifts)),
        ("old_bait", "Count soaks on old bait, as baits of their own",
         sum(_is_old(lift) for lift in lifts)),
        ("without_dropped_back", "Leave out animals that dropped back at the lift",
         sum(lift.dropped_back > 0 and lift.counts for lift in lifts)),
    )  # fmt: skip
    found = []
    for name, label, n_sets in turned:
        other = None
        is_on = bool(getattr(choice, name))
        if n_sets and comparison is not None:
            values: dict[str, Any] = {name: not is_on}
            changed = replace(choice, **values)
            turned_options = replace(
                options,
                include_disturbed=changed.disturbed,
                half_soak_for_disturbed=changed.disturbed and changed.half_soak,
                include_old_bait=changed.old_bait,
            )
            again, _ = _compare(_table(lifts, changed), turned_options, lambda _: known)
            other = again.finding if again else None
        changes = (
            None if other is None or comparison is None else _differ(comparison.finding, other)
        )
        found.append(Switch(name, label, is_on, n_sets, changes, other))
    return tuple(found)


def _differ(now: Finding, other: Finding) -> bool:
    if now.word == other.word == "no clear difference":
        return False  # which of them is ahead means nothing
    return (now.word, now.bait) != (other.word, other.bait)


def _reworded(table: _Table, excluded: Sequence[Excluded]) -> tuple[Excluded, ...]:
    return tuple(replace(row, why=_why(table.lifts[row.row - 1], row.why)) for row in excluded)


def _left_out(table: _Table, comparison: BaitComparison | None) -> tuple[LeftOut, ...]:
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


def _warnings(table: _Table, comparison: BaitComparison | None) -> tuple[str, ...]:
    """Return the warnings about the rows with traps called by their places."""

    def named(match: re.Match[str]) -> str:
        return label_of(table.lifts[int(match.group(1)) - 1])

    found = comparison.warnings if comparison else ()
    return tuple(re.sub(r"^Row (\d+)", named, text) for text in found)

"""The switches of a comparison: what turning each of them over would find."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from trapline.analyses.bait_comparison import BaitComparison, first_look
from trapline.analyses.bait_verdict import Finding, differ
from trapline.analyses.counted_lifts import CompareOptions
from trapline.analyses.design_tests import Progress
from trapline.analyses.trip_lifts import TripLift
from trapline.analyses.trip_rows import CompareChoice, TripTable, is_old, soak_of, table_of
from trapline.errors import InputProblem
from trapline.science.bait_model import UNEQUAL_SOAKS

SOAK_SWITCHES: Final = ("linear_soak", "saturating_soak")


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
        if not self.n_sets and self.name in SOAK_SWITCHES:
            return "all soaks are alike"
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


def compared_or_why(table: TripTable, options: CompareOptions) -> tuple[BaitComparison | None, str]:
    """Return the comparison, or None and why there is none."""
    if not table.rows:
        return None, "No trap of these rounds was set yet: there is nothing to compare."
    try:
        return first_look(table.rows, options), ""
    except InputProblem as problem:
        return None, str(problem)


def switches_of(
    lifts: Sequence[TripLift],
    choice: CompareChoice,
    options: CompareOptions,
    comparison: BaitComparison,
    tell: Progress,
) -> tuple[Switch, ...]:
    """Return each switch turned over, what is found then, and whether that differs."""
    # What is found rests on the model alone: the tests, which take the most time, are not made.
    n_disturbed = sum(lift.condition == "disturbed" for lift in lifts)
    turned = (
        ("disturbed", "Count disturbed traps", n_disturbed),
        ("half_soak", "Count half the soak of disturbed traps",
         sum(lift.condition == "disturbed" and not lift.is_known_when_disturbed
             for lift in lifts) if choice.disturbed else 0),
        ("robbed", "Count robbed traps by what was left in them",
         sum(lift.condition == "robbed" and lift.caught is not None for lift in lifts)),
        ("old_bait", "Count soaks on old bait, as baits of their own",
         sum(is_old(lift) for lift in lifts)),
        ("without_dropped_back", "Leave out animals that dropped back at the lift",
         sum(lift.dropped_back > 0 and lift.counts for lift in lifts)),
        ("linear_soak", "Take the catch to grow in step with the soak",
         0 if choice.saturating_soak else _n_unequal(comparison)),
        ("saturating_soak", "Take the catch to level off as the soak goes on",
         _n_unequal(comparison)),
    )  # fmt: skip
    found = []
    for number, (name, label, n_sets) in enumerate(turned):
        tell(number / len(turned))
        other = None
        is_on = bool(getattr(choice, name))
        if n_sets:
            values: dict[str, Any] = {name: not is_on}
            changed = replace(choice, **values)
            turned_options = replace(
                options,
                include_disturbed=changed.disturbed,
                half_soak_for_disturbed=changed.disturbed and changed.half_soak,
                include_old_bait=changed.old_bait,
                soak=soak_of(changed),
            )
            again, _ = compared_or_why(table_of(lifts, changed), turned_options)
            other = again.finding if again else None
        changes = None if other is None else differ(comparison.finding, other)
        found.append(Switch(name, label, is_on, n_sets, changes, other))
    return tuple(found)


def _n_unequal(comparison: BaitComparison) -> int:
    """Return how many lifts count where their soaks differ, so that it matters how catch grows."""
    hours = [lift.soak_h for lift in comparison.lifts.counted]
    return len(hours) if hours and max(hours) > UNEQUAL_SOAKS * min(hours) else 0

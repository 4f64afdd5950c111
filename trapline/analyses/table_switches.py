"""On which switches the verdict over a table of lifts depends."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trapline.analyses.bait_comparison import AS_USUAL, BaitComparison, first_look
from trapline.analyses.bait_verdict import Finding, differ
from trapline.analyses.counted_lifts import CompareOptions
from trapline.analyses.lifts import LiftRow
from trapline.science.bait_model import UNEQUAL_SOAKS


@dataclass(frozen=True, slots=True)
class SwitchCheck:
    """One switch turned over: what would be found, and whether that differs.

    `changes` is None where the switch cannot be turned on these rows.
    """

    switch: str
    finding: Finding | None
    changes: bool | None


def depends_on(
    rows: Sequence[LiftRow],
    options: CompareOptions = AS_USUAL,
    comparison: BaitComparison | None = None,
) -> tuple[SwitchCheck, ...]:
    """Return for each switch whether turning it over would change what is found.

    What is found is the word of the finding and the bait it is about. Whether animals
    that dropped back at the lift count is decided where catches become rows, so that
    switch cannot be turned here.

    Parameters
    ----------
    rows : sequence of LiftRow
        As for `compare_baits`.
    options : CompareOptions
        As they are now.
    comparison : BaitComparison, optional
        What was found with them, where that is known already.

    Raises
    ------
    InputProblem
        As for `compare_baits`.

    References
    ----------
    Leave-one-out sensitivity; common practice, no source.
    """
    as_is = comparison or first_look(rows, options)
    checks = []
    for switch, matters, other in _turned(rows, options, as_is):
        found = first_look(rows, other).finding if matters else as_is.finding
        checks.append(SwitchCheck(switch, found, differ(as_is.finding, found)))
    return (*checks, SwitchCheck("animals that dropped back left out", None, None))


def _turned(
    rows: Sequence[LiftRow], options: CompareOptions, as_is: BaitComparison
) -> list[tuple[str, bool, CompareOptions]]:
    """Return each switch, whether it matters on these rows, and the options turned over."""
    disturbed = any(row.condition == "disturbed" for row in rows)
    out = not options.include_disturbed
    hours = [lift.soak_h for lift in as_is.lifts.counted]
    is_unequal = bool(hours) and max(hours) > UNEQUAL_SOAKS * min(hours)
    return [
        (
            "disturbed traps counted" if out else "disturbed traps left out",
            disturbed,
            replace(options, include_disturbed=out, half_soak_for_disturbed=False),
        ),
        (
            "disturbed traps counted with half their soak",
            disturbed and not (options.include_disturbed and options.half_soak_for_disturbed),
            replace(options, include_disturbed=True, half_soak_for_disturbed=True),
        ),
        (
            "old bait counted, as baits of its own",
            any(row.old_bait for row in rows) and not options.include_old_bait,
            replace(options, include_old_bait=True),
        ),
        (
            "the catch taken to grow in step with the soak",
            is_unequal and options.soak != "linear",
            replace(options, soak="linear"),
        ),
        (
            "the catch taken to level off as the soak goes on",
            is_unequal and options.soak != "saturating",
            replace(options, soak="saturating"),
        ),
    ]

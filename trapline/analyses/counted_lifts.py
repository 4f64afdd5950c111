"""Which lifts count in a comparison of baits, and what is summed before it."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from trapline.analyses.lifts import LiftRow
from trapline.science.bait_model import SATURATION_PER_H, Soak
from trapline.science.effort import HOURS_PER_DAY, effort_hours

OLD_BAIT = " (old bait)"
# At less two baits that draw alike would have a winner in more than one trial of twenty.
LEAST_WINNER_CHANCE: Final = 0.975


@dataclass(frozen=True, kw_only=True, slots=True)
class CompareOptions:
    """What to compare with, what counts, and when a winner is named.

    Attributes
    ----------
    reference : str
        The bait that ratios are taken to; empty: the control, else the first bait.
    control_names : tuple of str
        Baits that are no bait, whatever their case.
    include_disturbed : bool
        Count traps that were found disturbed.
    half_soak_for_disturbed : bool
        Where disturbed traps count, count half their soak.
    include_old_bait : bool
        Compare soaks on old bait too, as baits of their own.
    all_scents_meet : bool
        Whether all scents of a round meet, which makes it a choice test.
    winner_chance : float
        Least chance of beating each rival that makes a winner; never under 0.975.
    soak : {"power", "linear", "saturating"}
        How catch is taken to grow with the soak.
    saturation_per_h : float
        Of a saturating soak, 1/h.
    factor : float
        By how much a bait is asked to beat the reference, 1 or more.
    seed : int
        For drawn arrangements, when there are too many to list.
    """

    reference: str = ""
    control_names: tuple[str, ...] = ("no bait", "none", "control")
    include_disturbed: bool = False
    half_soak_for_disturbed: bool = False
    include_old_bait: bool = False
    all_scents_meet: bool = False
    winner_chance: float = LEAST_WINNER_CHANCE
    soak: Soak = "power"
    saturation_per_h: float = SATURATION_PER_H
    factor: float = 2.0
    seed: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "winner_chance", max(self.winner_chance, LEAST_WINNER_CHANCE))

    def is_control(self, bait: str) -> bool:
        """Return whether the bait is no bait."""
        plain = _on_one_line(bait.removesuffix(OLD_BAIT)).casefold()
        return plain in {_on_one_line(name).casefold() for name in self.control_names}


@dataclass(frozen=True, slots=True)
class Excluded:
    """A row that does not count, and why."""

    row: int
    why: str


@dataclass(frozen=True, slots=True)
class Counted:
    """A row that counts: its bait as compared, its hours of fishing and days of exposure."""

    bait: str
    catch: int
    soak_h: float
    exposure_days: float
    row: LiftRow


@dataclass(frozen=True, slots=True)
class Laid:
    """A row as it was laid, with its bait as compared; `counted` is None where it does not count.

    Even then it is part of what lay on its place, round by round.
    """

    bait: str
    row: LiftRow
    counted: Counted | None


@dataclass(frozen=True, slots=True)
class CountedLifts:
    """The rows of a table, sorted into those that count and those that do not.

    `baits` are in the order of the table; `n_traps` counts the rows of each; `laid` holds
    every row.
    """

    baits: tuple[str, ...]
    n_traps: dict[str, int]
    counted: tuple[Counted, ...]
    excluded: tuple[Excluded, ...]
    spellings: tuple[str, ...]
    laid: tuple[Laid, ...]

    def of(self, bait: str) -> list[Counted]:
        """Return the rows that count of one bait."""
        return [lift for lift in self.counted if lift.bait == bait]


def count_lifts(rows: Iterable[LiftRow], options: CompareOptions) -> CountedLifts:
    """Return the rows that count and, with its reason, each that does not.

    Parameters
    ----------
    rows : iterable of LiftRow
        One a trap lifted.
    options : CompareOptions
        What to leave out.

    References
    ----------
    Common practice, no source: a robbed or lost trap has no valid count.
    """
    names: dict[str, str] = {}
    spellings: dict[str, str] = {}
    n_traps: Counter[str] = Counter()
    laid, excluded = [], []
    for row in rows:
        typed = _on_one_line(row.bait)
        bait = names.setdefault(typed.casefold(), typed)
        if bait != typed:
            spellings[typed] = bait
        if row.old_bait:
            bait += OLD_BAIT
        if not row.old_bait or options.include_old_bait:
            n_traps[bait] += 1
        why = _why_not(row, options)
        if why:
            excluded.append(Excluded(row.row, why))
        laid.append(Laid(bait, row, None if why else _counted(bait, row, options)))
    merged = tuple(f"'{typed}' was read as '{bait}'." for typed, bait in spellings.items())
    counted = tuple(one.counted for one in laid if one.counted is not None)
    return CountedLifts(
        tuple(n_traps), dict(n_traps), counted, tuple(excluded), merged, tuple(laid)
    )


def _on_one_line(name: str) -> str:
    """Return a name with single spaces, whatever kind of space was pasted."""
    return " ".join(name.split())


def _why_not(row: LiftRow, options: CompareOptions) -> str:
    """Return why a row does not count; empty when it does."""
    if row.old_bait and not options.include_old_bait:
        return "old bait: never pooled with fresh"
    if row.condition == "not lifted":
        return "not lifted yet"
    if row.condition in ("robbed", "lost"):
        return f"{row.condition}: no valid count"
    if row.condition == "disturbed" and not options.include_disturbed:
        return "disturbed: left out of a comparison"
    if row.catch is None:
        return "the catch is blank"
    if row.soak_h is None:
        return "the soak is blank"
    return ""


def _counted(bait: str, row: LiftRow, options: CompareOptions) -> Counted:
    soak_h = row.soak_h or 0.0
    if row.condition == "disturbed" and options.half_soak_for_disturbed:
        soak_h = effort_hours(soak_h, "disturbed") or 0.0
    exposure_days = soak_h / HOURS_PER_DAY * row.fraction_counted
    return Counted(bait, row.catch or 0, soak_h, exposure_days, row)


def place_keys(rows: Sequence[LiftRow]) -> list[str] | None:
    """Return the place of each row; None when one names none.

    A label that stands twice in one round is a number within its block.
    """
    if not rows or not all(row.place for row in rows):
        return None
    in_round = Counter((row.trip, row.round, row.place) for row in rows)
    if max(in_round.values()) == 1:
        return [row.place for row in rows]
    return [f"{row.block}\x1f{row.place}" for row in rows]

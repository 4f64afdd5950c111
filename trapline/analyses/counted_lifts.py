"""Which lifts count in a comparison of baits, and what is summed before it."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trapline.analyses.lifts import LiftRow
from trapline.science.effort import HOURS_PER_DAY, effort_hours

OLD_BAIT = " (old bait)"


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
        Least chance of beating each rival that makes a winner.
    seed : int
        For drawn arrangements, when there are too many to list.
    """

    reference: str = ""
    control_names: tuple[str, ...] = ("no bait", "none", "control")
    include_disturbed: bool = False
    half_soak_for_disturbed: bool = False
    include_old_bait: bool = False
    all_scents_meet: bool = False
    winner_chance: float = 0.975
    seed: int = 0

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


@dataclass(frozen=True, slots=True)
class Units:
    """What enters the model of rates: rows, or places summed over their rounds."""

    baits: tuple[str, ...]
    catches: tuple[int, ...]
    exposures_days: tuple[float, ...]
    summed: bool
    n_rounds: int
    repeated: bool

    def number_of(self, bait: str) -> int:
        """Return how many units hold a bait."""
        return self.baits.count(bait)


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


def units_of(counted: Sequence[Counted]) -> Units:
    """Return what enters the model of rates.

    Where each place keeps its bait over the rounds, its rows tell of one place again and
    again: they are summed. Where baits rotate, and where no place is named, each row
    stands for itself.

    References
    ----------
    Hurlbert (1984), Pseudoreplication and the design of ecological field experiments,
    Ecol. Monogr. 54, 187-211.
    """
    places = place_keys([lift.row for lift in counted])
    n_rounds = len({lift.row.round for lift in counted})
    repeated = places is not None and len(set(places)) < len(counted)
    summed = False
    if places is not None and repeated:
        histories = {(place, lift.bait) for place, lift in zip(places, counted, strict=True)}
        summed = len(histories) == len(set(places))
    keys: Sequence[object] = places if places is not None and summed else range(len(counted))
    baits: dict[object, str] = {}
    catches: Counter[object] = Counter()
    exposures: dict[object, float] = {}
    for key, lift in zip(keys, counted, strict=True):
        baits[key] = lift.bait
        catches[key] += lift.catch
        exposures[key] = exposures.get(key, 0.0) + lift.exposure_days
    return Units(
        baits=tuple(baits.values()),
        catches=tuple(catches[key] for key in baits),
        exposures_days=tuple(exposures.values()),
        summed=summed,
        n_rounds=n_rounds,
        repeated=repeated,
    )


def place_keys(rows: Sequence[LiftRow]) -> list[str] | None:
    """Return the place of each row; None when one names none.

    A label that stands twice in one round is a number within its block.
    """
    if not rows or not all(row.place for row in rows):
        return None
    in_round = Counter((row.round, row.place) for row in rows)
    if max(in_round.values()) == 1:
        return [row.place for row in rows]
    return [f"{row.block}\x1f{row.place}" for row in rows]

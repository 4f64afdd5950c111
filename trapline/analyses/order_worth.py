"""What a drawn order is worth before anything is caught: what it keeps, and in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from trapline.errors import InvalidValue
from trapline.model.kept_draw import KeptDraw
from trapline.science.design_efficiency import carry_over_counts, design_efficiency
from trapline.science.layout import Scheme, count_layouts
from trapline.science.layout_scheme import RoundRules
from trapline.science.succession_choice import with_even_succession

_WHOLE: Final = 0.9995  # an efficiency from here on is shown as nothing lost
_WORTH_SAYING: Final = 0.05  # a gain by more rounds that is smaller is no reason to fish them


@dataclass(frozen=True)
class Successions:
    """How baits follow each other on their places, from one round to the next.

    `least` and `most` are how often the rarest and the commonest ordered pair of different
    baits occurs, baits that a limit keeps rare left out; `n_itself` is how often any bait
    follows itself.
    """

    least: int
    most: int
    n_itself: int


@dataclass(frozen=True)
class OrderWorth:
    """What a drawn order keeps of what its lifts could tell if places and rounds were all alike.

    `n_rounds` are the rounds in which a bait of the draw hangs, `n_lifts` the baited traps of
    all rounds. `average`, 0 to 1, is the average efficiency of this trip's rounds, places and
    rounds allowed for; in one round (`by_place` False) places cannot be. `stayed` is the same
    if every bait stayed where round 1 puts it. `rivals` is the one between the baits that no
    limit keeps rare, traps of the others left out; None where there are none of those.
    `with_before` counts the rounds of an earlier trip that the draw went on from; None
    without. `whole_turn` is (rounds, average) of a plan that gives each place each bait
    equally often; None where that is no more. `groups` are the baits, from 0, that can be
    compared with each other whatever the places are like. `rare` are the baits with a limit.
    `tested_before_even` says that baits follow each other less evenly than they might
    because the test over the layouts needs more of them.
    """

    n_places: int
    n_baits: int
    n_rounds: int
    n_lifts: int
    n_given: int
    rotated: bool
    by_place: bool
    average: float
    stayed: float
    rivals: float | None
    with_before: float | None
    whole_turn: tuple[int, float] | None
    groups: tuple[tuple[int, ...], ...]
    rare: tuple[int, ...]
    successions: Successions | None
    tested_before_even: bool


def order_worth(kept: KeptDraw) -> OrderWorth | None:
    """Return what a drawn order is worth; None for what is no draw of baits to be compared.

    Parameters
    ----------
    kept : KeptDraw
        The draw; rounds still to come are taken to be fished as planned, those before it as
        they were.

    References
    ----------
    As `trapline.science.design_efficiency`.

    Examples
    --------
    >>> rounds = tuple(tuple((n + step) % 4 for n in range(7)) for step in range(3))
    >>> scheme = Scheme(7, 4, 3).as_dict()
    >>> worth = order_worth(KeptDraw(scheme, 1, tuple("abcd"), tuple("1234567"), rounds))
    >>> print(worth_sentences(worth, "abcd")[0])  # doctest: +NORMALIZE_WHITESPACE
    7 places and 3 rounds cannot be shared out evenly among 4 baits: this order keeps 86 % of
    what its 21 lifts could tell. 4 rounds would keep 98 %. With baits left where round 1 puts
    them 0 % would be kept: good places and good baits could not be told apart.
    """
    try:
        scheme, n_baits = Scheme.from_dict(kept.scheme), len(kept.bait_ids)
        rounds = np.array(kept.rounds, dtype=np.int64)
        is_baited = rounds >= 0
        n_rounds = int(is_baited.any(axis=1).sum())
        by_place = n_rounds > 1
        found = design_efficiency(rounds, n_baits, by_place=by_place)
        stayed = design_efficiency(np.repeat(rounds[:1], max(2, len(rounds)), axis=0), n_baits)
    except (InvalidValue, ValueError, IndexError):  # no rounds, one bait, or not our scheme
        return None
    rules = RoundRules(scheme)
    every = np.array([*kept.before, *kept.rounds], dtype=np.int64)
    return OrderWorth(
        n_places=rounds.shape[1],
        n_baits=n_baits,
        n_rounds=n_rounds,
        n_lifts=int(is_baited.sum()),
        n_given=kept.n_given,
        rotated=scheme.rotated,
        by_place=by_place,
        average=found.average,
        stayed=stayed.average,
        rivals=_between(rounds, rules.free, by_place) if rules.wandering else None,
        with_before=design_efficiency(every, n_baits).average if kept.before else None,
        whole_turn=_whole_turn(kept, scheme, rules, found.average if by_place else 0.0),
        groups=found.groups,
        rare=rules.wandering,
        successions=_successions(every, n_baits, rules.free),
        tested_before_even=_is_tested_before_even(kept, scheme),
    )


def _between(rounds: NDArray[np.int64], baits: Sequence[int], by_place: bool) -> float | None:
    """Return the efficiency between some baits, from their own traps alone; None for one."""
    if len(baits) < 2:
        return None
    numbers = np.full(int(rounds.max()) + 2, -1)  # the last is that of -1
    for number, bait in enumerate(baits):
        if bait < len(numbers) - 1:
            numbers[bait] = number
    return design_efficiency(numbers[rounds], len(baits), by_place=by_place).average


def _whole_turn(
    kept: KeptDraw, scheme: Scheme, rules: RoundRules, average: float
) -> tuple[int, float] | None:
    """Return how many rounds give each place each bait equally often, and what they keep.

    Any such plan is worth about as much as the one that moves every bait on by one place.
    """
    n_baits, n_rounds = scheme.n_baits, len(kept.rounds)
    if kept.before or kept.n_given or rules.wandering or not scheme.rotated:
        return None
    n_wanted = -(-n_rounds // n_baits) * n_baits
    if n_wanted == n_rounds:
        return None
    moved = (np.arange(n_wanted)[:, None] + np.arange(scheme.n_places)) % n_baits
    reached = design_efficiency(moved, n_baits).average
    return (n_wanted, reached) if reached - average >= _WORTH_SAYING else None


def _successions(
    rounds: NDArray[np.int64], n_baits: int, free: Sequence[int]
) -> Successions | None:
    """Return how baits follow each other; None where nothing follows anything."""
    counts = carry_over_counts(rounds, n_baits)
    if not counts.any() or len(free) < 2:
        return None
    among = counts[np.ix_(free, free)]
    pairs = among[~np.eye(len(free), dtype=bool)]
    return Successions(int(pairs.min()), int(pairs.max()), int(np.trace(counts)))


def _is_tested_before_even(kept: KeptDraw, scheme: Scheme) -> bool:
    """Return whether even successions would leave too few layouts to test over."""
    if scheme.even_succession or not scheme.rotated or scheme.n_rounds < 2:
        return False
    stays = (*kept.before, *kept.rounds[: kept.n_given])
    return (
        not with_even_succession(scheme, stays).even_succession
        and count_layouts(scheme, stays or None) is not None  # else too many to be looked through
    )


# --- in words ---------------------------------------------------------------------------


def worth_sentences(worth: OrderWorth | None, names: Sequence[str]) -> tuple[str, ...]:
    """Return what an order is worth as a fisher would say it, a few sentences a line.

    Parameters
    ----------
    worth : OrderWorth or None
        From `order_worth`.
    names : sequence of str
        The names of the baits, in the order of the draw.

    References
    ----------
    Our own words.
    """
    if worth is None:
        return ()
    lines = [
        " ".join(part for part in (_on_places(worth, names), _on_before(worth)) if part),
        _on_successions(worth, names),
    ]
    if worth.tested_before_even:
        lines.append(
            "Drawn from all balanced orders, not only from those in which baits follow each other"
            " most evenly: there are too few of those for the test."
        )
    return tuple(line for line in lines if line)


def _on_places(worth: OrderWorth, names: Sequence[str]) -> str:
    """Return whether good places and good baits can be told apart, and what that costs."""
    n_rounds, reached = worth.whole_turn or (0, 0.0)
    if not worth.rotated:
        return (
            "Every bait stays on its places: good places and good baits cannot be told apart,"
            " however many rounds are fished. Let the baits change places."
        )
    if not worth.by_place:
        turn = (
            f" {n_rounds} rounds could: they would keep {_percent(reached)} of what their lifts"
            " could tell."
        )
        return (
            "One round cannot tell good places and good baits apart; only the lot keeps it fair."
            + (turn if worth.whole_turn else "")
        )
    if len(worth.groups) > 1:
        turn = f" {n_rounds} rounds would do, and keep {_percent(reached)}."
        return _on_groups(worth, names) + (turn if worth.whole_turn else " More rounds would help.")
    if worth.average >= _WHOLE:
        kept = (
            "Every bait has its even share of places and rounds: nothing of what the"
            f" {worth.n_lifts} lifts could tell is lost."
        )
    else:
        kept = _on_average(worth, names)
    turn = f" {n_rounds} rounds would keep {_percent(reached)}." if worth.whole_turn else ""
    return (
        f"{kept}{turn} With baits left where round 1 puts them {_percent(worth.stayed)} would be"
        " kept: good places and good baits could not be told apart."
    )


def _on_average(worth: OrderWorth, names: Sequence[str]) -> str:
    """Return why places and rounds do not come out even, and what is kept."""
    uneven = [
        f"{number} {word}"
        for number, word in ((worth.n_places, "places"), (worth.n_rounds, "rounds"))
        if number % worth.n_baits
    ]
    if worth.rare:
        cause = f"With a limit on {_named(worth.rare, names)} not all can come out even"
    elif uneven:
        cause = f"{' and '.join(uneven)} cannot be shared out evenly among {worth.n_baits} baits"
    elif worth.n_given:
        cause = "The rounds fished before do not come out even"
    else:
        cause = "Not everything comes out even"
    kept = (
        f"this order keeps {_percent(worth.average)} of what its {worth.n_lifts} lifts could tell"
    )
    between = "" if worth.rivals is None else f" ({_percent(worth.rivals)} between the other baits)"
    return f"{cause}: {kept}{between}."


def _on_groups(worth: OrderWorth, names: Sequence[str]) -> str:
    """Return which baits can be compared where not all can."""
    sets = [_named(group, names) for group in worth.groups if len(group) > 1]
    alone = [group[0] for group in worth.groups if len(group) == 1]
    if not sets:
        return "No two baits change places with each other: none can be told from its places."
    said = f"Good places and good baits can be told apart only among {', and among '.join(sets)}"
    if alone:
        return f"{said}; not for {_named(alone, names)}."
    return f"{said}: not between them."


def _on_before(worth: OrderWorth) -> str:
    if worth.with_before is None:
        return ""
    return (
        "Together with the rounds of the earlier trip that it goes on from, the order keeps"
        f" {_percent(worth.with_before)}."
    )


def _on_successions(worth: OrderWorth, names: Sequence[str]) -> str:
    """Return how evenly baits follow each other on their places."""
    found = worth.successions
    if found is None or not worth.rotated:
        return ""
    other = "the other" if worth.n_baits - len(worth.rare) == 2 else "every other"
    without = f" ({_named(worth.rare, names)} left out)" if worth.rare else ""
    how_often = _times(found.least, found.most)
    itself = "no bait follows itself"
    if found.n_itself:
        itself = f"a bait follows itself {_times(found.n_itself, found.n_itself)} in all"
    if found.least == found.most or (found.least and found.most - found.least == 1):
        so = "What the last bait leaves on a place weighs on all about alike."
    else:
        so = "What the last bait leaves on a place may favour some of them."
    return f"From round to round each bait follows {other} {how_often}{without}; {itself}. {so}"


def _times(least: int, most: int) -> str:
    """Return how often something happens: twice, 2 to 4 times."""
    words = {0: "never", 1: "once", 2: "twice"}
    if least == most:
        return words.get(most, f"{most} times")
    others = {(0, 1): "at most once", (0, 2): "at most twice", (1, 2): "once or twice"}
    return others.get((least, most), f"{least} to {most} times")


def _percent(share: float) -> str:
    """Return a share in whole percent; what is neither nothing nor all is never said to be."""
    if 0 < share < 0.01:
        return "less than 1 %"
    if 0.99 < share < _WHOLE:
        return "more than 99 %"
    return f"{100 * share:.0f} %"


def _named(baits: Sequence[int], names: Sequence[str]) -> str:
    """Return baits by name: 'a', 'b' and 'c'."""
    quoted = [f"'{names[bait]}'" for bait in baits]
    return " and ".join(part for part in (", ".join(quoted[:-1]), quoted[-1]) if part)

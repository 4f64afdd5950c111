"""Fair layouts: which bait stands on which place in which round, drawn with a seed.

A layout is balanced when, in this order of importance,

1. every round keeps the scheme: its blocks, and the same number of places for every bait, give or
   take one, a bait with a limit kept at its limit where that is lower (never given up);
2. every place gets every bait in the same number of rounds, give or take one: a bait that has
   n places in all over R rounds of P places comes to a place floor(n/P) or ceil(n/P) times;
3. the baits without a lower limit have the same number of places over the whole trip, give or
   take one.

A draw is uniform over all balanced layouts. Where none is left (after rounds that were fished
otherwise than planned) it is uniform over the least uneven ones: the third wish is given up
first, then the second, the worst place kept as even as possible before the sum over places; the
notes of the draw say so.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.layout_scheme import (
    BaitArray,
    RoundRules,
    Rows,
    Scheme,
    as_rows,
    checked_rounds,
    checked_seed,
)
from trapline.science.layout_table import LayoutTable, Task, make_table
from trapline.science.layout_walk import walk_layouts

__all__ = [
    "Draw",
    "Scheme",
    "all_layouts",
    "count_layouts",
    "draw_layout",
    "next_round",
    "redraw",
    "redraws",
]


@dataclass(frozen=True, eq=False)
class Draw:
    """A drawn layout: ``rounds[i, j]`` is the bait on place j in round i, counted from 0.

    The first ``n_fished`` rounds were given, not drawn; there -1 is a place without a bait of
    the scheme. ``notes`` are sentences for the user; empty when everything is as wished. Store
    the rounds, not only the seed: another version of numpy may draw otherwise from the same one.
    """

    scheme: Scheme
    seed: int
    rounds: BaitArray
    n_fished: int = 0
    notes: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the draw as plain JSON values."""
        return {
            "scheme": self.scheme.as_dict(),
            "seed": self.seed,
            "rounds": self.rounds.tolist(),
            "n_fished": self.n_fished,
            "notes": list(self.notes),
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Draw":
        """Return the draw that :meth:`as_dict` wrote; InvalidValue where it is not one."""
        if set(values) != {"scheme", "seed", "rounds", "n_fished", "notes"}:
            raise InvalidValue("Fields are missing or not known.", "layout draw")
        scheme = Scheme.from_dict(values["scheme"])
        rounds = checked_rounds(scheme, values["rounds"])
        n_fished = values["n_fished"]
        if len(rounds) != scheme.n_rounds or n_fished not in range(scheme.n_rounds):
            raise InvalidValue(f"{len(rounds)} rounds, {n_fished} of them fished.", "layout draw")
        notes = tuple(str(note) for note in values["notes"])
        return cls(scheme, checked_seed(values["seed"]), rounds, n_fished, notes)


def draw_layout(scheme: Scheme, seed: int) -> Draw:
    """Return a layout drawn uniformly from all balanced layouts of the scheme.

    Parameters
    ----------
    scheme : Scheme
        Places, baits, rounds and kind.
    seed : int
        0 or more; the same seed draws the same layout.

    Returns
    -------
    Draw
        ``rounds`` has shape (n_rounds, n_places), baits counted from 0.

    Raises
    ------
    InvalidValue
        A seed that is not a whole number from 0.

    Notes
    -----
    Exact, by counting layouts place by place, for what people set by hand (in blocks 7 baits in
    4 or 7 rounds, in a whole line 3 baits on 12 places in 6 rounds); beyond that a Markov
    chain, and the notes say so.

    References
    ----------
    Fisher (1935), The Design of Experiments, ch. IV-V. Without limits a balanced layout always
    exists: de Werra (1971), equitable colourings of bipartite graphs (both from memory).

    Examples
    --------
    >>> draw = draw_layout(Scheme(n_places=4, n_baits=2, n_rounds=4), seed=1)
    >>> draw.rounds.sum(axis=0).tolist(), draw.rounds.sum(axis=1).tolist()
    ([2, 2, 2, 2], [2, 2, 2, 2])
    """
    return _draw(scheme, (), seed)


def next_round(scheme: Scheme, previous_rounds: npt.ArrayLike, seed: int) -> Draw:
    """Return the rounds that were fished and, after them, a draw of all that are to come.

    Parameters
    ----------
    scheme : Scheme
        The plan of the trip. When all its rounds were fished it is lengthened by one.
    previous_rounds : array_like of int, shape (k, n_places)
        The baits that were really on the places; -1 for none, or one that is not in the scheme.
    seed : int
        0 or more.

    Returns
    -------
    Draw
        ``rounds[k]`` is the next round. Uniform over the balanced completions of what was
        fished, or over the least uneven ones; ``notes`` says which.

    Raises
    ------
    InvalidValue
        Rounds of another length, or a bait outside -1 .. n_baits - 1.

    References
    ----------
    A uniform draw, given its first rounds, is uniform over their completions; no other source.

    Examples
    --------
    >>> draw = next_round(Scheme(n_places=4, n_baits=2, n_rounds=2), [[0, 1, 1, 0]], seed=1)
    >>> draw.rounds.tolist()
    [[0, 1, 1, 0], [1, 0, 0, 1]]
    """
    fished = as_rows(checked_rounds(scheme, previous_rounds))
    if len(fished) < scheme.n_rounds:
        return _draw(scheme, fished, seed)
    longer = replace(scheme, n_rounds=len(fished) + 1)
    note = f"All {scheme.n_rounds} rounds of the plan were fished; one was added."
    return _draw(longer, fished, seed, (note,))


def count_layouts(scheme: Scheme, previous_rounds: npt.ArrayLike | None = None) -> int | None:
    """Return the number of layouts that a draw chooses from; None when too many to count.

    Parameters
    ----------
    scheme : Scheme
        Places, baits, rounds and kind.
    previous_rounds : array_like of int, shape (k, n_places), optional
        Rounds that are kept as they are, as in :func:`next_round`, k less than n_rounds.

    References
    ----------
    Latin squares of order 4 to 7: 576, 161280, 812851200, 61479419904000 (OEIS A002860).

    Examples
    --------
    >>> count_layouts(Scheme(n_places=4, n_baits=4, n_rounds=4))
    576
    """
    fished = _open_rows(scheme, previous_rounds)
    if _baits_stay(scheme, fished):
        return 1
    table = _table(scheme, fished)
    return None if table is None else table.n_layouts


def all_layouts(
    scheme: Scheme, limit: int = 1_000_000, previous_rounds: npt.ArrayLike | None = None
) -> BaitArray:
    """Return every layout that a draw chooses from, once: shape (n, n_rounds, n_places).

    Parameters
    ----------
    scheme : Scheme
        Places, baits, rounds and kind.
    limit : int
        The most layouts to list.
    previous_rounds : array_like of int, shape (k, n_places), optional
        Rounds that are kept as they are, as in :func:`next_round`.

    Raises
    ------
    InvalidValue
        More than ``limit`` layouts, or too many to count.

    References
    ----------
    As :func:`draw_layout`.

    Examples
    --------
    >>> all_layouts(Scheme(n_places=2, n_baits=2, n_rounds=2)).tolist()
    [[[0, 1], [1, 0]], [[1, 0], [0, 1]]]
    """
    fished = _open_rows(scheme, previous_rounds)
    if _baits_stay(scheme, fished):
        return _drawn(scheme, fished, np.random.default_rng(0), 1)[0]
    table = _table(scheme, fished)
    if table is None or table.n_layouts > limit:
        number = "too many to count" if table is None else f"{table.n_layouts}"
        raise InvalidValue(
            f"The layouts of this scheme are {number}; at most {limit} can be listed.",
            "layout scheme",
            "Draw from them instead.",
        )
    return _whole(scheme, fished, table.listed())


def redraw(
    scheme: Scheme, rng: np.random.Generator, previous_rounds: npt.ArrayLike | None = None
) -> BaitArray:
    """Return one more draw from the same layouts, shape (n_rounds, n_places); for tests.

    See :func:`redraws`, which is many times faster for many.
    """
    layout: BaitArray = redraws(scheme, rng, 1, previous_rounds)[0]
    return layout


def redraws(
    scheme: Scheme,
    rng: np.random.Generator,
    n_draws: int,
    previous_rounds: npt.ArrayLike | None = None,
) -> BaitArray:
    """Return draws from the same layouts, shape (n_draws, n_rounds, n_places).

    Parameters
    ----------
    scheme : Scheme
        Places, baits, rounds and kind.
    rng : numpy.random.Generator
        Where the chance comes from.
    n_draws : int
        1 or more. Independent where :func:`count_layouts` can count; otherwise several draws
        come from each of some 400 Markov chains.
    previous_rounds : array_like of int, shape (k, n_places), optional
        Rounds that are kept as they are, as in :func:`next_round`.

    References
    ----------
    As :func:`draw_layout`.

    Examples
    --------
    >>> redraws(Scheme(4, 2, 4), np.random.default_rng(1), n_draws=3).shape
    (3, 4, 4)
    """
    if n_draws < 1:
        raise InvalidValue(f"{n_draws} draws are none.", "n_draws", "Ask for 1 or more.")
    return _drawn(scheme, _open_rows(scheme, previous_rounds), rng, n_draws)[0]


def _draw(scheme: Scheme, fished: Rows, seed: int, notes: tuple[str, ...] = ()) -> Draw:
    rng = np.random.default_rng(checked_seed(seed))
    layouts, unevenness = _drawn(scheme, fished, rng, 1)
    layout = layouts[0]
    notes += _notes_on_scheme(scheme)
    if not _baits_stay(scheme, fished) and _table(scheme, fished) is None:
        notes += ("The balanced layouts are too many to count: drawn by a Markov chain.",)
    if unevenness:
        notes += (f"No balanced layout was left. {_what_is_uneven(scheme, layout)}",)
    return Draw(scheme, seed, layout, len(fished), notes)


def _drawn(
    scheme: Scheme, fished: Rows, rng: np.random.Generator, n_draws: int
) -> tuple[BaitArray, int]:
    """Return whole layouts (n_draws, n_rounds, n_places) and how uneven they are, 0 for not."""
    if _baits_stay(scheme, fished):
        stay = np.broadcast_to(_last_baits(fished), (n_draws, 1, scheme.n_places))
        return _whole(scheme, fished, stay), 0
    table = _table(scheme, fished)
    if table is None:
        layouts, unevenness = walk_layouts(_task(scheme, fished), rng, n_draws)
    else:
        layouts, unevenness = table.draw(rng, n_draws), table.cost
    return _whole(scheme, fished, layouts), unevenness


def _whole(scheme: Scheme, fished: Rows, layouts: BaitArray) -> BaitArray:
    """Return layouts (n, n_rounds, n_places): the fished rounds, then the drawn ones."""
    if not scheme.rotated:
        layouts = layouts.repeat(scheme.n_rounds - len(fished), axis=1)
    before = np.array(fished, dtype=np.int8).reshape(1, len(fished), scheme.n_places)
    whole: BaitArray = np.concatenate([before.repeat(len(layouts), axis=0), layouts], axis=1)
    return whole


def _baits_stay(scheme: Scheme, fished: Rows) -> bool:
    """Return whether nothing is left to draw: baits that stay were put out already."""
    return not scheme.rotated and len(fished) > 0


def _last_baits(fished: Rows) -> BaitArray:
    """Return the bait that each place had last."""
    baits = np.array(fished[0], dtype=np.int8)
    for row in np.array(fished, dtype=np.int8)[1:]:
        baits[row >= 0] = row[row >= 0]
    if (baits < 0).any():
        raise InvalidValue(
            f"Place {int(np.argmin(baits)) + 1} never had a bait of the scheme, "
            "and the baits are to stay.",
            "previous rounds",
            "Rotate the baits, or give the place a bait.",
        )
    return baits


def _task(scheme: Scheme, fished: Rows) -> Task:
    n_rounds = scheme.n_rounds if scheme.rotated else 1
    rules = RoundRules(scheme)
    least, most = rules.per_place(n_rounds)
    rounds = np.array(fished, dtype=np.int8).reshape(len(fished), scheme.n_places)
    return Task(rules, rounds, n_rounds - len(fished), least, most)


@lru_cache(maxsize=4)  # the screen, the draw and the test of a trip ask for the same one
def _table(scheme: Scheme, fished: Rows) -> LayoutTable | None:
    return make_table(_task(scheme, fished))


def _notes_on_scheme(scheme: Scheme) -> tuple[str, ...]:
    """Return sentences about what the numbers of the scheme do not allow."""
    rules = RoundRules(scheme)
    notes = [
        f"Bait {bait + 1} is on {rules.limits[bait]} of the places in a round; "
        "it may come anywhere along the line."
        for bait in rules.wandering
    ]
    n_blocked, n_left = divmod(rules.n_free_places, len(rules.free))
    if not n_blocked:
        notes.append(f"Every round leaves out {len(rules.free) - n_left} of the baits.")
    elif n_left and rules.in_blocks:
        notes.append(f"The last block is short: it holds {n_left} of {len(rules.free)} baits.")
    elif n_left:
        notes.append("In a round some baits are on one place more than others.")
    return tuple(notes)


def _what_is_uneven(scheme: Scheme, layout: BaitArray) -> str:
    """Return a sentence on the worst place, or on the totals where the places are even."""
    task = _task(scheme, as_rows(layout))
    counts = task.fished_counts()
    off = np.maximum(np.array(task.least) - counts, counts - np.array(task.most))
    if off.max() > 0:
        place, bait = np.unravel_index(int(np.argmax(off)), off.shape)
        n_rounds = int(counts[place, bait])
        wished = " to ".join(map(str, dict.fromkeys((task.least[bait], task.most[bait]))))
        return (
            f"Places that get a bait too often or too seldom: {int((off > 0).any(axis=1).sum())}; "
            f"the worst is place {place + 1}, with bait {bait + 1} in {n_rounds} rounds "
            f"instead of {wished}."
        )
    totals = ", ".join(map(str, counts.sum(axis=0)))
    return f"Over the trip the baits are used {totals} times."


def _open_rows(scheme: Scheme, rounds: npt.ArrayLike | None) -> Rows:
    """Return the fished rounds, checked to leave one to draw."""
    fished = () if rounds is None else as_rows(checked_rounds(scheme, rounds))
    if len(fished) >= scheme.n_rounds:
        raise InvalidValue(
            f"{len(fished)} rounds fished leave none of {scheme.n_rounds} to draw.",
            "previous rounds",
            "Plan one round more.",
        )
    return fished

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

With ``even_succession`` a draw comes from those of these layouts in which baits follow each other
most evenly on their places, or near them where there are too many: see ``layout_succession``.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue
from trapline.science.layout_notes import notes_on_scheme, what_is_uneven
from trapline.science.layout_scheme import (
    BaitArray,
    Rows,
    Scheme,
    as_rows,
    checked_rounds,
    checked_seed,
    last_baits,
)
from trapline.science.layout_succession import (
    MOST_LISTED,
    N_CANDIDATES,
    most_even,
    most_even_of_each,
    note_on_succession,
)
from trapline.science.layout_table import LayoutTable, make_table, task_of
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
        Places, baits, rounds and kind. With ``even_succession`` from the most even ones only,
        or the most even of some draws, as its notes say.
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

    With ``even_succession`` those with the most even successions are counted, and None says
    that they are too many to be found among all.

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
    return 1 if _baits_stay(scheme, fished) else _count(scheme, fished)


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
    every = _every(scheme, fished, limit)
    if every is None:
        raise InvalidValue(
            "The layouts of this scheme are "
            f"{_count(scheme, fished) or 'too many to count'}; at most {limit} can be listed.",
            "layout scheme",
            "Draw from them instead.",
        )
    return every


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
    """Return draws made as :func:`draw_layout` makes them, shape (n_draws, n_rounds, n_places).

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
    notes += notes_on_scheme(scheme)
    table = None if _baits_stay(scheme, fished) else _table(scheme, fished)
    if table is None and not _baits_stay(scheme, fished):
        notes += ("The balanced layouts are too many to count: drawn by a Markov chain.",)
    if _succession_counts(scheme):
        n_layouts = None if table is None else table.n_layouts
        notes += note_on_succession(_count(scheme, fished), n_layouts)
    if unevenness:
        notes += (f"No balanced layout was left. {what_is_uneven(scheme, layout)}",)
    return Draw(scheme, seed, layout, len(fished), notes)


def _drawn(
    scheme: Scheme, fished: Rows, rng: np.random.Generator, n_draws: int
) -> tuple[BaitArray, int]:
    """Return whole layouts (n_draws, n_rounds, n_places) and how uneven they are, 0 for not."""
    if _baits_stay(scheme, fished):
        stay = np.broadcast_to(last_baits(fished), (n_draws, 1, scheme.n_places))
        return _whole(scheme, fished, stay), 0
    table = _table(scheme, fished)
    evenly = _succession_counts(scheme)
    n_uniform = n_draws * (N_CANDIDATES if evenly else 1)
    if table is None:
        layouts, unevenness = walk_layouts(task_of(scheme, fished), rng, n_uniform)
    elif evenly and (listed := _most_even(scheme, fished)) is not None:
        return listed[rng.integers(len(listed), size=n_draws)], table.cost
    else:
        layouts, unevenness = table.draw(rng, n_uniform), table.cost
    whole = _whole(scheme, fished, layouts)
    return most_even_of_each(whole, scheme.n_baits) if evenly else whole, unevenness


def _count(scheme: Scheme, fished: Rows) -> int | None:
    if _succession_counts(scheme):
        listed = _most_even(scheme, fished)
        return None if listed is None else len(listed)
    table = _table(scheme, fished)
    return None if table is None else table.n_layouts


def _every(scheme: Scheme, fished: Rows, limit: int) -> BaitArray | None:
    """Return all layouts that a draw chooses from, None for more than the limit."""
    if _succession_counts(scheme):
        listed = _most_even(scheme, fished)
        return None if listed is None or len(listed) > limit else listed.copy()
    table = _table(scheme, fished)
    if table is None or table.n_layouts > limit:
        return None
    return _whole(scheme, fished, table.listed())


@lru_cache(maxsize=4)
def _most_even(scheme: Scheme, fished: Rows) -> BaitArray | None:
    """Return the balanced layouts with the most even successions, None for too many to list."""
    every = _every(replace(scheme, even_succession=False), fished, MOST_LISTED)
    return None if every is None else most_even(every, scheme.n_baits)


def _succession_counts(scheme: Scheme) -> bool:
    """Return whether there is a choice of which bait follows which on a place."""
    return scheme.even_succession and scheme.rotated and scheme.n_rounds > 1


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


def _table(scheme: Scheme, fished: Rows) -> LayoutTable | None:
    return _table_of_balanced(replace(scheme, even_succession=False), fished)


@lru_cache(maxsize=4)  # the screen, the draw and the test of a trip ask for the same one
def _table_of_balanced(scheme: Scheme, fished: Rows) -> LayoutTable | None:
    return make_table(task_of(scheme, fished))


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

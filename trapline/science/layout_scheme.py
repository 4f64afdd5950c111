"""What a fair layout is: the scheme of a trip and the rules of one round.

Counting, listing and drawing whole layouts is in ``layout_table`` (exact) and ``layout_walk``
(large trips); the functions that callers use are in ``layout``.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from trapline.errors import InvalidValue

BaitArray = npt.NDArray[np.int8]
Rows = tuple[tuple[int, ...], ...]
Kind = Literal["blocks", "whole line"]

# A bait must fit an int8 array. The other two only keep a mistyped number from running for hours.
_MOST = {"n_places": 2000, "n_baits": 60, "n_rounds": 200}


@dataclass(frozen=True)
class Scheme:
    """How baits are given to places: stored with the trip, since its test redraws from it.

    Parameters
    ----------
    n_places : int
        Places in their order along the line, 1 to 2000.
    n_baits : int
        Baits compared, a control ("no bait") counted as one of them, 1 to 60.
    n_rounds : int
        Rounds planned, 1 to 200.
    kind : {"blocks", "whole line"}
        ``blocks``: counted from the start of the line, every stretch of as many places as there
        are baits holds each bait once, and a last short stretch holds different baits.
        ``whole line``: only the numbers of each bait in a round are balanced.
    rotated : bool
        True: baits change places from round to round. False: one round is drawn and kept.
    at_most : tuple of int or None, length n_baits or 0
        The most places that a bait gets in one round; None, or an empty tuple, for no limit.
        A bait whose limit keeps it below the others (a control on one place) stands outside
        the blocks: it may come anywhere along the line, at most once between the ends of a
        block, and the other baits are in blocks when it is skipped.
    even_succession : bool
        True: of the balanced layouts, those are preferred in which baits follow each other most
        evenly on their places (``layout_succession`` says how). Without meaning where baits
        are not rotated.

    Raises
    ------
    InvalidValue
        A number outside its range, or limits that leave places empty.

    References
    ----------
    Randomised blocks: Fisher (1935), The Design of Experiments, ch. IV (from memory). The rule
    for a bait with a limit is our own.

    Examples
    --------
    >>> scheme = Scheme(7, 4, 2, at_most=(None, None, None, 1))
    >>> Scheme.from_dict(scheme.as_dict()) == scheme
    True
    """

    n_places: int
    n_baits: int
    n_rounds: int = 1
    kind: Kind = "blocks"
    rotated: bool = True
    at_most: tuple[int | None, ...] = ()
    even_succession: bool = False

    def __post_init__(self) -> None:
        for name, most in _MOST.items():
            _check_whole_number(name, getattr(self, name), most)
        if self.kind not in ("blocks", "whole line"):
            raise InvalidValue(
                f"Layout kind '{self.kind}' is not known.",
                "kind",
                "Use 'blocks' or 'whole line'.",
            )
        for name in ("rotated", "even_succession"):
            if not isinstance(getattr(self, name), bool):
                raise InvalidValue(f"'{getattr(self, name)}' is neither true nor false.", name)
        if self.at_most and len(self.at_most) != self.n_baits:
            raise InvalidValue(
                f"{len(self.at_most)} limits for {self.n_baits} baits.",
                "at_most",
                "Give one limit, or none, for each bait.",
            )
        for limit in self.at_most:
            if limit is not None:
                _check_whole_number("at_most", limit, _MOST["n_places"])
        if sum(self.limits_per_round()) < self.n_places:
            raise InvalidValue(
                f"The limits allow {sum(self.limits_per_round())} baited places a round, "
                f"but the line has {self.n_places}.",
                "at_most",
                "Raise a limit, or add a bait.",
            )

    def limits_per_round(self) -> tuple[int, ...]:
        """Return the most places that each bait can get in one round."""
        at_most = self.at_most or (None,) * self.n_baits
        return tuple(self.n_places if m is None else min(m, self.n_places) for m in at_most)

    def as_dict(self) -> dict[str, Any]:
        """Return the scheme as plain JSON values; what older programs do not know only if set."""
        newer = {"even_succession": True} if self.even_succession else {}
        return {
            "kind": self.kind,
            "n_places": self.n_places,
            "n_baits": self.n_baits,
            "n_rounds": self.n_rounds,
            "rotated": self.rotated,
            "at_most": list(self.at_most),
            **newer,
        }

    @classmethod
    def from_dict(cls, values: Mapping[str, Any]) -> "Scheme":
        """Return the scheme that :meth:`as_dict` wrote; InvalidValue where it is not one."""
        known = {"kind", "n_places", "n_baits", "n_rounds", "rotated", "at_most"}
        if set(values) - {"even_succession"} != known:
            names = ", ".join(sorted((set(values) - {"even_succession"}) ^ known))
            raise InvalidValue(f"Fields missing or not known: {names}.", "layout scheme")
        at_most = values["at_most"]
        if not isinstance(at_most, list | tuple):
            raise InvalidValue(f"'{at_most}' is not a list of limits.", "at_most")
        return cls(**{**values, "at_most": tuple(at_most)})


def _check_whole_number(name: str, value: object, most: int) -> None:
    """Raise InvalidValue unless the value is a whole number from 1 to ``most``."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= most:
        raise InvalidValue(
            f"'{value}' is not a whole number from 1 to {most}.", name, "Correct the number."
        )


def as_rows(rounds: BaitArray) -> Rows:
    """Return rounds as tuples, which can be compared and kept in a cache."""
    return tuple(tuple(map(int, row)) for row in rounds)


def checked_rounds(scheme: Scheme, rounds: npt.ArrayLike) -> BaitArray:
    """Return rounds as an array (k, n_places), baits -1 .. n_baits - 1."""
    try:
        values = np.asarray(rounds)
    except ValueError as error:
        raise InvalidValue("The rounds have different numbers of places.", "rounds") from error
    if values.shape == (0,):  # no rounds
        return np.empty((0, scheme.n_places), dtype=np.int8)
    if values.ndim != 2 or values.shape[1] != scheme.n_places:
        raise InvalidValue(
            f"A table of {scheme.n_places} places is needed, not one of shape {values.shape}.",
            "rounds",
        )
    if (
        not np.issubdtype(values.dtype, np.integer)
        or not np.isin(values, np.arange(-1, scheme.n_baits)).all()
    ):
        raise InvalidValue(
            f"A bait is a whole number from 0 to {scheme.n_baits - 1}, or -1 for none.", "rounds"
        )
    return values.astype(np.int8)


def last_baits(fished: Rows) -> BaitArray:
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


def checked_seed(seed: object) -> int:
    """Return the seed of a draw, checked."""
    if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
        raise InvalidValue(f"'{seed}' is not a whole number from 0.", "seed", "Correct the seed.")
    return seed


class RoundRules:
    """The rounds that a scheme permits, as an automaton read place by place.

    ``level`` is the number of places that every bait without a binding limit gets in each
    round, and ``n_extra`` of them get one more. Baits in ``wandering`` have a limit below that
    and get exactly their limit. States are small integers; 0 is the empty line.
    """

    def __init__(self, scheme: Scheme) -> None:
        self.n_places = scheme.n_places
        self.n_baits = scheme.n_baits
        self.in_blocks = scheme.kind == "blocks"
        self.limits = scheme.limits_per_round()
        self.level = max(
            level
            for level in range(max(self.limits) + 1)
            if sum(min(limit, level) for limit in self.limits) <= self.n_places
        )
        self.n_extra = self.n_places - sum(min(limit, self.level) for limit in self.limits)
        top = self.level + (self.n_extra > 0)
        self.wandering = tuple(b for b, limit in enumerate(self.limits) if limit < top)
        self.free = tuple(b for b, limit in enumerate(self.limits) if limit >= top)
        self.n_free_places = self.n_places - sum(self.limits[b] for b in self.wandering)
        self._states: list[tuple[int, ...]] = []
        self._ids: dict[tuple[int, ...], int] = {}
        self._following: list[list[int] | None] = []
        n_fields = 2 + 2 * len(self.wandering) if self.in_blocks else self.n_baits
        start = [0] * n_fields
        if self.in_blocks:
            start[3::2] = [-1] * len(self.wandering)
        self._id(tuple(start))

    def per_place(self, n_rounds: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return the least and the most rounds of each bait on one place of a balanced layout."""
        uses = [
            Fraction(self.limits[b])
            if b in self.wandering
            else Fraction(self.n_free_places, len(self.free))
            for b in range(self.n_baits)
        ]
        means = [n_rounds * use / self.n_places for use in uses]
        return tuple(floor(m) for m in means), tuple(ceil(m) for m in means)

    def following(self, state: int) -> list[int]:
        """Return the state after each bait on the next place; -1 where it is not permitted."""
        known = self._following[state]
        if known is None:
            step = self._block_step if self.in_blocks else self._line_step
            after = (step(self._states[state], bait) for bait in range(self.n_baits))
            known = self._following[state] = [-1 if s is None else self._id(s) for s in after]
        return known

    def counts(self, state: int) -> list[int]:
        """Return how often each bait stands on the places read so far."""
        fields = self._states[state]
        if not self.in_blocks:
            return list(fields)
        n_free, mask = fields[:2]
        counts = [0] * self.n_baits
        for i, bait in enumerate(self.free):
            counts[bait] = n_free // len(self.free) + (mask >> i & 1)
        for i, bait in enumerate(self.wandering):
            counts[bait] = fields[2 + 2 * i]
        return counts

    def split(self, state: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return what a state says of the line, and what it says of each free bait."""
        fields = self._states[state]
        if self.in_blocks:
            return (fields[0], *fields[2:]), tuple(
                fields[1] >> i & 1 for i in range(len(self.free))
            )
        return tuple(fields[b] for b in self.wandering), tuple(fields[b] for b in self.free)

    def joined(self, of_line: tuple[int, ...], of_baits: tuple[int, ...]) -> int:
        """Return the state that :meth:`split` takes apart."""
        if self.in_blocks:
            mask = sum(bit << i for i, bit in enumerate(of_baits))
            return self._id((of_line[0], mask, *of_line[1:]))
        counts = [0] * self.n_baits
        for bait, count in zip(self.wandering + self.free, of_line + of_baits, strict=True):
            counts[bait] = count
        return self._id(tuple(counts))

    def permitted(self, rounds: BaitArray) -> npt.NDArray[np.bool_]:
        """Return for each row of an array (n, n_places) whether it is a permitted round."""
        counts = (rounds[:, :, None] == np.arange(self.n_baits)).sum(axis=1)
        limits = np.array(self.limits)
        wandering = list(self.wandering)
        good = (counts[:, wandering] == limits[wandering]).all(axis=1)
        above = counts[:, list(self.free)] - self.level
        good &= ((above == 0) | (above == 1)).all(axis=1)
        if not self.in_blocks:
            return np.asarray(good)
        is_wandering = np.isin(rounds, wandering)
        order = np.argsort(is_wandering, axis=1, kind="stable")
        free = np.take_along_axis(rounds, order, axis=1)[:, : self.n_free_places]
        size = len(self.free)
        for first in range(0, self.n_free_places, size):
            block = np.sort(free[:, first : first + size], axis=1)
            good &= (np.diff(block, axis=1) > 0).all(axis=1)
        n_free_before = np.cumsum(~is_wandering, axis=1)
        for bait in self.wandering:
            for row in np.flatnonzero(good) if self.limits[bait] > 1 else ():
                last: int | None = -1
                for n_free in n_free_before[row, rounds[row] == bait]:
                    last = None if last is None else self._block_for(int(n_free), last)
                good[row] &= last is not None
        return np.asarray(good)

    def _id(self, state: tuple[int, ...]) -> int:
        if state not in self._ids:
            self._ids[state] = len(self._states)
            self._states.append(state)
            self._following.append(None)
        return self._ids[state]

    def _line_step(self, state: tuple[int, ...], bait: int) -> tuple[int, ...] | None:
        """Whole line: the fields are the counts of the baits."""
        most = self.limits[bait] if bait in self.wandering else self.level
        if state[bait] >= most:
            used = sum(max(0, state[b] - self.level) for b in self.free)
            if bait in self.wandering or state[bait] > self.level or used >= self.n_extra:
                return None
        return (*state[:bait], state[bait] + 1, *state[bait + 1 :])

    def _block_step(self, state: tuple[int, ...], bait: int) -> tuple[int, ...] | None:
        """Blocks: places of free baits, those in the block; uses and last block of the others."""
        n_free, mask, *others = state
        size = len(self.free)
        if bait in self.wandering:
            at = 2 * self.wandering.index(bait)
            block = self._block_for(n_free, others[at + 1])
            if others[at] >= self.limits[bait] or block is None:
                return None
            others[at : at + 2] = [others[at] + 1, block]
        else:
            bit = 1 << self.free.index(bait)
            if mask & bit or n_free >= self.n_free_places:
                return None
            n_free += 1
            mask = 0 if n_free % size == 0 else mask | bit
        # Blocks that lie behind no longer matter: one state instead of many.
        earliest = max(0, (n_free - 1) // size)
        others[1::2] = [max(last, earliest - 1) for last in others[1::2]]
        return (n_free, mask, *others)

    def _block_for(self, n_free: int, last: int) -> int | None:
        """Return the first block after ``last`` that a wandering bait can be counted to.

        Between two blocks it can be counted to either.
        """
        size = len(self.free)
        n_blocks = -(-self.n_free_places // size)
        block = max(last + 1, 0, (n_free - 1) // size)
        return block if block <= min(n_free // size, n_blocks - 1) else None

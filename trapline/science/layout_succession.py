"""Layouts in which baits follow each other on their places as evenly as can be had.

A scent may stay on a place, or its animals be gone, so that a bait's catch depends on the one
that hung there before. That weighs on all baits alike when every bait follows every other
equally often. How uneven a layout is in this: the sum, over all ordered pairs of baits, of the
squared number of times that the second follows the first on a place in the next round. A bait
after itself is a pair like the others, and a gap is none. The rounds fished before count too.
In a Latin square, where no bait can follow itself, the least sum is that of a Williams square.

Where the balanced layouts can be listed, those with the least sum are drawn from, each as
likely. Of more, a draw is the most even of :data:`N_CANDIDATES` uniform draws, the first of
them where some are equal. The second kind of draw is not uniform over anything, and need not
be: a test that redraws in the very same way compares the layout that was fished with others
that come from the same lottery, independently of it. If no bait differs, the catches are what
they are whichever of them was fished, so that all have the same chance of any rank: the rank
p, (b + 1) / (m + 1), is at most as often below a level as the level says.
"""

from typing import Final

import numpy as np

from trapline.science.design_efficiency import IntArray, carry_over_counts
from trapline.science.layout_scheme import BaitArray

# Both say how a draw is made that is kept with a trip: another value would test old trips
# against layouts that they were not drawn from.
MOST_LISTED: Final = 100_000
N_CANDIDATES: Final = 16

_CELLS_AT_ONCE: Final = 500_000


def succession_unevenness(layouts: BaitArray, n_baits: int) -> IntArray:
    """Return the sum of squared successions of each layout, shape (n,), for (n, rounds, places).

    Examples
    --------
    >>> layouts = np.array([[[0, 1, 0, 1], [1, 0, 1, 0]], [[0, 1, 0, 1], [1, 0, 0, 1]]])
    >>> succession_unevenness(layouts, 2).tolist()  # in the second each pair occurs once
    [8, 4]
    """
    step = max(1, _CELLS_AT_ONCE // max(1, layouts[0].size, n_baits**2))
    parts = [
        (carry_over_counts(layouts[first : first + step], n_baits) ** 2).sum(axis=(1, 2))
        for first in range(0, len(layouts), step)
    ]
    return np.concatenate(parts)


def most_even(layouts: BaitArray, n_baits: int) -> BaitArray:
    """Return those of the layouts (n, rounds, places) with the most even successions."""
    unevenness = succession_unevenness(layouts, n_baits)
    return np.asarray(layouts[unevenness == unevenness.min()])


def most_even_of_each(layouts: BaitArray, n_baits: int) -> BaitArray:
    """Return the first most even one of every N_CANDIDATES layouts in a row."""
    unevenness = succession_unevenness(layouts, n_baits).reshape(-1, N_CANDIDATES)
    first = np.arange(len(unevenness)) * N_CANDIDATES
    return np.asarray(layouts[first + unevenness.argmin(axis=1)])


def note_on_succession(n_most_even: int | None, n_layouts: int | None) -> tuple[str, ...]:
    """Return what the user is told of a draw among even successions; nothing if all are."""
    if n_most_even is None:
        return (
            f"Of {N_CANDIDATES} layouts drawn by chance, the one in which baits follow each "
            "other most evenly on their places was taken.",
        )
    if n_most_even == n_layouts:
        return ()
    return (
        f"Drawn from the {n_most_even} of {n_layouts} layouts in which baits follow each other "
        "most evenly on their places.",
    )

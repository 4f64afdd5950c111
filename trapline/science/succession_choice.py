"""Whether a draw may be kept to even successions: not where its test would be lost by it."""

from collections import Counter
from dataclasses import replace
from math import factorial, prod
from typing import Final

import numpy.typing as npt

from trapline.science.layout import count_layouts
from trapline.science.layout_scheme import RoundRules, Scheme, checked_rounds
from trapline.science.layout_succession import N_CANDIDATES

_LEVEL: Final = 0.05


def with_even_succession(scheme: Scheme, previous_rounds: npt.ArrayLike | None = None) -> Scheme:
    """Return the scheme with even successions, or without where a fair test matters more.

    Without where the smallest p of the test over the layouts would rise above 0.05 while it
    is no larger over all balanced ones: what a trial can show goes before carry-over, which
    all layouts share alike on the average. Without too where layouts are so many that they
    are drawn by walking: the test could not wait for sixteen walks a redraw. And where baits
    stay, or there is one round only, nothing follows anything else.

    Parameters
    ----------
    scheme : Scheme
        Whether it has ``even_succession`` does not matter.
    previous_rounds : array_like of int, shape (k, n_places), optional
        Rounds that were fished, as in ``layout.next_round``; -1 for none of the baits.

    Notes
    -----
    Nothing here depends on the layout that is drawn: a draw and its redraws choose alike.

    References
    ----------
    Our own rule; p_min as in ``analyses.smallest_p``: Fisher (1935), The Design of
    Experiments, ch. II (from memory).

    Examples
    --------
    >>> with_even_succession(Scheme(12, 4, 4)).even_succession
    True
    >>> with_even_succession(Scheme(4, 4, 4)).even_succession  # 24 / 576 would become 24 / 144
    False
    """
    anyhow, evenly = replace(scheme, even_succession=False), replace(scheme, even_succession=True)
    if not scheme.rotated or scheme.n_rounds < 2:
        return anyhow
    n_layouts = count_layouts(anyhow, previous_rounds)
    if n_layouts is None:
        return anyhow
    n_alike = _n_renamings(scheme, previous_rounds)
    n_even = count_layouts(evenly, previous_rounds)
    # None of the layouts is more than N_CANDIDATES times as likely as in one uniform draw.
    least_p = n_alike * N_CANDIDATES / n_layouts if n_even is None else n_alike / n_even
    return anyhow if n_alike / n_layouts <= _LEVEL < least_p else evenly


def _n_renamings(scheme: Scheme, previous_rounds: npt.ArrayLike | None) -> int:
    """Return in how many ways baits can change names so that the layouts are the same ones.

    Those can that have the same limit, and were not fished.
    """
    rules = RoundRules(scheme)
    fished = checked_rounds(scheme, [] if previous_rounds is None else previous_rounds)
    classes = Counter(
        rules.limits[bait] if bait in rules.wandering else None
        for bait in range(scheme.n_baits)
        if bait not in fished
    )
    return prod(map(factorial, classes.values()))

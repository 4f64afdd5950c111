"""How small a p a drawn layout can give at all: known before anything is caught."""

from math import factorial
from typing import Final

import numpy as np

from trapline.errors import InvalidValue
from trapline.model.kept_draw import KeptDraw
from trapline.science.layout import Scheme, all_layouts, count_layouts
from trapline.science.permutation import permutation_test_over_layouts

# So many layouts are gone through one by one; of more only the number is used.
MOST_LISTED: Final = 5_000


def smallest_p(kept: KeptDraw) -> float | None:
    """Return the smallest p that the test over the layouts of a draw can give, 0 to 1.

    However clear the catches are, the test cannot tell the layout that was drawn from those
    that only call the baits by other names: p is at least their share of all layouts.

    Parameters
    ----------
    kept : KeptDraw
        The draw; all its rounds are taken to be fished and counted as planned.

    Returns
    -------
    float or None
        Exact up to `MOST_LISTED` layouts, else an upper bound: (number of baits)! divided by
        the number of layouts, 0.0 where they are too many to count. None where no such test
        can be made, and where an earlier draw of the trip dealt some of the rounds.

    References
    ----------
    Fisher (1935), The Design of Experiments, ch. II (from memory): a test by randomisation
    rejects no more often than one in the number of arrangements.
    """
    if kept.n_dealt_before:
        return None
    try:
        scheme = Scheme.from_dict(kept.scheme)
        stays = (*kept.before, *kept.rounds[: kept.n_given]) or None
        n_layouts = count_layouts(scheme, stays)
        if n_layouts is None:
            return 0.0
        if n_layouts > MOST_LISTED:
            return min(1.0, factorial(scheme.n_baits) / n_layouts)
        baits = np.array(kept.rounds, dtype=np.int64)
        every = all_layouts(scheme, MOST_LISTED, stays)[:, len(kept.before) :]
        found = permutation_test_over_layouts(baits.astype(float), baits, every, complete=True)
    except InvalidValue:  # rounds fished otherwise than any layout of the scheme
        return None
    return None if found is None else found.p_min

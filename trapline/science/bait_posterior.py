"""What the lifts say about the baits: the front door of the model."""

from trapline.science.bait_model import INDEPENDENT, LiftTable, Priors
from trapline.science.drawn_rates import drawn_posterior
from trapline.science.exact_rates import exact_posterior
from trapline.science.posterior import BaitPosterior


def bait_posterior(table: LiftTable, priors: Priors = INDEPENDENT) -> BaitPosterior:
    """Return what the lifts say about each bait's rate, in animals per trap and 24 h.

    Parameters
    ----------
    table : LiftTable
        Counted lifts.
    priors : Priors
        `INDEPENDENT` for rates, ratios and verdict; `SHRINKING` for chances of being best.

    Notes
    -----
    Exact integration where no round and no place repeats, else Laplace's approximation
    re-weighted by importance; the same table gives the same digits.

    References
    ----------
    Rue, Martino and Chopin (2009), J. R. Stat. Soc. B 71, 319-392.
    """
    if table.is_repeated:
        return drawn_posterior(table, priors)
    return exact_posterior(table, priors)

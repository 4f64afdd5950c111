"""What was found so far, as far as the next trip is planned from it: plain numbers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from trapline.errors import InvalidValue
from trapline.science.bait_model import LiftTable
from trapline.science.posterior import BaitPosterior

Floats = NDArray[np.float64]

N_DRAWS: Final = 256
# Of rounds, where none has repeated yet: half-normal scale on the log scale; assumed, no source.
ROUND_SD: Final = 0.5
# Of the patchiness of one round, the part taken to belong to the places; assumed, no source.
PLACE_SHARE: Final = 0.5
_SEED: Final = 7


@dataclass(frozen=True, eq=False)
class SoFar:
    """The fishing so far, and D draws of what it says; J baits that are no controls.

    Attributes
    ----------
    baits : tuple of str, length J
        Their names.
    n_traps, n_rounds : int
        Traps of each bait in a round (the mean, to the nearest), and rounds fished.
    rotates : bool
        Whether a place has held more than one bait.
    log_means : ndarray, shape (D, J)
        Log of the mean catch of one trap set of each bait, of the soaks so far, at a typical
        place and round.
    catch_means : ndarray, shape (D, J)
        The mean catch itself, over the places and rounds fished.
    spread, round_sd, place_sd : ndarray, shape (D,)
        1/sqrt(dispersion_k), and the spreads of rounds and places on the log scale.
    factor_now : float
        High over low of the 95 % interval of the leader's ratio to its runner-up.
    leading_ratio : float
        The median of that ratio.
    winner_chance : float
        With which a winner beats each rival.
    are_rounds_assumed, are_places_assumed : bool
        Whether that spread could not be seen yet, and is assumed.
    n_trips : int
        Trips that it was found on.
    """

    baits: tuple[str, ...]
    n_traps: int
    n_rounds: int
    rotates: bool
    log_means: Floats
    catch_means: Floats
    spread: Floats
    round_sd: Floats
    place_sd: Floats
    factor_now: float
    leading_ratio: float
    winner_chance: float = 0.975
    are_rounds_assumed: bool = False
    are_places_assumed: bool = False
    n_trips: int = 1

    def __post_init__(self) -> None:
        """Refuse what no trip can be planned from."""
        if len(self.baits) < 2 or min(self.n_traps, self.n_rounds) < 1:
            raise InvalidValue(
                f"{len(self.baits)} baits, {self.n_traps} traps, {self.n_rounds} rounds.", "baits"
            )
        if not 0.5 <= self.winner_chance < 1:
            raise InvalidValue(f"{self.winner_chance:g} is no chance of winning.", "winner_chance")
        for name in ("log_means", "catch_means", "spread", "round_sd", "place_sd"):
            if not np.isfinite(getattr(self, name)).all():
                raise InvalidValue("A draw is no number.", name)

    @property
    def log_levels(self) -> Floats:
        """Log of the mean catch of one trap set over the baits, draw by draw, shape (D,)."""
        highest = self.log_means.max(axis=1)
        return np.asarray(highest + np.log(np.exp(self.log_means.T - highest).mean(axis=0)))

    @property
    def catch_a_trap(self) -> float:
        """Median of the catch of one trap set at a typical place and round, over the baits."""
        return math.exp(float(np.median(self.log_levels)))


def so_far(
    table: LiftTable,
    posterior: BaitPosterior,
    names: Sequence[str],
    *,
    rotates: bool | None = None,
    winner_chance: float = 0.975,
) -> SoFar | None:
    """Return what was found so far; None where there are no two baits to compare.

    Parameters
    ----------
    table : LiftTable
        The lifts that count.
    posterior : BaitPosterior
        What they say, from independent priors.
    names : sequence of str, length J
        Of the table's baits; controls are left out.
    rotates : bool, optional
        Whether baits move between rounds; by default as the table shows.
    winner_chance : float
        With which a winner beats each rival, .5 to 1.

    Notes
    -----
    Where no round has repeated, rounds are taken to differ by a half-normal(0.5); where no
    place has, half of the patchiness of traps is taken to be that of their places.

    References
    ----------
    Those two: assumed, no source.

    Examples
    --------
    >>> from trapline.science.bait_model import lift_table
    >>> from trapline.science.bait_posterior import bait_posterior
    >>> table = lift_table([5, 3, 8, 6], [24.0] * 4, [0, 1, 0, 1])
    >>> found = so_far(table, bait_posterior(table), ["fish", "liver"])
    >>> found.n_traps, found.n_rounds, found.are_places_assumed
    (2, 1, True)
    """
    rivals = table.rivals
    if len(rivals) < 2:
        return None
    rows = np.isin(table.bait, rivals)
    leader, other = _leaders(posterior.beats, rivals)
    ratio = posterior.ratio(leader, other)
    return SoFar(
        baits=tuple(names[bait] for bait in rivals),
        n_traps=max(1, round(int(rows.sum()) / (len(rivals) * table.n_rounds))),
        n_rounds=table.n_rounds,
        rotates=_rotates(table) if rotates is None else rotates,
        factor_now=ratio.high / ratio.low,
        leading_ratio=ratio.median,
        winner_chance=winner_chance,
        are_rounds_assumed=not table.has_rounds,
        are_places_assumed=not table.has_places,
        n_trips=table.n_trips,
        **_drawn(table, posterior, rows),
    )


def _drawn(table: LiftTable, posterior: BaitPosterior, rows: NDArray[np.bool_]) -> dict[str, Any]:
    """Return the draws of rates and spreads, and what is assumed where nothing has repeated."""
    draws = posterior.draws(N_DRAWS)
    rng = np.random.default_rng(_SEED)
    # Draws come in an order of their own; in a shuffled one any first few are fair.
    order = rng.permutation(draws.spread.size)
    rates = draws.log_rates[order][:, table.rivals]
    others = (draws.row_logs - draws.log_rates[:, table.bait] - table.log_fraction)[order][:, rows]
    spread, place_sd = draws.spread[order], draws.place_sd[order]
    round_sd = draws.round_sd[order]
    if not table.has_places:
        patchiness = np.log1p(spread**2)
        place_sd = np.sqrt(PLACE_SHARE * patchiness)
        spread = np.sqrt(np.expm1((1 - PLACE_SHARE) * patchiness))
    if not table.has_rounds:
        round_sd = ROUND_SD * np.abs(rng.standard_normal(order.size))
    return {
        "log_means": rates + others.mean(axis=1)[:, None],
        "catch_means": np.exp(rates) * np.exp(others).mean(axis=1)[:, None],
        "spread": spread,
        "round_sd": round_sd,
        "place_sd": place_sd,
    }


def _leaders(beats: Floats, rivals: Sequence[int]) -> tuple[int, int]:
    """Return the bait whose weakest chance is the highest, and whom it beats with that."""
    weakest = {
        bait: min((float(beats[bait, other]), other) for other in rivals if other != bait)
        for bait in rivals
    }
    leader = max(rivals, key=lambda bait: weakest[bait][0])
    return leader, weakest[leader][1]


def _rotates(table: LiftTable) -> bool:
    """Return whether any place has held two baits."""
    pairs = np.unique(np.stack([table.place, table.bait]), axis=1)
    return bool(np.bincount(pairs[0]).max() > 1)

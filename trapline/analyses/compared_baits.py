"""The lifts that count as the model takes them, and what it says of each bait by name."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from trapline.analyses.counted_lifts import CompareOptions, Counted, CountedLifts, place_keys
from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.bait_posterior import bait_posterior
from trapline.science.drawn_rates import DrawnPosterior
from trapline.science.intervals import Interval
from trapline.science.posterior import BaitPosterior


@dataclass(frozen=True, eq=False)
class ComparedBaits:
    """The baits with rows that count, in the order of their coming, and their posterior.

    Attributes
    ----------
    names : tuple of str
        Baits as they are to be shown.
    controls : tuple of str
        Those of them that are no bait.
    numbers : dict of str to int
        The number of each bait in `table`: by name, so that the order of rows changes nothing.
    table : LiftTable
        The rows.
    posterior : BaitPosterior
        Rates and ratios, every bait by itself.
    has_places : bool
        Whether every row names its place.
    """

    names: tuple[str, ...]
    controls: tuple[str, ...]
    numbers: dict[str, int]
    table: LiftTable
    posterior: BaitPosterior
    has_places: bool

    @property
    def rivals(self) -> tuple[str, ...]:
        """The baits that can be best: all but the controls."""
        return tuple(bait for bait in self.names if bait not in self.controls)

    def rate(self, bait: str) -> Interval:
        """Return the rate of a bait, animals per trap and 24 h."""
        return self.posterior.rates[self.numbers[bait]]

    def ratio(self, bait: str, other: str) -> Interval:
        """Return how many times as much as another a bait catches."""
        return self.posterior.ratio(self.numbers[bait], self.numbers[other])

    def beats(self, bait: str, other: str) -> float:
        """Return the chance that a bait catches more than another."""
        return float(self.posterior.beats[self.numbers[bait], self.numbers[other]])

    def beats_by(self, bait: str, other: str, factor: float) -> float:
        """Return the chance that a bait catches more than `factor` times as much as another."""
        return self.posterior.beats_by(self.numbers[bait], self.numbers[other], factor)

    def next_trip(self, bait: str, other: str) -> float:
        """Return the chance that a bait beats another on the next trip, where trips differ."""
        posterior = self.posterior
        assert isinstance(posterior, DrawnPosterior)  # trips are in the model
        return posterior.next_trip(self.numbers[bait], self.numbers[other])

    @property
    def are_kept(self) -> bool:
        """Whether each bait stayed on its places although these were fished again."""
        table = self.table
        if not self.has_places or not table.has_places or table.n_rounds < 2:
            return False
        pairs = set(zip(table.place.tolist(), table.bait.tolist(), strict=True))
        return len(pairs) == table.n_places

    def chances_of_best(self) -> dict[str, float]:
        """Return the chance that each bait is the best, by the prior that takes baits as alike."""
        best = bait_posterior(self.table, SHRINKING).best
        return {bait: float(best[self.numbers[bait]]) for bait in self.names}

    def under(self, priors: Priors) -> "ComparedBaits":
        """Return the same rows under other priors."""
        return replace(self, posterior=bait_posterior(self.table, priors))


def compared_baits(lifts: CountedLifts, options: CompareOptions) -> ComparedBaits | None:
    """Return what the model says of the baits; None where no row counts.

    Parameters
    ----------
    lifts : CountedLifts
        The rows that count and those that do not.
    options : CompareOptions
        Which baits are controls, and how catch grows with soak.

    References
    ----------
    Model: `trapline.science.bait_model`.
    """
    counted = lifts.counted
    if not counted:
        return None
    names = tuple(bait for bait in lifts.baits if lifts.of(bait))
    numbers = {bait: number for number, bait in enumerate(sorted(names))}
    controls = tuple(bait for bait in names if options.is_control(bait))
    places = place_keys([lift.row for lift in counted])
    table = _table(counted, numbers, controls, places, options)
    posterior = bait_posterior(table, INDEPENDENT)
    return ComparedBaits(names, controls, numbers, table, posterior, places is not None)


def _table(
    counted: Sequence[Counted],
    numbers: dict[str, int],
    controls: Sequence[str],
    places: Sequence[str] | None,
    options: CompareOptions,
) -> LiftTable:
    return lift_table(
        [lift.catch for lift in counted],
        [lift.soak_h for lift in counted],
        [numbers[lift.bait] for lift in counted],
        fraction=[lift.row.fraction_counted for lift in counted],
        round_=[lift.row.round for lift in counted],
        place=places,
        trip=[lift.row.trip for lift in counted],
        controls=[numbers[bait] for bait in controls],
        soak=options.soak,
        saturation_per_h=options.saturation_per_h,
    )

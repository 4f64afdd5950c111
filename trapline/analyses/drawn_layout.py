"""The test that a drawn layout brings along: baits dealt out anew from the same set of layouts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from trapline.analyses.counted_lifts import CountedLifts
from trapline.analyses.trip_lifts import TripLift
from trapline.errors import InvalidValue
from trapline.model.kept_draw import KeptDraw, kept_draw
from trapline.model.snapshot import Snapshot
from trapline.science.layout import Scheme, all_layouts, count_layouts, redraws
from trapline.science.layout_exchange import exchanged
from trapline.science.layout_pair_tests import pair_tests_over_layouts
from trapline.science.pair_tests import PairTests
from trapline.science.permutation import (
    PermutationResult,
    Progress,
    permutation_test_over_layouts,
)

# So many layouts are gone through one and all; of more, some are drawn. A tenth of a second.
MOST_LISTED: Final = 100_000
N_DRAWN: Final = 20_000
N_DRAWN_EVENLY: Final = 5_000  # each is the most even of sixteen: as long again, error .003 at .05


@dataclass(frozen=True, eq=False)
class DrawnLayouts:
    """What a trip's baits were drawn from, cut down to the rounds that are compared.

    `rates` (rounds, places) are catches per 24 h, NaN where none counts; `baits` (rounds,
    places) number `names`; `layouts` (n, rounds, places) are all there are where `complete`,
    else draws. `numbers` are the rounds of the trip, from 1.
    """

    kept: KeptDraw
    numbers: tuple[int, ...]
    rates: NDArray[np.float64]
    baits: NDArray[np.int64]
    names: tuple[str, ...]
    layouts: NDArray[np.int8]
    complete: bool

    def in_scheme(self) -> list[int]:
        """Return which rounds of the scheme are compared, from 0."""
        return [len(self.kept.before) + number - 1 for number in self.numbers]


def whole_test(drawn: DrawnLayouts, progress: Progress | None = None) -> PermutationResult | None:
    """Return the test of all baits over their layouts; None where no such test can be made.

    Parameters
    ----------
    drawn : DrawnLayouts
        From `drawn_layouts`.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the test.

    References
    ----------
    Analyse with the restriction used to randomise: Fisher (1935), The Design of
    Experiments, ch. IV-V (from memory).
    """
    try:
        return permutation_test_over_layouts(
            drawn.rates, drawn.baits, drawn.layouts, complete=drawn.complete, progress=progress
        )
    except InvalidValue:  # fished otherwise than any layout of the scheme
        return None


def drawn_pair_tests(
    drawn: DrawnLayouts, control: str = "", progress: Progress | None = None
) -> PairTests | None:
    """Return the tests of every two baits over their layouts; None where none can be made.

    Parameters
    ----------
    drawn : DrawnLayouts
        From `drawn_layouts`.
    control : str
        The bait that is no bait; empty without one. Each other bait is then tested against it.
    progress : callable, optional
        Called with 0 to 1 as the tests go on; what it raises ends them.

    References
    ----------
    As `trapline.science.layout_pair_tests`.
    """
    kept, rounds = drawn.kept, drawn.in_scheme()
    fished = np.array([*kept.before, *kept.rounds], dtype=np.int8)

    def exchange(
        one: int, other: int, rng: np.random.Generator, n: int
    ) -> tuple[NDArray[np.int8], bool]:
        scheme, n_fixed = Scheme.from_dict(kept.scheme), len(kept.before) + kept.n_given
        layouts, is_whole = exchanged(scheme, fished, (one, other), rng, n, n_fixed)
        return layouts[:, rounds], is_whole

    try:
        return pair_tests_over_layouts(
            drawn.rates,
            drawn.baits,
            drawn.layouts,
            complete=drawn.complete,
            names=drawn.names,
            exchange=exchange,
            control=drawn.names.index(control) if control in drawn.names else None,
            seed=kept.seed,
            progress=progress,
        )
    except InvalidValue:  # fished otherwise than any layout of the scheme
        return None


def drawn_layouts(
    snapshot: Snapshot, lifts: Sequence[TripLift], counted: CountedLifts
) -> DrawnLayouts | None:
    """Return the layouts that a trip's baits were drawn from, and what was caught; or None.

    Parameters
    ----------
    snapshot : Snapshot
        The project: it says which rounds the trip has.
    lifts : sequence of TripLift
        The trap sets that were compared; row n of `counted` is the nth, from 1.
    counted : CountedLifts
        Which of them count, with what catch and exposure.

    Returns
    -------
    DrawnLayouts or None
        None without a draw, where it was not followed, where several trips are compared, and
        where a round was dealt by an earlier draw, from a set that is not kept.

    References
    ----------
    As `whole_test`.
    """
    kept = _one_draw(lifts)
    if kept is None or any(one.row.old_bait for one in counted.counted):
        return None
    nth = {row.id: n for n, row in enumerate(snapshot.rounds(lifts[0].trip.id), 1)}
    numbers = sorted({nth[lift.round.id] for lift in lifts})
    n_by_hand = kept.n_given - kept.n_dealt_before
    if any(n_by_hand < number <= kept.n_given for number in numbers):
        # Places stay exchangeable however often was drawn; the layouts of one draw are not all.
        return None
    if numbers[-1] <= kept.n_given:  # it dealt none of them
        return None
    baits = _baits_as_drawn(kept, lifts, nth, numbers)
    if baits is None:
        return None
    rates = np.full(baits.shape, np.nan)
    names = list(kept.bait_ids)
    for one in counted.counted:
        lift = lifts[one.row.row - 1]
        place_id = lift.trap_set.place_id or ""
        cell = numbers.index(nth[lift.round.id]), kept.place_ids.index(place_id)
        rates[cell] = one.catch / one.exposure_days
        names[baits[cell]] = one.bait
    try:
        layouts, complete = _layouts(kept, numbers)
    except InvalidValue:  # no scheme at all
        return None
    return DrawnLayouts(kept, tuple(numbers), rates, baits, tuple(names), layouts, complete)


def _one_draw(lifts: Sequence[TripLift]) -> KeptDraw | None:
    trips = {lift.trip.id: lift.trip for lift in lifts}
    if len(trips) != 1:
        return None
    try:
        return kept_draw(next(iter(trips.values())))
    except InvalidValue:
        return None


def _baits_as_drawn(
    kept: KeptDraw, lifts: Sequence[TripLift], nth: Mapping[str, int], numbers: Sequence[int]
) -> NDArray[np.int64] | None:
    """Return the drawn baits of the rounds, shape (rounds, places); None where not followed."""
    if not 1 <= numbers[0] <= numbers[-1] <= len(kept.rounds):
        return None
    drawn = np.array([kept.rounds[number - 1] for number in numbers], dtype=np.int64)
    seen = set()
    for lift in lifts:
        place_id = lift.trap_set.place_id or ""
        bait_id = lift.bait.id if lift.bait else ""
        if place_id not in kept.place_ids or bait_id not in kept.bait_ids:
            return None
        cell = numbers.index(nth[lift.round.id]), kept.place_ids.index(place_id)
        if cell in seen or drawn[cell] != kept.bait_ids.index(bait_id):
            return None
        seen.add(cell)
    return drawn if (drawn >= 0).all() else None


def _layouts(kept: KeptDraw, numbers: Sequence[int]) -> tuple[NDArray[np.int8], bool]:
    """Return the layouts of the rounds, shape (n, rounds, places), and whether they are all."""
    scheme = Scheme.from_dict(kept.scheme)
    before = (*kept.before, *kept.rounds[: kept.n_given]) or None
    if len(before or ()) >= scheme.n_rounds:
        raise InvalidValue("Every round was fished before the draw.", "layout draw")
    n_layouts = count_layouts(scheme, before)
    if n_layouts is not None and n_layouts <= MOST_LISTED:
        every, complete = all_layouts(scheme, MOST_LISTED, before), True
    else:
        # The seed alone would begin with the random numbers that made the draw itself.
        rng = np.random.default_rng([kept.seed, 1])
        n_draws = N_DRAWN_EVENLY if scheme.even_succession else N_DRAWN
        every, complete = redraws(scheme, rng, n_draws, before), False
    return every[:, [len(kept.before) + number - 1 for number in numbers]], complete

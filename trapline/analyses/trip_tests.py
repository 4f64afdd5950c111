"""The tests over the layouts that a trip's baits were drawn from: all baits, and every two."""

from collections.abc import Sequence

from trapline.analyses.counted_lifts import CompareOptions, CountedLifts
from trapline.analyses.design_tests import DesignTests, Progress, part_of_progress
from trapline.analyses.drawn_layout import drawn_layouts, drawn_pair_tests, whole_test
from trapline.analyses.trip_lifts import TripLift
from trapline.model.snapshot import Snapshot


def drawn_tests(
    snapshot: Snapshot,
    lifts: Sequence[TripLift],
    options: CompareOptions,
    counted: CountedLifts,
    progress: Progress | None = None,
) -> DesignTests | None:
    """Return the tests over the layouts that a trip's baits were drawn from, or None.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    lifts : sequence of TripLift
        The trap sets that were compared; row n of `counted` is the nth, from 1.
    options : CompareOptions
        Which baits are controls.
    counted : CountedLifts
        Which of them count, with what catch and exposure.
    progress : callable, optional
        Called with 0 to 1; what it raises ends the tests.

    References
    ----------
    Analyse with the restriction used to randomise: Fisher (1935), The Design of
    Experiments, ch. IV-V (from memory).
    """
    drawn = drawn_layouts(snapshot, lifts, counted)
    if drawn is None:
        return None
    whole = whole_test(drawn, part_of_progress(progress, 0.0, 0.4))
    if whole is None:
        return None
    controls = [b for b in counted.baits if options.is_control(b) and counted.of(b)]
    control = controls[0] if len(controls) == 1 else ""
    pairs = drawn_pair_tests(drawn, control, part_of_progress(progress, 0.4, 1.0))
    return DesignTests(whole, pairs)

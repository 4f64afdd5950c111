"""What the Compare page has worked out beside the window, in three stages."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from trapline.model.snapshot import Snapshot
from trapline.model.trip import Trip
from trapline.ui.background import Tell
from trapline.ui.pages.compare_choice import Ticked

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when something is compared.
    from trapline.analyses.place_catch import PlaceCatches
    from trapline.analyses.trip_comparison import TripComparison

Stage = Literal["first look", "tested", "settled"]


@dataclass(frozen=True)
class Answer:
    """What is known so far, of which snapshot, and how far the work has come."""

    snapshot: Snapshot
    comparison: "TripComparison"
    places: "PlaceCatches"
    noun: str
    stage: Stage

    @property
    def is_compared(self) -> bool:
        """Whether there is something to test and to simulate."""
        found = self.comparison.comparison
        return found is not None and found.ratios is not None


def first_answer(snapshot: Snapshot, trip_id: str | None, ticked: Ticked) -> Answer:
    """Return what is soon known: the verdict, the numbers of each bait, the places."""
    from trapline.analyses.place_catch import catch_per_place
    from trapline.analyses.trip_comparison import CompareChoice, first_look_at_trips
    from trapline.analyses.trip_lifts import target_of

    _import_what_shows_it()
    trip = snapshot.get(Trip, trip_id)
    target = target_of(snapshot, trip) if trip else None
    choice = CompareChoice(
        round_ids=ticked.round_ids,
        species_id=target.id if target else None,
        reference_bait_id=ticked.reference_bait_id,
        **ticked.switches,
    )
    return Answer(
        snapshot,
        first_look_at_trips(snapshot, choice),
        catch_per_place(snapshot, choice.round_ids, choice.species_id),
        target.name if target else "animals",
        "first look",
    )


def tested_answer(first: Answer, tell: Tell) -> Answer:
    """Return a first answer with the tests, the checks, the switches and each trip alone."""
    from trapline.analyses.trip_comparison import completed_trips

    found = completed_trips(first.snapshot, first.comparison, tell)
    return replace(first, comparison=found, stage="tested")


def settled_answer(tested: Answer, tell: Tell) -> Answer:
    """Return an answer with what would settle it, from simulated trials."""
    from trapline.analyses.settle import next_trip_of
    from trapline.analyses.trip_comparison import settled_trips

    found = tested.comparison
    assert found.comparison is not None  # asked only of what is compared
    next_trip = next_trip_of(found.comparison, is_quick=False, progress=tell)
    if next_trip is not None:
        found = settled_trips(found, next_trip)
    return replace(tested, comparison=found, stage="settled")


def _import_what_shows_it() -> tuple[object, ...]:
    """Import the slow modules that an answer is shown with: the window is not to wait for them."""
    from trapline.analyses import pair_words
    from trapline.drawing import bait_chart, catch_map, figure_painter

    return pair_words, bait_chart, catch_map, figure_painter

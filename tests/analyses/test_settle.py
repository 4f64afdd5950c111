"""What would settle a comparison, put together with it."""

from trapline.analyses.bait_comparison import BaitComparison, CompareOptions, LiftRow, compare_baits
from trapline.analyses.next_trip_words import settle_words
from trapline.analyses.settle import next_trip_of, settled


def compared(**catches: list[int]) -> BaitComparison:
    rows = [(bait, catch) for bait, counts in catches.items() for catch in counts]
    return compare_baits(
        [LiftRow(bait=b, catch=c, soak_h=24.0, row=n) for n, (b, c) in enumerate(rows, 1)],
        CompareOptions(),
    )


def test_an_open_verdict_says_what_would_settle_it() -> None:
    found = compared(fish=[4, 6, 3, 5], liver=[3, 4, 2, 4])
    trip = next_trip_of(found, is_quick=True)

    assert trip is not None
    whole = settled(found, trip)
    first = settle_words(trip)[0]
    assert found.finding.word != "winner"
    assert first in whole.verdict
    assert first not in found.verdict
    assert whole.as_dict()["settle"] == trip.as_dict()
    assert trip.found.baits == ("fish", "liver")


def test_names_go_with_their_numbers_whatever_the_order_of_the_table() -> None:
    one = next_trip_of(compared(zander=[9, 8, 9], ant=[1, 0, 2]), is_quick=True)
    other = next_trip_of(compared(ant=[1, 0, 2], zander=[9, 8, 9]), is_quick=True)

    assert one is not None
    assert other is not None
    assert one.found.baits == other.found.baits == ("ant", "zander")
    assert one.found.catch_means[:, 1].mean() > one.found.catch_means[:, 0].mean()
    assert one.as_dict() == other.as_dict()


def test_a_settled_question_is_not_asked_for_more() -> None:
    found = compared(fish=[9, 8, 9, 7], liver=[1, 0, 2, 1])
    trip = next_trip_of(found, is_quick=True)

    assert trip is not None
    assert found.finding.word == "winner"
    assert settled(found, trip).verdict == found.verdict
    assert settled(found, trip).settle is trip


def test_without_a_question_nothing_is_simulated() -> None:
    assert next_trip_of(compared(fish=[4, 5]), is_quick=True) is None
    assert next_trip_of(compared(fish=[0, 0], liver=[0, 0]), is_quick=True) is None
    assert next_trip_of(compared(fish=[4, 5], none=[0, 1]), is_quick=True) is None


def test_more_trap_sets_than_can_be_simulated_settle_nothing() -> None:
    assert next_trip_of(compared(fish=[4] * 700, liver=[3] * 700), is_quick=True) is None

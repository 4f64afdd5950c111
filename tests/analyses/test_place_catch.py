"""Which places catch most."""

from tests.made_trips import make_trip
from trapline.analyses.place_catch import catch_per_place


def test_places_are_ranked_by_catch_per_24_h_over_all_rounds() -> None:
    made = make_trip(3, 2).lifted([2, 6, 0]).lifted([4, 0, 0], 2, soak_h=48)
    found = catch_per_place(made.snapshot, made.round_ids)
    assert [(row.place, row.catch, row.effort_h, row.n_counted) for row in found.places] == [
        ("P1", 6, 72.0, 2),
        ("P2", 6, 72.0, 2),
        ("P3", 0, 72.0, 2),
    ]
    assert [row.rate_per_24h for row in found.places] == [2.0, 2.0, 0.0]
    assert found.best_rate_per_24h == 2.0


def test_only_the_chosen_rounds_count() -> None:
    made = make_trip(2, 2).lifted([9, 1]).lifted([0, 5], 2)
    second = catch_per_place(made.snapshot, made.round_ids[1:])
    assert [(row.place, row.catch) for row in second.places] == [("P2", 5), ("P1", 0)]


def test_a_place_without_a_valid_count_comes_last_and_is_no_zero() -> None:
    made = make_trip(3).lifted([None, 0, 5], conditions=["lost", "fished", "fished"])
    found = catch_per_place(made.snapshot, made.round_ids)
    assert [(row.place, row.rate_per_24h) for row in found.places] == [
        ("P3", 5.0),
        ("P2", 0.0),
        ("P1", None),
    ]
    assert [row.place for row in found.counted] == ["P3", "P2"]


def test_a_disturbed_trap_counts_half_its_soak() -> None:
    made = make_trip(1).lifted([3], conditions=["disturbed"])
    row = catch_per_place(made.snapshot, made.round_ids).places[0]
    assert (row.effort_h, row.rate_per_24h) == (12.0, 6.0)


def test_a_place_that_never_had_all_baits_is_cautioned_about() -> None:
    one = make_trip(2).lifted([1, 2])
    assert "owe its catch to its bait" in catch_per_place(one.snapshot, one.round_ids).caution
    both = make_trip(2, 2, baits=("fish", "liver")).lifted([1, 2]).lifted([3, 4], 2)
    assert catch_per_place(both.snapshot, both.round_ids).caution == ""


def test_planned_traps_are_not_listed() -> None:
    made = make_trip(3)
    assert catch_per_place(made.snapshot, made.round_ids).places == ()

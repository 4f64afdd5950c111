"""A count ten times what traps of the trip usually hold is asked about, and no other."""

import pytest

from tests.made_trips import make_trip
from trapline.analyses.improbable import improbable_among, is_improbable
from trapline.model.catch import Catch
from trapline.model.snapshot import Snapshot


def counted(*counts: int | None) -> Snapshot:
    """A trip of two rounds, the first one lifted."""
    return make_trip(len(counts), 2).lifted(counts).snapshot


@pytest.mark.parametrize(("count", "is_asked"), [(29, False), (30, True), (300, True)])
def test_ten_times_the_median_is_asked_about(count: int, is_asked: bool) -> None:
    sentence = is_improbable(counted(1, 2, 3, 4, 50), "set-2-0", count)
    assert bool(sentence) == is_asked
    if is_asked:
        assert f"{count} crayfish" in sentence
        assert "(3, over 5 counted traps)" in sentence


def test_fewer_than_five_counted_traps_say_nothing() -> None:
    assert not is_improbable(counted(1, 2, 3, 4), "set-2-0", 1000)
    assert not is_improbable(counted(1, 2, 3, 4, None), "set-2-0", 1000)


def test_the_trap_itself_does_not_count_towards_the_median() -> None:
    snapshot = counted(2, 2, 2, 2, 2)
    assert not is_improbable(snapshot, "set-1-0", 1000)
    assert is_improbable(snapshot, "set-2-0", 20)


def test_empty_traps_do_not_make_a_second_animal_improbable() -> None:
    snapshot = counted(0, 0, 0, 0, 0, 0)
    assert not is_improbable(snapshot, "set-2-0", 9)
    assert is_improbable(snapshot, "set-2-0", 10)


def test_bycatch_is_compared_with_bycatch_and_all_fates_together() -> None:
    made = make_trip(5, 2).lifted((40, 40, 40, 40, 40))
    perch = [
        Catch(trap_set_id=f"set-1-{at}", species_id="bycatch", fate=fate, count=2)
        for at in range(5)
        for fate in ("put back", "dead")
    ]
    snapshot = made.with_rows(*perch).snapshot
    assert not is_improbable(snapshot, "set-2-0", 39, "bycatch")
    assert is_improbable(snapshot, "set-2-0", 40, "bycatch")
    assert not is_improbable(snapshot, "set-2-0", 40)


def test_among_typed_counts_each_is_compared_with_the_others() -> None:
    assert improbable_among([3, 3, 3, 3, 30, 3]) == [4]
    assert improbable_among([3, 3, 3, 3, 29, 3]) == []
    assert improbable_among([3, 3, None, None, 300, 3]) == []
    assert improbable_among([0, 0, 0, 0, 0, 9, None]) == []

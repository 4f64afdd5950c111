"""Nothing that is in the water or lost is forgotten, whichever trip or round it was."""

from tests.made_trips import MadeTrip, make_trip
from trapline.analyses.gear_ledger import gear_ledger, in_water_sentence, lost_sentence
from trapline.model.fields import Noun
from trapline.model.trap import Trap

SET = "2026-07-01T16:00:00Z"


def with_two_rounds() -> MadeTrip:
    """Trap 1 lifted, 2 lost, 3 in the water since round 1; 1 in the water since round 2."""
    made = make_trip(3, 2)
    first, second, third = made.sets(1)
    rows: list[Noun] = [
        first.with_(state="lifted", set_utc=SET, lift_utc="2026-07-02T06:00:00Z"),
        second.with_(state="lifted", set_utc=SET, condition="lost"),
        third.with_(state="set", set_utc=SET),
        made.sets(2)[0].with_(state="set", set_utc="2026-07-02T06:00:00Z"),
        made.snapshot.need(Trap, "trap-1").with_(state="lost", state_note="Lost at P2"),
    ]
    return made.with_rows(*rows)


def test_what_stands_in_the_water_is_listed_oldest_first_with_trip_round_place_and_trap() -> None:
    ledger = gear_ledger(with_two_rounds().snapshot)
    assert [(row.trap, row.place, row.round_number) for row in ledger.in_water] == [
        ("T3", "P3", 1), ("T1", "P1", 2),
    ]  # fmt: skip
    # 16:00 UTC is 18:00 in Oslo's summer (IANA time zone database).
    assert ledger.in_water[0].since == "2026-07-01 18:00"
    assert ledger.in_water[0].trip == "Summer trial"


def test_a_planned_trap_is_not_in_the_water() -> None:
    assert gear_ledger(make_trip().snapshot).is_clear()


def test_a_lost_trap_stays_listed_until_it_is_found_or_retired() -> None:
    made = with_two_rounds()
    assert [row.trap for row in gear_ledger(made.snapshot).lost] == ["T2"]
    assert gear_ledger(made.snapshot).lost[0].place == "P2"
    for state in ("found", "retired", "in service"):
        trap = made.snapshot.need(Trap, "trap-1").with_(state=state)
        assert gear_ledger(made.with_rows(trap).snapshot).lost == ()


def test_a_trap_is_lost_where_it_was_lost_last_whatever_was_typed_in_later() -> None:
    made = with_two_rounds()
    past = made.sets(2)[1].with_(
        place_id="place-0", state="lifted", set_utc="2024-07-01T16:00:00Z", condition="lost"
    )
    assert [row.place for row in gear_ledger(made.with_rows(past).snapshot).lost] == ["P2"]
    again = past.with_(set_utc="2026-07-08T16:00:00Z")
    assert [row.place for row in gear_ledger(made.with_rows(again).snapshot).lost] == ["P1"]


def test_a_trap_lost_outside_any_trip_is_listed_too() -> None:
    made = make_trip().with_rows(Trap(id="old", number="99", state="lost"))
    assert [(row.trap, row.place) for row in gear_ledger(made.snapshot).lost] == [("99", "")]


def test_the_ledger_is_split_by_trip_and_round() -> None:
    made = with_two_rounds()
    ledger = gear_ledger(made.snapshot)
    assert ledger.of_trip("trip") == ledger
    assert ledger.of_trip("another").is_clear()
    assert [row.trap for row in ledger.outside_round("round-1")] == ["T1"]


def test_the_sentences_name_a_few_and_count_the_rest() -> None:
    ledger = gear_ledger(with_two_rounds().snapshot)
    assert in_water_sentence(ledger.in_water) == (
        "2 traps still in the water: trap T3 at P3 since 2026-07-01 18:00 (round 1);"
        " trap T1 at P1 since 2026-07-02 08:00 (round 2)."
    )
    assert in_water_sentence(ledger.in_water, with_trip=True, most=1).endswith(
        "(Summer trial, round 1); and 1 more."
    )
    assert lost_sentence(ledger.lost) == "Lost and not found: trap T2 at P2 (round 1)."
    assert (in_water_sentence(()), lost_sentence(())) == ("", "")


def test_a_trap_without_number_or_time_still_has_words() -> None:
    made = make_trip(1)
    row = made.sets()[0].with_(state="set", trap_id=None)
    ledger = gear_ledger(made.with_rows(row).snapshot)
    assert ledger.in_water[0].words == "trap at P1, set time not noted"

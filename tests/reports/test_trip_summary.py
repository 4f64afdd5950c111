"""The summary of a trip, read back from its PDF."""

from pathlib import Path
from typing import Any

import pytest

from tests.made_trips import MadeTrip, make_trip
from tests.reports.pdf_reading import (
    all_words,
    n_pictures,
    reader,
    size_mm,
    unembedded_fonts,
    words,
)
from trapline.analyses.spacing_check import check_spacing
from trapline.analyses.trip_summary import trip_summary
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.trap import Trap
from trapline.model.trip import Trip
from trapline.reports.pdf_file import report_bytes, write_report
from trapline.reports.trip_summary import trip_summary_report
from trapline.units import length_text


def summary(made: MadeTrip, paper: str = "A4") -> bytes:
    found = trip_summary(made.snapshot, made.trip_id)
    return report_bytes(trip_summary_report(made.snapshot, found, paper))


def fished(n_places: int = 7, **more: Any) -> MadeTrip:
    made = make_trip(n_places, **more)
    return made.lifted([(5 * n) % 7 for n in range(n_places)])


@pytest.fixture(scope="module")
def mixed() -> MadeTrip:
    """A trip with a 0, a trap not counted, one robbed, one lost, one still in the water."""
    made = make_trip(7, gap_deg=0.0001).lifted(
        [0, None, None, None, 4, 3, 6],
        conditions=["fished", "fished", "robbed", "lost", "disturbed", "fished", "fished"],
    )
    last = made.sets()[6]
    lost = made.snapshot.need(Trap, made.sets()[3].trap_id)
    return made.with_rows(
        last.with_(state="set", lift_utc=None, condition="", counted=False),
        lost.with_(state="lost", state_note="Lost at P4, missed 2026-07-02 12:00"),
        Catch(trap_set_id=made.sets()[0].id, species_id=made.bycatch_id, fate="put back", count=2),
    )


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_every_trap_is_in_the_table_with_its_bait_soak_and_catch(
    paper: str, size: tuple[int, int]
) -> None:
    made = fished()
    data = summary(made, paper)
    said = all_words(data)
    assert size_mm(data) == size
    for number, row in enumerate(made.sets(), 1):
        bait = made.snapshot.need(Bait, row.bait_id)
        caught = (5 * (number - 1)) % 7
        line = (
            f"1 P{number} T{number}, AB {99 + number} (2026) {bait.name} 01 Jul 12:00 24.0"
            f" fished {caught} {caught:.2f}"
        )
        assert line in said


def test_zero_not_counted_robbed_lost_and_not_lifted_differ_in_words(mixed: MadeTrip) -> None:
    said = all_words(summary(mixed))
    assert "01 Jul 12:00 24.0 fished 0 2 perch (put back) 0.00" in said
    assert "24.0 fished not counted –" in said
    assert "24.0 robbed robbed –" in said
    assert "24.0 lost lost –" in said
    assert "– not lifted not lifted –" in said
    # 4 in half of 24 h.
    assert "24.0 disturbed 4 8.00" in said
    assert "1 disturbed with half their soak in these rates" in said
    assert "1 not counted, 1 robbed, 1 lost, 1 not lifted" in said


def test_gear_that_is_not_recovered_is_listed(mixed: MadeTrip) -> None:
    said = all_words(summary(mixed))
    gear = said.partition("Gear not recovered")[2]
    assert "Still in the water: trap T7 at P7 since 2026-07-01 12:00" in gear
    assert "Lost and not found: trap T4 at P4 (round 1). Lost at P4" in gear


def test_a_trip_with_all_gear_home_says_so() -> None:
    assert "All gear of this trip is accounted for." in all_words(summary(fished()))


def test_by_catch_is_summed_by_species_and_fate(mixed: MadeTrip) -> None:
    assert "By-catch: 2 perch (put back)." in all_words(summary(mixed))


def test_the_gaps_on_the_map_and_in_the_warnings_are_the_same() -> None:
    made = fished(gap_deg=0.0001)
    found = trip_summary(made.snapshot, made.trip_id)
    said = all_words(summary(made))
    assert len(found.warnings) >= 6
    for text in found.warnings:
        assert text in said
    gaps = check_spacing(made.snapshot, made.round_id).gaps
    assert len(gaps) == 6
    for gap in gaps:
        distance = length_text(gap.distance_m)
        # Once in the warnings and once on the line of the map, for each of that length.
        same = sum(length_text(other.distance_m) == distance for other in gaps)
        assert said.count(distance) == 2 * same


def test_the_verdict_and_the_table_of_baits_are_printed() -> None:
    made = fished()
    found = trip_summary(made.snapshot, made.trip_id)
    said = all_words(summary(made))
    assert found.comparison.comparison is not None
    assert " ".join(found.comparison.verdict.split()) in said
    assert "Times the reference (95 % interval)" in said
    assert "punctured can 3 3" in said
    assert "reference" in said


def test_the_words_of_the_chart_are_text() -> None:
    said = all_words(summary(fished()))
    assert "crayfish per trap and 24 h" in said
    assert "times the catch of punctured can" in said
    assert "rate of the bait, with its 95 % interval" in said


def test_the_pages_are_vectors_with_their_fonts(mixed: MadeTrip) -> None:
    data = summary(mixed)
    assert n_pictures(data) == 0
    assert unembedded_fonts(data) == []


def test_forty_pots_run_over_pages_with_headers_and_numbers() -> None:
    pages = reader(summary(fished(40))).pages
    n_pages = len(pages)
    assert n_pages >= 4
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {n_pages}" in words(page)
    with_rows = [words(page) for page in pages if "01 Jul 12:00 24.0" in words(page)]
    assert len(with_rows) >= 2
    for said in with_rows:
        assert "Round Place Trap, tag Bait Set Soak (h) Condition Catch By-catch Per 24 h" in said


def test_the_catch_of_each_place_is_on_the_map_and_in_the_table() -> None:
    made = make_trip(3).lifted([6, 0, 3])
    said = all_words(summary(made))
    after = said.partition("Catch on the map")[2]
    assert "P1: 6.0" in after
    assert "P2: 0.0" in after
    assert "1 P1 1 1 6 24.0 6.00 punctured can" in after
    assert "3 P2 1 1 0 24.0 0.00 cut herring" in after
    assert "a good place may owe its catch to its bait" in after


def test_the_cautions_stand_on_the_paper() -> None:
    said = all_words(summary(fished()))
    for word in ("Local rules come first", "Cold water", "By-catch goes back", "clean and dry"):
        assert word in said


def test_a_trip_that_is_only_planned_prints_without_numbers() -> None:
    made = make_trip(3)
    said = all_words(summary(made))
    assert "not set" in said
    assert "No trap of these rounds was set yet" in said
    assert "nan" not in said.lower()


def test_a_trip_without_a_round_prints() -> None:
    made = make_trip(0, 0)
    assert "No trap was planned on this trip." in all_words(summary(made))


def test_many_warnings_are_cut_and_counted() -> None:
    said = all_words(summary(fished(40, gap_deg=0.0001)))
    assert "And 15 more." in said


def test_text_from_the_project_is_never_markup(tmp_path: Path) -> None:
    made = fished()
    trip = made.snapshot.need(Trip, made.trip_id)
    made = made.with_rows(trip.with_(name="<h1>A & B</h1>", notes="$100 <b>paid</b>\nfor bait"))
    found = trip_summary(made.snapshot, made.trip_id)
    path = write_report(trip_summary_report(made.snapshot, found), tmp_path / "x.pdf")
    said = all_words(path.read_bytes())
    assert "<h1>A & B</h1>" in said
    assert "$100 <b>paid</b> for bait" in said


def test_lengths_in_the_header_are_the_limits_of_the_trip() -> None:
    said = all_words(summary(fished()))
    assert f"at least {length_text(10.0)}, at most {length_text(50.0)}" in said


def test_what_was_noted_about_a_trap_is_printed(mixed: MadeTrip) -> None:
    row = mixed.sets()[2].with_(notes="half out of the water")
    text = all_words(summary(mixed.with_rows(row)))

    assert "P3, round 1: half out of the water" in text
    assert "Notes:" not in all_words(summary(mixed))

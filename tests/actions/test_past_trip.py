"""A past trip from paper: one step, and what the project knows already is used."""

from typing import Any

import pytest

from tests.actions.bench import Bench
from tests.actions.wet_bench import WetBench
from trapline.actions.editing import edit
from trapline.actions.past_trip import named_or_new, record_past_trip
from trapline.actions.places import add_places
from trapline.errors import InvalidValue
from trapline.exchange.past_rows import PaperRules, PastRow, understand
from trapline.model.bait import Bait
from trapline.model.line import Line, Place
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

RULES = PaperRules("Europe/Oslo", "2025-07-01")
PAPER = """\
1	P1	1	liver	18:00	07:00	4
1	P2	2	corn	18:02	07:03	0		2 perch
1	X9	90	cheese	18:04	07:05	lost
2	P1	1	liver	18:00	07:00
2	P2	2	none	18:02	07:03	7	disturbed		otter?
"""


def paper(text: str = PAPER) -> list[PastRow]:
    rows = [
        understand(line.split("\t"), RULES, row=n)
        for n, line in enumerate(text.splitlines(), start=1)
    ]
    return [row for row in rows if row is not None]


@pytest.fixture
def wet(bench: Bench) -> WetBench:
    return WetBench(bench)


def known(wet: WetBench) -> dict[str, Any]:
    snapshot = wet.bench.snapshot
    return {
        "water": snapshot.need(Water, wet.bench.water_id),
        "line": snapshot.need(Line, wet.bench.line_id),
        "target": wet.target,
    }


def test_a_past_trip_is_one_step_with_rounds_lifts_and_counts(wet: WetBench) -> None:
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    changes = wet.bench.does(record_past_trip, trip, paper(), **known(wet))
    snapshot = wet.bench.snapshot
    kept = snapshot.need(Trip, trip.id)
    assert changes.label == "Type in past trip Last summer"
    assert (kept.started_on, kept.water_id, kept.target_species_id) == (
        "2025-07-01", wet.bench.water_id, wet.target.id,
    )  # fmt: skip
    rounds = snapshot.rounds(trip.id)
    assert [(row.number, row.set_on) for row in rounds] == [(1, "2025-07-01"), (2, "2025-07-02")]
    first = snapshot.sets(rounds[0].id)
    assert [snapshot.place_label(row) for row in first] == ["P1", "P2", "X9"]
    assert [snapshot.trap_label(row) for row in first] == ["1", "2", "90"]
    assert first[0].set_utc == "2025-07-01T16:00:00Z"
    assert {row.state for row in first} == {"lifted"}
    assert not any(row.is_in_water for _, row in snapshot.sets_of_trip(trip.id))


def test_zero_not_counted_and_lost_stay_three_things(wet: WetBench) -> None:
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    record_past_trip(wet.project, trip, paper(), **known(wet))
    snapshot = wet.bench.snapshot
    rows = [row for _, row in snapshot.sets_of_trip(trip.id)]
    found = [
        (row.counted, row.condition, [one.count for one in snapshot.catches(row.id)])
        for row in rows
    ]
    assert found == [
        (True, "fished", [4]), (True, "fished", [0, 2]), (False, "lost", []),
        (False, "fished", []), (True, "disturbed", [7]),
    ]  # fmt: skip


def test_what_is_known_by_name_is_used_and_the_rest_is_new(wet: WetBench) -> None:
    before = wet.bench.snapshot
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    record_past_trip(wet.project, trip, paper(), **known(wet))
    after = wet.bench.snapshot
    new = {
        noun.table: [row for row in after.all(noun) if before.get(noun, row.id) is None]
        for noun in (Place, Trap, Bait, Species)
    }
    assert [row.label for row in new["place"]] == ["X9"]
    assert [row.number for row in new["trap"]] == ["90"]
    assert [(row.name, row.is_control) for row in new["bait"]] == [
        ("cheese", False), ("none", True),
    ]  # fmt: skip
    assert new["species"] == []
    lost = next(row for row in after.all(Trap) if row.number == "90")
    assert (lost.state, lost.state_note) == ("lost", "Lost at X9, 2025-07-02 07:05 (Last summer)")


def test_a_trap_in_service_today_was_found_long_ago(wet: WetBench) -> None:
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    rows = paper("1\tP1\t1\tliver\t18:00\t07:00\tlost\n")
    record_past_trip(wet.project, trip, rows, **known(wet))
    assert wet.trap(1).state == "in service"


def test_a_lost_trap_without_a_number_is_listed(wet: WetBench) -> None:
    rows = paper("1\tP1\t\tliver\t18:00\t07:00\tlost\n2\tP1\t\tliver\t18:00\t07:00\tlost\n")
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    record_past_trip(wet.project, trip, rows, **known(wet))
    lost = [row.number for row in wet.bench.snapshot.all(Trap) if row.state == "lost"]
    assert lost == ["lost at P1", "lost at P1 (2)"]


def test_a_new_water_line_and_species_come_along(wet: WetBench) -> None:
    water, crab = Water(name="Far bay", kind="tidal"), Species(name="crab")
    line = Line(kind="crab pots")
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    wet.bench.does(record_past_trip, trip, paper(), water=water, line=line, target=crab)
    snapshot = wet.bench.snapshot
    assert snapshot.need(Line, line.id).water_id == water.id
    assert len(snapshot.places(line.id)) == 3
    assert snapshot.need(Trip, trip.id).min_gap_m == 30.0
    assert snapshot.get(Species, crab.id) is not None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1\tP1\t1\n1\tp1\t2\n", "Round 1 has place 'p1' twice, in rows 1 and 2"),
        ("1\tP1\t1\n1\tP2\t1\n", "Round 1 has trap 1 twice, in rows 1 and 2"),
        (
            "1\tP1\t1\t\t18:00\t2025-07-03 20:00\n2\tP1\t1\t\t18:00\t07:00\n",
            "cannot have been set",
        ),
        ("", "no row"),
    ],
)
def test_papers_that_cannot_be_leave_nothing_behind(wet: WetBench, text: str, words: str) -> None:
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    problem = wet.bench.refuses(record_past_trip, trip, paper(text), **known(wet))
    assert isinstance(problem, InvalidValue)
    assert words in problem.error


def test_a_name_with_other_spaces_is_the_one_that_is_known(wet: WetBench) -> None:
    edit(wet.project, Species, wet.perch.id, name=" Perch")
    edit(wet.project, Bait, wet.bench.bait_id("maize cake"), name="maize\u00a0cake ")
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    rows = paper("1\tP1\t1\tMaize  cake\t18:00\t07:00\t4\t\t2 perch\n")
    record_past_trip(wet.project, trip, rows, **known(wet))
    after = wet.bench.snapshot
    assert len(after.all(Bait)) == 4
    assert len(after.all(Species)) == 2


def test_a_stake_was_not_fished(wet: WetBench) -> None:
    add_places(wet.project, wet.bench.line_id, [Place(label="Old post", is_stake=True)])
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    problem = wet.bench.refuses(record_past_trip, trip, paper("1\tP1\n1\told post"), **known(wet))
    assert (problem.where, "is a stake" in problem.error) == ("Row 2", True)


def test_a_name_that_is_taken_is_refused(wet: WetBench) -> None:
    problem = wet.bench.refuses(record_past_trip, Trip(name="first"), paper(), **known(wet))
    assert "already a trip called" in problem.error


def test_a_whole_season_is_written_at_once(wet: WetBench) -> None:
    lines = [
        f"{n}\tQ{at:02d}\tq{at}\tcorn\t18:00\t07:00\t{(n * at) % 7}\n"
        for n in range(1, 8)
        for at in range(40)
    ]
    trip = Trip(name="Last summer", zone="Europe/Oslo")
    record_past_trip(wet.project, trip, paper("".join(lines)), **known(wet))
    sets = list(wet.bench.snapshot.sets_of_trip(trip.id))
    assert len(sets) == 280
    assert all(isinstance(fished, Round) and row.counted for fished, row in sets)


def test_rows_are_found_by_name_whatever_their_case() -> None:
    crab = Species(name="Crab")
    new = Species(name="x")
    assert named_or_new([crab], " crab ", new) is crab
    assert named_or_new([crab], "prawn", new) is new

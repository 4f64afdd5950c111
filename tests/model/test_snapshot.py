"""The frozen picture: finding rows by name, in their order, and other pictures made from it."""

import pytest

from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.changes import Changes, RowChange
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water


def picture_of(*rows: Noun) -> Snapshot:
    return Snapshot({}).with_rows(rows)


WATER = Water(id="w", name="Pond")
LINE, OTHER_LINE = Line(id="l1", water_id="w"), Line(id="l2", water_id="w", name="Line 2")
STAKE = Place(id="s", line_id="l1", ordinal=1, label="stake", is_stake=True)
PLACES = tuple(
    Place(id=f"p{n}", line_id="l1", ordinal=n, label=f"P{n}", lon_deg=10.0, lat_deg=50.0 + n)
    for n in (3, 1, 2)
)
BARE = Place(id="bare", line_id="l2", ordinal=1, label="Q1")
TRAP = Trap(id="t", number="7")
FISH, OIL = Bait(id="b1", name="Fish"), Bait(id="b2", name="Oil")
CRAY, MINNOW = Species(id="c", name="Crayfish"), Species(id="m", name="Minnow", role="by-catch")
OLD = Trip(id="old", name="July", water_id="w", line_id="l1", started_on="2026-07-01")
NEW = Trip(id="new", name="August", started_on="2026-08-01")
ROUNDS = tuple(Round(id=f"r{n}", trip_id="old", number=n) for n in (2, 1))
SETS = (
    TrapSet(id="a", round_id="r1", place_id="p3", trap_id="t", planned_bait_id="b1"),
    TrapSet(id="b", round_id="r1", place_id="p1", planned_bait_id="b1", bait_id="b2"),
    TrapSet(id="d", round_id="r2", place_id="p2", lon_deg=1, lat_deg=2),
    TrapSet(id="e", round_id="r1"),
    TrapSet(id="f", round_id="r1", place_id="bare"),
)
CATCHES = (
    Catch(id="x", trap_set_id="a", species_id="c", count=0),
    Catch(id="y", trap_set_id="a", species_id="m", count=2),
    Catch(id="z", trap_set_id="b", species_id="c", count=1),
)
INFO = ProjectInfo(id="i", name="Lake")
PICTURE = picture_of(
    INFO, WATER, LINE, OTHER_LINE, STAKE, *PLACES, BARE, TRAP, FISH, OIL, CRAY, MINNOW, OLD, NEW,
    *ROUNDS, *SETS, *CATCHES,
)  # fmt: skip


def ids(rows: object) -> list[str]:
    assert isinstance(rows, tuple | list)
    return [row.id for row in rows]


def test_rows_come_in_the_order_in_which_they_were_written() -> None:
    assert ids(PICTURE.all(Place)) == ["s", "p3", "p1", "p2", "bare"]
    assert Snapshot({}).all(Place) == ()


def test_a_row_is_found_by_its_key_or_refused() -> None:
    assert PICTURE.get(Bait, "b1") is FISH
    assert PICTURE.get(Bait, "t") is None
    assert PICTURE.get(Bait, None) is None
    assert PICTURE.need(Bait, "b2") is OIL
    for key in ("nothing", None):
        with pytest.raises(InvalidValue, match=f"no bait with the key {key}"):
            PICTURE.need(Bait, key)


def test_the_project_has_one_row_of_its_own() -> None:
    assert PICTURE.project is INFO


def test_trips_are_the_newest_first() -> None:
    undated = Trip(id="u", name="some day")
    assert ids(picture_of(OLD, undated, NEW).trips()) == ["new", "old", "u"]


def test_rounds_are_in_the_order_of_their_numbers() -> None:
    assert ids(PICTURE.rounds("old")) == ["r1", "r2"]
    assert PICTURE.rounds("new") == ()
    assert PICTURE.round_numbered("old", 1).id == "r1"
    assert PICTURE.round_numbered("old", None).id == "r2"
    with pytest.raises(InvalidValue, match=r"has no round 3\.") as caught:
        PICTURE.round_numbered("old", 3)
    assert "2 rounds" in caught.value.what_to_do
    with pytest.raises(InvalidValue, match=r"has no round\."):
        PICTURE.round_numbered("new", None)


def test_the_places_of_a_line_are_in_its_order_and_stakes_are_apart() -> None:
    assert ids(PICTURE.lines("w")) == ["l1", "l2"]
    assert PICTURE.lines(None) == ()
    assert ids(PICTURE.places("l1")) == ["p1", "p2", "p3"]
    assert ids(PICTURE.places("l1", stakes=True)) == ["p1", "s", "p2", "p3"]


def test_trap_sets_are_in_the_order_of_the_line() -> None:
    assert ids(PICTURE.sets("r1")) == ["e", "b", "a", "f"]
    assert PICTURE.sets("nothing") == ()
    pairs = [(fished.id, row.id) for fished, row in PICTURE.sets_of_trip("old")]
    assert pairs == [("r1", "e"), ("r1", "b"), ("r1", "a"), ("r1", "f"), ("r2", "d")]
    assert list(PICTURE.sets_of_trip("new")) == []


def test_the_catch_of_a_trap_set() -> None:
    assert ids(PICTURE.catches("a")) == ["x", "y"]
    assert PICTURE.catches("d") == ()
    by_set = PICTURE.catches_by_set
    assert {key: ids(rows) for key, rows in by_set.items()} == {"a": ["x", "y"], "b": ["z"]}


def test_what_a_trap_set_belongs_to() -> None:
    assert PICTURE.trip_of(SETS[0]) is OLD
    assert PICTURE.trip_of(TrapSet()) is None
    assert PICTURE.trap_label(SETS[0]) == "7"
    assert PICTURE.trap_label(SETS[1]) == ""
    assert PICTURE.place_label(SETS[0]) == "P3"
    assert PICTURE.place_label(TrapSet()) == ""
    assert PICTURE.water_of(OLD) is WATER
    assert PICTURE.water_of(NEW) is None


def test_a_trap_stands_where_it_was_set_else_at_its_place() -> None:
    assert PICTURE.position(SETS[2]) == (1, 2)
    assert PICTURE.position(SETS[0]) == (10.0, 53.0)
    assert PICTURE.position(SETS[3]) is None
    assert PICTURE.position(SETS[4]) is None


def test_the_bait_is_the_real_one_else_the_planned_one_of_a_planned_trap() -> None:
    assert PICTURE.bait_of(SETS[0]) is FISH
    assert PICTURE.bait_of(SETS[1]) is OIL
    assert PICTURE.bait_of(SETS[2]) is None
    for state in ("set", "lifted"):  # somebody cleared it: what really hung is not known
        assert PICTURE.bait_of(SETS[0].with_(state=state)) is None
        assert PICTURE.bait_of(SETS[1].with_(state=state)) is OIL


def test_species_by_role() -> None:
    assert ids(PICTURE.species()) == ["c", "m"]
    assert ids(PICTURE.species("by-catch")) == ["m"]


def test_another_picture_leaves_the_first_as_it_was() -> None:
    moved = PLACES[0].with_(lon_deg=11.0)
    other = PICTURE.with_rows([moved, Bait(id="b3", name="Squid")], gone=[TRAP])
    assert other.need(Place, "p3").lon_deg == 11.0
    assert ids(other.all(Bait)) == ["b1", "b2", "b3"]
    assert other.get(Trap, "t") is None
    assert PICTURE.need(Place, "p3").lon_deg == 10.0
    assert PICTURE.get(Trap, "t") is TRAP
    assert ids(other.all(Place)) == ids(PICTURE.all(Place))


def test_the_picture_after_a_step_is_that_of_its_rows_in_order() -> None:
    new = Bait(id="b3", name="Squid")
    after = PICTURE.after(
        Changes(
            "Several",
            (
                RowChange("bait", "b3", None, new),
                RowChange("bait", "b3", new, new.with_(name="Cut squid")),
                RowChange("bait", "b1", FISH, None),
                RowChange("trap", "t", TRAP, TRAP.with_(number="8")),
                RowChange("catch", "gone already", None, None),
            ),
        )
    )
    assert [bait.name for bait in after.all(Bait)] == ["Oil", "Cut squid"]
    assert after.need(Trap, "t").number == "8"
    assert PICTURE.need(Bait, "b1") is FISH
    assert after.all(Place) == PICTURE.all(Place)
    assert PICTURE.after(Changes("Nothing")) == PICTURE

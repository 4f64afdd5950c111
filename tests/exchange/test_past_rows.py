"""Rows of a paper: what each cell may say, and that 0, blank and lost are never mixed up."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.exchange.past_rows import COLUMNS, PaperRules, PastRow, column_order, understand

# Oslo is two hours before UTC in summer; its clocks showed 02:30 twice on 2025-10-26
# (IANA time zone database).
RULES = PaperRules("Europe/Oslo", "2025-07-01")


def read(rules: PaperRules = RULES, **cells: str) -> PastRow:
    texts = {"Place": "P1"} | {name.replace("_", "-"): text for name, text in cells.items()}
    found = understand([texts.get(name, "") for name in COLUMNS], rules)
    assert found is not None
    return found


def test_a_whole_row_is_understood() -> None:
    row = understand(
        ["2", "P3", "7", "corn", "18:30", "07:10", "4", "", "2 perch, ruffe", "cold"], RULES, row=5
    )
    assert row == PastRow(
        round=2, place="P3", trap="7", bait="corn", set_utc="2025-07-02T16:30:00Z",
        lift_utc="2025-07-03T05:10:00Z", count=4, condition="fished",
        by_catch=(("perch", 2), ("ruffe", 1)), note="cold", row=5,
    )  # fmt: skip
    assert row.soak_h == pytest.approx(12 + 40 / 60)


def test_blank_rows_say_nothing_and_a_blank_round_is_that_of_the_row_before() -> None:
    assert understand(["", " ", ""], RULES) is None
    row = understand(["", "P1"], RULES, round_before=3)
    assert row is not None
    assert row.round == 3


@pytest.mark.parametrize("text", ["", "-", "–", "not counted", "NC", "?"])
def test_a_blank_count_is_not_counted(text: str) -> None:
    assert read(Count=text).count is None


@pytest.mark.parametrize(("text", "count"), [("0", 0), ("7", 7), ("12.0", 12)])
def test_a_0_is_a_count(text: str, count: int) -> None:
    assert read(Count=text).count == count


@pytest.mark.parametrize("text", ["-1", "1.5", "seven", "1e3", "10000000"])
def test_counts_that_cannot_be_are_refused_at_their_cell(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        read(Count=text)
    assert caught.value.where == "Count"
    assert text in caught.value.error


def test_lost_is_a_condition_wherever_it_is_written_and_has_no_count() -> None:
    for row in (read(Condition="lost"), read(Count="lost"), read(Condition="gone", Count="-")):
        assert (row.condition, row.count) == ("lost", None)
    with pytest.raises(InvalidValue, match="no count"):
        read(Condition="lost", Count="3")
    assert (read(Condition="robbed", Count="2").count) == 2


def test_an_unknown_condition_is_refused() -> None:
    with pytest.raises(InvalidValue) as caught:
        read(Condition="eaten")
    assert caught.value.where == "Condition"


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("18:30", "2025-07-01T16:30:00Z"),
        ("1830", "2025-07-01T16:30:00Z"),
        ("2025-08-02 06:00", "2025-08-02T04:00:00Z"),
        ("2.8.2025 06:00", "2025-08-02T04:00:00Z"),
        ("2025-10-26 02:30 earlier", "2025-10-26T00:30:00Z"),
        ("2025-10-26 02:30 later", "2025-10-26T01:30:00Z"),
        ("", None),
        ("?", None),
    ],
)
def test_times_are_local_with_or_without_a_date(text: str, utc: str | None) -> None:
    assert read(Set=text).set_utc == utc


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("25:00", "like 18:30"),
        ("1/8/2025 18:30", "1/8 is two days"),
        ("2025-10-26 02:30", "'earlier' or 'later'"),
        ("31.2.2025 10:00", "like 18:30"),
    ],
)
def test_times_that_cannot_be_say_how_to_write_them(text: str, hint: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        read(Set=text)
    assert caught.value.where == "Set"
    assert hint in caught.value.what_to_do


def test_a_bare_lift_is_on_the_next_day_or_the_same_as_the_paper_says() -> None:
    assert read(Set="06:00", Lift="18:00").soak_h == 36
    same = PaperRules("Europe/Oslo", "2025-07-01", lift_days_later=0)
    assert read(same, Set="06:00", Lift="18:00").soak_h == 12
    with pytest.raises(InvalidValue) as caught:
        read(same, Set="18:00", Lift="06:00")
    assert caught.value.where == "Lift"


def test_a_lift_years_after_the_setting_is_refused() -> None:
    with pytest.raises(InvalidValue) as caught:
        read(Set="2005-07-01 18:00", Lift="2025-07-02 06:00")
    assert (caught.value.where, caught.value.what_to_do) == ("Lift", "Correct the year.")


def test_an_empty_place_is_refused() -> None:
    with pytest.raises(InvalidValue) as caught:
        read(Place="", Trap="7")
    assert caught.value.where == "Place"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2 perch", (("perch", 2),)),
        ("perch 2; 3 × ruffe", (("perch", 2), ("ruffe", 3))),
        ("perch: 2 + perch", (("perch", 3),)),
        ("water vole", (("water vole", 1),)),
        ("2x perch, 3 x ruffe, tench x4", (("perch", 2), ("ruffe", 3), ("tench", 4))),
        ("2 xanthid crabs, lynx 3, fox", (("xanthid crabs", 2), ("lynx", 3), ("fox", 1))),
        ("-", ()),
    ],
)
def test_bycatch_is_read_as_people_write_it(text: str, found: tuple[tuple[str, int], ...]) -> None:
    assert read(By_catch=text).by_catch == found


@pytest.mark.parametrize("text", ["3", "perch 2 dead", "1.5 perch", "perch 3 2"])
def test_bycatch_that_is_not_a_number_and_a_name_is_refused(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        read(By_catch=text)
    assert caught.value.where == "By-catch"


def test_a_lost_trap_has_no_bycatch() -> None:
    assert read(By_catch="2 perch", Condition="robbed").by_catch == (("perch", 2),)
    with pytest.raises(InvalidValue) as caught:
        read(By_catch="2 perch", Condition="lost")
    assert caught.value.where == "By-catch"


def test_a_thousand_is_never_read_as_one() -> None:
    assert [read(Count=text).count for text in ("3", "3.0", "12.00", "1000")] == [3, 3, 12, 1000]
    for text in ("1,000", "1.000", "1,0000"):
        with pytest.raises(InvalidValue) as caught:
            read(Count=text)
        assert caught.value.where == "Count"


def test_a_header_is_known_by_its_words_in_any_order() -> None:
    assert column_order(["Night", "POT", "catch", "site"]) == ["Round", "Trap", "Count", "Place"]
    assert column_order(["Place", "weather", "Count"]) == ["Place", "", "Count"]
    assert column_order(["1", "P3", "7", "corn"]) is None
    assert column_order(["Place", "Place"]) is None


@settings(derandomize=True, max_examples=150)
@given(st.lists(st.text(max_size=30), max_size=12))
def test_any_cells_are_understood_or_refused_in_words(cells: list[str]) -> None:
    found: PastRow | InvalidValue | None
    try:
        found = understand(cells, RULES)
    except InvalidValue as problem:
        found = problem
    if isinstance(found, InvalidValue):
        assert found.where in COLUMNS
        assert found.what_to_do
    else:
        assert found is None or found.place

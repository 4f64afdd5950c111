"""Rows of lifts from tables: what is blank, what is refused, and how a row is named."""

import math

import pandas as pd
import pytest

from trapline.analyses.lifts import LiftRow, lift_rows
from trapline.errors import InputProblem, InvalidValue


def row(**cells: object) -> dict[str, object]:
    return {"bait": "fish", "catch": "3", "soak_h": "22.5", **cells}


def test_a_row_of_text_becomes_a_lift() -> None:
    cells = row(trap="T7", place="3", round="2", block="b", fraction_counted="0.5", other="x")

    (lift,) = lift_rows([{**cells, "condition": "Disturbed"}])

    assert lift == LiftRow(
        bait="fish", catch=3, soak_h=22.5, row=1, trap="T7", place="3", round="2", block="b",
        condition="disturbed", fraction_counted=0.5,
    )  # fmt: skip


@pytest.mark.parametrize("blank", ["", "  ", None, math.nan])
def test_a_blank_catch_is_no_zero(blank: object) -> None:
    lifts = lift_rows([row(catch=blank), row(catch="0"), row(soak_h=blank)])

    assert [lift.catch for lift in lifts] == [None, 0, 3]
    assert lifts[2].soak_h is None


def test_a_data_frame_gives_the_same_lifts_as_text() -> None:
    # A column with a gap holds floats, and a round of 1 becomes 1.0.
    frame = pd.DataFrame(
        {"bait": ["fish", "liver"], "catch": [3, None], "soak_h": [22.5, 24], "round": [1.0, None]}
    )
    texts = [
        {"bait": "fish", "catch": "3", "soak_h": "22.5", "round": "1"},
        {"bait": "liver", "catch": "", "soak_h": "24", "round": ""},
    ]

    assert lift_rows(frame) == lift_rows(texts)
    assert lift_rows(frame.convert_dtypes()) == lift_rows(texts)


def test_a_column_called_night_is_the_round() -> None:
    assert lift_rows([row(night="n2")])[0].round == "n2"


def test_rows_blank_throughout_are_skipped_but_numbered() -> None:
    lifts = lift_rows([row(), {"bait": "", "catch": "", "soak_h": ""}, row()])

    assert [lift.row for lift in lifts] == [1, 3]


def test_a_decimal_comma_is_read_and_thousands_are_not_guessed() -> None:
    assert lift_rows([row(soak_h="22,5")])[0].soak_h == 22.5
    with pytest.raises(InvalidValue, match="'1,200'"):
        lift_rows([row(soak_h="1,200")])


def test_a_pasted_name_may_hold_any_kind_of_space() -> None:
    for name in ("corn\u00a0cake", "corn\u200bcake", "corn\u2009cake"):
        assert LiftRow(bait=name, catch=1, soak_h=24.0, row=1).bait == name


@pytest.mark.parametrize(
    ("cells", "says"),
    [
        ({"catch": "-1"}, "The catch is -1"),
        ({"catch": "2.5"}, "2.5, no whole number"),
        ({"catch": "3000000"}, "The catch is 3000000"),
        ({"catch": "nan"}, "'nan', not a number"),
        ({"catch": "1e400"}, "not a number"),
        ({"catch": "many"}, "'many', not a number"),
        ({"soak_h": "0"}, "The soak is 0 h"),
        ({"soak_h": "-4"}, "The soak is -4 h"),
        ({"soak_h": "inf"}, "'inf', not a number"),
        ({"soak_h": "1e7"}, r"The soak is 1e\+07 h"),
        ({"bait": " "}, "The bait is blank"),
        ({"bait": "fi\x00sh"}, "control character"),
        ({"condition": "eaten"}, "The condition is 'eaten'"),
        ({"fraction_counted": "0"}, "fraction counted is 0"),
        ({"fraction_counted": "1.5"}, "fraction counted is 1.5"),
    ],
)
def test_what_cannot_be_is_refused_with_row_and_line(cells: dict[str, str], says: str) -> None:
    with pytest.raises(InvalidValue, match=says) as refused:
        lift_rows([row(), row(**cells)])

    assert refused.value.where == "row 2 (line 3)"
    assert refused.value.what_to_do


def test_a_refusal_names_the_file_and_the_line_it_was_told() -> None:
    with pytest.raises(InvalidValue) as refused:
        lift_rows([row(catch="-1")], source="lifts.csv", lines=[5])

    assert refused.value.where == "lifts.csv, row 1 (line 5)"


@pytest.mark.parametrize("missing", ["bait", "catch", "soak_h"])
def test_a_missing_column_is_named(missing: str) -> None:
    cells = row()
    del cells[missing]

    with pytest.raises(InputProblem, match=f"no column {missing}"):
        lift_rows([cells])
    with pytest.raises(InputProblem, match=f"no column {missing}"):
        lift_rows(pd.DataFrame([cells]))


def test_a_lift_made_by_hand_is_checked_too() -> None:
    with pytest.raises(InvalidValue) as refused:
        LiftRow(bait="fish", catch=-2, soak_h=24.0, row=9)

    assert refused.value.where == "row 9"
    with pytest.raises(InvalidValue, match="soak is nan"):
        LiftRow(bait="fish", catch=2, soak_h=math.nan, row=9)

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InputProblem
from trapline.exchange import clipboard
from trapline.exchange.clipboard import parse_pasted, tsv


def test_rows_become_lines_and_cells_are_parted_by_tabs():
    assert tsv(["Place", "Depth m"], [["T1", 1.5], ["T2", None]]) == (
        "Place\tDepth m\r\nT1\t1.5\r\nT2\t\r\n"
    )


def test_text_is_guarded_and_numbers_never_are():
    assert tsv([], [["=cmd", "-2", -33.5, -2]]) == "'=cmd\t'-2\t-33.5\t-2\r\n"
    assert tsv([], [["=cmd"]], guard=False) == "=cmd\r\n"
    assert tsv(["@x"], []) == "'@x\r\n"


def test_a_carriage_return_in_a_cell_starts_no_row_without_a_guard():
    assert tsv([], [["a\r=cmd", "b"]]) == '"a\r=cmd"\tb\r\n'


def test_numbers_that_are_none_leave_an_empty_cell():
    assert tsv([], [["a", math.nan, math.inf]]) == "a\t\t\r\n"


def test_a_column_from_a_spreadsheet_keeps_its_blank_cells_but_not_the_last_line():
    assert parse_pasted("5\r\n\r\n7\r\n") == [["5"], [""], ["7"]]
    assert parse_pasted("5\r\n7\r\n\r\n") == [["5"], ["7"]]
    assert parse_pasted("5") == [["5"]]
    assert parse_pasted("") == []


def test_commas_do_not_part_pasted_cells():
    assert parse_pasted("52,1\t4,5\n") == [["52,1", "4,5"]]


def test_quoted_cells_may_hold_tabs_lines_and_quotes():
    assert parse_pasted('"a\nb"\t"c\td"\r\n"say ""x"""\ty\r\n') == [
        ["a\nb", "c\td"],
        ['say "x"', "y"],
    ]


def test_quotes_that_do_not_pair_up_are_taken_as_they_are():
    assert parse_pasted('"open\t1\nb\t2\n') == [['"open', "1"], ["b", "2"]]
    assert parse_pasted('"Big" rock\n\nx\n') == [['"Big" rock'], [""], ["x"]]


def test_the_guard_comes_off_when_pasting():
    assert parse_pasted("'=cmd\t'-2\t't Meer") == [["=cmd", "-2", "'t Meer"]]


def test_ragged_rows_come_as_they_are():
    assert parse_pasted("a\tb\nc\n") == [["a", "b"], ["c"]]


def test_too_much_to_paste_is_refused(monkeypatch):
    monkeypatch.setattr(clipboard, "MAX_ROWS", 2)
    with pytest.raises(InputProblem, match="3 rows"):
        parse_pasted("1\n2\n3\n")
    monkeypatch.setattr(clipboard, "_MAX_CHARACTERS", 4)
    with pytest.raises(InputProblem, match="5 characters"):
        parse_pasted("1\n2\n3")


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    st.integers(1, 3).flatmap(
        lambda width: st.lists(
            st.lists(
                st.text(st.sampled_from("a1'=-@\t\r\n\"é "), max_size=5),
                min_size=width,
                max_size=width,
            ),
            max_size=4,
        )
    )
)
def test_what_is_copied_is_pasted_again(rows):
    assert parse_pasted(tsv([], rows)) == rows

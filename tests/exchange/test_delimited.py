import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InputProblem
from trapline.exchange import delimited
from trapline.exchange.delimited import guarded, read_table, unguarded


def table_of(text, **options):
    return read_table(text.encode(), "a.csv", **options)


def refused_of(text):
    with pytest.raises(InputProblem) as caught:
        table_of(text)
    assert caught.value.what_to_do
    return caught.value


def test_cells_come_by_header_as_text_without_outer_blanks():
    table = table_of("id, lat ,catch\nT1, 52.10 ,007\n")
    assert table.headers == ("id", "lat", "catch")
    assert table.rows == ({"id": "T1", "lat": "52.10", "catch": "007"},)


@pytest.mark.parametrize(
    ("delimiter", "word"), [(",", "comma"), (";", "semicolon"), ("\t", "tab"), ("|", "bar")]
)
@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_delimiter_encoding_and_line_end_gives_the_same_table(delimiter, word, codec, end):
    text = end.join(delimiter.join(cells) for cells in (["id", "näme"], ["1", "é"], ["2", "x"]))
    table = read_table(text.encode(codec), "a.csv")
    assert [tuple(row.items()) for row in table.rows] == [
        (("id", "1"), ("näme", "é")),
        (("id", "2"), ("näme", "x")),
    ]
    assert table.lines == (2, 3)
    assert word in table.format


def test_decimal_commas_do_not_win_over_semicolons():
    table = table_of("name;lat;lon\nT1;52,1;4,5\nT2;52,2;4,6\n")
    assert table.rows[0] == {"name": "T1", "lat": "52,1", "lon": "4,5"}


def test_commas_in_a_header_do_not_win_over_semicolons_that_fit_the_rows():
    table = table_of("name;lat (a,b,c,d);lon\nT1;1;2\n")
    assert table.headers == ("name", "lat (a,b,c,d)", "lon")


def test_a_single_column_stays_whole_whatever_its_header_or_rows_hold():
    assert table_of("position\n52.1, 4.5\n").rows == ({"position": "52.1, 4.5"},)
    assert table_of("position (lat, lon)\n52.1 4.5\n").rows[0] == {
        "position (lat, lon)": "52.1 4.5"
    }


def test_the_separator_hint_of_spreadsheets_is_obeyed_and_counted():
    table = table_of("sep=;\r\nid;note\r\n1;a,b\r\n")
    assert table.rows == ({"id": "1", "note": "a,b"},)
    assert (table.header_line, table.lines) == (2, (3,))


def test_lines_are_those_of_the_file_past_blank_lines_and_quoted_line_breaks():
    table = table_of('\nid,note\n\n1,"two\nlines"\n,\n2,x\n')
    assert table.header_line == 2
    assert table.lines == (4, 7)
    assert table.numbers == (1, 2)
    assert table.where(1) == "a.csv, line 7"
    assert table.rows[0]["note"] == "two\nlines"


def test_ragged_rows_are_reported_with_line_and_cells_and_the_rest_is_kept():
    table = table_of("id,lat,lon\n1,2,3\n2,52,1,4,5\n3,4\n4,5,6\n")
    assert [row["id"] for row in table.rows] == ["1", "4"]
    assert table.numbers == (1, 4)
    assert [(row.row, row.where) for row in table.refused] == [
        (2, "a.csv, line 3"),
        (3, "a.csv, line 4"),
    ]
    assert table.refused[0].why == "The row '2,52,1,4,5' has 5 cells; the header has 3."
    assert "';'" in table.refused[0].what_to_do
    assert table.refused[1].what_to_do == "Give it 3 cells."


def test_separators_at_the_end_of_lines_are_no_cells():
    table = table_of("id,lat,,\n1,2,,\n3,4\n")
    assert table.headers == ("id", "lat")
    assert [row["lat"] for row in table.rows] == ["2", "4"]
    assert not table.refused


def test_a_column_without_header_is_named_after_its_number():
    assert table_of("id,,lat\n1,2,3\n").headers == ("id", "column 2", "lat")


def test_an_open_quote_is_refused_at_the_row_where_it_starts():
    problem = refused_of('id,note\n1,a\n2,"open\n3,b\n')
    assert problem.where == "a.csv, line 3"
    assert "'2,\"open'" in problem.error


def test_a_header_used_twice_is_refused():
    problem = refused_of("id,lat,lat\n1,2,3\n")
    assert (problem.error, problem.where) == ("Two columns are called 'lat'.", "a.csv, line 1")


@pytest.mark.parametrize("text", ['""', ",,\n,\n", ";\n"])
def test_a_file_of_empty_cells_only_is_refused(text):
    assert "empty" in refused_of(text).error


def test_a_wide_header_over_short_rows_is_ragged_and_no_single_column():
    table = table_of("trap,bait,catch\nT1\n")
    assert table.headers == ("trap", "bait", "catch")
    assert len(table.refused) == 1


@pytest.mark.parametrize("text", ["id,lat,lon", "id,lat,lon\n", "id,lat,lon\n,,\n\n"])
def test_a_header_without_rows_is_refused(text):
    assert "no rows" in refused_of(text).error
    assert "'id'" in refused_of(text).error


def test_too_many_rows_columns_or_letters_are_refused(monkeypatch):
    with pytest.raises(InputProblem, match="more than 2 rows") as caught:
        table_of("id\n1\n2\n3\n", max_rows=2)
    assert "line 4" in caught.value.where
    assert len(table_of("id\n1\n2\n", max_rows=2).rows) == 2
    assert "1,001 cells" in refused_of("x," * 1000 + "y\n1\n").error
    assert "131072" in refused_of("id,a\n1," + "x" * 200_000).error
    monkeypatch.setattr(delimited, "_MAX_LINE", 100)
    assert "102 characters" in refused_of("id,a\n1," + "x" * 100).error


def test_the_guard_against_formulas_comes_off_unless_it_is_to_stay():
    text = "id,x\n'=cmd,'-33.5\n"
    assert table_of(text).rows == ({"id": "=cmd", "x": "-33.5"},)
    assert table_of(text, keep_guard=True).rows == ({"id": "'=cmd", "x": "'-33.5"},)


@pytest.mark.parametrize("text", ["=cmd", "+1", "-2", "@x", "\t=1", "\r=1", "'=1"])
def test_what_a_spreadsheet_would_run_is_guarded(text):
    assert guarded(text) == "'" + text


@pytest.mark.parametrize("text", ["", "T1", "a=b", "'t Meer", " =x", "5-6"])
def test_what_a_spreadsheet_would_not_run_is_left_alone(text):
    assert guarded(text) == text == unguarded(text)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(st.sampled_from("'=+-@\t\ra1"), max_size=6))
def test_taking_the_guard_off_is_the_opposite_of_putting_it_on(text):
    assert unguarded(guarded(text)) == text


cells = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=8).map(str.strip)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(
    rows=st.lists(st.tuples(cells, cells, cells).filter(any), min_size=1, max_size=5),
    delimiter=st.sampled_from(",;\t|"),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-32"]),
)
def test_whatever_a_csv_writer_writes_is_read_again(rows, delimiter, codec):
    """Source: the csv module of the standard library as the writer."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=delimiter, quoting=csv.QUOTE_ALL)
    writer.writerow(["id", "name", "note"])
    writer.writerows([[guarded(cell) for cell in row] for row in rows])
    table = read_table(stream.getvalue().encode(codec), "a.csv")
    assert [tuple(row.values()) for row in table.rows] == rows


def is_read_or_explained(data):
    try:
        read_table(data, "a")
    except InputProblem as problem:
        return bool(problem.error and problem.where and problem.what_to_do)
    return True


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.binary(max_size=60) | st.text(st.sampled_from("a1,;\t|\"\n\r '="), max_size=60))
def test_no_text_does_anything_but_read_or_explain(data):
    assert is_read_or_explained(data.encode() if isinstance(data, str) else data)

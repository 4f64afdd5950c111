"""How pieces flow down pages."""

from collections.abc import Iterator
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtGui import QColor

from tests.reports.pdf_reading import reader, size_mm, words
from trapline.drawing.paper import PageSetup
from trapline.reports.blocks import facts, heading, paragraph, space, title, writing_lines
from trapline.reports.page import Piece, Placed, Report, mm, place_pieces
from trapline.reports.pdf_file import report_bytes
from trapline.reports.table import Cell, TableColumn, column_widths, table


def piece(height: float, **more: Any) -> Piece:
    return Piece(height, lambda _painter, _rect: None, **more)


def tops(pages: tuple[tuple[Placed, ...], ...]) -> list[list[tuple[float, float]]]:
    return [[(one.rect.top(), one.rect.height()) for one in page] for page in pages]


def test_a_piece_that_does_not_fit_begins_the_next_page() -> None:
    pages = place_pieces([piece(60), piece(60)], 10, 100)
    assert tops(pages) == [[(0, 60)], [(0, 60)]]


def test_pieces_that_keep_together_move_together() -> None:
    pages = place_pieces([piece(60), piece(20, keeps_with_next=True), piece(30)], 10, 100)
    assert tops(pages) == [[(0, 60)], [(0, 20), (20, 30)]]


def test_the_head_comes_again_at_the_top_of_a_page_and_nowhere_else() -> None:
    head = piece(10, keeps_with_next=True)
    rows = [piece(30, head=head) for _ in range(5)]
    pages = place_pieces([head, *rows], 10, 100)
    assert [[one.piece is head for one in page] for page in pages] == [
        [True, False, False, False],
        [True, False, False],
    ]


def test_room_between_pieces_is_left_out_where_a_page_begins() -> None:
    pages = place_pieces([piece(90), space(10), piece(90)], 10, 100)
    assert tops(pages)[1] == [(0, 90)]


def test_a_picture_takes_what_is_left_when_that_is_enough() -> None:
    pages = place_pieces([piece(40), piece(100, least_height=50)], 10, 100)
    assert tops(pages) == [[(0, 40), (40, 60)]]


def test_a_picture_that_has_too_little_room_gets_a_page() -> None:
    pages = place_pieces([piece(60), piece(90, least_height=50)], 10, 100)
    assert tops(pages) == [[(0, 60)], [(0, 90)]]


def test_a_picture_leaves_room_for_what_keeps_with_it() -> None:
    picture = piece(100, least_height=50, keeps_with_next=True)
    assert tops(place_pieces([picture, piece(20)], 10, 100)) == [[(0, 80), (80, 20)]]


PIECES = st.lists(
    st.builds(
        lambda height, keeps, is_space: piece(
            height, keeps_with_next=keeps and not is_space, is_space=is_space
        ),
        st.floats(1, 100),
        st.booleans(),
        st.booleans(),
    ),
    max_size=40,
)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(PIECES)
def test_nothing_is_lost_overlaps_or_leaves_the_page(pieces: list[Piece]) -> None:
    pages = place_pieces(pieces, 10, 100)
    placed = [one for page in pages for one in page]
    assert [one.piece for one in placed if not one.piece.is_space] == [
        one for one in pieces if not one.is_space
    ]
    for page in pages:
        bottoms = [0.0]
        for one in page:
            assert one.rect.top() >= bottoms[-1] - 1e-6
            bottoms.append(one.rect.bottom())
        assert bottoms[-1] <= 100.5


def make(paper: str, n_rows: int) -> Report:
    def pieces(width: float, _room: float) -> Iterator[Piece]:
        yield from title("A report", "Test", width)
        yield from facts([("Label", "value"), ("To write", "")], width, 2)
        yield from heading("Rows", width)
        columns = [TableColumn("Number", 20, is_right=True), TableColumn("Name of the row")]
        yield from table(columns, [[str(n), f"row {n} of many"] for n in range(n_rows)], width)
        yield from paragraph("The end.", width)
        yield from writing_lines("Notes", 2)

    return Report(PageSetup(paper, margin_mm=12), "A report: test", pieces)


def test_every_page_says_which_of_how_many_it_is_and_repeats_the_headers() -> None:
    report = make("A4", 120)
    pages = reader(report_bytes(report)).pages
    assert len(pages) == report.n_pages == 3
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of 3" in words(page)
        assert "A report: test" in words(page)
        assert "Name of the row" in words(page)


def test_every_row_stands_on_one_page_only() -> None:
    pages = [words(page) for page in reader(report_bytes(make("Letter", 120))).pages]
    for number in range(120):
        assert sum(f"row {number} of many" in page for page in pages) == 1


def test_both_papers_have_their_size() -> None:
    assert size_mm(report_bytes(make("A4", 3))) == (210, 297)
    assert size_mm(report_bytes(make("Letter", 3))) == (216, 279)


def test_a_report_without_pieces_is_one_page() -> None:
    report = Report(PageSetup("A4"), "Nothing", lambda _width, _room: [])
    assert "Page 1 of 1" in words(reader(report_bytes(report)).pages[0])


def test_pages_break_at_the_same_spots_on_the_screen_as_in_the_pdf() -> None:
    report = make("A4", 120)
    before = tops(report.pages)
    picture = report.picture(1, 60.0)
    report_bytes(report)
    assert tops(report.pages) == before
    assert (picture.width(), picture.height()) == (496, 701)  # A4 at 60 dots an inch
    white = QColor("white").rgb()
    inked = [
        y
        for y in range(picture.height())
        if any(picture.pixel(x, y) != white for x in range(30, 466))
    ]
    # Within the margins of 12 mm, a pixel for rounding.
    assert inked[0] >= 27
    assert inked[-1] <= 701 - 27


def test_columns_fill_the_width_and_the_longest_text_gets_the_most() -> None:
    columns = [TableColumn("A"), TableColumn("B"), TableColumn("C", 10)]
    rows = [[Cell("short"), Cell("a much longer text than the other"), Cell("x")]]
    widths = column_widths(columns, rows, mm(100))
    assert round(sum(widths)) == round(mm(100))
    assert widths[1] > widths[0]
    assert round(widths[2]) == round(mm(10))


def test_a_rare_long_text_does_not_take_room_from_all_others() -> None:
    columns = [TableColumn("A", most_mm=80), TableColumn("B", most_mm=80)]
    usual = [[Cell("fished"), Cell("a name of usual length")] for _ in range(19)]
    rare = [[Cell("fished after somebody had looked at it twice"), Cell("name")]]
    with_rare = column_widths(columns, usual + rare, mm(100))
    without = column_widths(columns, usual + usual[:1], mm(100))
    assert with_rare == without

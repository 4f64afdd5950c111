"""Texts broken into lines."""

from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.reports.letters import CELL, elided, text_width, wrapped
from trapline.reports.page import mm

TEXTS = st.text(
    st.characters(exclude_categories=("Cc", "Cs", "Cf", "Zl", "Zp", "Mn", "Me")), max_size=80
)


def test_a_text_that_fits_stays_on_one_line() -> None:
    assert wrapped("cut herring", CELL, mm(40)) == ("cut herring",)


def test_words_are_kept_whole_where_they_fit() -> None:
    lines = wrapped("a line of baited traps along the north shore", CELL, mm(25))
    assert len(lines) > 1
    assert " ".join(lines) == "a line of baited traps along the north shore"


def test_a_word_that_is_too_long_is_parted() -> None:
    word = "W" * 60
    lines = wrapped(word, CELL, mm(20))
    assert "".join(lines) == word
    assert all(text_width(line, CELL) <= mm(20) for line in lines)


def test_line_breaks_are_kept() -> None:
    assert wrapped("T1\nAB 100", CELL, mm(40)) == ("T1", "AB 100")


def test_letters_of_two_units_are_not_cut_in_half() -> None:
    text = "🦞" * 40
    assert "".join(wrapped(text, CELL, mm(15))) == text


def test_beyond_the_most_lines_the_last_ends_with_an_ellipsis() -> None:
    lines = wrapped("one two three four five six seven eight nine ten", CELL, mm(18), 2)
    assert len(lines) == 2
    assert lines[-1].endswith("…")
    assert lines[0].startswith("one")


def test_an_elided_text_fits() -> None:
    text = elided("a very long name of a place by the reeds", CELL, mm(20))
    assert text_width(text, CELL) <= mm(20)
    assert text.endswith("…")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(TEXTS, st.floats(8, 60))
def test_no_letter_is_lost_by_breaking(text: str, width_mm: float) -> None:
    lines = wrapped(text, CELL, mm(width_mm))
    assert "".join("".join(lines).split()) == "".join(text.split())

"""Tags of an authority as one cell, there and back."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.model.trap import Trap, tags_from_text


@pytest.mark.parametrize(
    ("text", "tags"),
    [
        ("", ()),
        (" , ", ()),
        ("C 7", ((None, "C 7"),)),
        ("AB 120 (2026), C 7", ((2026, "AB 120"), (None, "C 7"))),
        ("AB 120(2026);C 7", ((2026, "AB 120"), (None, "C 7"))),
        ("№ 12 ( 2025 )", ((2025, "№ 12"),)),
    ],
)
def test_tags_are_read_as_they_are_typed(
    text: str, tags: tuple[tuple[int | None, str], ...]
) -> None:
    assert tags_from_text(text) == tags


@pytest.mark.parametrize("text", ["(2026)", "AB (26)", "AB (next year)", "A (2025) (2026)", "A)"])
def test_brackets_without_a_tag_and_a_year_are_refused(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        tags_from_text(text)
    assert caught.value.where == "Authority tags"


tag = st.text("ABC 0123456789-/", min_size=1, max_size=12).map(str.strip).filter(bool)


@settings(derandomize=True, max_examples=100)
@given(st.lists(st.tuples(st.none() | st.integers(1900, 2100), tag), max_size=4))
def test_what_a_trap_shows_is_read_back(tags: list[tuple[int | None, str]]) -> None:
    trap = Trap(number="1", tags=tuple(tags))
    assert tags_from_text(trap.tag_text) == trap.tags

"""The border where values enter: each kind of field refuses what it cannot hold, in words."""

import dataclasses
import math
import unicodedata
import uuid
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.fields import MAX_TEXT, Noun, check_value, clean_text, field_meta
from trapline.model.line import Place
from trapline.model.nouns import BY_TABLE, NOUNS
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

ENOUGH: dict[str, dict[str, Any]] = {
    "project": {"name": "n"}, "water": {"name": "n"}, "place": {"label": "n"},
    "trap": {"number": "n"}, "bait": {"name": "n"}, "species": {"name": "n"},
    "trip": {"name": "n"}, "catch": {"count": 0},
}  # fmt: skip


def made(noun: type[Noun], **values: Any) -> Noun:
    """A row with what it needs at least, and these values."""
    return noun(**{**ENOUGH.get(noun.table, {}), **values})


def fields_of(*kinds: str) -> list[Any]:
    return [
        pytest.param(noun, item, id=f"{noun.table}.{item.name}")
        for noun in NOUNS
        for item in dataclasses.fields(noun)
        if item.metadata["kind"] in kinds
    ]


Case = dataclasses.Field[Any]


@pytest.mark.parametrize(("noun", "item"), fields_of("number", "count"))
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "3", True, 1j, [1]])
def test_no_number_field_holds_what_is_no_number(
    noun: type[Noun], item: Case, value: object
) -> None:
    with pytest.raises(InvalidValue, match="is not a number") as caught:
        made(noun, **{item.name: value})
    assert caught.value.where == item.metadata["label"]
    assert caught.value.what_to_do


@pytest.mark.parametrize(("noun", "item"), fields_of("number", "count"))
def test_every_limit_is_held_and_named(noun: type[Noun], item: Case) -> None:
    meta = item.metadata
    label = meta["label"]
    outside = [
        *([math.nextafter(meta["low"], -math.inf)] if meta["low"] is not None else []),
        *([math.nextafter(meta["high"], math.inf)] if meta["high"] is not None else []),
        *([meta["above"]] if meta["above"] is not None else []),
    ]
    if meta["kind"] == "count":
        outside = [
            math.floor(x) if x < 0 or x < (meta["low"] or 0) else math.ceil(x) for x in outside
        ]
        with pytest.raises(InvalidValue, match="not a whole number"):
            check_value((meta["low"] or 0) + 0.5, item.name, meta)
    assert outside, "a number without any limit"
    for value in outside:
        with pytest.raises(InvalidValue, match=r"less than|more than") as caught:
            check_value(value, item.name, meta)
        assert caught.value.where == label
        assert caught.value.what_to_do.startswith("Type ")
    for value in (meta["low"], meta["high"], item.default):
        if value is not None:
            check_value(value, item.name, meta)


@pytest.mark.parametrize(("noun", "item"), fields_of("number", "count"))
def test_not_known_is_none_and_not_0(noun: type[Noun], item: Case) -> None:
    if item.default is None:
        others = {"weight_kg": 0, "measure_n": 0} if noun is Catch else {}
        assert getattr(made(noun, **{**others, item.name: None}), item.name) is None
    else:
        assert getattr(made(noun), item.name) == item.default


CONTROLS = [chr(code) for code in (0, 1, 7, 8, 11, 12, 13, 27, 31, 127, 128, 133, 159)]


@pytest.mark.parametrize(("noun", "item"), fields_of("text"))
def test_no_text_field_holds_control_characters(noun: type[Noun], item: Case) -> None:
    several = item.metadata["lines"] > 1
    for letter in [*CONTROLS, "\ud800", "\udfff", *([] if several else ["\n", "\t"])]:
        with pytest.raises(InvalidValue, match="control character") as caught:
            made(noun, **{item.name: f"ab{letter}c"})
        assert f"code {ord(letter)}) at position 3" in caught.value.error
        assert caught.value.where == item.metadata["label"]
    if several:
        assert getattr(made(noun, **{item.name: "a\n\tb"}), item.name) == "a\n\tb"


@pytest.mark.parametrize(("noun", "item"), fields_of("text"))
def test_text_is_kept_as_it_is_up_to_its_length(noun: type[Noun], item: Case) -> None:
    if item.name in ("zone", "colour"):
        return
    most = item.metadata["most"]
    for text in ("é钓🦞 &<b>'\"=1+1", " x ", "x" * most):
        assert getattr(made(noun, **{item.name: text}), item.name) == text
    with pytest.raises(InvalidValue, match=f"at most {most} are kept"):
        made(noun, **{item.name: "x" * (most + 1)})
    with pytest.raises(InvalidValue, match="is not text"):
        made(noun, **{item.name: None})


@pytest.mark.parametrize(("noun", "item"), fields_of("text"))
def test_required_text_is_not_left_empty(noun: type[Noun], item: Case) -> None:
    for blank in ("", "  "):
        if item.metadata["required"]:
            with pytest.raises(InvalidValue, match=r"is empty|no time zone"):
                made(noun, **{item.name: blank})
        elif item.name != "colour":
            assert getattr(made(noun, **{item.name: blank}), item.name) == blank


@pytest.mark.parametrize(("noun", "item"), fields_of("choice"))
def test_a_choice_holds_its_words_only(noun: type[Noun], item: Case) -> None:
    for word in item.metadata["options"]:
        assert getattr(made(noun, **{item.name: word}), item.name) == word
    for word in ("something else", None, item.metadata["options"][-1].upper()):
        with pytest.raises(InvalidValue, match="is not known") as caught:
            made(noun, **{item.name: word})
        assert caught.value.what_to_do.startswith("Use one of: ")
    assert item.default in item.metadata["options"]


@pytest.mark.parametrize(("noun", "item"), fields_of("link"))
def test_a_link_is_a_key_or_nothing_and_points_to_a_noun(noun: type[Noun], item: Case) -> None:
    assert item.metadata["noun"] in BY_TABLE
    assert getattr(made(noun, **{item.name: "some-key"}), item.name) == "some-key"
    with pytest.raises(InvalidValue, match="is not a key"):
        made(noun, **{item.name: 3})


@pytest.mark.parametrize(("noun", "item"), fields_of("flag"))
def test_a_flag_is_yes_or_no(noun: type[Noun], item: Case) -> None:
    assert getattr(made(noun, **{item.name: True}), item.name) is True
    for value in ("yes", 2, "", []):
        with pytest.raises(InvalidValue, match="neither yes nor no"):
            made(noun, **{item.name: value})


@pytest.mark.parametrize(("noun", "item"), fields_of("instant"))
@pytest.mark.parametrize(
    "value",
    ["", "2026-08-01", "2026-08-01T18:30Z", "2026-08-01T18:30:00", "2026-08-01T18:30:00+00:00",
     "2026-02-30T00:00:00Z", "2026-08-01T24:00:00Z", "2026-08-01T18:30:61Z",
     "2026-08-01T18:30:00Z ", "2026-08-01t18:30:00z", 20260801, 3.5],
)  # fmt: skip
def test_an_instant_is_utc_to_the_second(noun: type[Noun], item: Case, value: object) -> None:
    with pytest.raises(InvalidValue, match="is not a moment") as caught:
        made(noun, **{item.name: value})
    assert caught.value.where == item.metadata["label"]


@pytest.mark.parametrize(("noun", "item"), fields_of("day"))
@pytest.mark.parametrize("value", ["", "2026-8-1", "20260801", "2026-W31-6", "2026-02-29", 5, "x"])
def test_a_day_is_a_calendar_date(noun: type[Noun], item: Case, value: object) -> None:
    assert getattr(made(noun, **{item.name: "2028-02-29"}), item.name) == "2028-02-29"
    with pytest.raises(InvalidValue, match="is not a date") as caught:
        made(noun, **{item.name: value})
    assert caught.value.where == item.metadata["label"]


@settings(derandomize=True, deadline=None)
@given(st.text(st.characters(exclude_categories=()), max_size=30), st.sampled_from([1, 2]))
def test_any_text_is_kept_whole_or_refused(text: str, lines: int) -> None:
    """What is refused are the categories Cc and Cs of Unicode; a line break where there is one."""
    allowed = "\n\t" if lines > 1 else ""
    wrong = any(unicodedata.category(c) in ("Cc", "Cs") and c not in allowed for c in text)
    try:
        kept = clean_text(text, "Notes", lines)
    except InvalidValue:
        kept = "refused"
    assert kept == ("refused" if wrong else text)


def test_every_row_gets_a_key_of_its_own() -> None:
    keys = {made(Bait).id for _ in range(100)}
    assert len(keys) == 100
    assert {str(uuid.UUID(key)) for key in keys} == keys


def test_a_row_cannot_be_edited_but_copied_with_other_values_checked_anew() -> None:
    place = Place(label="P1", depth_m=2)
    with pytest.raises(dataclasses.FrozenInstanceError):
        place.depth_m = 3
    other = place.with_(depth_m=3)
    assert (place.depth_m, other.depth_m, other.id) == (2, 3, place.id)
    with pytest.raises(InvalidValue):
        place.with_(depth_m=-1)
    with pytest.raises(TypeError):
        place.with_(no_such_field=1)


def test_a_declaration_is_found_by_name() -> None:
    assert field_meta(Round, "current_m_s")["unit"] == "m/s"
    assert field_meta(Trip, "zone")["required"]
    with pytest.raises(KeyError):
        field_meta(Trip, "nothing")


def test_every_field_says_its_label_and_a_quantity_its_unit_in_its_name() -> None:
    units = {"m": "_m", "mm": "_mm", "m/s": "_m_s", "°": "_deg", "°C": "_c", "kg": "_kg", "h": "_h"}
    for noun in NOUNS:
        for item in dataclasses.fields(noun):
            assert item.metadata["label"], item.name
            unit = item.metadata.get("unit", "")
            if unit:
                assert item.name.endswith(units[unit]), item.name


def test_each_table_has_one_noun_and_refers_only_to_earlier_ones() -> None:
    assert len(BY_TABLE) == len(NOUNS)
    seen: set[str] = set()
    for noun in NOUNS:
        seen.add(noun.table)
        for item in dataclasses.fields(noun):
            if item.metadata["kind"] == "link":
                assert item.metadata["noun"] in seen


def test_the_limits_of_text_are_what_the_file_can_hold() -> None:
    longest = max(item.metadata["most"] for _, item in (p.values for p in fields_of("text")))
    assert MAX_TEXT <= longest <= 16 * 1024 * 1024


def test_a_value_out_of_range_is_said_with_its_unit() -> None:
    with pytest.raises(InvalidValue) as caught:
        Water(name="x", mixed_depth_m=201)
    assert caught.value.error == "Mixed depth: 201 m is more than 200."
    assert caught.value.what_to_do == "Type 200 or less."
    with pytest.raises(InvalidValue, match="Count: -1 is less than 0"):
        Catch(count=-1)

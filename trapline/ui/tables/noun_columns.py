"""Columns of a table of nouns, made from what the nouns declare about their fields."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from trapline.actions.editing import name_of
from trapline.errors import InvalidValue
from trapline.model.fields import Noun, field_meta
from trapline.model.nouns import BY_TABLE
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap, tags_from_text
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.tables.grid import Column

_YES, _NO = ("yes", "y", "x", "1", "true"), ("no", "n", "", "0", "false")


@dataclass(frozen=True)
class NounColumn:
    """How one field of a noun stands in a table: short title, width, icon."""

    field: str
    title: str
    stretch: bool = False
    decoration: Callable[[Any], Any] | None = None


def cell_text(snapshot: Snapshot, row: Noun, name: str) -> str:
    """Return a field of a row as a cell shows it."""
    meta, value = field_meta(type(row), name), getattr(row, name)
    if meta["kind"] == "flag":
        return "yes" if value else ""
    if meta["kind"] == "link":
        other = snapshot.get(BY_TABLE[meta["noun"]], value)
        return name_of(other) if other is not None else ""
    if isinstance(row, Trap) and name == "tags":
        return row.tag_text
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def cell_value(snapshot: Snapshot, noun: type[Noun], name: str, text: str) -> Any:
    """Return what a text typed or pasted into a cell means for a field.

    Raises
    ------
    InvalidValue
        It means nothing; names the field.
    """
    meta = field_meta(noun, name)
    label, word = str(meta["label"]), text.strip().casefold()
    if meta["kind"] == "flag":
        if word not in (*_YES, *_NO):
            raise InvalidValue(f"'{text}' is neither yes nor no.", label, "Type yes or no.")
        return word in _YES
    if meta["kind"] == "link":
        return _linked(snapshot, BY_TABLE[meta["noun"]], text, label)
    if meta["kind"] == "choice":
        return next((one for one in meta["options"] if one.casefold() == word), text.strip())
    if noun is Trap and name == "tags":
        return tags_from_text(text)
    try:
        return typed_value(text, meta)
    except InvalidValue as problem:
        raise InvalidValue(problem.error, problem.where or label, problem.what_to_do) from problem


def _linked(snapshot: Snapshot, noun: type[Noun], text: str, label: str) -> str | None:
    if not text.strip():
        return None
    for row in snapshot.all(noun):
        if name_of(row).casefold() == text.strip().casefold():
            return row.id
    raise InvalidValue(
        f"There is no {noun.noun} called '{text.strip()}'.", label, "Choose one of the list."
    )


def _offers(
    meta: Mapping[str, Any], snapshot: Callable[[], Snapshot]
) -> Callable[[Any], Sequence[str]] | None:
    """Return what gives the words that a cell offers; None where anything can be typed."""
    if meta["kind"] == "choice":
        return lambda _: list(meta["options"])
    if meta["kind"] == "flag":
        return lambda _: ["yes", "no"]
    if meta["kind"] == "link":
        return lambda _: [name_of(row) for row in snapshot().all(BY_TABLE[meta["noun"]])]
    return None


def make_columns(
    noun: type[Noun],
    columns: Sequence[NounColumn],
    snapshot: Callable[[], Snapshot],
    write: Callable[[Noun, str, Any], None],
) -> list[Column]:
    """Return the columns of a table; `write(row, field, value)` keeps what was typed."""

    def made(column: NounColumn) -> Column:
        meta, name = field_meta(noun, column.field), column.field
        return Column(
            column.title,
            lambda row: cell_text(snapshot(), row, name),
            lambda row, text: write(row, name, cell_value(snapshot(), noun, name, text)),
            choices=_offers(meta, snapshot),
            decoration=column.decoration,
            is_number=meta["kind"] in ("number", "count"),
            stretch=column.stretch,
        )

    return [made(column) for column in columns]

"""How a noun declares its fields, and the border where their values are checked.

Each field says its label, unit, range and choices once; the forms of the
window, the errors and the store's columns are made from that.
"""

import dataclasses
import math
import uuid
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, ClassVar, Self

from trapline.errors import InvalidValue

MAX_TEXT = 20_000
MAX_KEY = 200


def new_id() -> str:
    """Return a fresh UUID as text, the key of every row."""
    return str(uuid.uuid4())


def text(
    label: str,
    default: str = "",
    *,
    lines: int = 1,
    required: bool = False,
    most: int = MAX_TEXT,
) -> Any:
    """Declare a text field; with `lines` over 1 it may hold line breaks."""
    meta = {"label": label, "kind": "text", "lines": lines, "required": required, "most": most}
    return field(default=default, metadata=meta)


def number(
    label: str,
    unit: str = "",
    *,
    low: float | None = None,
    high: float | None = None,
    above: float | None = None,
    default: float | None = None,
) -> Any:
    """Declare a real number in `unit`; None means not known."""
    meta = {
        "label": label, "kind": "number", "unit": unit, "low": low, "high": high, "above": above,
    }  # fmt: skip
    return field(default=default, metadata=meta)


def count(
    label: str, *, low: int | None = 0, high: int | None = None, default: int | None = None
) -> Any:
    """Declare a whole number; None means not known, which is not 0."""
    meta = {"label": label, "kind": "count", "unit": "", "low": low, "high": high, "above": None}
    return field(default=default, metadata=meta)


def flag(label: str, default: bool | None = False) -> Any:
    """Declare a yes/no field."""
    return field(default=default, metadata={"label": label, "kind": "flag"})


def choice(label: str, options: tuple[str, ...], default: str) -> Any:
    """Declare a field that holds one word of `options`."""
    return field(default=default, metadata={"label": label, "kind": "choice", "options": options})


def link(label: str, noun: str) -> Any:
    """Declare the id of another row of the table `noun`, or None."""
    return field(default=None, metadata={"label": label, "kind": "link", "noun": noun})


def instant(label: str) -> Any:
    """Declare a moment, UTC text ``2026-08-01T18:30:00Z``, or None."""
    return field(default=None, metadata={"label": label, "kind": "instant"})


def day(label: str) -> Any:
    """Declare a local calendar date, ``2026-08-01``, or None."""
    return field(default=None, metadata={"label": label, "kind": "day"})


def listing(label: str) -> Any:
    """Declare a tuple of tuples of plain values, kept as JSON."""
    return field(default=(), metadata={"label": label, "kind": "listing"})


def clean_text(value: str, label: str, lines: int = 20, most: int = MAX_TEXT) -> str:
    """Return `value`, or refuse control characters, which no file format carries safely."""
    allowed = "\n\t" if lines > 1 else ""
    for position, letter in enumerate(value):
        code = ord(letter)
        if (code < 32 or 127 <= code < 160 or 0xD800 <= code < 0xE000) and letter not in allowed:
            raise InvalidValue(
                f"{label} holds a control character (code {code}) at position {position + 1}.",
                label,
                "Delete it and type the text again.",
            )
    if len(value) > most:
        raise InvalidValue(
            f"{label} has {len(value)} characters; at most {most} are kept.",
            label,
            "Shorten it.",
        )
    return value


def _check_number(value: float, label: str, meta: MappingProxyType[Any, Any]) -> None:
    try:
        is_number = not isinstance(value, bool) and isinstance(value, int | float)
        is_number = is_number and math.isfinite(value)
    except OverflowError:  # a whole number beyond every real one
        is_number = False
    if not is_number:
        raise InvalidValue(f"{label}: {value!r} is not a number.", label, "Type a number.")
    if meta["kind"] == "count" and not float(value).is_integer():
        raise InvalidValue(f"{label}: {value} is not a whole number.", label, "Count whole ones.")
    unit = f" {meta['unit']}" if meta["unit"] else ""
    low, high, above = meta["low"], meta["high"], meta["above"]
    if low is not None and value < low:
        raise InvalidValue(
            f"{label}: {value:g}{unit} is less than {low:g}.", label, f"Type {low:g} or more."
        )
    if above is not None and value <= above:
        raise InvalidValue(
            f"{label}: {value:g}{unit} is not more than {above:g}.",
            label,
            f"Type more than {above:g}.",
        )
    if high is not None and value > high:
        raise InvalidValue(
            f"{label}: {value:g}{unit} is more than {high:g}.", label, f"Type {high:g} or less."
        )


def check_value(value: Any, name: str, meta: MappingProxyType[Any, Any]) -> None:
    """Refuse a value that the field `name` cannot hold.

    Raises
    ------
    InvalidValue
        Names the field's label, the value and one thing to do.
    """
    kind, label = meta["kind"], meta["label"]
    if kind == "text":
        if not isinstance(value, str):
            raise InvalidValue(f"{label}: {value!r} is not text.", label, "Type text.")
        clean_text(value, label, meta["lines"], meta["most"])
        if meta["required"] and not value.strip():
            raise InvalidValue(f"{label} is empty.", label, f"Type a {label.lower()}.")
    elif kind == "choice":
        if value not in meta["options"]:
            words = ", ".join(word or "(none)" for word in meta["options"])
            raise InvalidValue(f"{label}: '{value}' is not known.", label, f"Use one of: {words}.")
    elif kind in ("number", "count"):
        if value is not None:
            _check_number(value, label, meta)
    elif kind in ("instant", "day"):
        if value is not None:
            from trapline.model.instants import check_day, check_instant

            (check_instant if kind == "instant" else check_day)(value, label)
    elif kind == "flag" and value not in (True, False, None):
        raise InvalidValue(f"{label}: {value!r} is neither yes nor no.", label, "Use yes or no.")
    elif kind == "key" or (kind == "link" and value is not None):
        if not isinstance(value, str) or not value or len(value) > MAX_KEY:
            raise InvalidValue(f"{label}: {value!r} is not a key.", label, "Choose another one.")
        clean_text(value, label, 1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Noun:
    """One row of one table: frozen, checked when made, replaced and never edited."""

    table: ClassVar[str]
    noun: ClassVar[str]
    id: str = field(default_factory=new_id, metadata={"label": "Key", "kind": "key"})

    def __post_init__(self) -> None:
        for item in dataclasses.fields(self):
            value = getattr(self, item.name)
            check_value(value, item.name, item.metadata)
            if value is None and item.default is not None:
                label = item.metadata["label"]
                raise InvalidValue(f"{label} is missing.", label, "Type a value.")
        self.check()

    def check(self) -> None:
        """Refuse combinations of values that cannot be; overridden where there are any."""

    def with_(self, **values: Any) -> Self:
        """Return a copy with some fields changed, checked anew."""
        return dataclasses.replace(self, **values)


def field_meta(noun: type[Noun], name: str) -> MappingProxyType[Any, Any]:
    """Return what the field `name` declared about itself."""
    for item in dataclasses.fields(noun):
        if item.name == name:
            return item.metadata
    raise KeyError(name)

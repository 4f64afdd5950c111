"""What a step did, in words: every value before and after it."""

import dataclasses
from collections.abc import Mapping
from typing import Any

from trapline.actions.editing import name_of
from trapline.model.catch import Catch
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.instants import local_text
from trapline.model.nouns import BY_TABLE
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet

_MOST_LETTERS = 60


def words_of(changes: Changes, snapshot: Snapshot, zone: str) -> list[str]:
    """Return a line for each row that was added or deleted and for each value that changed.

    Names of other rows are those of `snapshot`; times are those of `zone`.
    """
    before: dict[tuple[str, str], Noun | None] = {}
    after: dict[tuple[str, str], Noun | None] = {}
    for change in changes.rows:
        key = (change.table, change.id)
        before.setdefault(key, change.before)
        after[key] = change.after
    # A row that came or went with the step can still be named.
    there = snapshot.with_rows([row for row in (*before.values(), *after.values()) if row])
    lines: list[str] = []
    for key, old in before.items():
        new = after[key]
        if old is None and new is not None:
            lines.append(f"{_called(new, there)}: added")
        elif new is None and old is not None:
            lines.append(f"{_called(old, there)}: deleted")
        elif old is not None and new is not None:
            lines += _differences(old, new, there, zone)
    return lines


def _differences(old: Noun, new: Noun, there: Snapshot, zone: str) -> list[str]:
    lines = []
    for item in dataclasses.fields(new):
        was, now = getattr(old, item.name), getattr(new, item.name)
        if was != now:
            texts = [_shown(value, item.metadata, there, zone) for value in (was, now)]
            if texts[0] == texts[1] and isinstance(was, float):
                texts = [repr(was), repr(now)]  # a difference that rounding hides is one
            label = item.metadata["label"]
            lines.append(f"{_called(old, there)}: {label}: {texts[0]} → {texts[1]}")
    return lines


def _called(row: Noun, there: Snapshot) -> str:
    if isinstance(row, TrapSet):
        return f"trap at {there.place_label(row) or '?'}"
    if isinstance(row, Catch):
        at = there.get(TrapSet, row.trap_set_id)
        return f"catch at {there.place_label(at) if at else '?'}"
    name = name_of(row)
    return name if name.startswith(row.noun) else f"{row.noun} {name}"


def _shown(value: Any, meta: Mapping[str, Any], there: Snapshot, zone: str) -> str:
    kind = meta["kind"]
    if value is None or value == "" or value == ():
        return "nothing"
    if kind == "link":
        row = there.get(BY_TABLE[meta["noun"]], value)
        text = name_of(row) if row is not None else "?"
    elif kind == "instant":
        text = local_text(value, zone)
    elif kind == "flag":
        text = "yes" if value else "no"
    elif isinstance(value, float):
        unit = meta.get("unit") or ""
        text = f"{value:.10g}{'' if unit == '°' else ' '}{unit}".strip()
    else:
        text = str(value)
    return text if len(text) <= _MOST_LETTERS else f"{text[:_MOST_LETTERS]}…"

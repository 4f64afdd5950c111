"""From what is typed about a lift to what is stored, and back."""

import datetime as dt
from typing import Any

from PySide6.QtWidgets import QWidget

from trapline.errors import InvalidValue, TraplineError
from trapline.model.instants import local_text, moment, utc_text
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.which_time import typed_instant
from trapline.ui.pages.condition_panel import Draft, parse_part


def draft_of(row: TrapSet, zone: str, usual_by: str) -> Draft:
    """Return what is known of a trap set as the panel shows it."""
    if row.state != "lifted":
        return Draft(by=usual_by, notes=row.notes)
    return Draft(
        condition=row.condition,
        bait_left=row.bait_left,
        disturbed_text=local_text(row.disturbed_utc, zone),
        part_text="" if row.fraction_counted == 1.0 else f"{row.fraction_counted:g}",
        lift_text=local_text(row.lift_utc, zone),
        by=row.lifted_by,
        notes=row.notes,
    )


def lift_values(
    parent: QWidget | None, draft: Draft, zone: str, usual_day: str, now_utc: str
) -> dict[str, Any]:
    """Return the values of a lift; an empty time is now.

    Raises
    ------
    InvalidValue
        A time or part that cannot be; `where` begins the name of the line that holds it.
    """
    lift_utc = _instant(parent, draft.lift_text, zone, usual_day, "Lifted at") or now_utc
    disturbed_utc = None
    if draft.condition == "disturbed" and draft.disturbed_text:
        day = local_text(lift_utc, zone, "%Y-%m-%d")
        disturbed_utc = _instant(parent, draft.disturbed_text, zone, day, "Disturbed at")
        is_bare = "-" not in draft.disturbed_text
        if disturbed_utc is not None and is_bare and disturbed_utc > lift_utc:
            # A bare clock time is the last one before the lift: the evening before.
            disturbed_utc = utc_text(moment(disturbed_utc) - dt.timedelta(days=1))
    return {
        "lift_utc": lift_utc,
        "condition": draft.condition,
        "bait_left": draft.bait_left,
        "fraction_counted": parse_part(draft.part_text),
        "notes": draft.notes,
        "disturbed_utc": disturbed_utc,
        "by": draft.by,
    }


def corrections(
    parent: QWidget | None, row: TrapSet, draft: Draft, zone: str, usual_day: str
) -> dict[str, Any]:
    """Return the fields in which a draft differs from a lifted trap set; none where it agrees.

    Raises
    ------
    InvalidValue
        As :func:`lift_values`.
    """
    before = draft_of(row, zone, "")
    if draft == before:
        return {}
    values = lift_values(parent, draft, zone, usual_day, row.lift_utc or "")
    values["lifted_by"] = values.pop("by")
    if draft.lift_text == before.lift_text:
        # The cell shows whole minutes; the seconds are kept where nobody retyped it.
        values["lift_utc"] = row.lift_utc
    if not draft.lift_text:
        values["lift_utc"] = None
    if draft.disturbed_text == before.disturbed_text and draft.condition == row.condition:
        values["disturbed_utc"] = row.disturbed_utc
    return {name: value for name, value in values.items() if value != getattr(row, name)}


def _instant(parent: QWidget | None, text: str, zone: str, day: str, where: str) -> str | None:
    if not text:
        return None
    try:
        return typed_instant(parent, text, zone, day)
    except TraplineError as problem:
        raise InvalidValue(problem.error, where, problem.what_to_do) from problem

"""A typed local time, and the question that a clock put back makes necessary."""

import datetime as dt

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from trapline.model.instants import DoubledTime, local_text, now_utc, parse_local


def ask_which(parent: QWidget | None, question: str) -> bool | None:
    """Return whether the later of two moments is meant; None when the user gave up."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Question)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setWindowTitle("Bait trial log")
    box.setText(question)
    earlier = box.addButton("The earlier one", QMessageBox.ButtonRole.AcceptRole)
    later = box.addButton("The later one", QMessageBox.ButtonRole.AcceptRole)
    neither = box.addButton("Leave it", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(earlier)
    box.setEscapeButton(neither)
    box.exec()
    clicked = box.clickedButton()
    return None if clicked is neither else clicked is later


def typed_instant(parent: QWidget | None, text: str, zone: str, on_day: str | None) -> str:
    """Return the instant of a typed local time; a bare time is on a day, else today.

    Raises
    ------
    InvalidValue
        Not a time, or one that the clock skipped.
    DoubledTime
        The clock showed it twice and the user did not say which was meant.
    """
    day = on_day or today(zone)
    try:
        return parse_local(text, zone, day)
    except DoubledTime as problem:
        later = ask_which(parent, f"{problem.error} Which one is meant?")
        if later is None:
            raise
        return problem.choices[1 if later else 0]


def today(zone: str) -> str:
    """Return the local date of a zone at this moment."""
    return local_text(now_utc(), zone, "%Y-%m-%d")


def short_time(utc: str | None, zone: str, on_day: str | None) -> str:
    """Return local time as a cell shows it: without the date where it is the expected day."""
    if utc is None:
        return ""
    text = local_text(utc, zone)
    return text.removeprefix(f"{on_day} ") if on_day else text


def day_after(day: str | None) -> str | None:
    """Return the date after a date."""
    return (dt.date.fromisoformat(day) + dt.timedelta(days=1)).isoformat() if day else None

"""What a screen reader or a keyboard needs of every page: names, one default button, an order."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QMenu, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip
from tests.ui.trip_window import window_on
from trapline.model.bait import Bait
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trip import Trip
from trapline.model.water import Water
from trapline.ui.menu import COMMANDS, SEPARATOR
from trapline.ui.window import MainWindow


def bare(made: MadeTrip) -> MadeTrip:
    """Return the project without trips."""
    gone = ("trip", "round", "trap_set", "catch")
    rows = {name: rows for name, rows in made.snapshot.rows.items() if name not in gone}
    return MadeTrip(Snapshot(rows), "", (), (), (), "", "")


STATES = {
    "no trip": lambda: bare(make_trip(1)),
    "planned": lambda: make_trip(5, gap_deg=0.0001),
    "lifted": lambda: make_trip(6, n_rounds=2).lifted([1, 2, 0, 4, 5, 3]).lifted([3, 2, 1] * 2, 2),
}


@pytest.fixture(params=STATES)
def window(request: pytest.FixtureRequest, qtbot: QtBot, tmp_path: Path) -> MainWindow:
    return window_on(STATES[request.param](), qtbot, tmp_path, 0)


def focusable(window: MainWindow) -> Iterator[QWidget]:
    """Give every widget that the keyboard can reach now."""
    for widget in window.findChildren(QWidget):
        if not (widget.isVisible() and widget.isEnabled()) or widget.focusProxy() is not None:
            continue
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            yield widget


def default_buttons(window: MainWindow) -> list[str]:
    buttons = window.findChildren(QPushButton)
    return [one.text() for one in buttons if one.isVisible() and one.isDefault()]


def looks_primary(window: MainWindow) -> list[str]:
    buttons = window.findChildren(QPushButton)
    return [one.text() for one in buttons if one.isVisible() and one.property("role") == "primary"]


@pytest.mark.parametrize("number", range(5))
def test_everything_that_can_be_reached_has_a_name(window: MainWindow, number: int) -> None:
    window.show_page(number)
    QApplication.processEvents()
    found = list(focusable(window))
    assert len(found) >= 4

    nameless = []
    for widget in found:
        known = QAccessible.queryAccessibleInterface(widget)
        name = known.text(QAccessible.Text.Name) if known is not None else ""
        if not name.strip() or not any(letter.isalnum() for letter in name):
            nameless.append(repr(widget))
    assert nameless == []


@pytest.mark.parametrize("number", range(5))
def test_each_page_has_one_button_that_is_the_next_step(window: MainWindow, number: int) -> None:
    window.show_page(number)
    QApplication.processEvents()

    assert len(default_buttons(window)) == 1
    assert looks_primary(window) == default_buttons(window)


def test_the_start_page_has_one_too(window: MainWindow) -> None:
    window.open_path(window.session.project.path)
    window.session.close_project()

    assert isinstance(QApplication.focusWidget(), QPushButton)
    assert QApplication.focusWidget().text() == "Go on with t"
    assert len(default_buttons(window)) == 1
    assert looks_primary(window) == default_buttons(window)
    for widget in focusable(window):
        name = QAccessible.queryAccessibleInterface(widget).text(QAccessible.Text.Name)
        assert name.strip()


def slanted(made: MadeTrip) -> MadeTrip:
    """Return the project with names that would be HTML, were they not shown as they are."""
    snapshot = made.snapshot
    rows: list[Noun] = [row.with_(label=f"<i>{row.label}") for row in snapshot.all(Place)]
    for noun in (Water, Line, Bait, Species, Trip):
        rows += [row.with_(name=f"<i>{row.name}") for row in snapshot.all(noun)]
    rows += [row.with_(number=f"<i>{row.number}") for row in snapshot.all(Trap)]
    return made.with_rows(*rows)


@pytest.mark.parametrize("number", range(5))
@pytest.mark.parametrize("state", STATES)
def test_no_name_is_taken_for_html(state: str, number: int, qtbot: QtBot, tmp_path: Path) -> None:
    window = window_on(slanted(STATES[state]()), qtbot, tmp_path, number)
    labels = [one for one in window.findChildren(QLabel) if "<i>" in one.text()]
    assert state == "no trip" or labels

    rendered = [one.text() for one in labels if one.textFormat() != Qt.TextFormat.PlainText]
    assert rendered == []
    tips = [one.toolTip() for one in window.findChildren(QWidget)]
    assert [tip for tip in tips if "<i>" in tip] == []


def mnemonic(text: str) -> str:
    """Return the letter after the one ampersand that underlines, in lower case."""
    plain = text.replace("&&", "")
    at = plain.find("&")
    return plain[at + 1].lower() if at >= 0 else ""


def test_every_line_of_a_menu_has_a_letter_of_its_own() -> None:
    by_menu: dict[str, list[str]] = {}
    for command in COMMANDS:
        if command.label != SEPARATOR:
            by_menu.setdefault(command.menu, []).append(mnemonic(command.label))
    assert len(by_menu) == 6
    for menu, letters in by_menu.items():
        assert "" not in letters, menu
        assert [letter for letter, n in Counter(letters).items() if n > 1] == [], menu
    assert max(Counter(map(mnemonic, by_menu)).values()) == 1


def test_the_letters_stay_their_own_while_undo_names_a_step(window: MainWindow) -> None:
    (menu,) = [one for one in window.menuBar().findChildren(QMenu) if one.title() == "&Edit"]
    letters = [mnemonic(action.text()) for action in menu.actions() if not action.isSeparator()]

    assert len(set(letters)) == len(letters)


def test_every_line_of_a_menu_does_something(window: MainWindow) -> None:
    slots = {f"page_{number}" for number in range(1, 6)}
    for handler in window.handlers:
        slots |= set(handler.slots())
    for command in COMMANDS:
        if command.label != SEPARATOR:
            action = window.actions_by_name[command.name]
            assert command.name in slots or action.menu() is not None, command.name


def test_no_two_commands_share_a_key(window: MainWindow) -> None:
    keys = [key.toString() for one in window.actions_by_name.values() for key in one.shortcuts()]
    assert [key for key, n in Counter(keys).items() if n > 1] == []


def test_tab_goes_through_the_lay_out_page_as_it_is_read(qtbot: QtBot, tmp_path: Path) -> None:
    window = window_on(make_trip(4, gap_deg=0.0001), qtbot, tmp_path, 0)
    window.session.select(("place-0",))
    page = window.page
    order: list[QWidget] = []
    widget = window.strip.group.button(0)
    while widget not in order:
        order.append(widget)
        widget = widget.nextInFocusChain()
    reached = [one for one in order if one in set(focusable(window))]
    names = [one.text() if isinstance(one, QAbstractButton) else type(one).__name__
             for one in reached]  # fmt: skip
    assert names[:5] == ["Lay out  3", "Set", "Lift", "Compare", "Summary"]
    wanted = [
        "Import places…", "Add on map", "Add several…", "Draw fair order…", "Field sheet…",
        "MapCanvas", "PlaceTable", "▲", "▼", "Add", "Edit…", "In / out of round", "Delete",
        "Show", "Move clear",
    ]  # fmt: skip
    there = [name for name in names if name in wanted]
    assert there[: len(wanted)] == wanted
    assert page.isAncestorOf(reached[names.index("Show")])

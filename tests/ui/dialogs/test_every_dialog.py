"""What holds for every dialog: one default button, names, plain text, room on the screen."""

from collections import Counter
from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QLabel,
    QPushButton,
    QWidget,
)

from tests.ui.dialogs.conftest import Desk
from trapline.drawing.theme import SCREEN_THEMES, apply_theme
from trapline.exchange.places_file import read_places
from trapline.store.backups import make_backup
from trapline.ui.dialogs.add_several import WAYS, AddSeveralDialog
from trapline.ui.dialogs.backup_dialog import BackupDialog
from trapline.ui.dialogs.card_dialog import CardDialog
from trapline.ui.dialogs.fair_order_dialog import FairOrderDialog
from trapline.ui.dialogs.import_dialog import ImportDialog
from trapline.ui.dialogs.list_dialog import LISTS, ListDialog
from trapline.ui.dialogs.place_dialog import PlaceDialog
from trapline.ui.dialogs.row_dialog import ProjectDialog
from trapline.ui.dialogs.several_traps import SeveralTrapsDialog
from trapline.ui.dialogs.trip_dialog import NextTripDialog, TripDialog

TABLE = "name,lat,lon\nP3,60.0000001,10.0006\nP4,60.5,10.5\nA,60.001,10.001\nB,95,10\nC,,\n"


def _several(way: int) -> Callable[[Desk], QDialog]:
    def make(desk: Desk) -> QDialog:
        dialog = AddSeveralDialog(desk.session)
        dialog.way.setCurrentIndex(way)
        return dialog

    return make


def _backup(desk: Desk) -> QDialog:
    make_backup(desk.project)
    return BackupDialog(desk.session)


DIALOGS: dict[str, Callable[[Desk], QDialog]] = {
    "new trip": lambda desk: TripDialog(desk.session, None, new=True),
    "edit trip": lambda desk: TripDialog(desk.session, None, new=False),
    "next trip": lambda desk: NextTripDialog(desk.session, None),
    "import": lambda desk: ImportDialog(desk.session, read_places(TABLE.encode(), "t.csv")),
    "fair order": lambda desk: FairOrderDialog(desk.session),
    "place": lambda desk: PlaceDialog(desk.session, desk.place("P3")),
    "project": lambda desk: ProjectDialog(desk.session),
    "backup": _backup,
    "several traps": lambda desk: SeveralTrapsDialog(desk.session),
    **{f"several places {way}": _several(way) for way in range(len(WAYS))},
    **{f"list of {name}": lambda desk, name=name: ListDialog(desk.session, name) for name in LISTS},
}


@pytest.fixture(params=DIALOGS)
def dialog(request: pytest.FixtureRequest, desk: Desk) -> QDialog:
    made = DIALOGS[request.param](desk)
    desk.keep(made)
    made.show()
    QApplication.processEvents()
    return made


def inside(dialog: QDialog) -> list[QWidget]:
    return [one for one in dialog.findChildren(QWidget) if one.isVisible()]


def test_one_button_is_the_default_and_it_says_what_it_does(dialog: QDialog) -> None:
    buttons = [one for one in inside(dialog) if isinstance(one, QPushButton)]
    (default,) = [one for one in buttons if one.isDefault()]
    assert default.property("role") == "primary"
    assert default.text() not in ("OK", "")
    assert [one for one in buttons if one.property("role") == "primary"] == [default]
    others = [one.text() for one in buttons if one.autoDefault() and one is not default]
    assert others == []


def test_everything_that_takes_the_focus_has_a_name(dialog: QDialog) -> None:
    nameless = []
    for widget in inside(dialog):
        if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or widget.focusProxy() is not None:
            continue
        interface = QAccessible.queryAccessibleInterface(widget)
        if not interface.text(QAccessible.Text.Name):
            nameless.append(f"{type(widget).__name__} in {type(widget.parent()).__name__}")
    assert nameless == []


def test_no_letter_is_used_twice(dialog: QDialog) -> None:
    letters = []
    for widget in inside(dialog):
        if not isinstance(widget, QLabel | QAbstractButton):
            continue
        if isinstance(widget, QLabel) and widget.buddy() is None:
            continue
        text = widget.text().replace("&&", "")
        if "&" in text:
            letters.append(text[text.index("&") + 1].casefold())
    assert [letter for letter, n in Counter(letters).items() if n > 1] == []


def test_text_is_shown_as_it_is(dialog: QDialog) -> None:
    rich = [
        label.text()
        for label in dialog.findChildren(QLabel)
        if label.textFormat() != Qt.TextFormat.PlainText and label.buddy() is None
    ]
    assert rich == []


@pytest.mark.parametrize("theme", SCREEN_THEMES)
@pytest.mark.parametrize("name", DIALOGS)
def test_it_fits_a_small_screen_without_scrolling_in_every_look(
    desk: Desk, qapp: QApplication, theme: str, name: str
) -> None:
    apply_theme(qapp, theme)
    made = DIALOGS[name](desk)
    desk.keep(made)
    made.show()
    made.resize(1366, 768)
    QApplication.processEvents()
    assert (made.width(), made.height()) == (1366, 768)
    if isinstance(made, CardDialog):
        assert not made.roll.verticalScrollBar().isVisible()

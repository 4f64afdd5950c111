"""Trip, place and list commands in the real window: what each opens and what it leaves."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QApplication, QDialog
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip
from tests.ui.trip_window import window_on
from trapline.actions.trips import start_trip
from trapline.model.line import Line, Place
from trapline.model.trip import Trip
from trapline.model.water import Water
from trapline.store.project import Project
from trapline.ui.dialogs import question
from trapline.ui.dialogs.add_several import AddSeveralDialog
from trapline.ui.dialogs.fair_order_dialog import FairOrderDialog
from trapline.ui.dialogs.import_dialog import ImportDialog
from trapline.ui.dialogs.list_dialog import ListDialog
from trapline.ui.dialogs.place_dialog import PlaceDialog
from trapline.ui.dialogs.trip_dialog import NextTripDialog, TripDialog
from trapline.ui.window import MainWindow

DIALOGS = {
    "new_trip": TripDialog,
    "edit_trip": TripDialog,
    "new_trip_from": NextTripDialog,
    "fair_order": FairOrderDialog,
    "import_places": ImportDialog,
    "add_several": AddSeveralDialog,
    "edit_place": PlaceDialog,
    "edit_baits": ListDialog,
    "edit_traps": ListDialog,
    "edit_species": ListDialog,
    "edit_waters": ListDialog,
}


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> MainWindow:
    return window_on(make_trip(), qtbot, tmp_path, 0)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[type[QDialog], tuple[Any, ...]]]:
    """Note what is asked instead of showing it."""
    seen: list[tuple[type[QDialog], tuple[Any, ...]]] = []

    def noting(kind: type[QDialog]) -> Callable[..., bool]:
        def ask(*args: Any, **_: Any) -> bool:
            seen.append((kind, args))
            return False

        return ask

    for kind in set(DIALOGS.values()):
        monkeypatch.setattr(kind, "ask", noting(kind))
    return seen


def set_all(window: MainWindow) -> None:
    project = window.session.project
    assert project is not None
    with project.change("Set") as change:
        for row in change.snapshot.sets(window.session.round_id or ""):
            change.update(row.with_(state="set", set_utc="2026-07-01T18:00:00Z"))
    window.session.look_again()


def last_message(window: MainWindow) -> str:
    return window.banner.label.text()


@pytest.mark.parametrize("name", DIALOGS)
def test_each_command_opens_its_dialog(
    window: MainWindow, asked: list[tuple[type[QDialog], tuple[Any, ...]]], name: str
) -> None:
    window.session.select((window.session.snapshot.all(Place)[0].id,))
    assert window.actions_by_name[name].isEnabled()
    window.trigger(name)
    ((kind, args),) = asked
    assert kind is DIALOGS[name]
    assert args[:2] == (window.session, window)


@pytest.mark.parametrize(
    ("button", "name"),
    [("import", "import_places"), ("several", "add_several"), ("fair", "fair_order"),
     ("edit", "edit_place")],
)  # fmt: skip
def test_the_buttons_of_the_page_stand_for_the_commands(
    window: MainWindow,
    asked: list[tuple[type[QDialog], tuple[Any, ...]]],
    button: str,
    name: str,
) -> None:
    window.session.select((window.session.snapshot.all(Place)[0].id,))
    window.page._buttons[button].click()
    assert [kind for kind, _ in asked] == [DIALOGS[name]]


@pytest.mark.parametrize(
    ("n", "words"), [(0, "No place is selected"), (2, "2 places are selected")]
)
def test_one_place_at_a_time_is_edited(
    window: MainWindow, asked: list[tuple[type[QDialog], tuple[Any, ...]]], n: int, words: str
) -> None:
    window.session.select(tuple(row.id for row in window.session.snapshot.all(Place)[:n]))
    window.trigger("edit_place")
    assert asked == []
    assert words in last_message(window)


def test_the_next_round_is_planned_without_a_question_and_looked_at(window: MainWindow) -> None:
    news: list[str] = []
    window.session.informed.connect(news.append)
    set_all(window)
    window.trigger("next_round")
    fished = window.session.round
    assert fished is not None
    assert fished.number == 2
    assert news == ["Round 2 is planned for 2026-07-02."]


def test_a_round_that_is_not_set_has_no_next_one(window: MainWindow) -> None:
    window.trigger("next_round")
    assert "Round 1 is not set yet" in last_message(window)
    assert window.session.round is not None
    assert window.session.round.number == 1


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Answer questions from this list; without an answer the test fails."""
    given: list[bool] = []
    monkeypatch.setattr(question, "ask", lambda *_: given.pop(0))
    return given


def test_a_planned_trip_is_deleted_after_one_question(
    window: MainWindow, answers: list[bool]
) -> None:
    answers += [False, True]
    window.trigger("delete_trip")
    assert len(window.session.snapshot.trips()) == 1
    window.trigger("delete_trip")
    assert window.session.snapshot.trips() == ()
    assert window.session.trip is None
    window.session.undo()
    assert len(window.session.snapshot.trips()) == 1


def test_a_trip_that_was_fished_is_kept_and_the_reason_is_said(
    window: MainWindow, answers: list[bool]
) -> None:
    set_all(window)
    answers.append(True)
    window.trigger("delete_trip")
    assert len(window.session.snapshot.trips()) == 1
    assert "record would be lost" in last_message(window)


def test_the_last_round_is_deleted_after_one_question(
    window: MainWindow, answers: list[bool]
) -> None:
    set_all(window)
    window.trigger("next_round")
    answers += [False, True]
    window.trigger("delete_round")
    assert len(window.session.snapshot.rounds(window.session.trip_id or "")) == 2
    window.trigger("delete_round")
    assert len(window.session.snapshot.rounds(window.session.trip_id or "")) == 1
    assert window.session.round is not None
    assert window.session.round.number == 1


def test_a_new_trip_shows_the_page_to_lay_it_out(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.show_page(3)

    def start(session: Any, *_: Any, **__: Any) -> bool:
        session.do(start_trip, Trip(name="Second"), water=Water(name="Sea"), line=Line())
        return True

    monkeypatch.setattr(TripDialog, "ask", start)
    window.trigger("new_trip")
    assert window.page is window.pages[0]
    window.show_page(3)
    monkeypatch.setattr(NextTripDialog, "ask", lambda *_: True)
    window.trigger("new_trip_from")
    assert window.page is window.pages[0]


def test_a_dropped_file_is_previewed(
    window: MainWindow,
    asked: list[tuple[type[QDialog], tuple[Any, ...]]],
    tmp_path: Path,
    qtbot: QtBot,
) -> None:
    path = tmp_path / "unit.gpx"
    path.write_text("<gpx/>")
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    event = QDropEvent(
        QPointF(5, 5), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    window.dropped.eventFilter(window, event)
    qtbot.waitUntil(lambda: bool(asked))
    assert asked == [(ImportDialog, (window.session, window, path))]


def test_in_a_project_that_is_only_read_nothing_is_offered(
    window: MainWindow, asked: list[tuple[type[QDialog], tuple[Any, ...]]], tmp_path: Path
) -> None:
    assert window.session.project is not None
    path = window.session.project.path
    window.session.close_project()
    window.session.open_project(Project.open(path, read_only=True))
    QApplication.processEvents()
    for name in (*DIALOGS, "next_round", "delete_round", "delete_trip"):
        assert not window.actions_by_name[name].isEnabled(), name
    for handler in window.handlers:
        handler.take_file(tmp_path / "unit.gpx")
    assert asked == []
    window.session.close_project()


def test_without_a_trip_only_what_makes_one_is_offered(
    window: MainWindow, answers: list[bool]
) -> None:
    answers.append(True)
    window.trigger("delete_trip")
    enabled = {name for name in DIALOGS if window.actions_by_name[name].isEnabled()}
    assert enabled == {"new_trip", "edit_baits", "edit_traps", "edit_species", "edit_waters"}

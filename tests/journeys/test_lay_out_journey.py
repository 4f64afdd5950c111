"""A trapper lays out a line in the real window, then takes back all of it and does it again.

Each step is done where a trapper does it: menu, dialog, map, table, list of warnings. The
project is read back from its file by another connection, so that what is compared is what
is kept.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from PySide6.QtCore import QPoint, QPointF, QRectF, QSettings, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QDialog, QPushButton
from pytestqt.qtbot import QtBot

from trapline.folders import shipped_folder
from trapline.model.bait import Bait
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.model.trip import Trip
from trapline.store.project import Project
from trapline.ui.app import make_application, make_window
from trapline.ui.dialogs.fair_order_dialog import FairOrderDialog
from trapline.ui.dialogs.import_dialog import ImportDialog
from trapline.ui.dialogs.list_dialog import ListDialog
from trapline.ui.dialogs.print_dialog import PrintDialog
from trapline.ui.dialogs.trip_dialog import TripDialog
from trapline.ui.pages.layout_page import LayoutPage
from trapline.ui.window import MainWindow

N_PLACES = 12
GPX = "lake_bait_trial.gpx"

Kept = dict[str, list[Any]]


def kept_in(path: Path) -> Kept:
    """Return every row of a project file in its order, read by another connection."""
    with Project.open(path, read_only=True) as project:
        rows = project.snapshot().rows
        return {table: list(there.values()) for table, there in rows.items() if there}


@dataclass
class Journey:
    """The window, and what was kept after each step."""

    window: MainWindow
    path: Path
    qtbot: QtBot
    monkeypatch: pytest.MonkeyPatch
    kept: list[Kept] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)

    @property
    def page(self) -> LayoutPage:
        page = self.window.page
        assert isinstance(page, LayoutPage)
        return page

    def ask(self, command: str, dialog: type[QDialog], answer: Callable[[Any], None]) -> None:
        """Choose a menu command and answer its dialog."""
        answered = []

        def exec_(shown: QDialog) -> int:
            answered.append(shown)
            answer(shown)
            return shown.result()

        with self.monkeypatch.context() as patched:
            patched.setattr(dialog, "exec", exec_)
            self.window.actions_by_name[command].trigger()
        assert len(answered) == 1

    def done(self, label: str) -> None:
        """Note that one step was done, and check that it is the one that undo offers."""
        assert self.window.actions_by_name["undo"].text() == f"&Undo {label}"
        assert not self.window.actions_by_name["redo"].isEnabled()
        kept = kept_in(self.path)
        assert kept != self.kept[-1]
        self.kept.append(kept)
        self.labels.append(label)


@pytest.fixture
def journey(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Journey:
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    window = make_window(make_application([]), settings)
    qtbot.addWidget(window)
    window.resize(1366, 740)
    window.show()
    path = tmp_path / "my line.gpkg"
    monkeypatch.setattr(
        "PySide6.QtWidgets.QFileDialog.getSaveFileName", lambda *_, **__: (str(path), "")
    )
    window.start.findChildren(QPushButton)[1].click()  # New project…
    assert window.session.project is not None
    return Journey(window, path, qtbot, monkeypatch, [kept_in(path)])


def start_trip(journey: Journey) -> None:
    def answer(dialog: TripDialog) -> None:
        dialog.where.water.setCurrentText("Reed & <b>Pond</b>")
        dialog.when.name.setText("First try")
        dialog.rules.target.setCurrentText("crayfish")
        dialog.verb.click()

    journey.ask("new_trip", TripDialog, answer)
    journey.done("new trip")


def fill_lists(journey: Journey) -> None:
    def baits(dialog: ListDialog) -> None:
        dialog.panels[0].table.pasted.emit(0, 0, [["liver"], ["corn"]])

    def traps(dialog: ListDialog) -> None:
        dialog.panels[0].table.pasted.emit(0, 0, [[f"{n}"] for n in range(1, N_PLACES + 1)])

    journey.ask("edit_baits", ListDialog, baits)
    journey.done("paste baits")
    journey.ask("edit_traps", ListDialog, traps)
    journey.done("paste traps")


def import_places(journey: Journey) -> None:
    gpx = shipped_folder("sample_projects") / GPX
    journey.monkeypatch.setattr(
        "PySide6.QtWidgets.QFileDialog.getOpenFileName", lambda *_, **__: (str(gpx), "")
    )
    journey.ask("import_places", ImportDialog, lambda dialog: dialog.verb.click())
    assert len(journey.page.table.grid.rows) == N_PLACES
    journey.done(f"import {N_PLACES} places")


def pixel(journey: Journey, place: Place) -> QPoint:
    canvas = journey.page.canvas
    plane, view = canvas.picture.content.plane, canvas.picture.view
    spot = view.to_px(QRectF(canvas.rect()), *plane.to_plane(place.lon_deg, place.lat_deg))
    return QPointF(*spot).toPoint()


def drag(journey: Journey, label: str, near: str) -> None:
    """Drag a place most of the way to another one."""
    session, canvas = journey.window.session, journey.page.canvas
    places = {place.label: place for place in session.snapshot.all(Place)}
    start, goal = pixel(journey, places[label]), pixel(journey, places[near])
    goal = start + (goal - start) * 0.7
    journey.qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start)
    for step in range(1, 6):
        journey.qtbot.mouseMove(canvas, start + (goal - start) * step / 5)
    journey.qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=goal)
    moved = session.snapshot.need(Place, places[label].id)
    assert (moved.lon_deg, moved.lat_deg) != (places[label].lon_deg, places[label].lat_deg)
    journey.done("move place")


def paste_column(journey: Journey, title: str, cells: list[str], label: str) -> None:
    table = journey.page.table
    column = [one.title for one in table.grid.columns].index(title)
    table.setFocus()
    table.setCurrentIndex(table.grid.index(0, column))
    QGuiApplication.clipboard().setText("\n".join(cells) + "\n")
    journey.qtbot.keyClick(table, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert [table.grid.columns[column].read(row) for row in table.grid.rows] == cells
    journey.done(label)


def draw_fairly(journey: Journey) -> None:
    def answer(dialog: FairOrderDialog) -> None:
        dialog.seed.setText("7")
        dialog.verb.click()

    journey.ask("fair_order", FairOrderDialog, answer)
    journey.done("draw fair order")


def button(journey: Journey, words: str) -> QPushButton:
    """Return the first button of the warnings that says `words`, and can be seen."""
    found = journey.page.warnings.findChildren(QPushButton)
    return next(one for one in found if one.text() == words and not one.isHidden())


def move_clear(journey: Journey) -> None:
    page, session = journey.page, journey.window.session
    gaps = [text for text in page.warnings.texts if "apart" in text]
    assert len(gaps) >= 1
    button(journey, "Show").click()
    assert len(session.selection) == 2
    assert page.table.selected_ids() == tuple(
        row.place.id for row in page.table.grid.rows if row.place.id in session.selection
    )
    n_before = len(session.checks()[0].gaps)
    button(journey, "Move clear").click()
    assert len(session.checks()[0].gaps) < n_before
    journey.done("move place")


def print_sheet(journey: Journey, folder: Path) -> None:
    goal = folder / "sheet.pdf"
    journey.monkeypatch.setattr("trapline.ui.dialogs.print_dialog.ask_pdf_path", lambda *_: goal)
    journey.ask("field_sheet", PrintDialog, lambda dialog: dialog.save_button.click())
    text = " ".join(" ".join(page.extract_text().split()) for page in PdfReader(goal).pages)
    assert "First try" in text
    for number in range(1, N_PLACES + 1):
        assert f"P{number}" in text


def lay_out(journey: Journey, folder: Path) -> None:
    start_trip(journey)
    fill_lists(journey)
    import_places(journey)
    drag(journey, "P4", "P5")
    paste_column(journey, "Trap", [f"{N_PLACES - n}" for n in range(N_PLACES)], "assign traps")
    paste_column(journey, "Bait", ["corn", "liver"] * (N_PLACES // 2), "assign baits")
    draw_fairly(journey)
    move_clear(journey)
    print_sheet(journey, folder)


def test_a_laid_out_line_is_taken_back_step_by_step_and_done_again(
    journey: Journey, tmp_path: Path
) -> None:
    lay_out(journey, tmp_path)
    actions, session = journey.window.actions_by_name, journey.window.session
    n_steps = len(journey.labels)
    assert n_steps == 9

    for n in range(n_steps, 0, -1):
        assert actions["undo"].text() == f"&Undo {journey.labels[n - 1]}"
        actions["undo"].trigger()
        assert kept_in(journey.path) == journey.kept[n - 1], journey.labels[n - 1]
        assert actions["redo"].text() == f"&Redo {journey.labels[n - 1]}"

    assert not actions["undo"].isEnabled()
    assert actions["undo"].text() == "&Undo"
    assert session.trip is None
    assert not session.snapshot.all(Bait)
    assert journey.page.empty.isVisible()

    for n in range(n_steps):
        actions["redo"].trigger()
        assert kept_in(journey.path) == journey.kept[n + 1], journey.labels[n]

    assert not actions["redo"].isEnabled()


def test_redo_brings_the_trip_back_into_view(journey: Journey) -> None:
    start_trip(journey)
    session, actions = journey.window.session, journey.window.actions_by_name
    actions["undo"].trigger()
    assert session.trip is None

    actions["redo"].trigger()

    assert session.trip is not None
    assert session.round is not None
    assert not journey.page.empty.isVisible()


def test_undo_after_the_program_was_closed_asks_first(
    journey: Journey, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_trip(journey)
    asked: list[str] = []

    def ask(_parent: object, question: str, _verb: str) -> bool:
        asked.append(question)
        return len(asked) > 1

    monkeypatch.setattr("trapline.ui.commands.edit_commands.ask", ask)
    journey.window.session.close_project()
    journey.window.open_path(journey.path)

    journey.window.actions_by_name["undo"].trigger()
    assert "New trip" in asked[0]
    assert journey.window.session.snapshot.all(Trip)

    journey.window.actions_by_name["undo"].trigger()
    assert not journey.window.session.snapshot.all(Trip)
    assert kept_in(journey.path) == journey.kept[0]


def test_a_new_step_gives_up_what_was_undone(journey: Journey) -> None:
    start_trip(journey)
    fill_lists(journey)
    actions = journey.window.actions_by_name
    actions["undo"].trigger()
    assert actions["redo"].isEnabled()

    paste_nothing_but_a_place(journey)

    assert not actions["redo"].isEnabled()
    assert len(journey.window.session.snapshot.all(TrapSet)) == 1


def paste_nothing_but_a_place(journey: Journey) -> None:
    journey.page.table.setFocus()
    journey.qtbot.keyClick(journey.page.table, Qt.Key.Key_Insert)

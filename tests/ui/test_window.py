"""The window as a whole: files come and go, other programs, full disks, closing in mid-word."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QMimeData, QPoint, QSettings, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication, QLineEdit, QMenu
from pytestqt.qtbot import QtBot

from tests.made_trips import make_trip, write_project
from tests.ui.trip_window import window_on
from trapline.actions.editing import edit
from trapline.actions.places import move_place
from trapline.actions.trips import next_round
from trapline.model.line import Place
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
from trapline.ui.app import make_application, make_window
from trapline.ui.commands.file_commands import FileCommands
from trapline.ui.dialogs.import_dialog import ImportDialog
from trapline.ui.window import MainWindow


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> MainWindow:
    """A window on a planned trip in ``t.gpkg``."""
    return window_on(make_trip(4), qtbot, tmp_path, 0)


@pytest.fixture
def start(qtbot: QtBot, tmp_path: Path) -> Callable[[], MainWindow]:
    """Return what starts the program anew with the settings of before."""

    def make() -> MainWindow:
        settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
        window = make_window(make_application([]), settings)
        qtbot.addWidget(window)
        window.show()
        return window

    return make


def label_of(path: Path, place_id: str = "place-0") -> str:
    with Project.open(path, read_only=True) as project:
        return project.snapshot().need(Place, place_id).label


def begin_typing(window: MainWindow, qtbot: QtBot, text: str) -> None:
    table = window.page.table
    table.setFocus()
    table.setCurrentIndex(table.grid.index(0, 0))
    qtbot.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    assert isinstance(editor, QLineEdit)
    editor.selectAll()
    qtbot.keyClicks(editor, text)


# Closing in the middle of a word


def test_what_is_being_typed_is_kept_when_the_window_closes(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    begin_typing(window, qtbot, "half a word")
    assert window.close()

    assert label_of(tmp_path / "t.gpkg") == "half a word"


def test_a_word_that_is_refused_holds_the_window_open_once(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    begin_typing(window, qtbot, "P2")

    assert not window.close()
    assert "already a place called 'P2'" in window.banner.label.text()
    assert window.page.table.grid.index(0, 0).data() == "P2"
    assert window.close()
    assert label_of(tmp_path / "t.gpkg") == "P1"


@pytest.mark.parametrize("way", ["close_project", "another", "page"])
def test_what_is_being_typed_is_kept_on_every_way_out(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, way: str
) -> None:
    other = write_project(make_trip(2), tmp_path / "other.gpkg")
    begin_typing(window, qtbot, "half a word")
    if way == "close_project":
        window.actions_by_name["close_project"].trigger()
    elif way == "another":
        window.open_path(other)
    else:
        window.actions_by_name["page_4"].trigger()

    assert label_of(tmp_path / "t.gpkg") == "half a word"


# Other programs


def other_program(*words: str) -> None:
    """Run a command in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "trapline", *words], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def come_back_to(window: MainWindow) -> None:
    """Do what the desktop does when the user turns to the window again."""
    assert window.isActiveWindow()
    QApplication.sendEvent(window, QEvent(QEvent.Type.ActivationChange))


def test_an_undo_by_the_command_line_is_shown_when_the_user_comes_back(
    window: MainWindow, tmp_path: Path
) -> None:
    session = window.session
    session.do(edit, Place, "place-0", label="by the window")
    other_program("undo", str(tmp_path / "t.gpkg"))
    table = window.page.table.grid
    assert table.index(0, 0).data() == "by the window"

    come_back_to(window)

    assert table.index(0, 0).data() == "P1"
    assert window.actions_by_name["redo"].isEnabled()
    window.actions_by_name["redo"].trigger()
    assert table.index(0, 0).data() == "by the window"


def test_a_round_that_another_program_took_away_is_left(window: MainWindow, tmp_path: Path) -> None:
    session = window.session
    for row in session.snapshot.sets("round-1"):
        session.do(edit, type(row), row.id, state="set", set_utc="2026-07-01T10:00:00Z")
    session.do(next_round, "trip")
    session.choose_round(None)
    assert session.round is not None
    assert session.round.number == 2
    other_program("undo", str(tmp_path / "t.gpkg"))

    come_back_to(window)

    assert session.round is not None
    assert session.round.number == 1
    assert window.strip.round_box.count() == 1


def test_coming_back_to_an_unchanged_project_draws_nothing_anew(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: list[int] = []
    monkeypatch.setattr(type(window.page), "refresh", lambda _: drawn.append(1))
    come_back_to(window)

    assert drawn == []


def test_a_project_that_was_moved_away_is_told_and_can_be_copied(
    window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "t.gpkg").rename(tmp_path / "moved.gpkg")
    window.session.do(move_place, "place-0", 7.1, 45.1)
    assert "moved, renamed or deleted" in window.banner.label.text()
    window.banner.hide()
    come_back_to(window)
    assert "moved, renamed or deleted" in window.banner.label.text()

    copy = tmp_path / "copy.gpkg"
    monkeypatch.setattr(
        "PySide6.QtWidgets.QFileDialog.getSaveFileName", lambda *_, **__: (str(copy), "")
    )
    window.actions_by_name["save_copy"].trigger()
    assert str(copy) in window.news.said
    assert window.close()
    assert label_of(copy) == "P1"


# Files that are no project


def test_a_broken_file_is_refused_in_a_sentence_and_the_open_one_stays(
    window: MainWindow, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.gpkg"
    broken.write_bytes((tmp_path / "t.gpkg").read_bytes()[:3000] + b"x" * 3000)
    window.open_path(broken)

    assert "broken.gpkg" in window.banner.label.text()
    assert window.session.project is not None
    assert window.session.project.path.name == "t.gpkg"
    assert len(window.page.table.grid.rows) == 4


@pytest.mark.parametrize("content", [b"", b"hello", b"SQLite format 3\x00" + b"\x00" * 2000])
def test_from_the_start_page_too(
    start: Callable[[], MainWindow], tmp_path: Path, content: bytes
) -> None:
    window = start()
    path = tmp_path / "no.gpkg"
    path.write_bytes(content)
    window.open_path(path)

    assert window.banner.isVisible()
    assert window.session.project is None
    assert window.outer.currentWidget() is window.start
    window.open_path(tmp_path / "not there.gpkg")
    assert "not there.gpkg" in window.banner.label.text()


def change_outside(path: Path, *statements: str) -> None:
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(path)) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()


@pytest.mark.parametrize(("min_reader", "opens"), [("2", False), ("1", True)])
def test_a_newer_format_is_shown_or_refused_in_a_sentence(
    start: Callable[[], MainWindow], tmp_path: Path, min_reader: str, opens: bool
) -> None:
    path = write_project(make_trip(2), tmp_path / "newer.gpkg")
    change_outside(
        path,
        "UPDATE app_meta SET value = '2' WHERE key = 'schema_version'",
        f"UPDATE app_meta SET value = '{min_reader}' WHERE key = 'min_reader'",
    )
    window = start()
    window.open_path(path)

    assert "newer trapline" in window.banner.label.text()
    assert (window.session.project is not None) == opens
    assert window.session.is_read_only


# A full disk


def test_a_full_disk_is_told_and_nothing_is_half_done(window: MainWindow) -> None:
    session = window.session
    assert session.project is not None
    db = session.project.connection()
    (pages,) = db.execute("PRAGMA page_count").fetchone()
    db.execute(f"PRAGMA max_page_count={pages}")
    before = session.snapshot

    for n in range(40):
        session.do(edit, ProjectInfo, "project", notes=f"{n}" + "x" * 9000)
    assert window.banner.isVisible()
    assert "full" in window.banner.label.text()
    told = window.banner.label.text()
    assert session.snapshot.rows["place"] == before.rows["place"]

    db.execute("PRAGMA max_page_count=1000000")
    session.do(move_place, "place-0", 7.0001, 45.0001)
    assert not window.banner.isVisible(), told
    assert session.snapshot.need(Place, "place-0").lon_deg == 7.0001


def test_a_notice_stays_when_something_goes_well(window: MainWindow) -> None:
    window.banner.show_notice("Something to know")
    window.session.do(move_place, "place-0", 7.0001, 45.0001)

    assert window.banner.isVisible()


# What the program remembers


def test_theme_and_sizes_are_as_they_were_left(start: Callable[[], MainWindow]) -> None:
    first = start()
    first.resize(760, 620)  # the screen that is not there is 800 pixels wide
    first.actions_by_name["dark"].trigger()
    first.splitter.setSizes([260, 500])
    sizes = first.splitter.sizes()
    first.close()

    second = start()
    assert second.size() == first.size()
    assert second.theme.name == "dark"
    assert second.splitter.sizes() == pytest.approx(sizes, abs=3)
    second.actions_by_name["light"].trigger()


def recent_in(window: MainWindow) -> list[tuple[str, bool]]:
    menu = window.actions_by_name["open_recent"].menu()
    assert isinstance(menu, QMenu)
    menu.aboutToShow.emit()
    return [(action.text(), action.isEnabled()) for action in menu.actions()]


def test_recent_projects_are_offered_after_a_restart(
    start: Callable[[], MainWindow], tmp_path: Path
) -> None:
    window = start()
    assert recent_in(window) == [("No project yet", False)]
    first = write_project(make_trip(2), tmp_path / "one & two.gpkg")
    second = write_project(make_trip(3), tmp_path / "three, four.gpkg")
    window.open_path(first)
    window.open_path(second)
    window.open_path(first)
    window.close()
    second.unlink()

    window = start()
    shown = recent_in(window)
    assert [(text.split("/")[-1][-20:], there) for text, there in shown] == [
        ("one && two.gpkg", True),
        ("three, four.gpkg", False),
    ]
    assert [one.text() for one in window.start.recent_buttons] == ["Go on with one && two"]
    window.start.recent_buttons[0].click()
    assert window.session.project is not None
    assert window.session.project.path == first


def test_one_recent_project_alone_is_remembered_too(
    start: Callable[[], MainWindow], tmp_path: Path
) -> None:
    window = start()
    window.open_path(write_project(make_trip(2), tmp_path / "a.gpkg"))
    window.close()

    assert [there for _, there in recent_in(start())] == [True]


def test_of_many_recent_projects_the_latest_are_kept(
    start: Callable[[], MainWindow], tmp_path: Path
) -> None:
    window = start()
    for n in range(12):
        window.open_path(write_project(make_trip(1), tmp_path / f"p{n}.gpkg"))

    assert [text.split("/")[-1] for text, _ in recent_in(window)] == [
        f"p{n}.gpkg" for n in range(11, 3, -1)
    ]
    assert len({text for text, _ in recent_in(window)}) == 8


def test_an_example_is_opened_as_a_copy_that_is_remembered(
    start: Callable[[], MainWindow],
) -> None:
    window = start()
    window.open_sample("lake_bait_trial")

    assert "your own copy" in window.news.said
    assert window.session.project is not None
    assert not window.session.is_read_only
    assert [Path(text).name for text, _ in recent_in(window)] == ["lake_bait_trial.gpkg"]


def test_a_new_project_is_never_written_over_another_file(
    start: Callable[[], MainWindow], tmp_path: Path
) -> None:
    window = start()
    there = tmp_path / "there.gpkg"
    there.write_text("something else")
    files = next(one for one in window.handlers if isinstance(one, FileCommands))
    files.create(tmp_path / "there")

    assert there.read_text() == "something else"
    assert window.banner.isVisible()
    files.create(tmp_path / "new.name")
    assert (tmp_path / "new.name.gpkg").exists()


# Files dropped on the window


def drop(window: MainWindow, *urls: QUrl, accepts: bool = True) -> None:
    mime = QMimeData()
    mime.setUrls(list(urls))
    enter = QDragEnterEvent(
        QPoint(9, 9), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    enter.ignore()
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted() == accepts
    if accepts:
        dropped = QDropEvent(
            QPoint(9, 9), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )  # fmt: skip
        QApplication.sendEvent(window, dropped)
        QApplication.processEvents()


def test_a_dropped_project_is_opened_and_remembered(window: MainWindow, tmp_path: Path) -> None:
    other = write_project(make_trip(2), tmp_path / "other.gpkg")
    drop(window, QUrl.fromLocalFile(str(other)))

    assert window.session.project is not None
    assert window.session.project.path == other
    assert other.name in recent_in(window)[0][0]


def test_dropped_places_are_previewed(
    window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Path | None] = []
    monkeypatch.setattr(ImportDialog, "ask", lambda _s, _w, path=None: asked.append(path))
    gpx = tmp_path / "places.gpx"
    drop(window, QUrl.fromLocalFile(str(gpx)))

    assert asked == [gpx]


def test_places_dropped_without_a_trip_say_what_is_missing(
    start: Callable[[], MainWindow], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImportDialog, "ask", lambda *_: pytest.fail("there is no trip"))
    window = start()
    drop(window, QUrl.fromLocalFile(str(tmp_path / "places.gpx")))

    assert "no trip to import it into" in window.banner.label.text()


def test_what_is_no_file_is_not_taken(window: MainWindow) -> None:
    drop(window, QUrl("https://example.org/places.gpx"), accepts=False)
    drop(window, accepts=False)

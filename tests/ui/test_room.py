"""Every page of both samples fits a small laptop, in every look, with nothing beside the screen."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QRect, QSettings, Qt
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from trapline.actions.editing import edit
from trapline.actions.samples import copy_sample, list_samples
from trapline.drawing.theme import SCREEN_THEMES
from trapline.model.bait import Bait
from trapline.model.line import Place
from trapline.model.species import Species
from trapline.ui.app import make_application, make_window
from trapline.ui.pages.compare_page import ComparePage
from trapline.ui.pages.layout_page import LayoutPage
from trapline.ui.pages.lift_page import LiftPage
from trapline.ui.pages.set_page import SetPage
from trapline.ui.pages.short_words import ShortButton
from trapline.ui.window import MainWindow

# The smallest screen of a laptop in use, less the frame of the window and a desktop's panel.
WIDTH, HEIGHT = 1366, 720

Opener = Callable[[str, str], MainWindow]


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Opener:
    def make(sample: str, theme: str) -> MainWindow:
        settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
        settings.setValue("theme", theme)
        window = make_window(make_application([]), settings)
        qtbot.addWidget(window)
        window.resize(WIDTH, HEIGHT)
        window.show()
        assert window.session.open_path(copy_sample(sample, tmp_path))
        return window

    return make


def page_of(window: MainWindow, number: int) -> QWidget:
    window.show_page(number)
    QApplication.processEvents()
    return window.page


@pytest.mark.parametrize("theme", SCREEN_THEMES)
@pytest.mark.parametrize("sample", list_samples())
def test_every_page_fits_a_small_screen(opened: Opener, sample: str, theme: str) -> None:
    window = opened(sample, theme)
    for number in range(5):
        page_of(window, number)
        least = window.minimumSizeHint()
        assert (least.width() <= WIDTH, least.height() <= HEIGHT) == (True, True), (number, least)
        assert (window.width(), window.height()) == (WIDTH, HEIGHT), number


@pytest.mark.parametrize("theme", SCREEN_THEMES)
@pytest.mark.parametrize("sample", list_samples())
def test_no_button_is_narrower_than_its_words(opened: Opener, sample: str, theme: str) -> None:
    window = opened(sample, theme)
    for number in range(5):
        page_of(window, number)
        for button in window.findChildren(QPushButton):
            if button.isVisible():
                assert button.width() >= button.minimumSizeHint().width(), button.text()


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_how_far_a_round_has_come_is_never_cut_off(opened: Opener, theme: str) -> None:
    window = opened("lake_bait_trial", theme)
    window.splitter.setSizes([1, 2000])
    page_of(window, 2)
    item = window.sidebar.list.item(0)
    words = item.text().replace("\n", " ")
    assert "12 of 12 lifted" in words
    metrics = window.sidebar.list.fontMetrics()
    assert item.sizeHint().height() >= metrics.lineSpacing() * len(item.text().splitlines())
    assert item.data(Qt.ItemDataRole.AccessibleTextRole).endswith("round 4: 12 of 12 lifted")


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_the_comparison_shows_every_bait_and_a_chart_that_can_be_read(
    opened: Opener, theme: str
) -> None:
    window = opened("lake_bait_trial", theme)
    page = page_of(window, 3)
    assert isinstance(page, ComparePage)
    table = page.table
    rows_px = len(table.grid.rows) * table.verticalHeader().defaultSectionSize()
    assert table.viewport().height() >= rows_px
    # The words of the switches are whole.
    for box in page.panel.boxes.values():
        assert box.width() >= box.sizeHint().width(), box.text()
    # matplotlib warns when axes collapse; a warning is an error here.
    page.tabs.chart.grab()
    rows, letters_pt = len(table.grid.rows), SCREEN_THEMES[theme].window_font_pt or 10.0
    assert page.tabs.chart.height() >= 26 * rows * letters_pt / 10.0


@pytest.mark.parametrize("theme", SCREEN_THEMES)
@pytest.mark.parametrize("sample", list_samples())
def test_the_set_table_names_the_baits_in_full(opened: Opener, sample: str, theme: str) -> None:
    window = opened(sample, theme)
    page = page_of(window, 1)
    assert isinstance(page, SetPage)
    table, metrics = page.table, page.table.fontMetrics()
    for number, column in enumerate(table.grid.columns):
        widest = max(metrics.horizontalAdvance(column.read(row)) for row in table.grid.rows)
        assert table.columnWidth(number) >= widest + 12, column.title


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_the_notes_of_places_are_seen_without_scrolling(opened: Opener, theme: str) -> None:
    window = opened("lake_bait_trial", theme)
    page = page_of(window, 0)
    assert isinstance(page, LayoutPage)
    table = page.table
    note = [column.title for column in table.grid.columns].index("Note")
    end = table.columnViewportPosition(note) + table.columnWidth(note)
    assert end <= table.viewport().width()


def test_all_pages_begin_at_the_same_margin(opened: Opener) -> None:
    window = opened("lake_bait_trial", "light")
    firsts = set()
    for number in range(5):
        page = page_of(window, number)
        parts = [
            QRect(one.mapTo(page, QPoint(0, 0)), one.size())
            for one in page.findChildren(QWidget)
            if one.isVisible()
            and isinstance(one, QLabel | QPushButton | QLineEdit)
            and one.height()
        ]
        top = min(part.center().y() for part in parts)
        row = [part for part in parts if abs(part.center().y() - top) < 20]
        firsts.add(min(part.left() for part in row))
    assert firsts == {12}


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_long_names_are_shortened_and_do_not_widen_the_window(opened: Opener, theme: str) -> None:
    window = opened("lake_bait_trial", theme)
    session = window.session
    place = "The old jetty by the leaning oak at the bend"
    names = {
        Place: ("label", place),
        Bait: ("name", "Roach cut in halves & frozen over night"),
        Species: ("name", "Narrow-clawed crayfish of the upper pond"),
    }
    for noun, (field, text) in names.items():
        for n, row in enumerate(session.snapshot.all(noun)):
            session.do(edit, noun, row.id, "Rename", **{field: f"{text} {n or ''}".strip()})
    for number in range(5):
        page_of(window, number)
        assert window.minimumSizeHint().width() <= WIDTH, number
        assert window.width() == WIDTH, number

    page = page_of(window, 2)
    assert isinstance(page, LiftPage)
    label = page.card.place
    assert label.text().startswith(place)
    # What is cut off can be read in the tooltip.
    assert (label.shown() == label.text()) == (label.toolTip() == "")
    heading = page.counter.heading
    assert heading.shown().endswith("kept")
    button = next(iter(page.counter.buttons.buttons.values()))
    assert isinstance(button, ShortButton)
    assert button.shown().endswith("0")
    assert len(button.shown()) < len(button.text())
    compared = page_of(window, 3)
    assert isinstance(compared, ComparePage)
    assert compared.card.headline.shown().endswith("settled")


def test_a_moment_is_shown_whole_in_large_letters(opened: Opener) -> None:
    window = opened("lake_bait_trial", "sunlight")
    page = page_of(window, 2)
    assert isinstance(page, LiftPage)
    line = page.panel.lifted
    assert line.text() == "2026-08-15 07:05"
    assert line.width() - 16 >= line.fontMetrics().horizontalAdvance(line.text())


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_the_sentence_of_an_empty_page_keeps_off_the_edges(opened: Opener, theme: str) -> None:
    window = opened("shore_line", theme)
    page = page_of(window, 3)
    assert isinstance(page, ComparePage)
    sentence = page.empty.sentence
    assert sentence.isVisible()
    left = sentence.mapTo(page, QPoint(0, 0)).x()
    assert left >= page.width() * 0.1
    assert left + sentence.width() <= page.width() * 0.9
    assert sentence.height() >= sentence.heightForWidth(sentence.width())

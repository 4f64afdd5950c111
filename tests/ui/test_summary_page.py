"""The Summary page and the print dialog in the real window."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtGui import QColor
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtWidgets import QApplication, QPushButton
from pytestqt.qtbot import QtBot

from tests.made_trips import MadeTrip, make_trip
from tests.reports.pdf_reading import all_words, reader, size_mm
from tests.ui.trip_window import window_on
from trapline.actions.editing import edit
from trapline.drawing.theme import SCREEN_THEMES, apply_theme
from trapline.errors import EnvironmentProblem
from trapline.model.trip import Trip
from trapline.reports.field_sheet import field_sheet
from trapline.ui.dialogs import print_dialog
from trapline.ui.dialogs.print_dialog import PrintDialog, file_name
from trapline.ui.pages.summary_page import SummaryPage

Opener = Callable[[MadeTrip], SummaryPage]


@pytest.fixture
def opened(qtbot: QtBot, tmp_path: Path) -> Opener:
    def make(made: MadeTrip) -> SummaryPage:
        page = window_on(made, qtbot, tmp_path, 4).page
        assert isinstance(page, SummaryPage)
        return page

    return make


def trial() -> MadeTrip:
    return make_trip(6, baits=("fish", "liver")).lifted([9, 1, 7, 2, 8, 0])


def test_the_pages_are_shown_as_they_will_print(opened: Opener) -> None:
    page = opened(trial())
    assert page.report is not None
    assert page.n_pages.text() == f"{page.report.n_pages} pages"
    picture = page.pages.grab().toImage()
    middle = picture.pixelColor(picture.width() // 2, 40)
    assert middle == QColor("white")
    dark = sum(
        picture.pixelColor(x, y).lightness() < 90
        for x in range(0, picture.width(), 2)
        for y in range(0, picture.height(), 2)
    )
    assert dark > 500


def test_the_pdf_is_the_report_that_is_shown(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(trial())
    out = tmp_path / "out.pdf"
    asked: list[str] = []

    def choose(_parent: object, stem: str) -> Path:
        asked.append(stem)
        return out

    monkeypatch.setattr(print_dialog, "ask_pdf_path", choose)
    page.save_button.click()
    assert asked == ["Trip summary Summer trial"]
    assert page.report is not None
    assert len(reader(out.read_bytes()).pages) == page.report.n_pages
    assert "Fish is the winner" in all_words(out.read_bytes())


def test_another_paper_lays_the_pages_out_anew(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(trial())
    out = tmp_path / "out.pdf"
    monkeypatch.setattr(print_dialog, "ask_pdf_path", lambda *_: out)
    for paper, size in (("Letter", (216, 279)), ("A4", (210, 297))):
        page.paper.setCurrentText(paper)
        page.save_button.click()
        assert size_mm(out.read_bytes()) == size


def test_a_pdf_that_cannot_be_written_is_told(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(trial())
    told: list[Any] = []
    page.session.failed.connect(told.append)
    monkeypatch.setattr(print_dialog, "ask_pdf_path", lambda *_: tmp_path / "no" / "x.pdf")
    page.save_button.click()
    assert [type(problem) for problem in told] == [EnvironmentProblem]


def test_printing_asks_for_a_printer_and_sends_all_pages(
    opened: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(trial())
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    monkeypatch.setattr(print_dialog, "ask_printer", lambda _parent: printer)
    page.print_button.click()
    assert page.report is not None
    assert len(reader((tmp_path / "printed.pdf").read_bytes()).pages) == page.report.n_pages
    monkeypatch.setattr(print_dialog, "ask_printer", lambda _parent: None)
    page.print_button.click()  # changed their mind


def test_a_change_is_on_the_pages_at_once(opened: Opener) -> None:
    page = opened(trial())
    page.session.do(edit, Trip, "trip", name="Autumn trial")
    assert page.report is not None
    assert page.report.title == "Trip summary: Autumn trial"


def test_what_is_left_open_is_told_above_the_pages_and_counted(opened: Opener) -> None:
    made = trial()
    row = made.sets()[5].with_(state="set", lift_utc=None, condition="", counted=False)
    page = opened(made.with_rows(row, made.sets()[4].with_(counted=False)))
    assert page.attention() == 2
    assert page.notice.isVisible()
    assert "Still in the water: trap T6 at P6" in page.gear.text()
    assert "1 trap was lifted and not counted: P5" in page.open_ends.text()


def test_a_trip_that_is_closed_asks_for_nothing(opened: Opener) -> None:
    page = opened(trial())
    assert page.attention() == 0
    assert not page.notice.isVisible()


def test_a_project_without_a_trip_names_the_next_step(opened: Opener) -> None:
    page = opened(make_trip(0, 0))
    assert page.over.currentWidget() is page.empty
    assert "nothing to print" in page.empty.sentence.text()
    assert page.attention() == 0


def test_there_is_one_primary_button(opened: Opener) -> None:
    page = opened(trial())
    buttons = [button for button in page.findChildren(QPushButton) if button.isVisible()]
    assert [button.text() for button in buttons if button.isDefault()] == ["Save as PDF…"]
    assert [b.text() for b in buttons if b.autoDefault() and not b.isDefault()] == []


def test_pages_grow_and_shrink(opened: Opener) -> None:
    page = opened(trial())
    sheets = page.pages.sheets
    before = sheets.minimumHeight()
    page.pages.zoom_by(1)
    assert sheets.minimumHeight() > before
    for _ in range(20):
        page.pages.zoom_by(-1)
    assert 200 < sheets.minimumHeight() < before
    page.pages.grab()


def test_only_the_pages_in_view_are_painted(opened: Opener) -> None:
    page = opened(make_trip(300, baits=("fish", "liver")).lifted([n % 5 for n in range(300)]))
    assert page.report is not None
    assert page.report.n_pages >= 8
    page.pages.grab()
    assert len(page.pages.sheets.painted()) <= 3
    page.pages.verticalScrollBar().setValue(page.pages.verticalScrollBar().maximum())
    QApplication.processEvents()
    page.pages.grab()
    assert page.report.n_pages - 1 in page.pages.sheets.painted()
    assert page.pages.page_in_view() >= page.report.n_pages - 2
    assert len(page.pages.sheets.painted()) <= 5


@pytest.mark.parametrize("theme", SCREEN_THEMES)
def test_paper_stays_white_in_every_look(opened: Opener, theme: str) -> None:
    page = opened(trial())
    window = page.window()
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    try:
        window.take_theme(apply_theme(app, theme))  # type: ignore[attr-defined]  # the window
        app.processEvents()
        assert window.minimumSizeHint().width() <= 1366
        assert window.minimumSizeHint().height() <= 768
        picture = page.pages.grab().toImage()
        assert picture.pixelColor(picture.width() // 2, 40) == QColor("white")
    finally:
        apply_theme(app, "light")


def test_the_menu_shows_the_field_sheet_and_the_summary(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(trial())
    window: Any = page.window()
    shown: list[tuple[str, str]] = []

    def ask(make: Any, title: str, _parent: object) -> None:
        shown.append((title, make("Letter").title))

    monkeypatch.setattr(PrintDialog, "ask", staticmethod(ask))
    window.trigger("field_sheet")
    window.trigger("print_summary")
    assert shown == [
        ("Field sheet", "Field sheet: Summer trial, round 1"),
        ("Trip summary", "Trip summary: Summer trial"),
    ]


def test_the_dialog_shows_saves_and_closes(
    qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = make_trip(40)
    dialog = PrintDialog(lambda paper: field_sheet(made.snapshot, made.round_id, paper), "Sheet")
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.n_pages.text() == f"{dialog.report.n_pages} pages"
    assert dialog.save_button.isDefault()
    monkeypatch.setattr(print_dialog, "ask_pdf_path", lambda *_: None)
    dialog.save_button.click()
    assert dialog.isVisible()
    monkeypatch.setattr(print_dialog, "ask_pdf_path", lambda *_: tmp_path / "no" / "x.pdf")
    dialog.save_button.click()
    assert dialog.isVisible()
    assert "cannot be written" in dialog.message.text()
    monkeypatch.setattr(print_dialog, "ask_pdf_path", lambda *_: tmp_path / "x.pdf")
    dialog.paper.setCurrentText("Letter")
    dialog.save_button.click()
    assert not dialog.isVisible()
    assert size_mm((tmp_path / "x.pdf").read_bytes()) == (216, 279)


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Trip summary: May / June", "Trip summary May June"),
        ('a\\b:c*d?e"f<g>h|i\nj', "a b c d e f g h i j"),
        ("...", "report"),
        ("x" * 300, "x" * 100),
    ],
)
def test_a_title_becomes_a_name_that_every_system_takes(title: str, name: str) -> None:
    assert file_name(title) == name


def test_a_path_without_an_ending_gets_one(
    monkeypatch: pytest.MonkeyPatch, qapp: QApplication, tmp_path: Path
) -> None:
    class Chooser:
        answer = str(tmp_path / "sheet v1.2")

        @staticmethod
        def getSaveFileName(*_: object) -> tuple[str, str]:
            return Chooser.answer, ""

    monkeypatch.setattr(print_dialog, "QFileDialog", Chooser)
    assert print_dialog.ask_pdf_path(None, "sheet") == tmp_path / "sheet v1.2.pdf"
    Chooser.answer = str(tmp_path / "sheet.PDF")
    assert print_dialog.ask_pdf_path(None, "sheet") == tmp_path / "sheet.PDF"
    Chooser.answer = ""
    assert print_dialog.ask_pdf_path(None, "sheet") is None

"""Whole files or none."""

import os
from pathlib import Path

import pytest
from PySide6.QtPrintSupport import QPrinter
from pytestqt.qtbot import QtBot

from tests.reports.pdf_reading import reader, words
from trapline.drawing.paper import PageSetup
from trapline.errors import EnvironmentProblem
from trapline.reports.blocks import paragraph
from trapline.reports.page import Report
from trapline.reports.pdf_file import print_report, report_bytes, write_report, write_whole


def report(n_lines: int = 1) -> Report:
    return Report(
        PageSetup("A4"),
        "Lines",
        lambda width, _room: [
            piece for n in range(n_lines) for piece in paragraph(f"line {n}.", width)
        ],
    )


def test_the_file_is_a_pdf_and_nothing_else_is_left(tmp_path: Path) -> None:
    path = write_report(report(), tmp_path / "x.pdf")
    assert path.read_bytes().startswith(b"%PDF-")
    assert os.listdir(tmp_path) == ["x.pdf"]


def test_a_folder_that_is_not_there_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(EnvironmentProblem) as caught:
        write_report(report(), tmp_path / "nowhere" / "x.pdf")
    assert "cannot be written" in caught.value.error
    assert caught.value.what_to_do


def test_a_full_disk_leaves_the_file_of_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(b"the old one")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(EnvironmentProblem, match="No space left"):
        write_whole(b"the new one", path)
    assert path.read_bytes() == b"the old one"
    assert os.listdir(tmp_path) == ["x.pdf"]


def test_the_rights_of_a_replaced_file_stay(tmp_path: Path) -> None:
    path = tmp_path / "x.pdf"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_whole(b"new", path)
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640


def test_the_same_report_gives_the_same_pages() -> None:
    one, two = (reader(report_bytes(report(90))) for _ in range(2))
    for first, second in zip(one.pages, two.pages, strict=True):
        contents = first.get_contents(), second.get_contents()
        assert contents[0] is not None
        assert contents[1] is not None
        assert contents[0].get_data() == contents[1].get_data()


def test_a_printer_gets_all_pages(qtbot: QtBot, tmp_path: Path) -> None:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    print_report(report(150), printer)
    pages = reader((tmp_path / "printed.pdf").read_bytes()).pages
    assert len(pages) == report(150).n_pages > 1
    assert "line 149." in words(pages[-1])


def test_only_the_pages_that_were_asked_for_are_printed(qtbot: QtBot, tmp_path: Path) -> None:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    printer.setFromTo(2, 2)
    print_report(report(200), printer)
    pages = reader((tmp_path / "printed.pdf").read_bytes()).pages
    assert len(pages) == 1
    assert f"Page 2 of {report(200).n_pages}" in words(pages[0])


@pytest.mark.qt_log_ignore("QPainter::begin")
def test_a_printer_that_does_not_begin_is_told_in_words(qtbot: QtBot, tmp_path: Path) -> None:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "nowhere" / "printed.pdf"))
    with pytest.raises(EnvironmentProblem, match="does not begin"):
        print_report(report(), printer)

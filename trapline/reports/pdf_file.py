"""A report as a PDF file, whole or not at all, and on a printer."""

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QPainter, QPdfWriter

from trapline.drawing.paper import pdf_bytes
from trapline.errors import EnvironmentProblem
from trapline.reports.page import Report

if TYPE_CHECKING:
    # Printing needs widgets; a PDF does not.
    from PySide6.QtPrintSupport import QPrinter


def report_bytes(report: Report) -> bytes:
    """Return a report as the bytes of a PDF."""

    def paint(painter: QPainter, writer: QPdfWriter) -> None:
        for number in range(report.n_pages):
            if number:
                writer.newPage()
            report.paint_page(painter, number)

    return pdf_bytes(paint, report.setup, report.title)


def write_report(report: Report, path: Path) -> Path:
    """Write a report as a PDF and return its path; a file that was there is replaced at the end.

    Raises
    ------
    EnvironmentProblem
        The folder is not there or cannot be written to, or the disk is full.
    """
    return write_whole(report_bytes(report), Path(path))


def write_whole(data: bytes, path: Path) -> Path:
    """Write bytes to a file so that it is whole on the disk, or as it was before."""
    part = ""
    try:
        handle, part = tempfile.mkstemp(
            prefix=f".{path.stem[:40]}.", suffix=".part", dir=path.parent
        )
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(part, _usual_mode(path))
        os.replace(part, path)
    except OSError as problem:
        if part:
            Path(part).unlink(missing_ok=True)
        raise EnvironmentProblem(
            f"The PDF cannot be written ({problem.strerror}).",
            str(path),
            "Choose a folder of yours with room in it.",
        ) from problem
    return path


def _usual_mode(path: Path) -> int:
    """Return the rights of the file that is replaced, or those that a new file gets."""
    try:
        return path.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def print_report(report: Report, printer: "QPrinter") -> None:
    """Print a report, or those of its pages that the printer's dialog was asked for.

    Raises
    ------
    EnvironmentProblem
        The printer does not begin.
    """
    printer.setPageLayout(report.setup.layout)
    printer.setDocName(report.title)
    first = max(printer.fromPage(), 1)
    last = min(printer.toPage() or report.n_pages, report.n_pages)
    painter = QPainter()
    if not painter.begin(printer):
        raise EnvironmentProblem(
            "The printer does not begin.", printer.printerName(), "Save a PDF and print that."
        )
    try:
        for number in range(first, last + 1):
            if number > first:
                printer.newPage()
            report.paint_page(painter, number - 1)
    finally:
        painter.end()

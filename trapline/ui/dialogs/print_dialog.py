"""A report before it is printed: its pages, the paper, Print and Save as PDF."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.paper import usual_page
from trapline.drawing.theme import set_role
from trapline.errors import TraplineError
from trapline.folders import documents_folder
from trapline.reports.page import Report
from trapline.reports.pdf_file import print_report, write_report
from trapline.ui.page_pictures import PagePictures

if TYPE_CHECKING:
    # Printers take long to ask for: only when somebody prints.
    from PySide6.QtPrintSupport import QPrinter

PAPERS = ("A4", "Letter")
MakeReport = Callable[[str], Report]


class PaperBox(QComboBox):
    """A choice of paper that begins with the one of this computer's country."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.addItems(list(PAPERS))
        self.setCurrentText(usual_page().size)
        self.setAccessibleName("Paper")


class PrintDialog(QDialog):
    """Shows the pages; what `make` gives for a paper is what is printed and saved."""

    def __init__(self, make: MakeReport, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.make = make
        self.paper = PaperBox()
        label = QLabel("P&aper")
        label.setBuddy(self.paper)
        self.pages = PagePictures()
        self.n_pages = QLabel()
        set_role(self.n_pages, "note")
        self.message = QLabel()
        self.message.setTextFormat(Qt.TextFormat.PlainText)
        self.message.setWordWrap(True)
        set_role(self.message, "bad")
        self.message.hide()
        top = QHBoxLayout()
        top.addWidget(label)
        top.addWidget(self.paper)
        top.addSpacing(12)
        top.addWidget(self.n_pages)
        top.addStretch(1)
        for text, steps in (("−", -1), ("+", 1)):
            top.addWidget(zoom_button(self.pages, text, steps))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        self.save_button = buttons.addButton("Save as PDF…", QDialogButtonBox.ButtonRole.ActionRole)
        self.print_button = buttons.addButton("Print…", QDialogButtonBox.ButtonRole.ActionRole)
        set_role(self.save_button, "primary")
        for button in buttons.buttons():
            if isinstance(button, QPushButton):
                button.setAutoDefault(False)
        self.save_button.setDefault(True)
        self.save_button.clicked.connect(self._on_save_clicked)
        self.print_button.clicked.connect(self._on_print_clicked)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addWidget(self.pages, 1)
        layout.addWidget(self.message)
        layout.addWidget(buttons)
        self.resize(780, 640)
        self.paper.currentTextChanged.connect(self._show_pages)
        self._show_pages()

    @staticmethod
    def ask(make: MakeReport, title: str, parent: QWidget | None) -> None:
        """Show the dialog until it is closed."""
        PrintDialog(make, title, parent).exec()

    def _show_pages(self) -> None:
        self.report = self.make(self.paper.currentText())
        self.pages.set_report(self.report)
        n = self.report.n_pages
        self.n_pages.setText(f"{n} page{'s' if n > 1 else ''}")

    def _on_save_clicked(self) -> None:
        self._try(lambda: save_report(self, self.report))

    def _on_print_clicked(self) -> None:
        self._try(lambda: print_chosen(self, self.report))

    def _try(self, do: Callable[[], object]) -> None:
        """Do it and close, or say what went wrong and stay."""
        try:
            done = do()
        except TraplineError as problem:
            self.message.setText(str(problem))
            self.message.show()
            return
        if done:
            self.accept()


def zoom_button(pages: PagePictures, text: str, steps: int) -> QPushButton:
    """Return a button that makes the pages larger or smaller."""
    button = QPushButton(text)
    button.setAutoDefault(False)
    set_role(button, "quiet")
    words = "Larger pages" if steps > 0 else "Smaller pages"
    button.setToolTip(words)
    button.setAccessibleName(words)
    button.clicked.connect(lambda: pages.zoom_by(steps))
    return button


def file_name(title: str) -> str:
    """Return a name for a file that every system takes, from the title of a report."""
    plain = re.sub(r'[\\/:*?"<>|\x00-\x1f]+', " ", title)
    return " ".join(plain.split()).strip(". ")[:100] or "report"


def ask_pdf_path(parent: QWidget | None, stem: str) -> Path | None:
    """Ask where a PDF goes; None when the user changed their mind."""
    name, _ = QFileDialog.getSaveFileName(
        parent, "Save as PDF", str(documents_folder() / f"{stem}.pdf"), "PDF (*.pdf)"
    )
    if not name:
        return None
    path = Path(name)
    return path if path.suffix.lower() == ".pdf" else path.with_name(f"{path.name}.pdf")


def ask_printer(parent: QWidget | None) -> "QPrinter | None":
    """Ask for a printer; None when the user changed their mind."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    dialog = QPrintDialog(printer, parent)
    return printer if dialog.exec() == QDialog.DialogCode.Accepted else None


def save_report(parent: QWidget | None, report: Report) -> Path | None:
    """Ask for a file and write the PDF there.

    Raises
    ------
    EnvironmentProblem
        It cannot be written.
    """
    path = ask_pdf_path(parent, file_name(report.title))
    return None if path is None else write_report(report, path)


def print_chosen(parent: QWidget | None, report: Report) -> bool:
    """Ask for a printer and print there; whether it was printed.

    Raises
    ------
    EnvironmentProblem
        The printer does not begin.
    """
    printer = ask_printer(parent)
    if printer is None:
        return False
    print_report(report, printer)
    return True

"""Pages: a Qt application where there is none, page sizes, fonts that can be embedded, PDF."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import (
    QBuffer,
    QCoreApplication,
    QIODevice,
    QLocale,
    QMarginsF,
    QRectF,
    QSizeF,
)
from PySide6.QtGui import (
    QFont,
    QFontDatabase,
    QGuiApplication,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
)

from trapline.errors import EnvironmentProblem

RESOLUTION_DPI: Final = 1200
# DejaVu comes with most desktops and with matplotlib; it has the signs that reports use: × ° − ≥.
FAMILIES: Final = ("DejaVu Sans", "Noto Sans", "Liberation Sans", "Segoe UI", "Helvetica", "Arial")
MM_PER_INCH: Final = 25.4

# Kept for the life of the process: an application that Python collects takes its fonts along.
_made: list[QGuiApplication] = []


@dataclass(frozen=True, slots=True)
class PageSetup:
    """A page: "A4" or "Letter", its way round, its margin on all sides."""

    size: str = "A4"
    is_landscape: bool = False
    margin_mm: float = 15.0

    @property
    def layout(self) -> QPageLayout:
        """The same for Qt."""
        size = QPageSize.PageSizeId.Letter if self.size == "Letter" else QPageSize.PageSizeId.A4
        way = (
            QPageLayout.Orientation.Landscape
            if self.is_landscape
            else QPageLayout.Orientation.Portrait
        )
        edge = self.margin_mm
        return QPageLayout(
            QPageSize(size), way, QMarginsF(edge, edge, edge, edge), QPageLayout.Unit.Millimeter
        )


def usual_page() -> PageSetup:
    """Return the page that this computer's country uses."""
    system = QLocale.system().measurementSystem()
    is_letter = system == QLocale.MeasurementSystem.ImperialUSSystem
    return PageSetup("Letter" if is_letter else "A4")


def ensure_gui_app() -> QGuiApplication:
    """Return the application, or make one that needs no display, so that a terminal can print."""
    found = QCoreApplication.instance()
    if isinstance(found, QGuiApplication):
        return found
    if found is not None:
        raise EnvironmentProblem(
            "Qt runs without its drawing part, so nothing can be printed.",
            "printing",
            "Start the command on its own.",
        )
    app = QGuiApplication(["trapline", "-platform", "offscreen"])
    _made.append(app)
    app.setFont(QFont(paper_family(), 9))
    return app


def paper_family() -> str:
    """Return a family of letters that this computer has and that a PDF can carry."""
    families = set(QFontDatabase.families())
    for family in FAMILIES:
        if family in families:
            return family
    return _bundled_family() or QFont().defaultFamily()


def _bundled_family() -> str:
    """Return the family that matplotlib carries, loaded from its own folder."""
    from pathlib import Path

    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    number = -1
    for name in ("DejaVuSans-Bold.ttf", "DejaVuSans.ttf"):
        number = QFontDatabase.addApplicationFont(str(folder / name))
    families = QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
    return families[0] if families else ""


def paper_font(size_pt: float, *, bold: bool = False) -> QFont:
    """Return a font for paper; its letters stay single when the PDF is searched."""
    font = QFont(paper_family())
    font.setPointSizeF(size_pt)
    font.setBold(bold)
    font.setFeature(QFont.Tag("liga"), 0)
    return font


def set_up_page(device: QPagedPaintDevice, setup: PageSetup) -> None:
    """Give a printer or a PDF its page before painting begins."""
    device.setPageLayout(setup.layout)


def page_rect(device: QPagedPaintDevice) -> QRectF:
    """Return the part of the page inside the margins, in the units of a painter on it."""
    return QRectF(0.0, 0.0, device.width(), device.height())


def mm_to_units(device: QPagedPaintDevice, mm: float) -> float:
    """Return a length on paper in the units of a painter on it."""
    return mm / MM_PER_INCH * device.logicalDpiX()


def pdf_writer(target: QIODevice, setup: PageSetup, title: str = "") -> QPdfWriter:
    """Return a writer of a PDF into an open device; the fonts used are embedded."""
    writer = QPdfWriter(target)
    writer.setResolution(RESOLUTION_DPI)
    writer.setTitle(title)
    writer.setCreator("trapline")
    set_up_page(writer, setup)
    return writer


def pdf_bytes(
    paint: Callable[[QPainter, QPdfWriter], None], setup: PageSetup, title: str = ""
) -> bytes:
    """Return a whole PDF; `paint` begins further pages with ``writer.newPage()``."""
    ensure_gui_app()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    writer = pdf_writer(buffer, setup, title)
    painter = QPainter(writer)
    try:
        painter.setFont(paper_font(9))
        paint(painter, writer)
    finally:
        painter.end()
    return bytes(buffer.data().data())


def page_size_mm(setup: PageSetup) -> QSizeF:
    """Return the width and height of the whole page in millimetres."""
    return setup.layout.fullRect(QPageLayout.Unit.Millimeter).size()

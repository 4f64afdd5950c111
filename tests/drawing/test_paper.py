import io
import subprocess
import sys

import pytest
from pypdf import PdfReader
from PySide6.QtCore import QLocale, QRectF
from PySide6.QtGui import QFontDatabase, QGuiApplication

from trapline.drawing.map_painter import paint_map
from trapline.drawing.paper import (
    PageSetup,
    ensure_gui_app,
    mm_to_units,
    page_rect,
    page_size_mm,
    paper_family,
    pdf_bytes,
    usual_page,
)
from trapline.drawing.theme import PAPER, PAPER_MONOCHROME

POINTS_PER_MM = 72 / 25.4


def _map_pdf(content, theme=PAPER, setup=None) -> PdfReader:
    def paint(painter, writer):
        paint_map(painter, page_rect(writer), None, content, theme, paper=True,
                  selected=["place-3"])  # fmt: skip

    data = pdf_bytes(paint, setup or PageSetup(), "Map")
    return PdfReader(io.BytesIO(data))


def _fonts(page) -> list:
    return [font.get_object() for font in page["/Resources"]["/Font"].get_object().values()]


def _images(page) -> list:
    found = page["/Resources"].get("/XObject", {})
    return [name for name, thing in found.items() if thing.get_object()["/Subtype"] == "/Image"]


@pytest.mark.parametrize("theme", [PAPER, PAPER_MONOCHROME], ids=lambda theme: theme.name)
def test_a_printed_map_is_vectors_with_text_that_can_be_searched(qapp, lake, theme):
    page = _map_pdf(lake, theme).pages[0]
    # Qt writes the sign of the space as a tab into the table of letters.
    text = " ".join(page.extract_text().split())
    for words in ("T1", "T12", "7.62 m", "L1", "Fish heads", "assumed reach, set by you: a risk",
                  "closer than your minimum", "reaches of different baits meet",
                  "current 0.06 m/s towards ESE (112°)", "No position", "grid"):  # fmt: skip
        assert words in text, words
    assert _images(page) == []


def test_the_fonts_of_a_printed_map_are_embedded(qapp, lake):
    fonts = _fonts(_map_pdf(lake).pages[0])
    assert fonts
    for font in fonts:
        descendant = font["/DescendantFonts"][0].get_object()
        descriptor = descendant["/FontDescriptor"].get_object()
        assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
        assert "/ToUnicode" in font


def test_many_places_on_paper_stay_vectors(qapp, many_places):
    page = _map_pdf(many_places(800)).pages[0]
    assert _images(page) == []


@pytest.mark.parametrize(
    ("setup", "width_mm", "height_mm"),
    [
        (PageSetup(), 210.0, 297.0),  # ISO 216
        (PageSetup("Letter"), 215.9, 279.4),  # ANSI Y14.1: 8.5 × 11 in
        (PageSetup("A4", is_landscape=True), 297.0, 210.0),
    ],
)
def test_pages_have_the_size_of_the_standard(qapp, lake, setup, width_mm, height_mm):
    box = _map_pdf(lake, setup=setup).pages[0].mediabox
    assert float(box.width) / POINTS_PER_MM == pytest.approx(width_mm, abs=0.4)
    assert float(box.height) / POINTS_PER_MM == pytest.approx(height_mm, abs=0.4)
    size = page_size_mm(setup)
    assert (size.width(), size.height()) == pytest.approx((width_mm, height_mm), abs=0.4)


def test_margins_and_millimetres_are_right_on_the_device(qapp):
    found = {}

    def paint(painter, writer):
        found["rect"] = page_rect(writer)
        found["mm"] = mm_to_units(writer, 25.4)
        found["dpi"] = writer.logicalDpiX()

    pdf_bytes(paint, PageSetup("A4", margin_mm=20.0))
    assert found["mm"] == found["dpi"]
    assert found["rect"].width() / found["dpi"] * 25.4 == pytest.approx(170.0, abs=0.2)
    assert found["rect"].height() / found["dpi"] * 25.4 == pytest.approx(257.0, abs=0.2)


def test_a_map_on_paper_has_its_bar_in_millimetres_of_the_page(qapp, lake):
    """The bar is at most 150/96 inch long, and its ticks stand where its metres say."""
    from trapline.drawing.map_furniture import map_scale_bar
    from trapline.drawing.map_painter import fitted_view
    from trapline.drawing.map_sheet import PaintCache, Sheet
    from trapline.drawing.map_view import MapView

    found = {}

    def paint(painter, writer):
        sheet = Sheet(painter, page_rect(writer), MapView(), lake, PAPER, PaintCache(),
                      is_paper=True)  # fmt: skip
        sheet.view = fitted_view(sheet)
        bar = map_scale_bar(sheet)
        found["metres"] = bar.length_px * sheet.view.metres_per_px - bar.length_m
        found["mm"] = bar.length_px / writer.logicalDpiX() * 25.4

    pdf_bytes(paint, PageSetup())
    assert found["metres"] == pytest.approx(0.0, abs=1e-9)
    assert 15.0 < found["mm"] <= 39.7


def test_there_is_an_application_and_it_is_the_one_that_runs(qapp):
    assert ensure_gui_app() is QGuiApplication.instance()
    assert paper_family() in QFontDatabase.families()


def test_the_page_goes_by_the_country(monkeypatch, qapp):
    for name, size in (("en_US", "Letter"), ("nl_NL", "A4"), ("en_GB", "A4")):
        monkeypatch.setattr(QLocale, "system", staticmethod(lambda name=name: QLocale(name)))
        assert usual_page().size == size


ALONE = """
import os, sys
for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
    os.environ.pop(name, None)
from trapline.drawing.paper import PageSetup, pdf_bytes
from PySide6.QtCore import QPointF
data = pdf_bytes(lambda painter, writer: painter.drawText(QPointF(500, 500), "difficult"),
                 PageSetup())
assert "matplotlib" not in sys.modules and "PySide6.QtWidgets" not in sys.modules
sys.stdout.buffer.write(data)
"""

WITHOUT_DRAWING = """
from PySide6.QtCore import QCoreApplication
app = QCoreApplication([])
from trapline.drawing.paper import ensure_gui_app
from trapline.errors import EnvironmentProblem
try:
    ensure_gui_app()
except EnvironmentProblem as problem:
    print(problem)
"""


def test_a_terminal_without_a_display_can_print():
    run = subprocess.run([sys.executable, "-c", ALONE], capture_output=True, timeout=60)
    assert run.returncode == 0, run.stderr.decode()
    # Without joined letters "difficult" comes out as it was written.
    assert "difficult" in PdfReader(io.BytesIO(run.stdout)).pages[0].extract_text()


def test_qt_without_its_drawing_part_is_told():
    run = subprocess.run(
        [sys.executable, "-c", WITHOUT_DRAWING], capture_output=True, text=True, timeout=60
    )
    assert "nothing can be printed" in run.stdout, run.stderr


def test_a_painting_that_fails_is_told_and_leaves_no_painter_open(qapp):
    def paint(painter, writer):
        painter.drawRect(QRectF(0, 0, 10, 10))
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        pdf_bytes(paint, PageSetup())

"""Reading a PDF back: its words, its fonts, its colours."""

import io
import re

from pypdf import PageObject, PdfReader


def reader(data: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(data))


def words(page: PageObject) -> str:
    """Return the text of a page on one line, single spaces between words."""
    return " ".join(page.extract_text().split())


def all_words(data: bytes) -> str:
    return " ".join(words(page) for page in reader(data).pages)


def unembedded_fonts(data: bytes) -> list[str]:
    """Return the names of fonts that the file does not carry."""
    missing = []
    for page in reader(data).pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            for one in font.get_object()["/DescendantFonts"]:
                kept = one.get_object()["/FontDescriptor"].get_object()
                if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(kept):
                    missing.append(str(kept["/FontName"]))
    return missing


def n_pictures(data: bytes) -> int:
    """Return how many raster pictures the file holds."""
    return sum(len(page.images) for page in reader(data).pages)


_COLOUR = re.compile(rb"^([\d.]+) ([\d.]+) ([\d.]+) (?:scn|SCN|rg|RG)\s*$", re.MULTILINE)


def colours(data: bytes) -> set[tuple[float, float, float]]:
    """Return every colour that is drawn with, as red, green, blue from 0 to 1."""
    found = set()
    for page in reader(data).pages:
        contents = page.get_contents()
        assert contents is not None
        for match in _COLOUR.finditer(contents.get_data()):
            red, green, blue = (float(part) for part in match.groups())
            found.add((red, green, blue))
    return found


def size_mm(data: bytes) -> tuple[int, int]:
    """Return width and height of the first page."""
    box = reader(data).pages[0].mediabox
    return round(float(box.width) / 72 * 25.4), round(float(box.height) / 72 * 25.4)

"""Safe reading of bytes from outside: size cap, empty, encodings, hardened XML.

Every reader of this room starts here, so that no file can exhaust the memory,
fetch another file, or come in as characters nobody wrote.
"""

import os
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from trapline.errors import InputProblem

if TYPE_CHECKING:
    from pyexpat import XMLParserType

MAX_BYTES: Final = 50_000_000
MAX_XML_DEPTH: Final = 64
MAX_XML_NODES: Final = 500_000

# First bytes of what people pick by mistake, with the one way out.
_OTHER_KINDS: Final = (
    (b"PK\x03\x04", "a zip container (XLSX, ODS, KMZ)", "Unpack it, or save it as CSV or GPX."),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook", "Save the sheet as CSV and use that."),
    (b"SQLite format 3\x00", "a database", "Export the positions as CSV or GPX and use that."),
    (b"\x1f\x8b", "compressed with gzip", "Unpack it first."),
    (b"%PDF", "a PDF", "Ask the sender for the table or the GPX file behind it."),
    (b"\x89PNG", "a picture", "Choose the table or the GPX file."),
    (b"\xff\xd8\xff", "a picture", "Choose the table or the GPX file."),
)
_BOMS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig", "UTF-8"),
    (b"\xff\xfe\x00\x00", "utf-32", "UTF-32"),
    (b"\x00\x00\xfe\xff", "utf-32", "UTF-32"),
    (b"\xff\xfe", "utf-16", "UTF-16"),
    (b"\xfe\xff", "utf-16", "UTF-16"),
)
# Unicode's two override characters make a name read as another one; joiners and the
# direction marks that right-to-left scripts need stay.
_OVERRIDES: Final = "\u202d\u202e"


def read_bytes(path: str | os.PathLike[str], max_bytes: int = MAX_BYTES) -> bytes:
    """Return the bytes of the file at `path`.

    Raises
    ------
    InputProblem
        The file cannot be read, is larger than `max_bytes`, or is a project, which
        must never be opened beside the store (closing it would drop the store's lock).
    """
    file = Path(path)
    if file.suffix.lower() == ".gpkg":
        raise InputProblem(
            f"'{file.name}' is a project, not a file to import from.",
            str(file),
            "Open it as a project instead.",
        )
    try:
        with file.open("rb") as stream:
            data = stream.read(max_bytes + 1)
    except (OSError, ValueError) as problem:
        reason = problem.strerror if isinstance(problem, OSError) else str(problem)
        raise InputProblem(
            f"The file cannot be read: {reason}.",
            str(file),
            "Check the name and that you may read the file.",
        ) from problem
    _check_size(data, str(file), max_bytes)
    return data


def _check_size(data: bytes, name: str, max_bytes: int) -> None:
    if len(data) > max_bytes:
        raise InputProblem(
            f"The file has more than {max_bytes / 1e6:g} MB.", name, "Split it into smaller files."
        )


def check_bytes(data: bytes, name: str, max_bytes: int = MAX_BYTES) -> None:
    """Refuse bytes that no text reader can use: too many, none, or another kind of file."""
    _check_size(data, name, max_bytes)
    if not data or data.isspace():
        detail = "0 bytes" if not data else f"{len(data)} bytes of blank space"
        raise InputProblem(f"The file is empty ({detail}).", name, "Export it again.")
    for start, kind, way_out in _OTHER_KINDS:
        if data.startswith(start):
            raise InputProblem(
                f"The file is {kind}: it starts at byte 0 with 0x{start.hex()}.", name, way_out
            )


def shown(value: str, limit: int = 60) -> str:
    """Return `value` as a message may quote it: one line, printable, cut after `limit`."""
    text = "".join(letter if letter.isprintable() else " " for letter in value[: limit + 1])
    return f"{text[:limit]}…" if len(value) > limit else text


def clean_label(value: str) -> str:
    """Return a name as it is, on one line, without control characters and overrides."""
    return " ".join(clean_note(value).replace("\t", "\n").split("\n")).strip()


def clean_note(value: str) -> str:
    """Return a text that may have several lines, without control characters and overrides."""
    value = value.replace("\r\n", "\n").replace("\r", "\n")
    if value.isprintable():
        return value.strip()
    kept = (
        letter
        for letter in value
        if letter in "\n\t"
        or (unicodedata.category(letter) not in ("Cc", "Cs") and letter not in _OVERRIDES)
    )
    return "".join(kept).strip()


def decode_text(data: bytes, name: str) -> tuple[str, str]:
    """Return the text in `data` and the name of its encoding.

    UTF-8 with or without a byte order mark, UTF-16 and UTF-32 with one, and
    Windows-1252 where the bytes are not UTF-8 at all.

    Raises
    ------
    InputProblem
        Empty, too large, not text, or in no encoding as a whole: names the byte.
    """
    check_bytes(data, name)
    codec, label = next(
        ((codec, label) for bom, codec, label in _BOMS if data.startswith(bom)), ("utf-8", "UTF-8")
    )
    try:
        text = data.decode(codec)
    except UnicodeDecodeError as problem:
        if codec != "utf-8" or not data[: problem.start].isascii():
            raise _wrong_coded(data, problem.start, label, name) from problem
        try:
            text, label = data.decode("cp1252"), "Windows-1252"
        except UnicodeDecodeError as again:
            raise _wrong_coded(data, again.start, "UTF-8 or Windows-1252", name) from again
    if "\x00" in text:
        place = data.index(0)
        raise InputProblem(
            f"Byte {place} is 0x00, so this is not a text table.",
            f"{name}, byte {place}",
            "Save the sheet as CSV (UTF-8) and use that.",
        )
    text = text.lstrip("\ufeff")  # a second mark, where two programs each wrote one
    if not text.strip():
        raise InputProblem(f"The file is empty ({len(data)} bytes).", name, "Export it again.")
    return text, label


def _wrong_coded(data: bytes, start: int, label: str, name: str) -> InputProblem:
    return InputProblem(
        f"Byte {start} (0x{data[start]:02X}) is not {label}.",
        f"{name}, line {data.count(0x0A, 0, start) + 1}, byte {start}",
        "Save the file again as UTF-8.",
    )


@dataclass(slots=True)
class Element:
    """One XML element: local name, namespace, attributes, the line it starts on, text."""

    tag: str
    space: str
    attributes: dict[str, str]
    line: int
    text: str = ""
    children: list["Element"] = field(default_factory=list)

    def all(self, tag: str) -> list["Element"]:
        """Return the direct children called `tag` in this element's own namespace."""
        return [child for child in self.children if child.tag == tag and child.space == self.space]

    def first_text(self, tag: str) -> str:
        """Return the text of the first child called `tag`, or nothing."""
        found = self.all(tag)
        return found[0].text if found else ""


class _Builder:
    """Builds the tree while expat reads, and stops it at the caps."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.expat: XMLParserType | None = None
        self.root: Element | None = None
        self.nodes = 0
        self.open: list[Element] = []
        self.texts: list[list[str]] = []

    def line(self) -> int:
        return self.expat.CurrentLineNumber if self.expat else 0

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.nodes += 1
        if self.nodes > MAX_XML_NODES or len(self.open) >= MAX_XML_DEPTH:
            limit = (
                f"{MAX_XML_DEPTH} levels deep"
                if self.nodes <= MAX_XML_NODES
                else f"{MAX_XML_NODES:,} elements"
            )
            raise InputProblem(
                f"'{shown(tag)}' goes beyond the limit of {limit}.",
                f"{self.name}, line {self.line()}",
                "Export fewer points into one file.",
            )
        space, _, local = tag[1:].rpartition("}") if tag.startswith("{") else ("", "", tag)
        element = Element(local, space, attributes, self.line())
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.root = element
        self.open.append(element)
        self.texts.append([])

    def data(self, text: str) -> None:
        if self.texts:
            self.texts[-1].append(text)

    def end(self, _tag: str) -> None:
        self.open.pop().text = "".join(self.texts.pop()).strip()

    def close(self) -> None:
        """Nothing is kept open; the parser asks for this method."""


def read_xml(data: bytes, name: str) -> Element:
    """Return the root of the XML document in `data`, in any encoding that expat reads.

    A document type declaration is refused as a whole: it is the way in for entity
    bombs and for reading other files, and no exchange format here needs one.

    Raises
    ------
    InputProblem
        Empty, too large, too deep, truncated, wrong-coded or not XML: names line and byte.
    """
    check_bytes(data, name)
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser, ParseError

    builder = _Builder(name)
    parser = DefusedXMLParser(target=builder, forbid_dtd=True)
    # The one attribute of the pure Python parser that its published types leave out.
    expat: XMLParserType = vars(parser)["parser"]
    builder.expat = expat
    try:
        parser.feed(data)
        parser.close()
    except ParseError as problem:
        raise _not_xml(data, name, expat, problem.code) from problem
    except DefusedXmlException as problem:
        raise InputProblem(
            "The file declares a document type (<!DOCTYPE), which can hide other files.",
            f"{name}, line {expat.CurrentLineNumber}",
            "Export it again without one.",
        ) from problem
    except (ValueError, LookupError) as problem:
        raise InputProblem(
            f"The encoding that the file declares cannot be read: {shown(str(problem))}.",
            f"{name}, line {expat.ErrorLineNumber}, byte {expat.ErrorByteIndex}",
            "Save the file again as UTF-8.",
        ) from problem
    if builder.root is None:  # expat reports this itself; kept for the type checker's sake
        raise InputProblem("The file holds no XML element.", name, "Export it again.")
    return builder.root


def _not_xml(data: bytes, name: str, expat: Any, code: int) -> InputProblem:
    """Return what expat objected to, as the person who has the file needs it."""
    from pyexpat import errors

    byte = expat.ErrorByteIndex
    where = f"{name}, line {expat.ErrorLineNumber}, byte {byte}"
    truncated = (
        errors.XML_ERROR_NO_ELEMENTS,
        errors.XML_ERROR_UNCLOSED_TOKEN,
        errors.XML_ERROR_PARTIAL_CHAR,
        errors.XML_ERROR_UNCLOSED_CDATA_SECTION,
    )
    words = errors.messages[code]
    if words in truncated:
        return InputProblem(
            f"The file stops in the middle, at byte {len(data)}.",
            where,
            "Copy or export the whole file again.",
        )
    value = data[byte : byte + 1]
    if words == errors.XML_ERROR_INVALID_TOKEN and value and not value.isascii():
        return InputProblem(
            f"Byte {byte} (0x{value.hex().upper()}) does not fit the encoding of the file.",
            where,
            "Save the file again as UTF-8.",
        )
    near = shown(data[byte : byte + 20].decode("ascii", "replace"), 20)
    return InputProblem(
        f"The file is not sound XML: {words} at '{near}'.", where, "Export the file again."
    )

"""A file of places, whichever of the formats it is."""

from trapline.exchange.found import FoundPlaces
from trapline.exchange.gpx import read_gpx
from trapline.exchange.tables import read_places_table


def read_places(data: bytes, name: str) -> FoundPlaces:
    """Return the places in a GPX file or in a table, told apart by how the file begins.

    Raises
    ------
    InputProblem
        The file as a whole is not usable; see the readers.
    """
    # In UTF-16 every other byte is 0, before or after the letter.
    start = data[:200].replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if start.startswith(b"<") or name.lower().endswith(".gpx"):
        return read_gpx(data, name)
    return read_places_table(data, name)

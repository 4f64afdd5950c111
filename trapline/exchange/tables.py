"""What the columns of a table mean: places to import, positions to check, lifts to compare."""

import re
import unicodedata
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, Literal

from trapline.errors import InputProblem, InvalidValue
from trapline.exchange.delimited import Table, doubled_header, read_table, require_even
from trapline.exchange.files import clean_label, clean_note, shown
from trapline.exchange.found import (
    FoundPlace,
    FoundPlaces,
    check_texts,
    name_apart,
    reason,
    refused_because,
)
from trapline.science.coordinates import parse_degrees, parse_position
from trapline.units import METRES, parse_length

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MAX_LIFTS: Final = 200_000
_LIFT_COLUMNS: Final = (
    "bait", "catch", "soak_h", "trap", "place", "round", "night", "block", "trip", "condition",
    "fraction_counted", "old_bait",
)  # fmt: skip
MAX_POSITIONS: Final = 1_000_000
_MAX_DEPTH_M: Final = 11_000.0
_DECIMAL: Final = re.compile(r"[+-]?[0-9]{1,3}(\.[0-9]*)?([eE][+-]?[0-9]{1,2})?")

# Headers in the languages that loggers and spreadsheets use, the most telling first.
# English, Dutch, German, Scandinavian, French and Spanish; accents do not matter.
_WORDS: Final = {
    "latitude": (
        "lat", "latitude", "decimallatitude", "breedtegraad", "breedte", "breitengrad", "breite",
        "breddgrad", "breddegrad", "bredd", "bredde", "latitud", "y",
    ),
    "longitude": (
        "lon", "lng", "long", "longitude", "decimallongitude", "lengtegraad", "lengte",
        "langengrad", "laengengrad", "lange", "laenge", "langdgrad", "lengdegrad", "langd",
        "lengde", "longitud", "x",
    ),
    "position": (
        "coordinates", "coordinate", "coords", "coord", "position", "pos", "latlon", "lat lon",
        "latlong", "lat long", "latitude longitude", "coordinaten", "positie", "koordinaten",
        "koordinater", "coordonnees", "coordenadas",
    ),
    "label": (
        "label", "name", "place", "waypoint", "id", "no", "nr", "number", "#", "trap", "naam",
        "nummer", "plaats", "namn", "navn", "nom", "nombre", "station",
    ),
    "depth": ("depth", "diepte", "tiefe", "djup", "dybde", "profondeur", "profundidad"),
    "note": (
        "note", "notes", "remark", "remarks", "comment", "comments", "description", "desc",
        "opmerking", "opmerkingen", "bemerkung", "anmarkning", "remarque", "nota",
    ),
}  # fmt: skip
_LENGTH_WORDS: Final = {
    **{unit: unit for unit in METRES},
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "foot": "ft", "feet": "ft", "yards": "yd", "fathoms": "fathom",
}  # fmt: skip
_TRAILING: Final = {"deg", "degrees", "dd", "wgs84", "wgs", "84", "decimal"}
_COLUMN_HELP: Final = "Name one column lat and one lon in the first line."
_ROW_HELP: Final = "Fill it in, or delete the row."


def read_lifts(data: bytes, name: str) -> Table:
    """Return a table of lifts, its headers as a comparison names them.

    ``night`` is read as ``round``. Other columns keep their headers, whatever these are.
    A row with a cell too many or too few is an error here and not a note: left out, it
    would change the counts, and a cell shifted by one would be another bait's catch.

    Raises
    ------
    InputProblem
        As :func:`read_table`, and for the first ragged row: names its line.
    """
    table = read_table(
        data, name, max_rows=MAX_LIFTS, is_needed=lambda header: _lift_column(header) != ""
    )
    require_even(table)
    named = {header: _lift_column(header) or header for header in table.headers}
    if "round" not in named.values():
        named = {old: "round" if new == "night" else new for old, new in named.items()}
    headers = list(named.values())
    for header in headers:
        if headers.count(header) > 1:
            raise doubled_header(header, name, table.header_line)
    return Table(
        source=name,
        headers=tuple(headers),
        rows=tuple({named[header]: cell for header, cell in row.items()} for row in table.rows),
        lines=table.lines,
        numbers=table.numbers,
        header_line=table.header_line,
        format=table.format,
    )


def _lift_column(header: str) -> str:
    """Return which column of a table of lifts a header means; empty for none of them."""
    word = re.sub(r"[\s\-]+", "_", header.casefold())
    return word if word in _LIFT_COLUMNS else ""


def read_places_table(data: bytes, name: str) -> FoundPlaces:
    """Return the places in a CSV or TSV table, whatever its separator, order and language.

    A row with a name and neither latitude nor longitude is a place without a position.

    Raises
    ------
    InputProblem
        The table as a whole is not usable: no columns for a position, no rows, not text.
        A single bad row does not raise; it stands under `refused` with its line.
    """
    table = read_table(data, name)
    found = _position_columns(table)
    places: list[FoundPlace] = []
    refused = list(table.refused)
    for index, cells in enumerate(table.rows):
        row, where = table.numbers[index], table.where(index)
        try:
            places.append(_place(cells, found, row, where))
        except InputProblem as problem:
            text = " ".join(cells[header] for role, header in found.items() if role != "note")
            refused.append(refused_because(problem, row, where, text.strip()))
    kept, doubles = name_apart(places)
    return FoundPlaces(
        source=name,
        format=table.format,
        places=kept,
        refused=tuple(sorted((*refused, *doubles), key=lambda one: one.row)),
        columns={header: role for role, header in found.items()},
    )


def read_positions_strict(
    data: bytes, name: str
) -> tuple[list[str], "NDArray[np.float64]", "NDArray[np.float64]"]:
    """Return ids as they are written, longitudes and latitudes in degrees, in file order.

    The columns id, lat and lon are found in any case, or by the words that
    :func:`read_places_table` knows; other columns are ignored.

    Raises
    ------
    InputProblem
        The first id that is empty or used before, or position that is none: names its line.
    """
    import numpy as np

    table = read_table(
        data, name, max_rows=MAX_POSITIONS, keep_guard=True, is_needed=_is_id_or_position
    )
    require_even(table)
    id_header, lat_header, lon_header = (
        _exactly(table, word, role)
        for word, role in (("id", "label"), ("lat", "latitude"), ("lon", "longitude"))
    )
    first_line: dict[str, int] = {}
    lon_deg, lat_deg = np.empty(len(table.rows)), np.empty(len(table.rows))
    for index, cells in enumerate(table.rows):
        label, line = cells[id_header], table.lines[index]
        try:
            if not label:
                raise InvalidValue("The id is empty.", "", "Give the row an id.")
            if first_line.setdefault(label, line) != line:
                raise InvalidValue(
                    f"The id '{shown(label)}' is used before, on line {first_line[label]}.",
                    "",
                    "Rename one of the two.",
                )
            lat_deg[index] = _degrees(cells[lat_header], "lat")
            lon_deg[index] = _degrees(cells[lon_header], "lon")
        except InputProblem as problem:
            why, what_to_do = reason(problem)
            raise InputProblem(why, table.where(index), what_to_do) from problem
    return list(first_line), lon_deg, lat_deg


def _is_id_or_position(header: str) -> bool:
    roles = ("label", "latitude", "longitude")
    return any(_plain(header, role) in _WORDS[role] for role in roles)


def _exactly(table: Table, word: str, role: str) -> str:
    """Return the header that is `word` in any case, else the one that plays its role."""
    same = [header for header in table.headers if header.casefold() == word]
    if len(same) > 1:
        raise doubled_header(word, table.source, table.header_line)
    if same:
        return same[0]
    found = _columns(table)
    if role not in found:
        raise InputProblem(
            f"No column is called {word}; the first line reads {_listed(table.headers)}.",
            f"{table.source}, line {table.header_line}",
            "Name the columns id, lat and lon in the first line.",
        )
    return found[role]


def _listed(headers: Sequence[str]) -> str:
    names = ", ".join(f"'{shown(header, 20)}'" for header in headers[:8])
    return f"{names} …" if len(headers) > 8 else names


def _words(header: str) -> list[str]:
    """Return the words of a header without case, accents, brackets and punctuation."""
    text = unicodedata.normalize("NFKD", re.sub(r"[(\[].*?[)\]]", " ", header).casefold())
    text = "".join(letter for letter in text if not unicodedata.combining(letter))
    return re.findall(r"[^\W_]+|#", text)


def _plain(header: str, role: str) -> str:
    words = _words(header)
    trailing = _LENGTH_WORDS if role == "depth" else _TRAILING
    while len(words) > 1 and words[-1] in trailing:
        words.pop()
    if len(words) > 1 and words[0] in ("decimal", "gps"):
        words.pop(0)
    return " ".join(words)


def _columns(table: Table) -> dict[str, str]:
    """Return the header that plays each role; two for one half of a position are refused."""
    found: dict[str, str] = {}
    for role, words in _WORDS.items():
        plain = {header: _plain(header, role) for header in table.headers}
        for word in words:
            same = [header for header in table.headers if plain[header] == word]
            if len(same) > 1 and role in ("latitude", "longitude", "position"):
                raise InputProblem(
                    f"The columns {_listed(same)} both look like the {role}.",
                    f"{table.source}, line {table.header_line}",
                    "Rename one of them.",
                )
            if same:
                found[role] = same[0]
                break
    return found


def _position_columns(table: Table) -> dict[str, str]:
    """Return the columns of a table of places: latitude and longitude, or both in one."""
    found = _columns(table)
    if "latitude" in found and "longitude" in found:
        found.pop("position", None)
        return found
    if "position" in found:
        return {role: header for role, header in found.items() if not role.endswith("tude")}
    missing = [role for role in ("latitude", "longitude") if role not in found]
    raise InputProblem(
        f"No column for {' and '.join(missing)}; the first line reads {_listed(table.headers)}.",
        f"{table.source}, line {table.header_line}",
        _COLUMN_HELP,
    )


def _place(cells: dict[str, str], found: dict[str, str], row: int, where: str) -> FoundPlace:
    label = clean_label(cells[found["label"]]) if "label" in found else ""
    note = clean_note(cells[found["note"]]) if "note" in found else ""
    check_texts(label, note)
    depth_m = _depth_m(cells[found["depth"]], found["depth"]) if "depth" in found else None
    texts = [cells[found[role]] for role in ("longitude", "latitude", "position") if role in found]
    if label and not any(texts):
        return FoundPlace(label, None, None, depth_m, note, row, where)
    if "position" in found:
        if not texts[0]:
            raise InvalidValue("The row has neither a name nor a position.", "", _ROW_HELP)
        lon_deg, lat_deg = parse_position(texts[0])
    else:
        lat_deg = _degrees(texts[1], "lat")
        lon_deg = _degrees(texts[0], "lon")
    return FoundPlace(label, lon_deg, lat_deg, depth_m, note, row, where)


def _degrees(text: str, axis: Literal["lat", "lon"]) -> float:
    """Return a latitude or longitude in degrees; plain decimals, nearly all, the short way."""
    if _DECIMAL.fullmatch(text):
        value = float(text)
        if abs(value) <= (90.0 if axis == "lat" else 180.0):
            return value + 0.0  # no minus zero
    if not text:
        word = "latitude" if axis == "lat" else "longitude"
        raise InvalidValue(f"The {word} is empty.", "", _ROW_HELP)
    return parse_degrees(text, axis)


def _depth_m(text: str, header: str) -> float | None:
    """Return a depth in metres; a bare number has the unit of its header, or is in metres."""
    if not text:
        return None
    units = [
        _LENGTH_WORDS[word]
        for word in re.findall(r"[a-z]+", header.casefold())
        if word in _LENGTH_WORDS
    ]
    depth_m = parse_length(text, units[-1] if units else "m")
    if not 0.0 <= depth_m <= _MAX_DEPTH_M:
        raise InvalidValue(
            f"The depth '{shown(text)}' is not between 0 and {_MAX_DEPTH_M:g} m.",
            "depth",
            "Write it as a positive number below the surface.",
        )
    return depth_m

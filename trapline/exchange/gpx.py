"""GPX: waypoints, route points and tracks, as handhelds, plotters and phones write them.

Reads GPX 1.0 and 1.1, writes 1.1. The order of a waypoint's elements, and what ``cmt``
and ``desc`` are for: GPX 1.1 schema, type wptType (topografix.com/GPX/1/1/gpx.xsd).
"""

import html
import math
import re
from collections.abc import Iterable
from typing import Final

from trapline import __version__
from trapline.errors import InputProblem, InvalidValue
from trapline.exchange.files import Element, clean_label, clean_note, read_xml, shown
from trapline.exchange.found import (
    FoundPlace,
    FoundPlaces,
    Refused,
    Track,
    check_texts,
    name_apart,
    refused_because,
)

_SPACE_11: Final = "http://www.topografix.com/GPX/1/1"
_SPACE_OWN: Final = "urn:trapline:place:1"
# xsd:decimal, and the exponent that some writers put out for small numbers.
_DECIMAL: Final = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
_MAX_DEPTH_M: Final = 11_000.0
# What XML 1.0 cannot carry at all (section 2.2, production Char).
_NOT_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def read_gpx(data: bytes, name: str) -> FoundPlaces:
    """Return the places and tracks in a GPX file; route points only where no waypoints are.

    Raises
    ------
    InputProblem
        The file as a whole is not usable: names line or byte. A single bad waypoint
        does not raise; it stands under `refused`.
    """
    root = read_xml(data, name)
    if root.tag != "gpx":
        raise InputProblem(
            f"The file holds '{shown(root.tag)}', not GPX.",
            f"{name}, line {root.line}",
            "Export the waypoints as GPX and use that file.",
        )
    unit, points = "waypoint", root.all("wpt")
    if not points:
        unit = "route point"
        points = [point for route in root.all("rte") for point in route.all("rtept")]
    tracks, refused = _tracks(root, name)
    if not points and not tracks and not refused:
        raise InputProblem(
            "The file holds no waypoint, route or track.",
            f"{name}, line {root.line}",
            "Export the waypoints again.",
        )
    places: list[FoundPlace] = []
    for row, point in enumerate(points, start=1):
        where = f"{name}, {unit} {row}, line {point.line}"
        try:
            places.append(_place(point, row, where))
        except InputProblem as problem:
            refused.append(refused_because(problem, row, where, _as_written(point)))
    kept, doubles = name_apart(places)
    return FoundPlaces(
        source=name,
        format=f"GPX {shown(root.attributes.get('version', ''), 8)}".strip(),
        places=kept,
        refused=tuple(sorted((*refused, *doubles), key=lambda one: one.row)),
        tracks=tuple(tracks),
        unit=unit,
    )


def _as_written(point: Element) -> str:
    pairs = [
        f'{key}="{point.attributes[key]}"' for key in ("lat", "lon") if key in point.attributes
    ]
    return " ".join([*pairs, clean_label(point.first_text("name"))]).strip()


def _degrees(point: Element, attribute: str, limit: float) -> float:
    """Return one coordinate of a point in decimal degrees; GPX knows no other way to write it."""
    text = point.attributes.get(attribute)
    word = "latitude" if attribute == "lat" else "longitude"
    if text is None:
        raise InvalidValue(f"The {word} is missing.", word, f'Add {attribute}="…" to the point.')
    if not _DECIMAL.fullmatch(text.strip()):
        raise InvalidValue(
            f"The {word} '{shown(text)}' is not a number of degrees.",
            word,
            "Write decimal degrees with a dot.",
        )
    value = float(text) + 0.0  # no minus zero
    if not abs(value) <= limit:
        raise InvalidValue(
            f"The {word} {shown(text)} is not between -{limit:g} and {limit:g}.",
            word,
            "Correct it, and check that latitude and longitude are not swapped.",
        )
    return value


def _place(point: Element, row: int, where: str) -> FoundPlace:
    lat_deg = _degrees(point, "lat", 90.0)
    lon_deg = _degrees(point, "lon", 180.0)
    label = clean_label(point.first_text("name"))
    note = _note(point)
    check_texts(label, note)
    return FoundPlace(label, lon_deg, lat_deg, _depth_m(point), note, row, where)


def _note(point: Element) -> str:
    """Return comment, description, symbol and elevation; many devices write one text twice."""
    texts = [clean_note(point.first_text("cmt")), clean_note(point.first_text("desc"))]
    for tag, word in (("sym", "symbol"), ("ele", "elevation")):
        text = clean_label(point.first_text(tag))
        texts.append(f"{word}: {text}" if text else "")
    return "; ".join(dict.fromkeys(text for text in texts if text))


def _depth_m(point: Element) -> float | None:
    """Return the depth in metres from the point's extensions: our own, or one called depth."""
    waiting = [child for child in point.children if child.tag == "extensions"]
    while waiting:
        element = waiting.pop()
        waiting.extend(element.children)
        own = element.space == _SPACE_OWN and element.tag == "depth_m"
        if not own and element.tag.lower() != "depth":
            continue
        value = float(element.text) if _DECIMAL.fullmatch(element.text) else math.nan
        if not 0.0 <= value <= _MAX_DEPTH_M:
            raise InvalidValue(
                f"The depth '{shown(element.text)}' is not between 0 and {_MAX_DEPTH_M:g} m.",
                "depth",
                "Write metres below the surface, or leave it out.",
            )
        return value
    return None


def _tracks(root: Element, name: str) -> tuple[list[Track], list[Refused]]:
    """Return one track for each unbroken segment; a bad point is left out and reported."""
    tracks: list[Track] = []
    refused: list[Refused] = []
    for number, track in enumerate(root.all("trk"), start=1):
        label = clean_label(track.first_text("name")) or f"Track {number}"
        segments = [segment for segment in track.all("trkseg") if segment.all("trkpt")]
        for part, segment in enumerate(segments, start=1):
            title = label if len(segments) == 1 else f"{label}, part {part}"
            lon_deg, lat_deg = [], []
            for place, point in enumerate(segment.all("trkpt"), start=1):
                try:
                    lat, lon = _degrees(point, "lat", 90.0), _degrees(point, "lon", 180.0)
                except InputProblem as problem:
                    where = f"{name}, track '{shown(title)}', point {place}, line {point.line}"
                    refused.append(refused_because(problem, 0, where, _as_written(point)))
                    continue
                lon_deg.append(lon)
                lat_deg.append(lat)
            if len(lon_deg) > 1:
                tracks.append(Track(title, tuple(lon_deg), tuple(lat_deg)))
                continue
            where = f"{name}, track '{shown(title)}', line {segment.line}"
            short = InputProblem("A track needs two sound points.", "", "Record it again.")
            refused.append(refused_because(short, 0, where, f"{len(lon_deg)} sound points"))
    return tracks, refused


def write_gpx(places: Iterable[FoundPlace], name: str) -> bytes:
    """Return a GPX 1.1 file; a place without a position is left out, as GPX has no such thing.

    Coordinates carry 7 decimals (1 cm). A note goes into ``cmt`` and ``desc``, as devices
    keep one or the other; the depth goes into an extension, which devices drop and GIS keep.

    Raises
    ------
    InvalidValue
        A position or depth outside its range: names the place.
    """
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<gpx xmlns="{_SPACE_11}" xmlns:trapline="{_SPACE_OWN}" version="1.1"'
        f' creator="trapline {__version__}">',
        f"<metadata><name>{_escaped(name)}</name></metadata>",
    ]
    for place in places:
        if place.lon_deg is None and place.lat_deg is None:
            continue
        lon_deg = _written(place, place.lon_deg, "longitude", -180.0, 180.0)
        if lon_deg == "180.0000000":  # the schema's longitudeType ends below 180
            lon_deg = "-180.0000000"
        lat_deg = _written(place, place.lat_deg, "latitude", -90.0, 90.0)
        # The schema fixes this order: name, cmt, desc, extensions.
        parts = [f'<wpt lat="{lat_deg}" lon="{lon_deg}"><name>{_escaped(place.label)}</name>']
        if place.note:
            note = _escaped(place.note)
            parts.append(f"<cmt>{note}</cmt><desc>{note}</desc>")
        if place.depth_m is not None:
            depth = _written(place, place.depth_m, "depth", 0.0, _MAX_DEPTH_M, digits=2)
            parts.append(f"<extensions><trapline:depth_m>{depth}</trapline:depth_m></extensions>")
        lines.append("".join([*parts, "</wpt>"]))
    lines.append("</gpx>\n")
    return "\n".join(lines).encode("utf-8")


def _written(
    place: FoundPlace, value: float | None, word: str, low: float, high: float, digits: int = 7
) -> str:
    if value is None or not low <= value <= high:
        raise InvalidValue(
            f"Place '{shown(place.label)}' has the {word} {value}, which cannot be exported.",
            place.label,
            f"Correct the {word}.",
        )
    return f"{value:.{digits}f}"


def _escaped(text: str) -> str:
    return html.escape(
        _NOT_XML.sub("", text.replace("\r\n", "\n").replace("\r", "\n")), quote=False
    )

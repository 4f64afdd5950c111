"""The parts of the GeoPackage standard that the project file needs.

References
----------
OGC 12-128r17, GeoPackage Encoding Standard 1.3: clause 2.1.3 (geometry blob),
clause 1.1.1 (application id and user version).
"""

import math
import sqlite3
import struct
from collections.abc import Callable
from typing import Final

from trapline.model.changes import Changes

APPLICATION_ID: Final = 0x47504B47
USER_VERSION: Final = 10300
SRS_WGS84: Final = 4326
FEATURES: Final = frozenset({"place", "trap_set"})

# 'GP', version 0, flags: little endian, no envelope; srs id; then a WKB point.
_HEADER = struct.Struct("<2sBBi")
_POINT = struct.Struct("<BIdd")
# Bytes that follow the header for each envelope kind (clause 2.1.3, table 15).
_ENVELOPE_BYTES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}


def point_blob(lon_deg: float, lat_deg: float) -> bytes:
    """Return the 29-byte GeoPackage blob of a WGS 84 point."""
    return _HEADER.pack(b"GP", 0, 1, SRS_WGS84) + _POINT.pack(1, 1, lon_deg, lat_deg)


def point_of(blob: bytes | None) -> tuple[float, float] | None:
    """Return (lon_deg, lat_deg) of a GeoPackage point blob; None when it is empty or absent.

    Reads what a GIS may have written too: either byte order, an envelope, Z or M.

    Raises
    ------
    ValueError
        The blob is no GeoPackage point.
    """
    if blob is None:
        return None
    if len(blob) < 8 or blob[:2] != b"GP":
        raise ValueError("not a GeoPackage geometry")
    flags = blob[3]
    if flags & 0b10000:
        return None
    envelope = _ENVELOPE_BYTES.get((flags >> 1) & 0b111)
    if envelope is None:
        raise ValueError("an unknown kind of GeoPackage envelope")
    start = 8 + envelope
    if len(blob) < start + 21:
        raise ValueError("a truncated GeoPackage geometry")
    order = "<" if blob[start] == 1 else ">"
    (kind,) = struct.unpack_from(order + "I", blob, start + 1)
    if kind % 1000 != 1:
        raise ValueError(f"geometry type {kind}, not a point")
    lon_deg, lat_deg = struct.unpack_from(order + "dd", blob, start + 5)
    if math.isnan(lon_deg) or math.isnan(lat_deg):
        return None
    return lon_deg, lat_deg


def envelope_functions() -> dict[str, Callable[[bytes | None], float | None]]:
    """Return the five functions that the spatial index triggers of a GIS call (clause F.3).

    A GIS adds such an index to our tables; without these functions our next
    write would then fail.
    """

    def longitude(blob: bytes | None) -> float | None:
        point = point_of(blob)
        return point[0] if point else None

    def latitude(blob: bytes | None) -> float | None:
        point = point_of(blob)
        return point[1] if point else None

    def is_empty(blob: bytes | None) -> int | None:
        return None if blob is None else int(point_of(blob) is None)

    return {
        "ST_MinX": longitude,
        "ST_MaxX": longitude,
        "ST_MinY": latitude,
        "ST_MaxY": latitude,
        "ST_IsEmpty": is_empty,
    }


def note_contents(db: sqlite3.Connection, changes: Changes) -> None:
    """Write when each touched layer changed last, and widen the box of those with points.

    The box may be wider than what is in it; it never needs to shrink (clause 1.1.3.1.1).
    """
    points: dict[str, list[tuple[float, float]]] = {}
    for row in changes.rows:
        lon_deg, lat_deg = (getattr(row.after, name, None) for name in ("lon_deg", "lat_deg"))
        if row.table in FEATURES and lon_deg is not None and lat_deg is not None:
            points.setdefault(row.table, []).append((lon_deg, lat_deg))
    for table in changes.tables:
        db.execute(
            "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
            " WHERE table_name = ?",
            (table,),
        )
    for table, found in points.items():
        lon_degs, lat_degs = zip(*found, strict=True)
        db.execute(
            "UPDATE gpkg_contents SET min_x = min(ifnull(min_x, :w), :w),"
            " max_x = max(ifnull(max_x, :e), :e), min_y = min(ifnull(min_y, :s), :s),"
            " max_y = max(ifnull(max_y, :n), :n) WHERE table_name = :table",
            {
                "w": min(lon_degs),
                "e": max(lon_degs),
                "s": min(lat_degs),
                "n": max(lat_degs),
                "table": table,
            },
        )

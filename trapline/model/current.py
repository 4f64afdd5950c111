"""A current as people type it: a speed with its unit, and where it flows *towards*."""

import math
import re
from typing import Final

from trapline.errors import InvalidValue
from trapline.units import METRES_PER_SECOND

SPEED_LABEL: Final = "Current speed"
TOWARDS_LABEL: Final = "Current flows towards"
# The sixteen points of the compass, 22.5° apart.
POINTS: Final = (
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE",
    "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW",
)  # fmt: skip
_LETTERS: Final = {"north": "N", "east": "E", "south": "S", "west": "W"}
_SPEED: Final = re.compile(r"\s*([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*([a-z/]*)\s*", re.IGNORECASE)
_DEGREES: Final = re.compile(r"\s*([0-9]{1,3}(?:[.,][0-9]+)?)\s*°?\s*")


def parse_speed(text: str) -> float:
    """Return a typed speed in m/s: ``0.2``, ``20 cm/s``, ``0,5 kn``.

    Raises
    ------
    InvalidValue
        No number, or a unit that is not known.
    """
    match = _SPEED.fullmatch(text)
    unit = match[2].lower() or "m/s" if match else ""
    unit = {"kt": "kn", "knots": "kn", "knot": "kn", "kmh": "km/h"}.get(unit, unit)
    if match is None or unit not in METRES_PER_SECOND:
        raise InvalidValue(
            f"'{text.strip()}' is not a speed." if text.strip() else "The speed is empty.",
            SPEED_LABEL,
            f"Write a number and {', '.join(METRES_PER_SECOND)}, for example 20 cm/s.",
        )
    return float(match[1].replace(",", ".")) * METRES_PER_SECOND[unit]


def parse_towards(text: str) -> float:
    """Return a typed direction in degrees clockwise from north: ``225``, ``SW``, ``south-west``.

    Raises
    ------
    InvalidValue
        Neither degrees from 0 to 360 nor one of the sixteen points of the compass.
    """
    match = _DEGREES.fullmatch(text)
    if match:
        degrees = float(match[1].replace(",", "."))
        if degrees <= 360.0:
            return degrees
    word = re.sub(r"[\s-]+", "", text.casefold())
    for name, letter in _LETTERS.items():
        word = word.replace(name, letter)
    if word.upper() in POINTS:
        return POINTS.index(word.upper()) * 22.5
    raise InvalidValue(
        f"'{text.strip()}' is not a direction." if text.strip() else "The direction is empty.",
        TOWARDS_LABEL,
        "Write degrees from 0 to 360, or a word like NE.",
    )


def point_of(degrees: float) -> str:
    """Return the point of the compass that is nearest to a direction in degrees."""
    if not math.isfinite(degrees):
        raise InvalidValue(f"{degrees} is not a direction.", "", "Leave out what is not known.")
    return POINTS[math.floor(degrees % 360.0 / 22.5 + 0.5) % 16]

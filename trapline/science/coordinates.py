"""Positions as text, in decimal degrees: reading what is typed or pasted, and writing it.

Written: latitude first, as maps, phones and the geo URI (RFC 5870) do. Inside the program
longitude comes first. What has two meanings is refused, never guessed.
"""

import math
import re
from typing import Final, Literal, TypeAlias

from trapline.errors import InvalidValue

Axis: TypeAlias = Literal["lat", "lon"]

NOUNS: Final[dict[Axis, str]] = {"lat": "latitude", "lon": "longitude"}
LETTERS: Final[dict[Axis, str]] = {"lat": "NS", "lon": "EW"}
LIMITS_DEG: Final[dict[Axis, float]] = {"lat": 90.0, "lon": 180.0}
EXAMPLES: Final[dict[Axis, str]] = {"lat": "45.123456", "lon": "-7.654321"}
POSITION_EXAMPLE: Final = f"{EXAMPLES['lat']}, {EXAMPLES['lon']}"

# The degree sign, and what is often found in its place: the ordinal sign and the ring above.
_RINGS: Final = "°º\u02da"
# [0-9] and not \d: digits of other scripts are refused.
_DEGREES = re.compile(
    r"\s*(?P<before>[NSEW]?)\s*(?P<sign>[-+\u2212]?)\s*"
    r"(?P<number>[0-9]+(?:[.,][0-9]+|\.)?|\.[0-9]+)"
    rf"\s*[{_RINGS}]?\s*(?P<after>[NSEW]?)\s*",
    re.IGNORECASE,
)
# Marks that only minutes and seconds have, or a number that follows the degree sign.
_MINUTES = re.compile(rf"[0-9]\s*(?:['\"′″’‘”“:]|[{_RINGS}d]\s*[0-9]|d\b)", re.IGNORECASE)
_LOOSE_COMMA = re.compile(r"(?<![0-9]),|,(?![0-9])")
# Numbers with a comma that may be a decimal comma; words and URIs are something else.
_TIGHT_COMMA = re.compile(r"[^a-z:]*[0-9],[0-9][^a-z:]*", re.IGNORECASE)


def _shown(text: str) -> str:
    """Return text short enough to stand in a message."""
    return text if len(text) <= 60 else text[:57] + "…"


def _refusal(text: str, noun: str, example: str) -> InvalidValue:
    """Return the error for a text that is not decimal degrees at all."""
    if not text.strip():
        error = f"The {noun} is empty."
    elif _MINUTES.search(text):
        error = f"'{_shown(text)}' is in degrees and minutes, not in decimal degrees."
    else:
        error = f"'{_shown(text)}' is not a {noun} in decimal degrees."
    return InvalidValue(error, noun, f"Write decimal degrees, for example {example}.")


def _letter(match: re.Match[str]) -> str:
    """Return the hemisphere letter, upper case; empty without one, two letters with two."""
    return (match["before"] + match["after"]).upper()


def _value(match: re.Match[str], axis: Axis) -> float:
    """Return signed degrees of one matched number, checked against its axis."""
    noun, text, letter = NOUNS[axis], _shown(match[0].strip()), _letter(match)
    if len(letter) > 1 or (letter and match["sign"]):
        raise InvalidValue(
            f"'{text}' says its hemisphere twice.", noun, "Keep the sign or one letter."
        )
    if letter and letter not in LETTERS[axis]:
        letters = " or ".join(LETTERS[axis])
        raise InvalidValue(
            f"'{text}' is not a {noun}.", noun, f"A {noun} is {letters}: check the order."
        )
    degrees = float(match["number"].replace(",", "."))
    if degrees > LIMITS_DEG[axis]:
        raise InvalidValue(
            f"'{text}' is outside -{LIMITS_DEG[axis]:.0f} to {LIMITS_DEG[axis]:.0f} degrees.",
            noun,
            "Check the number, and that latitude and longitude are not swapped.",
        )
    is_negative = match["sign"] in ("-", "\u2212") if match["sign"] else letter in ("S", "W")
    # Adding zero turns -0.0 into 0.0.
    return (-degrees if is_negative else degrees) + 0.0


def parse_degrees(text: str, axis: Axis) -> float:
    """Return a typed latitude or longitude in decimal degrees, north and east positive.

    Parameters
    ----------
    text : str
        A number with a dot or a comma; a sign, or N, S, E or W before or after it; a degree sign
        or none.
    axis : {'lat', 'lon'}
        Which of the two it is.

    Returns
    -------
    float
        -90 to 90 or -180 to 180.

    Raises
    ------
    InvalidValue
        Empty, not a number, outside the range, a sign and a letter both, the letter of the other
        axis, or degrees and minutes.

    Examples
    --------
    >>> parse_degrees("7,654321° W", "lon")
    -7.654321
    """
    match = _DEGREES.fullmatch(text)
    if match is None:
        raise _refusal(text, NOUNS[axis], EXAMPLES[axis])
    return _value(match, axis)


def _splits(text: str) -> list[tuple[str, str]]:
    """Return every way to cut the text into two parts."""
    if ";" in text or "/" in text:
        cuts = list(re.finditer("[;/]", text))
    elif "." in text:
        cuts = list(re.finditer(",", text))
    else:
        # Without a dot a comma between two digits may be a decimal comma and never separates.
        cuts = list(_LOOSE_COMMA.finditer(text))
    parts = [(text[: cut.start()], text[cut.end() :]) for cut in cuts]
    if parts:
        return parts if len(parts) == 1 else []
    parts = [(text[: s.start()], text[s.end() :]) for s in re.finditer(r"\s+", text)]
    # "45° 27.5" is one angle in degrees and minutes; "45.5° 27.5°" is two.
    return [(a, b) for a, b in parts if a[-1] not in _RINGS or any(r in b for r in _RINGS)]


def _axes(first: re.Match[str], second: re.Match[str]) -> tuple[Axis, Axis]:
    """Return which axis is which, by the letters; latitude first where they do not say."""
    is_lon_first = _letter(first) in ("E", "W") or _letter(second) in ("N", "S")
    return ("lon", "lat") if is_lon_first else ("lat", "lon")


def parse_position(text: str) -> tuple[float, float]:
    """Return longitude and latitude, in decimal degrees, of one pasted ``lat, lon``.

    Parameters
    ----------
    text : str
        Latitude, then longitude; the other way round only where a letter says so. Between them a
        comma, semicolon, slash or space. Decimal commas need one of the others, or a space
        after the comma between.

    Returns
    -------
    lon_deg, lat_deg : float
        In this order: longitude first, unlike the text.

    Raises
    ------
    InvalidValue
        Not two numbers, each as :func:`parse_degrees` takes it; a text with two meanings, such
        as ``52,1,4,5`` or ``52,4``; degrees and minutes.

    References
    ----------
    RFC 5870 (2010), section 3.4.2: latitude, then longitude, in decimal degrees of WGS 84.

    Examples
    --------
    >>> parse_position("45.123456, -7.654321")
    (-7.654321, 45.123456)
    """
    text = text.strip()
    pairs = [(_DEGREES.fullmatch(a), _DEGREES.fullmatch(b)) for a, b in _splits(text)]
    readings = [(a, b) for a, b in pairs if a and b and len(_letter(a)) < 2 and len(_letter(b)) < 2]
    if len(readings) > 1:
        raise InvalidValue(
            f"'{_shown(text)}' can be read in two ways.",
            "position",
            f"Put a comma between the two, for example {POSITION_EXAMPLE}.",
        )
    if not readings:
        if _TIGHT_COMMA.fullmatch(text) and not _MINUTES.search(text):
            raise InvalidValue(
                f"'{_shown(text)}' has a comma that may be a decimal comma or not.",
                "position",
                f"Write decimal degrees with dots, for example {POSITION_EXAMPLE}.",
            )
        raise _refusal(text, "position", POSITION_EXAMPLE)
    first, second = readings[0]
    axes = _axes(first, second)
    values = dict(zip(axes, (_value(first, axes[0]), _value(second, axes[1])), strict=True))
    return values["lon"], values["lat"]


def degrees_text(degrees: float, digits: int = 6) -> str:
    """Return decimal degrees as text: signed, with a dot, as :func:`parse_degrees` reads it.

    Parameters
    ----------
    degrees : float
        Any finite number.
    digits : int
        Decimals, 0 to 15. Six are 0.11 m of latitude, more than a handheld receiver knows.

    Raises
    ------
    InvalidValue
        Not a finite number.

    Examples
    --------
    >>> degrees_text(-7.6543211)
    '-7.654321'
    """
    if not math.isfinite(degrees):
        raise InvalidValue(f"{degrees} is not a finite number of degrees.")
    # Rounding first, so that a tiny negative number is not written as -0.000000.
    return f"{round(float(degrees), digits) + 0.0:.{digits}f}"


def position_text(lon_deg: float, lat_deg: float, digits: int = 6) -> str:
    """Return a position as ``lat, lon`` in decimal degrees, as :func:`parse_position` reads it.

    Parameters
    ----------
    lon_deg, lat_deg : float
        Degrees, east and north positive; longitude first, unlike the text.
    digits : int
        Decimals, 1 to 15; six are 0.11 m of latitude.

    Raises
    ------
    InvalidValue
        Not a finite number.

    Examples
    --------
    >>> position_text(-7.654321, 45.123456)
    '45.123456, -7.654321'
    """
    return f"{degrees_text(lat_deg, digits)}, {degrees_text(lon_deg, digits)}"

"""Every conversion factor and display rule.

Inside the program lengths are metres, speeds m/s, temperatures °C, masses kg.
"""

import math
import re
from typing import Final

from trapline.errors import InvalidValue

# Exact by definition: international yard and pound agreement of 1959 (NIST Special
# Publication 811, appendix B.8): 1 yd = 0.9144 m, 1 lb = 0.45359237 kg.
METRES: Final[dict[str, float]] = {
    "m": 1.0,
    "ft": 0.3048,
    "yd": 0.9144,
    "fathom": 1.8288,
    "km": 1000.0,
    "cm": 0.01,
}
KILOGRAMS: Final[dict[str, float]] = {"kg": 1.0, "g": 0.001, "lb": 0.45359237}
# 1 knot = 1 nautical mile an hour = 1852 m / 3600 s (SP 811, appendix B.8).
METRES_PER_SECOND: Final[dict[str, float]] = {
    "m/s": 1.0,
    "cm/s": 0.01,
    "kn": 1852.0 / 3600.0,
    "km/h": 1000.0 / 3600.0,
}

# [0-9] and not \d: digits of other scripts are refused.
_LENGTH = re.compile(
    r"\s*([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:e[+-]?[0-9]+)?)\s*([a-z]*)\s*", re.IGNORECASE
)
# "1,500" is one and a half to some and fifteen hundred to others.
_AMBIGUOUS = re.compile(r"\s*[+-]?[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")


def parse_length(text: str, default_unit: str = "m") -> float:
    """Return a typed length in metres: ``10m``, ``33 ft``, ``1,5``, ``11 yd``, ``2 fathom``.

    Parameters
    ----------
    text : str
        A number with a dot or a comma, then nothing or a unit.
    default_unit : str
        The unit of a bare number.

    Raises
    ------
    InvalidValue
        Not a length, an unknown unit, not finite, or a comma that may part thousands: ``1,500``.
    """
    if _AMBIGUOUS.match(text):
        raise InvalidValue(
            f"'{text}' has a comma that may be a decimal comma or not.",
            "",
            "Write a dot for decimals and nothing for thousands.",
        )
    match = _LENGTH.fullmatch(text)
    unit = (match.group(2).lower() or default_unit) if match else ""
    if match is None or unit not in METRES:
        raise InvalidValue(
            f"'{text}' is not a length.", "", "Write a number and m, ft or yd, for example 10m."
        )
    metres = float(match.group(1).replace(",", ".")) * METRES[unit]
    if not math.isfinite(metres):
        raise InvalidValue(f"'{text}' is too large for a length.", "", "Write a smaller one.")
    return metres


def length_text(metres: float, unit: str = "m") -> str:
    """Return a length as shown, with its unit: two decimals under 10, one under 100, none above.

    Raises
    ------
    InvalidValue
        Not finite: what is not known is not written as a number.
    """
    if not math.isfinite(metres):
        raise InvalidValue(f"{metres} is not a length.", "", "Leave out what is not known.")
    value = metres / METRES[unit]
    digits = 2 if abs(value) < 9.995 else 1 if abs(value) < 99.95 else 0
    # Adding zero after rounding turns -0.00 into 0.00.
    return f"{round(value, digits) + 0.0:.{digits}f} {unit}"


def celsius_from_fahrenheit(fahrenheit: float) -> float:
    """Return °C from °F (NIST SP 811, appendix B.8: (t - 32) / 1.8)."""
    return (fahrenheit - 32.0) / 1.8


def fahrenheit_from_celsius(celsius: float) -> float:
    """Return °F from °C (NIST SP 811, appendix B.8)."""
    return celsius * 1.8 + 32.0

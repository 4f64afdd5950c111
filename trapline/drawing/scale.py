"""Round lengths for the scale bar and the grid. No Qt here."""

import math
from dataclasses import dataclass

from trapline.units import METRES


@dataclass(frozen=True, slots=True)
class ScaleBar:
    """A bar of a round length, how long it is drawn, and what is written on it."""

    length_m: float
    length_px: float
    text: str


def round_down(value: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not more than `value`."""
    power = 10.0 ** math.floor(math.log10(value))
    # 1e-9: a value that is round but for its last bits is itself.
    for step in (5.0, 2.0):
        if value * (1 + 1e-9) >= step * power:
            return step * power
    return power


def scale_bar(metres_per_px: float, longest_px: float, unit: str = "m") -> ScaleBar:
    """Return the longest round bar that fits, of a whole number of the unit where it can be."""
    factor = METRES[unit]
    length = round_down(longest_px * metres_per_px / factor)
    length_m = length * factor
    return ScaleBar(length_m, length_m / metres_per_px, length_label(length, unit))


def grid_step_m(metres_per_px: float, least_px: float, unit: str = "m") -> float:
    """Return the smallest round step, in metres, whose lines stand at least so far apart."""
    factor = METRES[unit]
    least = least_px * metres_per_px / factor
    step = round_down(least)
    while step < least * (1 - 1e-9):
        # 1 → 2 → 5 → 10: the next round number is within 2.5 times.
        step = round_down(step * 2.5)
    return step * factor


def length_label(length: float, unit: str) -> str:
    """Return a round length with its unit: kilometres for long ones, centimetres for short."""
    if unit == "m" and length >= 1000:
        return f"{length / 1000:g} km"
    if unit == "m" and length < 1:
        return f"{length * 100:g} cm"
    return f"{length:g} {unit}"

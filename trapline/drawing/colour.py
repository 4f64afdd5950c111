"""Arithmetic of colours written as ``#rrggbb``."""

# How far towards the ground a greyed-out word fades: it must still be read in the sun.
GREYED = 0.34


def contrast(colour: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, relative luminance)."""
    low, high = sorted((_luminance(colour), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    def linear(channel: float) -> float:
        return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(int(colour[at : at + 2], 16) / 255) for at in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def mixed(colour: str, other: str, share: float) -> str:
    """Return `colour` with a `share` (0..1) of `other` mixed into it."""
    pairs = ((int(colour[at : at + 2], 16), int(other[at : at + 2], 16)) for at in (1, 3, 5))
    return "#" + "".join(f"{round(one + (two - one) * share):02x}" for one, two in pairs)

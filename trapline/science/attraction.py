"""Circles of attraction round traps: what two share, and what a line of them covers.

Formulas of plane circles only; the shapes drawn on the map are in plume.py.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import not_negative, not_negative_array, positive


def lens_area(
    radius_m: ArrayLike, other_radius_m: ArrayLike, distance_m: ArrayLike
) -> NDArray[np.float64]:
    """Return the area that two circles share, in square metres.

    Parameters
    ----------
    radius_m, other_radius_m : array_like of float, shape (n,) or scalar
        The two radii, metres, 0 or more.
    distance_m : array_like of float, shape (n,) or scalar
        Between the two centres, metres, 0 or more. The three are broadcast.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        Square metres. 0 where the circles are apart or only touch, the smaller
        circle where it lies inside the larger.

    Raises
    ------
    InvalidValue
        A value is negative, NaN or infinite; names the first offending index.

    References
    ----------
    Elementary geometry: two circular segments. The closed form for unequal
    circles as in Weisstein, Circle-Circle Intersection, MathWorld, eq. 14 (from
    memory).

    Examples
    --------
    >>> round(float(lens_area(10, 10, 15)), 4)
    45.3312
    >>> round(float(lens_area(10, 6, 12)), 4)
    27.7085
    """
    first, second, apart = np.broadcast_arrays(
        not_negative_array(radius_m, "radius_m"),
        not_negative_array(other_radius_m, "other_radius_m"),
        not_negative_array(distance_m, "distance_m"),
    )
    inside = apart <= np.abs(first - second)
    crossing = ~inside & (apart < first + second)
    area = np.where(inside, math.pi * np.minimum(first, second) ** 2, 0.0)
    r1, r2, d = first[crossing], second[crossing], apart[crossing]
    # Half the angle that each circle's segment spans, seen from its centre; clipped because
    # rounding can put the cosine a hair beyond 1 where the circles almost touch.
    half1 = np.arccos(np.clip((d + (r1 - r2) * (r1 + r2) / d) / (2 * r1), -1, 1))
    half2 = np.arccos(np.clip((d + (r2 - r1) * (r2 + r1) / d) / (2 * r2), -1, 1))
    area[crossing] = _segment(r1, half1) + _segment(r2, half2)
    return area


def _segment(radius_m: NDArray[np.float64], half_rad: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the area of a circular segment in m²: the sector less its triangle."""
    segment: NDArray[np.float64] = half_rad - np.sin(half_rad) * np.cos(half_rad)
    return segment * radius_m * radius_m


def line_area(radius_m: float, spacing_m: float, n_traps: int) -> float:
    """Return the area covered by a straight line of equal circles, in square metres.

    Exact for every spacing, however close: the centres lie on one line, so a
    point that lies in two circles lies in every circle between them, and each
    circle adds only what its forerunner left.

    Parameters
    ----------
    radius_m : float
        Of every circle, metres, above 0.
    spacing_m : float
        Between neighbouring centres, metres, 0 or more.
    n_traps : int
        1 or more.

    Returns
    -------
    float
        Square metres, from one circle (spacing 0) to `n_traps` circles. For a
        bent line use the union of the shapes instead.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Arena, Barea & Defeo (1994), Fish. Res. 19, 349-362: the total area of influence of
    a line of traps, allowing for overlap (abstract read). The closed form is elementary.

    Examples
    --------
    >>> round(line_area(10, 15, 10), 4)
    2733.6121
    """
    radius, spacing = positive(radius_m, "radius_m"), not_negative(spacing_m, "spacing_m")
    if n_traps < 1 or n_traps != int(n_traps):
        raise InvalidValue(
            f"n_traps is {n_traps}; a line has at least one trap.", "n_traps", "Give 1 or more."
        )
    shared = float(lens_area(radius, radius, spacing))
    return n_traps * math.pi * radius**2 - (n_traps - 1) * shared


def end_to_interior_ratio(radius_m: float, spacing_m: float) -> float:
    """Return how much more ground an end trap draws from than an interior one, as a ratio.

    Each overlap is shared equally between its two traps. A measured ratio of
    mean catches above 1 suggests that traps along the line share animals.

    Parameters
    ----------
    radius_m : float
        Of every circle of attraction, metres, above 0.
    spacing_m : float
        Between neighbours, metres, at least `radius_m`: closer, three circles
        meet in one place and sharing in two is wrong.

    Returns
    -------
    float
        1 where the circles are apart, above 1 where they overlap.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Bell, Addison & Bannister (2001), Mar. Freshw. Res. 52, 1233-1242: traps at the ends of
    a string catch most when traps interact (abstract read). The ratio is elementary.

    Examples
    --------
    >>> round(end_to_interior_ratio(10, 15), 4)
    1.0843
    """
    radius, spacing = positive(radius_m, "radius_m"), positive(spacing_m, "spacing_m")
    if spacing < radius:
        raise InvalidValue(
            f"spacing_m is {spacing:g}, less than the radius {radius:g}.",
            "spacing_m",
            "Give a spacing of at least the radius.",
        )
    circle = math.pi * radius**2
    shared = float(lens_area(radius, radius, spacing))
    return (circle - shared / 2) / (circle - shared)

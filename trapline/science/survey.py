"""Places laid out by bearing and distance, with rope and compass: numbers in, positions out.

Also the pots on one rope between two ends. Measuring what was laid out is in spacing.py.
"""

import math
from typing import Final

import numpy as np

from trapline.errors import InvalidValue
from trapline.science.geodesy import (
    FloatArray,
    bearing_and_distance,
    destination,
    geodesic_distance,
    wrapped_longitude,
)

# More than anyone sets on one line; a mistyped spacing is refused instead of filling the memory.
MOST_PLACES: Final = 100_000
# A place that misses the end by less than this still fits: rounding, not distance.
ROUNDING_M: Final = 1e-6


def _refuse_number(n: int, fewest: int) -> None:
    if not fewest <= n <= MOST_PLACES:
        raise InvalidValue(
            f"{n} places cannot be laid out.",
            "number of places",
            f"Give a number from {fewest} to {MOST_PLACES}.",
        )


def _refuse_spacing(spacing_m: float) -> None:
    if not (math.isfinite(spacing_m) and spacing_m > 0.0):
        raise InvalidValue(
            f"The spacing {spacing_m} is not a length above 0 m.", "spacing", "Give it in metres."
        )


def _line(
    lon_deg: float, lat_deg: float, to_lon_deg: float, to_lat_deg: float
) -> tuple[float, float]:
    """Return bearing (degrees) and length (m) of a line whose two ends differ."""
    bearing, length_m = bearing_and_distance(lon_deg, lat_deg, to_lon_deg, to_lat_deg)
    if length_m == 0.0:
        raise InvalidValue(
            "The two ends are the same place, so there is no line between them.",
            "end of the line",
            "Move one of them, or give a bearing.",
        )
    return bearing, length_m


def place_from(
    lon_deg: float, lat_deg: float, bearing_deg: float, distance_m: float
) -> tuple[float, float]:
    """Return the place at a bearing and distance from a known one, as lon and lat in degrees.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The known place. Degrees, east and north positive; latitude -90 to 90.
    bearing_deg : float
        Degrees clockwise from true north (not magnetic) at the known place.
    distance_m : float
        Metres over the water, 0 or more.

    Returns
    -------
    lon_deg, lat_deg : float
        Longitude in -180..180.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, a negative distance, or anything that is not finite.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the direct problem.

    Examples
    --------
    >>> lon_deg, lat_deg = place_from(7.0, 45.0, 90.0, 10.0)
    >>> round(lon_deg, 6), round(lat_deg, 6)
    (7.000127, 45.0)
    """
    return destination(lon_deg, lat_deg, bearing_deg, distance_m)


def places_along(
    lon_deg: float, lat_deg: float, to_lon_deg: float, to_lat_deg: float, n: int
) -> tuple[FloatArray, FloatArray]:
    """Return n evenly spaced places from one end to the other, as lon and lat in degrees.

    Parameters
    ----------
    lon_deg, lat_deg, to_lon_deg, to_lat_deg : float
        The two ends. Degrees, east and north positive; latitudes -90 to 90.
    n : int
        Number of places, both ends among them, 2 to 100,000.

    Returns
    -------
    lon_deg, lat_deg : ndarray of float, shape (n,)
        Along the geodesic; the first and the last are the ends themselves. Longitudes in
        -180..180.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, anything that is not finite, two ends on one place, or such
        a number.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55.

    Examples
    --------
    >>> lon_deg, lat_deg = places_along(0.0, 0.0, 0.004, 0.0, 5)
    >>> lon_deg.round(6).tolist()
    [0.0, 0.001, 0.002, 0.003, 0.004]
    """
    _refuse_number(n, 2)
    bearing, length_m = _line(lon_deg, lat_deg, to_lon_deg, to_lat_deg)
    lon, lat = destination(lon_deg, lat_deg, bearing, np.linspace(0.0, length_m, n))
    lon[[0, -1]] = wrapped_longitude([lon_deg, to_lon_deg])
    lat[[0, -1]] = lat_deg, to_lat_deg
    return lon, lat


def places_every(
    lon_deg: float,
    lat_deg: float,
    to_lon_deg: float,
    to_lat_deg: float,
    spacing_m: float,
    n: int | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Return places a fixed spacing apart, from a start towards an end, as lon, lat in degrees.

    Parameters
    ----------
    lon_deg, lat_deg, to_lon_deg, to_lat_deg : float
        The start and the end. Degrees, east and north positive; latitudes -90 to 90.
    spacing_m : float
        Metres between neighbours, above 0.
    n : int, optional
        Number of places, 1 to 100,000. Those that do not fit before the end go on beyond it,
        along the same geodesic. Without it: as many as fit, the start always among them.

    Returns
    -------
    lon_deg, lat_deg : ndarray of float, shape (n,)
        The first is the start itself. Longitudes in -180..180.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, anything that is not finite, two ends on one place, a spacing
        of 0 or less, or more places than 100,000.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55.

    Examples
    --------
    >>> lon_deg, lat_deg = places_every(0.0, 0.0, 0.001, 0.0, 50.0)
    >>> lon_deg.round(6).tolist()
    [0.0, 0.000449, 0.000898]
    """
    _refuse_spacing(spacing_m)
    bearing, length_m = _line(lon_deg, lat_deg, to_lon_deg, to_lat_deg)
    if n is None:
        n = math.floor(min((length_m + ROUNDING_M) / spacing_m, float(MOST_PLACES))) + 1
    return places_on_bearing(lon_deg, lat_deg, bearing, spacing_m, n)


def places_on_bearing(
    lon_deg: float, lat_deg: float, bearing_deg: float, spacing_m: float, n: int
) -> tuple[FloatArray, FloatArray]:
    """Return n places a fixed spacing apart along a bearing, as lon and lat in degrees.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The first place. Degrees, east and north positive; latitude -90 to 90.
    bearing_deg : float
        Degrees clockwise from true north (not magnetic) at the first place.
    spacing_m : float
        Metres between neighbours, above 0.
    n : int
        Number of places, 1 to 100,000.

    Returns
    -------
    lon_deg, lat_deg : ndarray of float, shape (n,)
        Along the geodesic; the first is the given place itself. Longitudes in -180..180.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, anything that is not finite, a spacing of 0 or less, or such
        a number.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the direct problem.

    Examples
    --------
    >>> lon_deg, lat_deg = places_on_bearing(0.0, 0.0, 0.0, 100.0, 3)
    >>> lat_deg.round(6).tolist()
    [0.0, 0.000904, 0.001809]
    """
    _refuse_number(n, 1)
    _refuse_spacing(spacing_m)
    lon, lat = destination(
        lon_deg, lat_deg, bearing_deg, spacing_m * np.arange(n, dtype=np.float64)
    )
    lon[0], lat[0] = wrapped_longitude(lon_deg), lat_deg
    return lon, lat


def string_spacing_m(
    lon_deg: float, lat_deg: float, to_lon_deg: float, to_lat_deg: float, n: int
) -> float:
    """Return the distance in metres between neighbours of n pots, even between a string's ends.

    The distance over the water: rope that hangs slack between the pots is longer.

    Parameters
    ----------
    lon_deg, lat_deg, to_lon_deg, to_lat_deg : float
        The first and the last pot. Degrees, east and north positive; latitudes -90 to 90.
    n : int
        Number of pots, both ends among them, 2 to 100,000.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, anything that is not finite, or such a number.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> round(string_spacing_m(0.0, 0.0, 0.0, 0.001, 3), 3)
    55.287
    """
    _refuse_number(n, 2)
    return geodesic_distance(lon_deg, lat_deg, to_lon_deg, to_lat_deg) / (n - 1)

"""Distances, bearings and places on the WGS 84 ellipsoid.

Every verdict about a distance is made by the geodesics here; a plane is for drawing and areas.
Pairs and neighbours are in spacing.py, positions as text in coordinates.py.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final, TypeAlias, overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from pyproj import Geod

FloatArray: TypeAlias = NDArray[np.float64]
Many: TypeAlias = FloatArray | Sequence[float]
Numbers: TypeAlias = Many | float

# Defining constants of WGS 84 (NIMA TR8350.2, third edition, 1997, table 3.1).
SEMI_MAJOR_AXIS_M: Final = 6378137.0
FLATTENING: Final = 1.0 / 298.257223563
ECCENTRICITY_SQUARED: Final = FLATTENING * (2.0 - FLATTENING)


@cache
def wgs84() -> "Geod":
    """Return the one geodesic calculator; pyproj is imported by the first call."""
    from pyproj import Geod

    return Geod(a=SEMI_MAJOR_AXIS_M, f=FLATTENING)


def _refuse_first(bad: NDArray[np.bool_], value: FloatArray, noun: str, rule: str) -> None:
    """Raise InvalidValue for the first place of ``value`` where ``bad`` is true."""
    if not bad.any():
        return
    index = int(np.argmax(bad))
    raise InvalidValue(
        f"The {noun} {float(value.flat[index])} {rule}.",
        f"index {index}" if value.ndim else "",
        "Check the number, and that longitude and latitude are not swapped.",
    )


def valid_positions(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return longitudes and latitudes, in degrees, as arrays of one shape, all of them real places.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,) or scalar
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, or anything that is not finite; names the first index.

    Examples
    --------
    >>> lon, lat = valid_positions([5.0, 6.0], 52.0)
    >>> lat.tolist()
    [52.0, 52.0]
    """
    lon, lat = np.broadcast_arrays(
        np.asarray(lon_deg, dtype=np.float64), np.asarray(lat_deg, dtype=np.float64)
    )
    # Written so that NaN fails the comparison and is refused with the rest.
    _refuse_first(~(np.abs(lat) <= 90.0), lat, "latitude", "is not between -90 and 90 degrees")
    _refuse_first(~np.isfinite(lon), lon, "longitude", "is not a finite number of degrees")
    return lon, lat


def wrapped_longitude(lon_deg: ArrayLike) -> FloatArray:
    """Return longitudes in degrees brought into -180..180; those already there are untouched."""
    lon = np.asarray(lon_deg, dtype=np.float64)
    return np.where(np.abs(lon) <= 180.0, lon, np.remainder(lon + 180.0, 360.0) - 180.0)


def _inverse(
    lon_deg: ArrayLike, lat_deg: ArrayLike, to_lon_deg: ArrayLike, to_lat_deg: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return azimuth (-180..180 degrees) and distance (m) from each place to its other."""
    start = valid_positions(lon_deg, lat_deg)
    end = valid_positions(to_lon_deg, to_lat_deg)
    lon, lat, to_lon, to_lat = np.broadcast_arrays(*start, *end)
    azimuth, _, distance = wgs84().inv(lon.ravel(), lat.ravel(), to_lon.ravel(), to_lat.ravel())
    return np.reshape(azimuth, lon.shape), np.reshape(distance, lon.shape)


@overload
def geodesic_distance(
    lon_deg: float, lat_deg: float, to_lon_deg: float, to_lat_deg: float
) -> float: ...
@overload
def geodesic_distance(
    lon_deg: Many, lat_deg: Many, to_lon_deg: Numbers, to_lat_deg: Numbers
) -> FloatArray: ...
@overload
def geodesic_distance(
    lon_deg: float, lat_deg: float, to_lon_deg: Many, to_lat_deg: Many
) -> FloatArray: ...
def geodesic_distance(
    lon_deg: Numbers, lat_deg: Numbers, to_lon_deg: Numbers, to_lat_deg: Numbers
) -> FloatArray | float:
    """Return the shortest distance on the WGS 84 ellipsoid, in metres.

    Parameters
    ----------
    lon_deg, lat_deg, to_lon_deg, to_lat_deg : array_like of float, shape (n,) or scalar
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Returns
    -------
    ndarray of float, shape (n,), or float
        Metres, never negative; a float where all four are scalars.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, or anything that is not finite; names the first index.

    Notes
    -----
    Accurate to about 15 nm (the paper's own claim), nearly antipodal points included.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> round(geodesic_distance(0.0, 0.0, 0.0, 1.0), 1)
    110574.4
    """
    distance = _inverse(lon_deg, lat_deg, to_lon_deg, to_lat_deg)[1]
    return distance if distance.ndim else float(distance)


@overload
def bearing_and_distance(
    lon_deg: float, lat_deg: float, to_lon_deg: float, to_lat_deg: float
) -> tuple[float, float]: ...
@overload
def bearing_and_distance(
    lon_deg: Many, lat_deg: Many, to_lon_deg: Numbers, to_lat_deg: Numbers
) -> tuple[FloatArray, FloatArray]: ...
@overload
def bearing_and_distance(
    lon_deg: float, lat_deg: float, to_lon_deg: Many, to_lat_deg: Many
) -> tuple[FloatArray, FloatArray]: ...
def bearing_and_distance(
    lon_deg: Numbers, lat_deg: Numbers, to_lon_deg: Numbers, to_lat_deg: Numbers
) -> tuple[FloatArray, FloatArray] | tuple[float, float]:
    """Return the true bearing at the start, in degrees, and the shortest distance, in metres.

    Parameters
    ----------
    lon_deg, lat_deg, to_lon_deg, to_lat_deg : array_like of float, shape (n,) or scalar
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Returns
    -------
    bearing_deg, distance_m : ndarray of float, shape (n,), or float
        Bearing clockwise from true north, at least 0 and less than 360; 0 where the two places
        are the same. Metres, never negative.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, or anything that is not finite; names the first index.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> bearing_deg, distance_m = bearing_and_distance(0.0, 0.0, 1.0, 0.0)
    >>> round(bearing_deg, 6), round(distance_m, 3)
    (90.0, 111319.491)
    """
    azimuth, distance = _inverse(lon_deg, lat_deg, to_lon_deg, to_lat_deg)
    bearing = np.where(distance == 0.0, 0.0, np.remainder(azimuth, 360.0))
    # The remainder of a tiny negative azimuth rounds up to 360 itself.
    bearing = np.where(bearing >= 360.0, 0.0, bearing)
    return (bearing, distance) if distance.ndim else (float(bearing), float(distance))


@overload
def destination(
    lon_deg: float, lat_deg: float, bearing_deg: float, distance_m: float
) -> tuple[float, float]: ...
@overload
def destination(
    lon_deg: Many, lat_deg: Many, bearing_deg: Numbers, distance_m: Numbers
) -> tuple[FloatArray, FloatArray]: ...
@overload
def destination(
    lon_deg: float, lat_deg: float, bearing_deg: Numbers, distance_m: Many
) -> tuple[FloatArray, FloatArray]: ...
def destination(
    lon_deg: Numbers,
    lat_deg: Numbers,
    bearing_deg: Numbers,
    distance_m: Numbers,
) -> tuple[FloatArray, FloatArray] | tuple[float, float]:
    """Return the place reached, as longitude and latitude in degrees.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,) or scalar
        The start. Degrees, east and north positive; latitudes -90 to 90.
    bearing_deg : array_like of float, shape (n,) or scalar
        Degrees clockwise from true north at the start, any finite number.
    distance_m : array_like of float, shape (n,) or scalar
        Metres along the geodesic, 0 or more.

    Returns
    -------
    lon_deg, lat_deg : ndarray of float, shape (n,), or float
        Longitude in -180..180.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, a negative distance, or not finite; names the first index.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the direct problem.

    Examples
    --------
    >>> lon_deg, lat_deg = destination(0.0, 0.0, 90.0, 111319.491)
    >>> round(lon_deg, 6), round(lat_deg, 6)
    (1.0, 0.0)
    """
    lon, lat, bearing, distance = np.broadcast_arrays(
        *valid_positions(lon_deg, lat_deg),
        np.asarray(bearing_deg, dtype=np.float64),
        np.asarray(distance_m, dtype=np.float64),
    )
    _refuse_first(~np.isfinite(bearing), bearing, "bearing", "is not a finite number of degrees")
    is_length = np.isfinite(distance) & (distance >= 0.0)
    _refuse_first(~is_length, distance, "distance", "is not a length of 0 m or more")
    to_lon, to_lat, _ = wgs84().fwd(lon.ravel(), lat.ravel(), bearing.ravel(), distance.ravel())
    to_lon = np.reshape(wrapped_longitude(to_lon), lon.shape)
    to_lat = np.reshape(to_lat, lon.shape)
    return (to_lon, to_lat) if lon.ndim else (float(to_lon), float(to_lat))


def earth_centred(lon_deg: ArrayLike, lat_deg: ArrayLike) -> FloatArray:
    """Return earth-centred coordinates on the WGS 84 ellipsoid, in metres, shape (n, 3).

    The straight line between two rows is never longer than the geodesic between the places.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,) or scalar (n = 1)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, or anything that is not finite; names the first index.

    References
    ----------
    NIMA TR8350.2, third edition (1997), equation 4-14 (number from memory), at height 0.

    Examples
    --------
    >>> earth_centred(90.0, 0.0).round(3).tolist()
    [[0.0, 6378137.0, 0.0]]
    """
    lon, lat = (np.radians(np.atleast_1d(angle)) for angle in valid_positions(lon_deg, lat_deg))
    sine = np.sin(lat)
    normal_m = SEMI_MAJOR_AXIS_M / np.sqrt(1.0 - ECCENTRICITY_SQUARED * sine * sine)
    from_axis_m = normal_m * np.cos(lat)
    return np.stack(
        [
            from_axis_m * np.cos(lon),
            from_axis_m * np.sin(lon),
            (1.0 - ECCENTRICITY_SQUARED) * normal_m * sine,
        ],
        axis=-1,
    )


def centre_of(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[float, float]:
    """Return a centre of some places, as longitude and latitude in degrees.

    The direction of the mean of the unit normals: right across the antimeridian and at a pole.
    Places that cancel out (spread evenly round the earth) have no middle: the first is returned.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,) with n at least 1
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Raises
    ------
    InvalidValue
        No places; a latitude outside -90..90, or anything that is not finite.

    References
    ----------
    Gade (2010), J. Navigation 63, 395-417: equations 3, 5, 6 and 17 (numbers from memory).

    Examples
    --------
    >>> lon_deg, lat_deg = centre_of([179.0, -179.0], [0.0, 0.0])
    >>> abs(round(lon_deg, 6)), round(lat_deg, 6)
    (180.0, 0.0)
    """
    lon, lat = (np.radians(np.atleast_1d(angle)) for angle in valid_positions(lon_deg, lat_deg))
    if lon.size == 0:
        raise InvalidValue("There are no places to find the centre of.", "", "Give at least one.")
    normals = np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])
    east, north, up = normals.mean(axis=1)
    if np.hypot(np.hypot(east, north), up) < 1e-9:
        east, north, up = normals[:, 0]
    centre_lat = np.arctan2(up, np.hypot(east, north))
    return float(np.degrees(np.arctan2(north, east))), float(np.degrees(centre_lat))


@dataclass(frozen=True)
class LocalPlane:
    """A plane touching the earth at one place: east and north in metres, azimuthal equidistant.

    Distance and direction from the centre are true. Lengths across that direction are too long
    by 0.4 parts in a million 10 km away and 41 parts 100 km away, so verdicts about distances
    are left to :func:`geodesic_distance`. Making one costs nothing; threads may share it.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The centre. Degrees, east and north positive; latitude -90 to 90. At a pole the given
        longitude says which way is "north" on the plane.

    Raises
    ------
    InvalidValue
        A latitude outside -90..90, or a number that is not finite.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: section 8.

    Examples
    --------
    >>> plane = LocalPlane(0.0, 0.0)
    >>> east_m, north_m = plane.to_plane(0.001, 0.0)
    >>> round(east_m, 3), round(north_m, 3)
    (111.319, 0.0)
    """

    lon_deg: float
    lat_deg: float

    def __post_init__(self) -> None:
        valid_positions(self.lon_deg, self.lat_deg)

    @overload
    def to_plane(self, lon_deg: float, lat_deg: float) -> tuple[float, float]: ...
    @overload
    def to_plane(self, lon_deg: Many, lat_deg: Many) -> tuple[FloatArray, FloatArray]: ...
    def to_plane(
        self, lon_deg: Numbers, lat_deg: Numbers
    ) -> tuple[FloatArray, FloatArray] | tuple[float, float]:
        """Return metres east and north of the centre."""
        azimuth, distance = _inverse(self.lon_deg, self.lat_deg, lon_deg, lat_deg)
        east = distance * np.sin(np.radians(azimuth))
        north = distance * np.cos(np.radians(azimuth))
        return (east, north) if distance.ndim else (float(east), float(north))

    @overload
    def to_earth(self, east_m: float, north_m: float) -> tuple[float, float]: ...
    @overload
    def to_earth(self, east_m: Many, north_m: Many) -> tuple[FloatArray, FloatArray]: ...
    def to_earth(
        self, east_m: Numbers, north_m: Numbers
    ) -> tuple[FloatArray, FloatArray] | tuple[float, float]:
        """Return longitude and latitude in degrees; NaN raises InvalidValue."""
        east = np.asarray(east_m, dtype=np.float64)
        north = np.asarray(north_m, dtype=np.float64)
        bearing = np.degrees(np.arctan2(east, north))
        lon, lat = destination(
            np.full(bearing.shape, self.lon_deg),
            np.full(bearing.shape, self.lat_deg),
            bearing,
            np.hypot(east, north),
        )
        return (lon, lat) if bearing.ndim else (float(lon), float(lat))

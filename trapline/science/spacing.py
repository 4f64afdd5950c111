"""Which places stand how close: pairs, neighbours and legs, each verdict by the geodesic.

Candidates are found on earth-centred coordinates: a straight line through the earth is never
longer than the geodesic, so a search by it cannot lose a pair, at the poles and across the
antimeridian too. Places that are not known (NaN) are refused: leave them out before calling.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.geodesy import (
    ECCENTRICITY_SQUARED,
    SEMI_MAJOR_AXIS_M,
    FloatArray,
    bearing_and_distance,
    earth_centred,
    geodesic_distance,
    valid_positions,
)

IndexArray = NDArray[np.intp]

# Rounding of earth-centred coordinates is some nanometres; this covers it and costs no pair.
PAD_M: Final = 1e-6
# Up to here a scan in numpy is fast enough; importing the tree takes longer than it saves.
SCAN_LIMIT: Final = 2000
# Rows of a block times places: keeps the scratch arrays of a scan at some megabytes.
BLOCK: Final = 200_000
# The smallest radius of curvature of a meridian, at the equator: a(1 - e²).
SMALLEST_MERIDIAN_RADIUS_M: Final = SEMI_MAJOR_AXIS_M * (1.0 - ECCENTRICITY_SQUARED)


@dataclass(frozen=True, eq=False)
class PairList:
    """Pairs of rows and their distances, the closest pair first.

    Attributes
    ----------
    first, second : ndarray of int, shape (k,)
        Rows of the two places, counted from 0; ``first < second``.
    distance_m : ndarray of float, shape (k,)
        Geodesic distance, metres.
    """

    first: IndexArray
    second: IndexArray
    distance_m: FloatArray

    def __len__(self) -> int:
        return self.first.size


def _line_of_places(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    lon, lat = valid_positions(np.atleast_1d(lon_deg), np.atleast_1d(lat_deg))
    return lon, lat


def _valid_limit(limit_m: float) -> float:
    if not (math.isfinite(limit_m) and limit_m >= 0.0):
        raise InvalidValue(
            f"The distance {limit_m} is not a length of 0 m or more.", "", "Give it in metres."
        )
    return float(limit_m)


def _pairs_by_scan(xyz: FloatArray, radius_m: float) -> tuple[IndexArray, IndexArray]:
    """Return rows of pairs within a straight-line distance: sorted along the widest axis."""
    n = len(xyz)
    axis = int(np.argmax(np.ptp(xyz, axis=0)))
    order = np.argsort(xyz[:, axis], kind="stable")
    along = xyz[order, axis]
    count = np.searchsorted(along, along + radius_m, side="right") - np.arange(1, n + 1)
    left = np.repeat(np.arange(n), count)
    step = np.arange(left.size) - np.repeat(np.cumsum(count) - count, count)
    i, j = order[left], order[left + 1 + step]
    is_near = ((xyz[i] - xyz[j]) ** 2).sum(axis=1) <= radius_m * radius_m
    return i[is_near], j[is_near]


def _pairs_by_tree(xyz: FloatArray, radius_m: float) -> tuple[IndexArray, IndexArray]:
    """Return rows of pairs within a straight-line distance, for many places."""
    from scipy.spatial import cKDTree

    pairs = cKDTree(xyz).query_pairs(radius_m, output_type="ndarray")
    return pairs[:, 0], pairs[:, 1]


def pairs_closer_than(lon_deg: ArrayLike, lat_deg: ArrayLike, limit_m: float) -> PairList:
    """Return every pair of places strictly closer than a limit, with its distance in metres.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.
    limit_m : float
        Metres, 0 or more. A pair at exactly the limit is not closer.

    Returns
    -------
    PairList
        The closest pair first; equal distances by first, then second row. Its length grows with
        the square of the number of places that stand on one spot.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth (names its index), or such a limit.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> pairs = pairs_closer_than([7.0, 7.0001, 7.001], [45.0, 45.0, 45.0], 10.0)
    >>> pairs.first.tolist(), pairs.second.tolist(), pairs.distance_m.round(3).tolist()
    ([0], [1], [7.885])
    """
    lon, lat = _line_of_places(lon_deg, lat_deg)
    limit = _valid_limit(limit_m)
    if lon.size < 2 or limit == 0.0:  # nothing is strictly closer than no distance
        return PairList(np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0))
    find = _pairs_by_scan if lon.size <= SCAN_LIMIT else _pairs_by_tree
    i, j = find(earth_centred(lon, lat), limit + PAD_M)
    first, second = np.minimum(i, j), np.maximum(i, j)
    distance = geodesic_distance(lon[first], lat[first], lon[second], lat[second])
    is_closer = distance < limit
    first, second, distance = first[is_closer], second[is_closer], distance[is_closer]
    order = np.lexsort((second, first, distance))
    return PairList(first[order], second[order], distance[order])


def most_pairs(lon_deg: ArrayLike, lat_deg: ArrayLike, limit_m: float) -> int:
    """Return how many pairs of places can be closer than a limit; never fewer than there are.

    Quick where :func:`pairs_closer_than` would fill the memory: for places by the thousand that
    stand on one spot, or a limit of kilometres.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.
    limit_m : float
        Metres, 0 or more.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth (names its index), or such a limit.

    References
    ----------
    A straight line through the earth is never longer than the geodesic; no source needed.

    Examples
    --------
    >>> most_pairs([7.0, 7.0001, 7.001], [45.0, 45.0, 45.0], 10.0)
    3
    """
    lon, lat = _line_of_places(lon_deg, lat_deg)
    limit = _valid_limit(limit_m)
    if lon.size <= SCAN_LIMIT or limit == 0.0:
        return lon.size * (lon.size - 1) // 2 if limit else 0
    from scipy.spatial import cKDTree

    tree = cKDTree(earth_centred(lon, lat))
    # It counts every pair from both ends, and each place with itself.
    return (int(tree.count_neighbors(tree, limit + PAD_M)) - lon.size) // 2


def all_distances(lon_deg: ArrayLike, lat_deg: ArrayLike) -> FloatArray:
    """Return the geodesic distance of every place from every other, in metres, shape (n, n).

    For one round: its time and memory grow with the square of n.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth; names its index.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> all_distances([0.0, 1.0], [0.0, 0.0]).round(3).tolist()
    [[0.0, 111319.491], [111319.491, 0.0]]
    """
    lon, lat = _line_of_places(lon_deg, lat_deg)
    distances = np.zeros((lon.size, lon.size))
    i, j = np.triu_indices(lon.size, k=1)
    distances[i, j] = geodesic_distance(lon[i], lat[i], lon[j], lat[j])
    distances[j, i] = distances[i, j]
    return distances


def _squared_chords(xyz: FloatArray, rows: IndexArray) -> FloatArray:
    """Return squared straight-line distances of some rows from all; infinite from itself."""
    squared = np.zeros((rows.size, len(xyz)))
    for along in xyz.T:
        squared += (along[rows, np.newaxis] - along) ** 2
    squared[np.arange(rows.size), rows] = np.inf
    return squared


def _blocks(rows: IndexArray, n: int) -> list[IndexArray]:
    return np.array_split(rows, max(1, math.ceil(rows.size * n / BLOCK)))


def _nearest_by_chord(xyz: FloatArray) -> IndexArray:
    """Return for each row another one that is nearest in a straight line."""
    n = len(xyz)
    if n <= SCAN_LIMIT:
        blocks = _blocks(np.arange(n), n)
        return np.concatenate([_squared_chords(xyz, rows).argmin(axis=1) for rows in blocks])
    from scipy.spatial import cKDTree

    two = np.asarray(cKDTree(xyz).query(xyz, k=2)[1])
    # Where several stand on one spot the tree may give another before the place itself.
    return np.where(two[:, 0] == np.arange(n), two[:, 1], two[:, 0])


def _rivals(
    xyz: FloatArray, rows: IndexArray, radius_m: FloatArray
) -> tuple[IndexArray, IndexArray]:
    """Return (row, other) for every other place within each row's own straight-line radius."""
    n = len(xyz)
    if n <= SCAN_LIMIT:
        found = []
        for block in _blocks(np.arange(rows.size), n):
            is_near = _squared_chords(xyz, rows[block]) <= radius_m[block, np.newaxis] ** 2
            k, other = np.nonzero(is_near)
            found.append((rows[block][k], other))
        return np.concatenate([k for k, _ in found]), np.concatenate([o for _, o in found])
    from scipy.spatial import cKDTree

    lists = cKDTree(xyz).query_ball_point(xyz[rows], radius_m)
    row = np.repeat(rows, [len(others) for others in lists])
    other = np.fromiter((o for others in lists for o in others), np.intp, row.size)
    is_other = row != other
    return row[is_other], other[is_other]


def nearest_neighbours(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[IndexArray, FloatArray]:
    """Return for each place the row of the nearest other one, and its distance in metres.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        Degrees, east and north positive. Longitudes may exceed 180; latitudes -90 to 90.

    Returns
    -------
    index : ndarray of int, shape (n,)
        Row of the nearest other place (one of them where several are equally near); -1 where
        there is no other.
    distance_m : ndarray of float, shape (n,)
        Geodesic distance, metres; NaN where there is no other.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth; names its index.

    Notes
    -----
    The nearest in a straight line need not be the nearest along the earth: it bounds the search,
    and the geodesic decides among all within that bound.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> index, distance_m = nearest_neighbours([0.0, 1.0, 3.0], [0.0, 0.0, 0.0])
    >>> index.tolist(), distance_m.round(3).tolist()
    ([1, 0, 1], [111319.491, 111319.491, 222638.982])
    """
    lon, lat = _line_of_places(lon_deg, lat_deg)
    if lon.size < 2:
        return np.full(lon.size, -1, np.intp), np.full(lon.size, np.nan)
    xyz = earth_centred(lon, lat)
    index = _nearest_by_chord(xyz)
    distance = geodesic_distance(lon, lat, lon[index], lat[index])
    # Nothing is nearer than a place on the same spot; a heap of those would all be rivals.
    open_rows = np.flatnonzero(distance > 0.0)
    if open_rows.size:
        row, other = _rivals(xyz, open_rows, distance[open_rows] + PAD_M)
        rival_m = geodesic_distance(lon[row], lat[row], lon[other], lat[other])
        order = np.lexsort((other, rival_m, row))
        decided, start = np.unique(row[order], return_index=True)
        index[decided] = other[order][start]
        distance[decided] = rival_m[order][start]
    return index, distance


def distances_from(
    lon_deg: float, lat_deg: float, lons_deg: ArrayLike, lats_deg: ArrayLike, within_m: float
) -> tuple[IndexArray, FloatArray]:
    """Return the rows strictly closer to one place than a limit, and their distances in metres.

    A plain scan without an index to keep: quick enough to follow a trap that is being dragged.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The one place. Degrees, east and north positive; latitude -90 to 90.
    lons_deg, lats_deg : array_like of float, shape (n,)
        The others; leave the dragged trap itself out.
    within_m : float
        Metres, 0 or more. A place at exactly the limit is not closer.

    Returns
    -------
    index : ndarray of int, shape (k,)
        Rows of the others, the nearest first; equal distances in order of rows.
    distance_m : ndarray of float, shape (k,)
        Geodesic distance, metres.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth (names its index), or such a limit.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> index, distance_m = distances_from(7.0, 45.0, [7.001, 7.0001], [45.0, 45.0], 10.0)
    >>> index.tolist(), distance_m.round(3).tolist()
    ([1], [7.885])
    """
    lons, lats = _line_of_places(lons_deg, lats_deg)
    limit = _valid_limit(within_m)
    here = earth_centred(lon_deg, lat_deg)
    # The shortest way between two parallels is a meridian, so a place outside this band is too far.
    band_deg = math.degrees((limit + PAD_M) / SMALLEST_MERIDIAN_RADIUS_M)
    in_band = np.flatnonzero(np.abs(lats - lat_deg) <= band_deg)
    squared = ((earth_centred(lons[in_band], lats[in_band]) - here) ** 2).sum(axis=1)
    index = in_band[squared <= (limit + PAD_M) ** 2]
    distance = geodesic_distance(lon_deg, lat_deg, lons[index], lats[index])
    index, distance = index[distance < limit], distance[distance < limit]
    order = np.lexsort((index, distance))
    return index[order], distance[order]


def legs(lon_deg: ArrayLike, lat_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the bearing in degrees and distance in metres from each place to the next.

    Parameters
    ----------
    lon_deg, lat_deg : array_like of float, shape (n,)
        In the order of the line. Degrees, east and north positive; latitudes -90 to 90.

    Returns
    -------
    bearing_deg, distance_m : ndarray of float, shape (n - 1,), empty when n is 0 or 1
        Bearing clockwise from true north, at least 0 and less than 360, at the start of the leg.

    Raises
    ------
    InvalidValue
        A place that is missing (NaN) or not on earth; names its index.

    References
    ----------
    Karney (2013), Algorithms for geodesics, J. Geod. 87, 43-55: the inverse problem.

    Examples
    --------
    >>> bearing_deg, distance_m = legs([0.0, 1.0, 1.0], [0.0, 0.0, 1.0])
    >>> bearing_deg.round(6).tolist(), distance_m.round(3).tolist()
    ([90.0, 0.0], [111319.491, 110574.389])
    """
    lon, lat = _line_of_places(lon_deg, lat_deg)
    return bearing_and_distance(lon[:-1], lat[:-1], lon[1:], lat[1:])

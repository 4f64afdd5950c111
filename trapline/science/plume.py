"""Shapes of plumes for the map, in metres east and north, and which of them meet.

A shape shows what the user assumed: how far a bait reaches in still water,
down-current and sideways. The three are never converted into one another. shapely
is imported at once, so import this module only where shapes are needed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from trapline.errors import InvalidValue
from trapline.science.bounds import finite_array, not_negative, positive
from trapline.science.scent import plume_area, plume_half_width, plume_max_half_width

N_VERTICES: Final = 48
# Our judgement: an outline's vertices stand 0.14 % outside its circle, so two equal circles
# that only touch can share 2e-5 of their area; below this share nothing is said to meet.
LEAST_SHARE: Final = 1e-4


def plume_outline(
    still_reach_m: float,
    down_reach_m: float,
    side_reach_m: float,
    *,
    mixing_m2_s: float,
    current_m_s: float | None = None,
    current_to_deg: float | None = None,
) -> Polygon:
    """Return the outline of the scent of one bait, in metres (east, north) about the trap.

    Without a steady current a circle of the still reach. In a current the contour of a
    plume as long as the reach down-current, united with a disc of the reach sideways.

    Parameters
    ----------
    still_reach_m, down_reach_m, side_reach_m : float
        Assumed by the user, metres, 0 or more.
    mixing_m2_s : float
        Horizontal eddy diffusivity, m²/s, above 0; see `trapline.science.mixing`.
    current_m_s : float or None
        Speed of the current, m/s, 0 or more; 0 or None when there is no steady one.
    current_to_deg : float or None
        Where the water flows *towards*, degrees clockwise from north: 90 is east.

    Returns
    -------
    shapely.Polygon
        Empty when nothing reaches anywhere (no bait).

    Raises
    ------
    InvalidValue
        A number out of its range or NaN, or a current without a direction.

    Notes
    -----
    The area is that of the curves, not of a polygon inside them. Where a weak current
    would make the contour wider than long it is drawn as wide as long (our judgement).

    References
    ----------
    `trapline.science.scent.plume_half_width`.

    Examples
    --------
    >>> shape = plume_outline(5, 20, 2, mixing_m2_s=2e-3, current_m_s=0.05, current_to_deg=90)
    >>> [round(metres, 1) for metres in shape.bounds]
    [-2.0, -2.0, 20.0, 2.0]
    >>> round(plume_outline(5, 20, 2, mixing_m2_s=2e-3).area, 4)
    78.5398
    """
    still = not_negative(still_reach_m, "still_reach_m")
    down = not_negative(down_reach_m, "down_reach_m")
    side = not_negative(side_reach_m, "side_reach_m")
    mixing = positive(mixing_m2_s, "mixing_m2_s")
    speed = 0.0 if current_m_s is None else not_negative(current_m_s, "current_m_s")
    if speed == 0:
        return _disc(still)
    return _in_current(down, side, speed, mixing, _towards_rad(current_to_deg))


def _towards_rad(current_to_deg: float | None) -> float:
    """Return the direction of a current in radians, or refuse a current without one."""
    if current_to_deg is None:
        raise InvalidValue(
            "The current has a speed but no direction.",
            "current_to_deg",
            "Give where it flows towards, or no speed.",
        )
    return math.radians(float(finite_array(current_to_deg, "current_to_deg")))


def _in_current(
    down_m: float, side_m: float, speed_m_s: float, mixing_m2_s: float, towards_rad: float
) -> Polygon:
    """Return the contour united with the disc, turned to where the water flows.

    Down-current is (sin, cos) in (east, north) because the direction counts from
    north; across is the same a quarter turn counter-clockwise.
    """
    disc = _disc(side_m)
    if down_m == 0:
        return disc
    contour = _contour(down_m, speed_m_s, mixing_m2_s)
    sine, cosine = math.sin(towards_rad), math.cos(towards_rad)
    turn = np.array([[sine, cosine], [-cosine, sine]])
    both = shapely.transform(shapely.union(contour, disc), lambda xy: xy @ turn)
    # Every point of either is in sight of the trap, so the union is one piece without holes.
    return Polygon(shapely.get_exterior_ring(both))


def _disc(reach_m: float) -> Polygon:
    """Return a polygon about (0, 0) with the area of a circle; empty when the reach is 0."""
    if reach_m == 0:
        return Polygon()
    step = 2 * math.pi / N_VERTICES
    angles = step * np.arange(N_VERTICES)
    radius = reach_m * math.sqrt(step / math.sin(step))
    return Polygon(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))


def _contour(length_m: float, speed_m_s: float, mixing_m2_s: float) -> Polygon:
    """Return the contour of a plume down-current along x, with the area of the formula."""
    half = N_VERTICES // 2
    # Close together at both tips, where the contour is steep.
    down = length_m * (1 - np.cos(math.pi * np.arange(half + 1) / half)) / 2
    down[-1] = length_m
    across = plume_half_width(down, length_m, speed_m_s, mixing_m2_s)
    inside_chords = float(np.sum((across[1:] + across[:-1]) * np.diff(down)))
    widest = plume_max_half_width(length_m, speed_m_s, mixing_m2_s)
    across *= plume_area(length_m, speed_m_s, mixing_m2_s) / inside_chords
    across *= min(1.0, length_m / 2 / widest)
    there = np.column_stack([down, across])
    return Polygon(np.concatenate([there, there[-2:0:-1] * [1, -1]]))


def plume_polygons(
    east_m: ArrayLike, north_m: ArrayLike, outlines: Sequence[Polygon]
) -> NDArray[np.object_]:
    """Return the outlines set about their traps, as polygons in metres (east, north).

    Parameters
    ----------
    east_m, north_m : array_like of float, shape (n,)
        The traps in one local plane, metres.
    outlines : sequence of shapely.Polygon, length n
        From `plume_outline`; the same object may stand for many traps.

    Returns
    -------
    ndarray of shapely.Polygon, shape (n,)
        New shapes, in the order given.

    Raises
    ------
    InvalidValue
        A position that is NaN or infinite (leave such traps out), or columns of
        unlike length.

    Examples
    --------
    >>> circle = plume_outline(5, 20, 2, mixing_m2_s=2e-3)
    >>> [round(shape.centroid.x, 6) for shape in plume_polygons([2, 8], [0, 0], [circle] * 2)]
    [2.0, 8.0]
    """
    east, north = finite_array(east_m, "east_m"), finite_array(north_m, "north_m")
    if east.ndim != 1 or east.shape != north.shape or len(outlines) != east.size:
        raise InvalidValue(
            f"{east.size} east, {north.size} north and {len(outlines)} outlines do not match.",
            "outlines",
            "Give one of each for every trap.",
        )
    shapes = _object_array(outlines)
    n_points = shapely.get_num_coordinates(shapes)
    points = shapely.get_coordinates(shapes)
    points += np.repeat(np.column_stack([east, north]), n_points, axis=0)
    return shapely.set_coordinates(shapes, points)


@dataclass(frozen=True, eq=False)
class MeetingPlumes:
    """Pairs of plumes that share water.

    Attributes
    ----------
    first, second : ndarray of int, shape (k,)
        Places in the list of polygons, counted from 0; ``first < second``, sorted.
    shared_area_m2 : ndarray of float, shape (k,)
        Square metres.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    shared_area_m2: NDArray[np.float64]


def meeting_plumes(polygons: Sequence[Polygon] | NDArray[np.object_]) -> MeetingPlumes:
    """Return the pairs of plumes that share water and how much, in square metres.

    Parameters
    ----------
    polygons : sequence or ndarray of shapely.Polygon, shape (n,)
        From `plume_polygons`; those of one round. Empty ones meet nothing.

    Returns
    -------
    MeetingPlumes
        Every pair once. Plumes that only touch are not in it: neither those without
        a shared area nor those with less than 1e-4 of the geometric mean of their
        own areas, which the rounding of an outline to a polygon can make.

    Notes
    -----
    Candidates by a tree of bounding boxes, tested exactly, then intersected.

    Examples
    --------
    >>> circle = plume_outline(10, 20, 2, mixing_m2_s=2e-3)
    >>> pairs = meeting_plumes(plume_polygons([0, 15, 35], [0, 0, 0], [circle] * 3))
    >>> pairs.first.tolist(), pairs.second.tolist(), pairs.shared_area_m2.round(1).tolist()
    ([0], [1], [45.3])
    """
    shapes = _object_array(polygons)
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    once = first < second
    first, second = first[once], second[once]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    shared = shapely.area(shapely.intersection(shapes[first], shapes[second]))
    own = shapely.area(shapes)
    meets = shared > LEAST_SHARE * np.sqrt(own[first] * own[second])
    return MeetingPlumes(first[meets], second[meets], shared[meets])


def _object_array(shapes: Sequence[Polygon] | NDArray[np.object_]) -> NDArray[np.object_]:
    """Return a new one-dimensional array of the shapes, also when there are none."""
    array = np.empty(len(shapes), dtype=object)
    array[:] = shapes
    return array


def plume_areas(polygons: Sequence[Polygon] | NDArray[np.object_]) -> NDArray[np.float64]:
    """Return the area of each plume in m², shape (n,); 0 for an empty one."""
    return np.asarray(shapely.area(_object_array(polygons)), dtype=np.float64)


def plume_points(polygon: Polygon) -> NDArray[np.float64]:
    """Return the ring of a plume, shape (k, 2): metres east and north; (0, 2) when empty."""
    return np.asarray(shapely.get_coordinates(polygon), dtype=np.float64)

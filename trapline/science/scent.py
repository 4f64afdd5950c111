"""Scent of a bait in a steady current: the mean plume in a layer mixed over its depth.

A slender form, good well beyond `mixing / speed` from the trap; scent_near.py holds
what differs close to it, scent_still.py still water, plume.py the shapes for the map.
The water carries filaments, not contours: a contour is a picture of what somebody
assumed, never a measured fact. x is metres down-current, y metres across.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.science.bounds import SMALLEST, finite_array, not_negative, positive

# 2 √2 Γ(3/2) / (3/2)^(3/2): what the area inside the contour is in units of √(K/u) L^1.5.
AREA_FACTOR: Final[float] = 2 * math.sqrt(2) * math.gamma(1.5) / 1.5**1.5


def plume_spread(down_m: ArrayLike, speed_m_s: float, mixing_m2_s: float) -> NDArray[np.float64]:
    """Return the standard deviation of scent across the current at `down_m`, in metres.

    Parameters
    ----------
    down_m : array_like of float, shape (n,) or scalar
        Metres down-current of the trap; up-current (negative) gives 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        √(2 K x / u), metres.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    Fischer et al. (1979), Mixing in Inland and Coastal Waters, ch. 2 (from memory).

    Examples
    --------
    >>> round(float(plume_spread(10, 0.05, 0.005)), 4)
    1.4142
    """
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    down = np.maximum(finite_array(down_m, "down_m"), 0.0)
    return np.asarray(np.sqrt(2 * mixing * down / speed))


def plume_concentration(
    down_m: ArrayLike,
    across_m: ArrayLike,
    release_g_s: float,
    depth_m: float,
    speed_m_s: float,
    mixing_m2_s: float,
    decay_per_s: float = 0.0,
) -> NDArray[np.float64]:
    """Return the mean concentration of scent in a steady current, in g/m³.

    Parameters
    ----------
    down_m, across_m : array_like of float, shape (n,) or scalar
        Metres down-current of the trap and across, either sign. Broadcast.
    release_g_s : float
        What the bait gives off, g/s, 0 or more.
    depth_m : float
        Of the layer in which the scent is mixed, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.
    decay_per_s : float
        Loss of scent, 1/s, 0 or more.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        g/m³ (1 g/m³ is 1e-3 g/L). 0 at the trap and up-current of it, where this
        form does not hold: see `exact_plume_concentration`.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    Fischer et al. (1979), Mixing in Inland and Coastal Waters, ch. 2, continuous
    line source with slender plume (from memory).

    Examples
    --------
    >>> print(f"{plume_concentration(10, 2, 1e-6, 0.5, 0.05, 0.005):.5e}")
    4.15107e-06
    """
    release, depth = not_negative(release_g_s, "release_g_s"), positive(depth_m, "depth_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    decay = not_negative(decay_per_s, "decay_per_s")
    down, across = np.broadcast_arrays(
        finite_array(down_m, "down_m"), finite_array(across_m, "across_m")
    )
    found = np.zeros(down.shape)
    ahead = down > SMALLEST
    x, y = down[ahead], across[ahead]
    peak = release / (depth * np.sqrt(4 * math.pi * mixing * x * speed))
    found[ahead] = peak * np.exp(-speed * y**2 / (4 * mixing * x) - decay * x / speed)
    return found


def plume_length(
    strength_m3_s: float,
    depth_m: float,
    speed_m_s: float,
    mixing_m2_s: float,
    decay_per_s: float = 0.0,
) -> float:
    """Return how far down-current the scent stays above its threshold, in metres.

    Do not print this as a prediction. It goes with the square of release over
    threshold, and published thresholds for one animal span four to six decades
    (Zimmer-Faust & Case 1983): the same bait reaches from millimetres to
    kilometres. Let the user assume a length and use `plume_strength`.

    Parameters
    ----------
    strength_m3_s : float
        Release over threshold, S = Q / C0, m³/s, above 0.
    depth_m : float
        Of the mixed layer, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.
    decay_per_s : float
        Loss of scent, 1/s, 0 or more.

    Returns
    -------
    float
        Metres, S² / (4π K u h²) without decay, shorter with it.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    From `plume_concentration` at y = 0, solved for x; with decay by bisection.
    Zimmer-Faust & Case (1983), Biol. Bull. 164, 341-353.

    Examples
    --------
    >>> round(plume_length(0.1, 0.5, 0.05, 0.005), 4)
    12.7324
    """
    strength, depth = positive(strength_m3_s, "strength_m3_s"), positive(depth_m, "depth_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    decay = not_negative(decay_per_s, "decay_per_s")
    lossless = strength**2 / (4 * math.pi * mixing * speed * depth**2)
    if decay == 0:
        return lossless
    near, far = 0.0, lossless
    while (middle := (near + far) / 2) not in (near, far):
        # ln(C / C0) on the axis at `middle`; it falls steadily with distance.
        if 0.5 * math.log(lossless / middle) > decay * middle / speed:
            near = middle
        else:
            far = middle
    return far


def plume_strength(length_m: float, depth_m: float, speed_m_s: float, mixing_m2_s: float) -> float:
    """Return the strength S = release / threshold that gives a plume of `length_m`, in m³/s.

    Parameters
    ----------
    length_m : float
        The assumed reach down-current, metres, above 0.
    depth_m : float
        Of the mixed layer, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        h √(4π K u L), m³/s. Do not use it to turn a reach in a current into one in
        still water: the answer is meaningless.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `plume_length` without decay, solved for the strength.

    Examples
    --------
    >>> round(plume_strength(20, 0.5, 0.05, 0.005), 6)
    0.125331
    """
    length, depth = positive(length_m, "length_m"), positive(depth_m, "depth_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    return depth * math.sqrt(4 * math.pi * mixing * speed * length)


def plume_half_width(
    down_m: ArrayLike, length_m: float, speed_m_s: float, mixing_m2_s: float
) -> NDArray[np.float64]:
    """Return the half-width of a plume of `length_m` at `down_m`, in metres.

    Parameters
    ----------
    down_m : array_like of float, shape (n,) or scalar
        Metres down-current of the trap, either sign.
    length_m : float
        Of the plume, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        √((2 K x / u) ln(L / x)), metres; 0 outside 0 < x < L. Without decay.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    `plume_concentration` set to its value at (L, 0), solved for y.

    Examples
    --------
    >>> round(float(plume_half_width(10, 20, 0.05, 0.005)), 5)
    1.17741
    """
    length = positive(length_m, "length_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    down = finite_array(down_m, "down_m")
    half_width = np.zeros(down.shape)
    inside = (down > SMALLEST) & (down < length)
    x = down[inside]
    half_width[inside] = np.sqrt(2 * mixing * x / speed * np.log(length / x))
    return half_width


def plume_max_half_width(length_m: float, speed_m_s: float, mixing_m2_s: float) -> float:
    """Return the greatest half-width of a plume, in metres; it lies at `length_m` / e.

    Parameters
    ----------
    length_m : float
        Of the plume, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        √(2 K L / (e u)), metres. In terms of the strength it is S / (u h √(2π e)),
        whatever the mixing.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `plume_half_width` at its maximum.

    Examples
    --------
    >>> round(plume_max_half_width(20, 0.05, 0.005), 4)
    1.2131
    """
    length = positive(length_m, "length_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    return math.sqrt(2 * mixing * length / (math.e * speed))


def plume_area(length_m: float, speed_m_s: float, mixing_m2_s: float) -> float:
    """Return the area inside the contour of a plume, in square metres.

    Parameters
    ----------
    length_m : float
        Of the plume, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        1.364436 √(K / u) L^1.5, square metres.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Twice the integral of `plume_half_width` from 0 to L, by the gamma function.

    Examples
    --------
    >>> round(plume_area(12.732395, 0.05, 0.005), 4)
    19.6028
    """
    length = positive(length_m, "length_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    return AREA_FACTOR * math.sqrt(mixing * length / speed) * length


def in_plume(
    down_m: ArrayLike, across_m: ArrayLike, length_m: float, speed_m_s: float, mixing_m2_s: float
) -> NDArray[np.bool_]:
    """Return whether each point lies inside the contour of a plume, True or False.

    Parameters
    ----------
    down_m, across_m : array_like of float, shape (n,) or scalar
        Metres down-current of the trap and across, either sign. Broadcast.
    length_m : float
        Of the plume, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    ndarray of bool, shape (n,) or ()
        False on the contour, at the trap and up-current of it.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    The contour of `plume_half_width`.

    Examples
    --------
    >>> in_plume([10, 10, -1], [1.0, 1.5, 0.0], 20, 0.05, 0.005).tolist()
    [True, False, False]
    """
    half_width = plume_half_width(down_m, length_m, speed_m_s, mixing_m2_s)
    return np.asarray(np.abs(finite_array(across_m, "across_m")) < half_width)

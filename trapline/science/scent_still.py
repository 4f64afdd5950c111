"""Scent of a bait in still water, mixed over the depth: it spreads evenly to all sides.

Water that truly stands is rare: see `mixing_reach`. scipy is imported on use.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.science.bounds import (
    finite_array,
    not_negative,
    not_negative_array,
    positive,
    positive_array,
)


def mixing_reach(mixing_m2_s: float, elapsed_s: float) -> float:
    """Return how far mixing alone carries scent in a time, in metres.

    Parameters
    ----------
    mixing_m2_s, elapsed_s : float
        Horizontal eddy diffusivity, m²/s, above 0; seconds, 0 or more.

    Returns
    -------
    float
        √(4 K t), metres. In 12 h at 0.001 m²/s this is 13.1 m, which a drift of
        only 0.3 mm/s reaches as well.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    The scale of length in `puff_concentration`.

    Examples
    --------
    >>> round(mixing_reach(0.001, 12 * 3600), 1)
    13.1
    """
    mixing = positive(mixing_m2_s, "mixing_m2_s")
    return math.sqrt(4 * mixing * not_negative(elapsed_s, "elapsed_s"))


def puff_concentration(
    distance_m: ArrayLike, elapsed_s: float, mass_g: float, depth_m: float, mixing_m2_s: float
) -> NDArray[np.float64]:
    """Return the concentration after all scent was given off at once, in g/m³.

    Parameters
    ----------
    distance_m : array_like of float, shape (n,) or scalar
        From the trap, metres, 0 or more.
    elapsed_s : float
        Since the release, seconds, above 0.
    mass_g : float
        Given off, grams, 0 or more.
    depth_m, mixing_m2_s : float
        Mixed depth, metres, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        M / (4π K h t) exp(-r² / 4 K t), g/m³.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    Crank (1975), The Mathematics of Diffusion, instantaneous line source (from memory).

    Examples
    --------
    >>> print(f"{puff_concentration(3, 600, 1, 0.5, 0.001):.6e}")
    6.238276e-03
    """
    mass, depth = not_negative(mass_g, "mass_g"), positive(depth_m, "depth_m")
    mixing, elapsed = positive(mixing_m2_s, "mixing_m2_s"), positive(elapsed_s, "elapsed_s")
    distance = not_negative_array(distance_m, "distance_m")
    spread = 4 * mixing * elapsed
    return np.asarray(mass / (math.pi * spread * depth) * np.exp(-(distance**2) / spread))


def puff_lifetime(
    mass_g: float, threshold_g_m3: float, depth_m: float, mixing_m2_s: float
) -> float:
    """Return how long a puff stays above its threshold anywhere, in seconds.

    Parameters
    ----------
    mass_g, threshold_g_m3 : float
        Given off, grams; threshold, g/m³; both above 0.
    depth_m, mixing_m2_s : float
        Mixed depth, metres, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        M / (4π K h C0), seconds.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `puff_concentration` at the trap, set to the threshold.

    Examples
    --------
    >>> round(puff_lifetime(1, 0.01, 0.5, 0.001), 3)
    15915.494
    """
    mass, threshold = positive(mass_g, "mass_g"), positive(threshold_g_m3, "threshold_g_m3")
    depth, mixing = positive(depth_m, "depth_m"), positive(mixing_m2_s, "mixing_m2_s")
    return mass / (4 * math.pi * mixing * depth * threshold)


def puff_radius(elapsed_s: ArrayLike, lifetime_s: float, mixing_m2_s: float) -> NDArray[np.float64]:
    """Return how far from the trap a puff is above its threshold, in metres.

    Parameters
    ----------
    elapsed_s : array_like of float, shape (n,) or scalar
        Since the release, seconds.
    lifetime_s, mixing_m2_s : float
        From `puff_lifetime`, seconds, and horizontal eddy diffusivity, m²/s; both
        above 0.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        √(4 K t ln(t_end / t)), metres; 0 outside 0 < t < t_end.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    `puff_concentration` set to the threshold, solved for r.

    Examples
    --------
    >>> round(float(puff_radius(600, 15915.494, 0.001)), 5)
    2.8049
    """
    lifetime, mixing = positive(lifetime_s, "lifetime_s"), positive(mixing_m2_s, "mixing_m2_s")
    elapsed = finite_array(elapsed_s, "elapsed_s")
    radius = np.zeros(elapsed.shape)
    living = (elapsed > 0) & (elapsed < lifetime)
    t = elapsed[living]
    radius[living] = np.sqrt(4 * mixing * t * (math.log(lifetime) - np.log(t)))
    return radius


def puff_max_radius(mass_g: float, threshold_g_m3: float, depth_m: float) -> float:
    """Return the greatest radius of a puff, in metres; it is reached at its lifetime / e.

    Parameters
    ----------
    mass_g, threshold_g_m3, depth_m : float
        Given off, grams; threshold, g/m³; mixed depth, metres; all above 0.

    Returns
    -------
    float
        √(M / (π e h C0)), metres, whatever the mixing.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `puff_radius` at its maximum.

    Examples
    --------
    >>> round(puff_max_radius(1, 0.01, 0.5), 5)
    4.83941
    """
    mass, threshold = positive(mass_g, "mass_g"), positive(threshold_g_m3, "threshold_g_m3")
    return math.sqrt(mass / (math.pi * math.e * positive(depth_m, "depth_m") * threshold))


def still_concentration(
    distance_m: ArrayLike, elapsed_s: float, release_g_s: float, depth_m: float, mixing_m2_s: float
) -> NDArray[np.float64]:
    """Return the concentration round a bait that gives off scent steadily, in g/m³.

    Parameters
    ----------
    distance_m : array_like of float, shape (n,) or scalar
        From the trap, metres, above 0: at the trap it has no end.
    elapsed_s : float
        Since the bait began, seconds, above 0. There is no steady state.
    release_g_s : float
        What the bait gives off, g/s, 0 or more.
    depth_m, mixing_m2_s : float
        Mixed depth, metres, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        Q / (4π K h) E1(r² / 4 K t), g/m³.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    Carslaw & Jaeger (1959), continuous line source (from memory).

    Examples
    --------
    >>> print(f"{still_concentration(5.1205, 3600, 1e-6, 0.5, 0.001):.4e}")
    1.0000e-05
    """
    from scipy.special import exp1

    release, depth = not_negative(release_g_s, "release_g_s"), positive(depth_m, "depth_m")
    mixing, elapsed = positive(mixing_m2_s, "mixing_m2_s"), positive(elapsed_s, "elapsed_s")
    distance = positive_array(distance_m, "distance_m")
    return np.asarray(
        release / (4 * math.pi * mixing * depth) * exp1(distance**2 / (4 * mixing * elapsed))
    )


def still_radius(
    strength_m3_s: float, elapsed_s: float, depth_m: float, mixing_m2_s: float
) -> float:
    """Return how far from a steady bait the scent is above its threshold, in metres.

    Not for turning a reach in still water into one in a current: the same strength
    that reaches 5 m in a still night makes a plume of 0.11 m, and one that reaches
    20 m makes 248 m.

    Parameters
    ----------
    strength_m3_s : float
        Release over threshold, S = Q / C0, m³/s, above 0.
    elapsed_s : float
        Since the bait began, seconds, above 0.
    depth_m, mixing_m2_s : float
        Mixed depth, metres, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        √(4 K t w) with E1(w) = 4π K h / S, metres. 0 for a bait too weak for any
        distance that can be written down.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `still_concentration` set to the threshold. E1 between its bounds, Abramowitz &
    Stegun (1964), 5.1.11 and 5.1.20 (from memory), then Brent's method.

    Examples
    --------
    >>> round(still_radius(0.1, 12 * 3600, 0.5, 0.001), 3)
    17.738
    """
    from scipy.optimize import brentq
    from scipy.special import exp1

    strength, depth = positive(strength_m3_s, "strength_m3_s"), positive(depth_m, "depth_m")
    mixing, elapsed = positive(mixing_m2_s, "mixing_m2_s"), positive(elapsed_s, "elapsed_s")
    wanted = 4 * math.pi * mixing * depth / strength
    if wanted > 700:
        return 0.0
    # -γ - ln w < E1(w) < e^-w / w (w >= 1) put the root between these, in ln w.
    low = -wanted - float(np.euler_gamma) - 1
    high = math.log(max(1.0, 1 - math.log(wanted)))
    log_w = brentq(lambda guess: float(exp1(math.exp(guess))) - wanted, low, high, xtol=1e-14)
    return math.sqrt(4 * mixing * elapsed * math.exp(float(log_w)))


def still_bed_radius(strength_m3_s: float, mixing_m2_s: float) -> float:
    """Return how far from a bait on the bed of deep still water the scent settles, in metres.

    Parameters
    ----------
    strength_m3_s, mixing_m2_s : float
        Release over threshold, m³/s, and diffusivity alike in all directions, m²/s;
        both above 0.

    Returns
    -------
    float
        S / (2π K), metres, after a long time and without a surface above.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Crank (1975), steady point source on a plane (from memory).

    Examples
    --------
    >>> round(still_bed_radius(0.1, 0.001), 4)
    15.9155
    """
    strength = positive(strength_m3_s, "strength_m3_s")
    return strength / (2 * math.pi * positive(mixing_m2_s, "mixing_m2_s"))

"""Scent close to the trap, where the slender plume of scent.py does not hold.

The exact mean plume with its up-current part, how it builds up, and the plume that
creeps along the bed before it is mixed over the depth. scipy is imported on use.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue
from trapline.science.bounds import SMALLEST, finite_array, not_negative, positive


def exact_plume_concentration(
    down_m: ArrayLike,
    across_m: ArrayLike,
    release_g_s: float,
    depth_m: float,
    speed_m_s: float,
    mixing_m2_s: float,
) -> NDArray[np.float64]:
    """Return the steady mean concentration at any side of the trap, in g/m³.

    Parameters
    ----------
    down_m, across_m : array_like of float, shape (n,) or scalar
        Metres down-current of the trap (negative is up-current) and across. Broadcast.
    release_g_s : float
        What the bait gives off, g/s, 0 or more.
    depth_m : float
        Of the layer in which the scent is mixed, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0. There is
        no steady state without a current.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        Q / (2π K h) exp(u x / 2K) K0(u r / 2K), g/m³.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN, infinite, or a point at the trap itself.

    References
    ----------
    Carslaw & Jaeger (1959), Conduction of Heat in Solids, moving line source
    (from memory); K0 scaled by its exponential, so that it cannot overflow.

    Examples
    --------
    >>> print(f"{exact_plume_concentration(-1, 0, 1e-6, 0.5, 0.05, 0.005):.6e}")
    1.583300e-09
    """
    from scipy.special import k0e

    release, depth = not_negative(release_g_s, "release_g_s"), positive(depth_m, "depth_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    x, y = np.broadcast_arrays(finite_array(down_m, "down_m"), finite_array(across_m, "across_m"))
    distance = np.hypot(x, y)
    if np.any(distance <= SMALLEST):
        raise InvalidValue(
            "The concentration at the trap itself has no end.", "down_m", "Give a point beside it."
        )
    # r - x loses every digit on the axis down-current; y² / (r + x) is the same and does not.
    short_of = np.where(x > 0, y**2 / (distance + np.abs(x)), distance - x)
    rate = speed / (2 * mixing)
    scale = release / (2 * math.pi * mixing * depth)
    return np.asarray(scale * k0e(rate * distance) * np.exp(-rate * short_of))


def started_plume_concentration(
    down_m: float,
    across_m: float,
    elapsed_s: float,
    release_g_s: float,
    depth_m: float,
    speed_m_s: float,
    mixing_m2_s: float,
) -> float:
    """Return the mean concentration `elapsed_s` after the bait went in, in g/m³.

    Parameters
    ----------
    down_m, across_m : float
        Metres down-current of the trap (negative is up-current) and across.
    elapsed_s : float
        Since the bait began to give off scent, seconds, above 0.
    release_g_s : float
        What the bait gives off, g/s, 0 or more.
    depth_m : float
        Of the layer in which the scent is mixed, metres, above 0.
    speed_m_s, mixing_m2_s : float
        Current, m/s, and horizontal eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        g/m³; tends to `exact_plume_concentration`.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN, infinite, or a point at the trap itself.

    References
    ----------
    Carslaw & Jaeger (1959): instantaneous line sources added up over time (from
    memory); the integral is the one of leaky wells, Hantush & Jacob (1955).

    Examples
    --------
    >>> print(f"{started_plume_concentration(10, 0, 200, 1e-6, 0.5, 0.05, 0.005):.5e}")
    5.62795e-06
    """
    release, depth = not_negative(release_g_s, "release_g_s"), positive(depth_m, "depth_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    elapsed = positive(elapsed_s, "elapsed_s")
    x, y = float(finite_array(down_m, "down_m")), float(finite_array(across_m, "across_m"))
    distance = math.hypot(x, y)
    if distance <= SMALLEST:
        raise InvalidValue(
            "The concentration at the trap itself has no end.", "down_m", "Give a point beside it."
        )

    steep = speed * distance / (2 * mixing)
    total = _leaky_well(steep, math.log(elapsed * speed / distance))
    short_of = y**2 / (distance + x) if x > 0 else distance - x
    scale = release / (4 * math.pi * mixing * depth)
    return scale * total * math.exp(-speed / (2 * mixing) * short_of)


def _leaky_well(steep: float, latest: float) -> float:
    """Return the integral of exp(-steep (cosh v - 1)) over v up to `latest`.

    Age of the water = (r / u) e^v turns the sum over time into this; the integrand is
    1 at most and even, and over all v it is twice K0, the steady state.
    """
    from scipy.integrate import quad

    fallen = 2 * steep * math.sinh(min(latest, 0.0) / 2) ** 2 if latest > -600 else math.inf
    if fallen > 700:
        return 0.0
    # 50 more in the exponent is nothing beside the greatest value: e^-50 is 2e-22.
    first = -2 * math.asinh(math.sqrt((fallen + 50) / (2 * steep)))
    last = min(latest, 2 * math.asinh(math.sqrt(25 / steep)))

    def weight(log_age: float) -> float:
        return math.exp(-2 * steep * math.sinh(log_age / 2) ** 2)

    return float(quad(weight, first, last, epsabs=0.0, epsrel=1e-9)[0])


def bed_plume_concentration(
    down_m: ArrayLike,
    across_m: ArrayLike,
    up_m: ArrayLike,
    release_g_s: float,
    speed_m_s: float,
    mixing_m2_s: float,
    vertical_mixing_m2_s: float,
) -> NDArray[np.float64]:
    """Return the mean concentration of scent that is not yet mixed over the depth, in g/m³.

    Parameters
    ----------
    down_m, across_m, up_m : array_like of float, shape (n,) or scalar
        Metres down-current, across, and above the bed. Broadcast.
    release_g_s : float
        What the bait on the bed gives off, g/s, 0 or more.
    speed_m_s : float
        Current, m/s, above 0.
    mixing_m2_s, vertical_mixing_m2_s : float
        Horizontal and vertical eddy diffusivity, m²/s; both above 0. Vertical 1e-6
        (calm) to 1e-4 (windy) in small lakes.

    Returns
    -------
    ndarray of float, shape (n,) or ()
        g/m³; 0 at the trap and up-current of it. Holds up to about
        `bed_plume_mixed_distance`.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    Point source on a plane that lets nothing through, slender plume: Fischer et al.
    (1979), ch. 2 (from memory). Vertical mixing: Scully et al. (1998), a hydrogen
    peroxide tracer in small lakes (abstract read).

    Examples
    --------
    >>> print(f"{bed_plume_concentration(10, 0, 0, 1e-6, 0.05, 0.005, 1e-4):.5e}")
    2.25079e-05
    """
    release, speed = not_negative(release_g_s, "release_g_s"), positive(speed_m_s, "speed_m_s")
    mixing = positive(mixing_m2_s, "mixing_m2_s")
    vertical = positive(vertical_mixing_m2_s, "vertical_mixing_m2_s")
    down, across, up = np.broadcast_arrays(
        finite_array(down_m, "down_m"),
        finite_array(across_m, "across_m"),
        finite_array(up_m, "up_m"),
    )
    found = np.zeros(down.shape)
    ahead = down > SMALLEST
    x, y, z = down[ahead], across[ahead], up[ahead]
    peak = release / (2 * math.pi * x * math.sqrt(mixing * vertical))
    found[ahead] = peak * np.exp(-speed / (4 * x) * (y**2 / mixing + z**2 / vertical))
    return found


def bed_plume_length(
    strength_m3_s: float, mixing_m2_s: float, vertical_mixing_m2_s: float
) -> float:
    """Return how far along the bed the unmixed scent stays above its threshold, in metres.

    It goes with the strength, not with its square as in a mixed layer, and not with
    the current: one more reason never to promise a length.

    Parameters
    ----------
    strength_m3_s : float
        Release over threshold, S = Q / C0, m³/s, above 0.
    mixing_m2_s, vertical_mixing_m2_s : float
        Horizontal and vertical eddy diffusivity, m²/s; both above 0.

    Returns
    -------
    float
        S / (2π √(Ky Kz)), metres.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    `bed_plume_concentration` on the bed at y = 0, solved for x.

    Examples
    --------
    >>> round(bed_plume_length(0.1, 0.005, 1e-4), 4)
    22.5079
    """
    strength = positive(strength_m3_s, "strength_m3_s")
    mixing = positive(mixing_m2_s, "mixing_m2_s")
    vertical = positive(vertical_mixing_m2_s, "vertical_mixing_m2_s")
    return strength / (2 * math.pi * math.sqrt(mixing * vertical))


def bed_plume_half_width(
    down_m: ArrayLike, length_m: float, speed_m_s: float, mixing_m2_s: float
) -> NDArray[np.float64]:
    """Return the half-width on the bed of an unmixed plume of `length_m`, in metres.

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
        √((4 K x / u) ln(L / x)), metres; 0 outside 0 < x < L. Greatest at L / e.

    Raises
    ------
    InvalidValue
        A value outside its range, NaN or infinite.

    References
    ----------
    `bed_plume_concentration` set to its value at (L, 0, 0), solved for y.

    Examples
    --------
    >>> round(float(bed_plume_half_width(8.2802, 22.5079, 0.05, 0.005)), 4)
    1.8199
    """
    length = positive(length_m, "length_m")
    speed, mixing = positive(speed_m_s, "speed_m_s"), positive(mixing_m2_s, "mixing_m2_s")
    down = finite_array(down_m, "down_m")
    half_width = np.zeros(down.shape)
    inside = (down > SMALLEST) & (down < length)
    x = down[inside]
    half_width[inside] = np.sqrt(4 * mixing * x / speed * np.log(length / x))
    return half_width


def bed_plume_mixed_distance(
    speed_m_s: float, depth_m: float, vertical_mixing_m2_s: float
) -> float:
    """Return how far down-current the scent is mixed over the depth, in metres.

    Parameters
    ----------
    speed_m_s, depth_m, vertical_mixing_m2_s : float
        Current, m/s; depth, metres; vertical eddy diffusivity, m²/s; all above 0.

    Returns
    -------
    float
        About 0.4 u h² / Kz, metres: a rule, not a sharp edge.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Fischer et al. (1979), ch. 5, with the source at one wall (from memory).

    Examples
    --------
    >>> round(bed_plume_mixed_distance(0.05, 0.5, 1e-4), 6)
    50.0
    """
    speed, depth = positive(speed_m_s, "speed_m_s"), positive(depth_m, "depth_m")
    return 0.4 * speed * depth**2 / positive(vertical_mixing_m2_s, "vertical_mixing_m2_s")

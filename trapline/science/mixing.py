"""How strongly the water mixes: values to assume by kind of shore, and where they come from.

All are orders of magnitude. Near a small source wandering of the current matters more
than mixing (Csanady 1963, dye in Lake Huron, abstract read), so let the user change them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from trapline.science.bounds import positive


@dataclass(frozen=True, slots=True)
class AssumedMixing:
    """A horizontal eddy diffusivity in m²/s to assume, and what the value rests on."""

    mixing_m2_s: float
    source: str


_OKUBO = "Okubo (1971), ocean values, extrapolated below their range of 100 m"
MIXING: Final[Mapping[str, AssumedMixing]] = MappingProxyType(
    {
        "sheltered pond": AssumedMixing(
            5e-4, f"assumed; order of magnitude after {_OKUBO} to a scale of 2 m"
        ),
        "lake shore": AssumedMixing(
            2e-3,
            f"assumed; middle of 1e-3 to 3e-3, order of magnitude after {_OKUBO} to 5 to 10 m",
        ),
        "slow river or tidal": AssumedMixing(
            5e-3,
            "assumed; order of magnitude after Fischer et al. (1979), transverse mixing of"
            " natural streams 1 m deep with a shear velocity of 5 to 10 mm/s (from memory)",
        ),
        "exposed shore": AssumedMixing(
            1e-2, f"assumed; order of magnitude after {_OKUBO} to a scale of 30 m"
        ),
    }
)


def ocean_spread(elapsed_s: float) -> float:
    """Return the radial standard deviation of a patch of dye in the ocean, in metres.

    Parameters
    ----------
    elapsed_s : float
        Age of the patch, seconds, above 0. Observed from 1 h to 1 month.

    Returns
    -------
    float
        σ_rc, metres, from σ_rc² = 0.0108 t^2.34 (cm², s).

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Okubo (1971), Oceanic diffusion diagrams, Deep-Sea Res. 18, 789-802 (abstract read,
    coefficients from memory).

    Examples
    --------
    >>> round(ocean_spread(3600), 3)
    15.052
    """
    spread_cm2 = 0.0108 * positive(elapsed_s, "elapsed_s") ** 2.34
    return float(spread_cm2**0.5) / 100


def ocean_mixing_after(elapsed_s: float) -> float:
    """Return the apparent diffusivity of a patch of dye of that age, in m²/s.

    Parameters
    ----------
    elapsed_s : float
        Age of the patch, seconds, above 0. Observed from 1 h to 1 month.

    Returns
    -------
    float
        σ_rc² / 4 t, m²/s.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Okubo (1971), Deep-Sea Res. 18, 789-802 (definition from memory).

    Examples
    --------
    >>> round(ocean_mixing_after(3600), 6)
    0.015733
    """
    return ocean_spread(elapsed_s) ** 2 / (4 * float(elapsed_s))


def ocean_mixing(scale_m: float) -> float:
    """Return the apparent diffusivity in the ocean at a scale of length, in m²/s.

    Parameters
    ----------
    scale_m : float
        Three times the radial standard deviation, metres, above 0. Observed from
        100 m to 100 km; a trap line (1 to 50 m) lies below: an extrapolation.

    Returns
    -------
    float
        K_a, m²/s, from K_a = 0.0103 ℓ^1.15 (cm²/s, cm).

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Okubo (1971), Deep-Sea Res. 18, 789-802 (abstract read, coefficients from memory).

    Examples
    --------
    >>> round(ocean_mixing(10), 7)
    0.0029029
    """
    return float(0.0103 * (100 * positive(scale_m, "scale_m")) ** 1.15) * 1e-4


def four_thirds_mixing(scale_m: float, rate_cm: float = 0.01) -> float:
    """Return the diffusivity by the four-thirds law at a scale of length, in m²/s.

    Parameters
    ----------
    scale_m : float
        Size of the patch, metres, above 0.
    rate_cm : float
        α, cm^(2/3)/s, above 0; about 0.002 to 0.01 (from memory).

    Returns
    -------
    float
        α ℓ^(4/3), m²/s.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Richardson (1926), Proc. R. Soc. A 110, 709-737 (from memory).

    Examples
    --------
    >>> print(f"{four_thirds_mixing(1):.4e}")
    4.6416e-04
    """
    rate = positive(rate_cm, "rate_cm") * 0.01 ** (2 / 3)
    return float(rate * positive(scale_m, "scale_m") ** (4 / 3))


def stream_mixing(depth_m: float, shear_velocity_m_s: float, factor: float = 0.6) -> float:
    """Return the diffusivity across a stream, in m²/s.

    Parameters
    ----------
    depth_m, shear_velocity_m_s : float
        Depth, metres, and shear velocity, m/s; both above 0.
    factor : float
        0.6 in natural streams, 0.15 in a straight channel; above 0.

    Returns
    -------
    float
        factor × h u*, m²/s.

    Raises
    ------
    InvalidValue
        A value outside its range, or NaN.

    References
    ----------
    Fischer et al. (1979), Mixing in Inland and Coastal Waters, ch. 5 (from memory).

    Examples
    --------
    >>> round(stream_mixing(1, 0.005), 6)
    0.003
    """
    shear = positive(shear_velocity_m_s, "shear_velocity_m_s")
    return positive(factor, "factor") * positive(depth_m, "depth_m") * shear

"""How a catch grows, levels off and falls with the soak; conversions between soaks.

Times may be in any one unit as long as the rates are per that unit. What counts as effort
is in effort.py.
"""

import math

from trapline.errors import InvalidValue
from trapline.science.bounds import not_negative, positive


def saturating_catch(limit: float, rate: float, soak: float) -> float:
    """Return the animals in a trap whose catch levels off: C(t) = limit (1 - exp(-rate t)).

    Parameters
    ----------
    limit : float
        Animals after a soak without end, 0 or more.
    rate : float
        Per unit of time, above 0.
    soak : float
        Units of time, 0 or more.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Munro (1974), The mode of operation of Antillean fish traps and the relationships
    between ingress, escapement, catch and soak, J. Cons. int. Explor. Mer 35, 337-350
    (form from memory).

    Examples
    --------
    >>> round(saturating_catch(9.0, 0.0457755, 24.0), 4)
    6.0
    """
    grown = -math.expm1(-positive(rate, "rate") * not_negative(soak, "soak"))
    return not_negative(limit, "limit") * grown


def entry_and_escape_catch(entries: float, escape: float, soak: float) -> float:
    """Return the animals in a trap that are entering evenly and escaping at a constant hazard.

    Parameters
    ----------
    entries : float
        Animals that enter per unit of time, 0 or more.
    escape : float
        Hazard of escape per unit of time, above 0.
    soak : float
        Units of time, 0 or more.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Munro (1974), J. Cons. int. Explor. Mer 35, 337-350 (form from memory).

    Examples
    --------
    >>> round(entry_and_escape_catch(4.0, 0.25, 3.0), 5)
    8.44214
    """
    limit = not_negative(entries, "entries") / positive(escape, "escape")
    return saturating_catch(limit, escape, soak)


def fading_bait_catch(entries: float, fading: float, escape: float, soak: float) -> float:
    """Return the animals in a trap whose bait fades while animals escape.

    N(t) = a0/(p - b) (exp(-b t) - exp(-p t)): the catch rises to a peak and then falls.

    Parameters
    ----------
    entries : float
        Animals that enter per unit of time while the bait is fresh, 0 or more.
    fading, escape : float
        b and p, per unit of time, above 0; they may be equal.
    soak : float
        Units of time, 0 or more.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Two-compartment kinetics (Bateman's equation); computed independently, elementary.

    Examples
    --------
    >>> round(fading_bait_catch(6.0, 1.0, 0.25, 1.0), 5)
    3.28737
    """
    b, p = positive(fading, "fading"), positive(escape, "escape")
    time = not_negative(soak, "soak")
    gap = (p - b) * time
    # (1 - exp(-gap)) / gap tends to 1 where both hazards are equal.
    mean_left = -math.expm1(-gap) / gap if gap else 1.0
    return not_negative(entries, "entries") * math.exp(-b * time) * time * mean_left


def fading_bait_peak(fading: float, escape: float) -> float:
    """Return the soak at which `fading_bait_catch` is highest, in the unit of the rates.

    Parameters
    ----------
    fading, escape : float
        Per unit of time, above 0; they may be equal.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Where the derivative is 0: ln(p/b)/(p - b); elementary.

    Examples
    --------
    >>> round(fading_bait_peak(1.0, 0.25), 5)
    1.84839
    """
    b, p = positive(fading, "fading"), positive(escape, "escape")
    # atanh keeps its digits where the two are nearly equal: ln(p/b) = 2 atanh((p-b)/(p+b)).
    return 2.0 * math.atanh((p - b) / (p + b)) / (p - b) if p != b else 1.0 / b


def crowded_trap(entries: float, room: float, escape: float) -> tuple[float, float]:
    """Return the rate and the limit of a saturating catch where animals keep others out.

    dN/dt = a (1 - N/room) - p N, so rate = a/room + p and limit = a/rate.

    Parameters
    ----------
    entries : float
        a, animals that enter the empty trap per unit of time, above 0.
    room : float
        Animals in the trap at which nothing enters any more, above 0.
    escape : float
        p, hazard of escape per unit of time, 0 or more.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Addison & Bell (1997), Simulation modelling of capture processes in trap fisheries,
    Mar. Freshw. Res. 48, 1035-1044 (crowding); the linear form is elementary.

    Examples
    --------
    >>> rate, limit = crowded_trap(8.0, 12.0, 0.25)
    >>> round(rate, 6), round(limit, 6)
    (0.916667, 8.727273)
    """
    rate = positive(entries, "entries") / positive(room, "room") + not_negative(escape, "escape")
    return rate, entries / rate


def saturation_from_two_soaks(
    catch: float, double_catch: float, soak: float
) -> tuple[float, float]:
    """Return the rate and the limit of a saturating catch from mean catches at T and 2T.

    Parameters
    ----------
    catch, double_catch : float
        Mean animals a trap after the soak and after twice the soak.
    soak : float
        T, above 0.

    Raises
    ------
    InvalidValue
        A value outside its range, or catches that do not level off: the longer soak must
        give more than the shorter one and less than twice as much.

    References
    ----------
    Two equations of `saturating_catch` solved: rate T = -ln(C2/C1 - 1); elementary.

    Examples
    --------
    >>> rate_per_h, limit = saturation_from_two_soaks(6.0, 8.0, 24.0)
    >>> round(rate_per_h, 7), round(limit, 6)
    (0.0457755, 9.0)
    """
    first, second = positive(catch, "catch"), positive(double_catch, "double_catch")
    if not first < second < 2 * first:
        raise InvalidValue(
            f"{first:g} and then {second:g} in twice the time is no levelling off.",
            "double_catch",
            "Compare catches that rise, but less than double.",
        )
    kept = second / first - 1.0
    return -math.log(kept) / positive(soak, "soak"), first / (1.0 - kept)


def standardised_catch(
    catch: float, soak_h: float, rate_per_h: float | None = None, *, standard_h: float = 24.0
) -> float:
    """Return a catch as it would be after the standard soak, in animals.

    Parameters
    ----------
    catch : float
        Animals, 0 or more.
    soak_h : float
        Hours, above 0.
    rate_per_h : float, optional
        Rate at which the catch levels off; without it the catch grows in step with time.
    standard_h : float
        The soak to convert to, hours, above 0.

    Raises
    ------
    InvalidValue
        A value outside its range.

    References
    ----------
    Proportion of two soaks of `saturating_catch`; elementary.

    Examples
    --------
    >>> standardised_catch(7, 16)
    10.5
    >>> round(standardised_catch(7, 16, 0.05), 4)
    8.8831
    """
    caught, soak = not_negative(catch, "catch"), positive(soak_h, "soak_h")
    standard = positive(standard_h, "standard_h")
    if rate_per_h is None:
        return caught * standard / soak
    rate = positive(rate_per_h, "rate_per_h")
    return caught * math.expm1(-rate * standard) / math.expm1(-rate * soak)

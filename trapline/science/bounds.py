"""The border of the science of scent: numbers that no formula can use are refused here."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from trapline.errors import InvalidValue

# Beyond these a product of a few quantities leaves the range of a double (1e±308).
SMALLEST = 1e-30
LARGEST = 1e30


def positive(value: float, name: str) -> float:
    """Return `value` as a float when it is finite and above 0; refuse it otherwise.

    Raises
    ------
    InvalidValue
        NaN, infinite, zero, negative, or outside 1e-30..1e30; names `name`.
    """
    number = float(value)
    if not math.isfinite(number) or number <= 0:
        raise InvalidValue(
            f"{name} is {number:g}; it must be more than 0.", name, "Give a number above 0."
        )
    if not SMALLEST <= number <= LARGEST:
        raise InvalidValue(
            f"{name} is {number:g}, beyond anything in water.", name, "Check its unit."
        )
    return number


def not_negative(value: float, name: str) -> float:
    """Return `value` as a float when it is 0 or more; what is below 1e-30 counts as 0.

    Raises
    ------
    InvalidValue
        NaN, infinite, negative, or above 1e30; names `name`.
    """
    number = float(value)
    if 0 <= number < SMALLEST:
        return 0.0
    if not math.isfinite(number) or number < 0:
        raise InvalidValue(
            f"{name} is {number:g}; it must be 0 or more.", name, "Give 0 or a number above it."
        )
    return positive(number, name)


def share(value: float, name: str) -> float:
    """Return `value` as a float when it lies in 0..1.

    Raises
    ------
    InvalidValue
        NaN or outside 0..1; names `name`.
    """
    number = float(value)
    if not 0 <= number <= 1:
        raise InvalidValue(
            f"{name} is {number:g}; it must lie between 0 and 1.", name, "Give a share of 1."
        )
    return number


def finite_array(values: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return `values` as an array of float when every one is finite and within ±1e30.

    Raises
    ------
    InvalidValue
        Names `name`, the first offending value and its index.
    """
    array = np.asarray(values, dtype=np.float64)
    _refuse_first(array, ~(np.abs(array) <= LARGEST), name, "it must be a finite number")
    return array


def not_negative_array(values: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return `values` as an array of float when every one is finite and 0 or more.

    Raises
    ------
    InvalidValue
        Names `name`, the first offending value and its index.
    """
    array = finite_array(values, name)
    _refuse_first(array, array < 0, name, "it must be 0 or more")
    return array


def positive_array(values: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return `values` as an array of float when every one is finite and above 0.

    Raises
    ------
    InvalidValue
        Names `name`, the first offending value and its index.
    """
    array = finite_array(values, name)
    _refuse_first(array, array <= 0, name, "it must be more than 0")
    return array


def _refuse_first(
    array: NDArray[np.float64], is_wrong: NDArray[np.bool_], name: str, rule: str
) -> None:
    """Raise InvalidValue for the first element marked wrong; a scalar has no index to name."""
    wrong = np.flatnonzero(is_wrong)
    if wrong.size:
        first = int(wrong[0])
        where = f"{name}, number {first + 1}" if array.ndim else name
        value = array.reshape(-1)[first]
        raise InvalidValue(f"{name} is {value:g}; {rule}.", where, "Correct this value.")

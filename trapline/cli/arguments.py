"""Reading what was typed behind the options: lengths and files."""

from pathlib import Path

from trapline.errors import InvalidValue
from trapline.exchange.files import read_bytes
from trapline.units import length_text, parse_length


def length_m(text: str, option: str) -> float:
    """Return a typed length in metres, 0 or more.

    Raises
    ------
    InvalidValue
        It is no length or negative; names the option.
    """
    try:
        metres = parse_length(text)
    except InvalidValue as problem:
        raise InvalidValue(problem.error, option, problem.what_to_do) from problem
    if metres < 0:
        raise InvalidValue(f"'{text}' is less than nothing.", option, "Write 0 m or more.")
    return metres


def gap_limits_m(min_gap: str, max_gap: str | None) -> tuple[float, float | None]:
    """Return the minimum and maximum gap in metres.

    Raises
    ------
    InvalidValue
        One is no length, or the maximum is under the minimum.
    """
    low = length_m(min_gap, "--min-gap")
    high = None if max_gap is None else length_m(max_gap, "--max-gap")
    if high is not None and high < low:
        raise InvalidValue(
            f"The maximum gap ({length_text(high)}) is less than the minimum ({length_text(low)}).",
            "--max-gap",
            "Type a larger maximum or a smaller minimum.",
        )
    return low, high


def file_bytes(name: str) -> tuple[bytes, str]:
    """Return the bytes of a file that was named, and the name that messages call it by."""
    path = Path(name)
    return read_bytes(path), path.name

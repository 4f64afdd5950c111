"""Exact limits against published tables and R."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from trapline.errors import InvalidValue
from trapline.science.exact_intervals import poisson_limits, share_limits

# R poisson.test and binom.test; the file names the tables.
REFERENCE = json.loads(
    (Path(__file__).parents[1] / "reference" / "exact_intervals.json").read_text("utf-8")
)


def close(values: Any) -> Any:
    return pytest.approx(values, rel=1e-10, abs=1e-12)


@pytest.mark.parametrize(("table", "level"), [("garwood_95", 0.95), ("garwood_90", 0.9)])
def test_limits_of_a_count_are_garwoods(table: str, level: float) -> None:
    rows = REFERENCE[table]
    assert [row["k"] for row in rows] == list(range(31))
    for row in rows:
        assert poisson_limits(row["k"], level) == close((row["lo"], row["hi"]))


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        # Garwood (1936), tabulated; the last one computed independently with R.
        (0, 0, 3.688879), (5, 1.623486, 11.66832), (10, 4.795389, 18.39036),
        (37, 26.0514, 50.9996),
    ],
)  # fmt: skip
def test_limits_of_a_few_counts(count: int, low: float, high: float) -> None:
    assert poisson_limits(count) == pytest.approx((low, high), abs=1e-4, rel=1e-6)


def test_limits_of_a_rate_over_a_time_at_risk() -> None:
    # The first example of the help page of R's poisson.test.
    row = REFERENCE["over_a_time"]
    found = [end / row["T"] for end in poisson_limits(row["x"])]
    assert found == close([row["lo"], row["hi"]])


def test_limits_of_a_share_are_those_of_clopper_and_pearson() -> None:
    rows = [*REFERENCE["share_95"], REFERENCE["mendel"]]
    assert len(rows) == 35
    for row in rows:
        found = share_limits(row["x"], row["n"])
        assert found == close((row["lo"], row["hi"]))


@pytest.mark.parametrize(
    ("successes", "n", "low", "high"),
    [
        # Clopper & Pearson; the first published, the others computed independently with R.
        (7, 10, 0.3475471, 0.9332605), (5, 10, 0.1870860, 0.8129140), (0, 12, 0, 0.2646485),
        (27, 45, 0.4433135, 0.7430241), (62, 100, 0.5174607, 0.7152325),
    ],
)  # fmt: skip
def test_limits_of_a_few_shares(successes: int, n: int, low: float, high: float) -> None:
    assert share_limits(successes, n) == pytest.approx((low, high), abs=5e-8)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.integers(0, 400), st.floats(0.5, 0.999))
def test_at_its_limits_a_count_is_just_extreme_enough(count: int, level: float) -> None:
    low, high = poisson_limits(count, level)
    tail = (1 - level) / 2
    assert stats.poisson.cdf(count, high) == pytest.approx(tail, rel=1e-8)
    if count:
        assert stats.poisson.sf(count - 1, low) == pytest.approx(tail, rel=1e-8)
    assert low <= count <= high


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.integers(0, 200), st.integers(0, 200), st.floats(0.5, 0.999))
def test_limits_of_a_share_are_mirrored(some: int, others: int, level: float) -> None:
    if some + others == 0:
        return
    low, high = share_limits(some, some + others, level)
    assert low <= some / (some + others) <= high
    mirrored = share_limits(others, some + others, level)
    assert (1 - high, 1 - low) == pytest.approx(mirrored, abs=1e-12)


@pytest.mark.parametrize("count", [-1, 1.5, math.nan, math.inf, True, "many"])
def test_what_is_no_count_is_refused(count: Any) -> None:
    with pytest.raises(InvalidValue):
        poisson_limits(count)
    with pytest.raises(InvalidValue):
        share_limits(count, 3)


@pytest.mark.parametrize(("successes", "n"), [(4, 3), (0, 0), (1, -1)])
def test_what_is_no_share_is_refused(successes: int, n: int) -> None:
    with pytest.raises(InvalidValue):
        share_limits(successes, n)


@pytest.mark.parametrize("level", [0, 1, 1.2, math.nan])
def test_a_level_lies_between_none_and_all(level: float) -> None:
    with pytest.raises(InvalidValue, match="level"):
        poisson_limits(3, level)
    with pytest.raises(InvalidValue, match="level"):
        share_limits(3, 4, level)

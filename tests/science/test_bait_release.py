import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.bait_release import attractive_hours, release_rate


@pytest.mark.parametrize(
    ("half_life", "hours"),
    [
        (6, [6.4921, 8.1152, 8.6224]),
        (12, [8.6562, 12.9843, 16.2303]),
        (3, [4.0576, 4.3112, 4.3280]),
        (24, [10.1413, 17.3123, 25.9685]),
    ],
)
def test_attractive_hours_of_12_24_and_48_equal_those_computed_independently(half_life, hours):
    # Computed independently with numpy.
    found = attractive_hours([12, 24, 48], half_life)
    assert found.tolist() == pytest.approx(hours, abs=5.1e-5)


def test_a_bait_of_2_g_gives_off_what_was_computed_independently():
    # Computed independently with numpy: 100 g of which 2 % is soluble (assumed), half-life 6 h.
    found = release_rate([0, 6, 12], 2, 6)
    assert found[[0, 2]].tolist() == pytest.approx([6.418e-5, 1.6045e-5], rel=4e-5, abs=0)
    assert found[1] == pytest.approx(found[0] / 2)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(0.1, 100), st.floats(0.1, 100))
def test_attractive_hours_are_the_release_so_far_over_the_first_rate(half_life, soak):
    hours, step = np.linspace(0, soak, 20_001, retstep=True)
    rates = release_rate(hours, 3, half_life)
    so_far = float(np.sum(rates[1:] + rates[:-1])) / 2 * step
    found = float(attractive_hours(soak, half_life))
    assert found == pytest.approx(so_far / rates[0], rel=1e-4, abs=0)
    assert 0 < found < soak


def test_a_bait_that_never_fades_attracts_all_the_soak():
    assert float(attractive_hours(24, 1e9)) == pytest.approx(24)
    assert float(attractive_hours(0, 6)) == 0


@pytest.mark.parametrize("wrong", [-1.0, math.nan, math.inf])
def test_hours_that_cannot_be_are_refused(wrong):
    with pytest.raises(InvalidValue, match="soak_h"):
        attractive_hours([1, wrong], 6)
    with pytest.raises(InvalidValue, match="half_life_h"):
        attractive_hours(12, wrong)
    with pytest.raises(InvalidValue, match="elapsed_h"):
        release_rate(wrong, 2, 6)
    with pytest.raises(InvalidValue, match="soluble_g"):
        release_rate(1, wrong, 6)

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science import scent_near as near
from trapline.science.scent import plume_concentration

WATER = (1e-6, 0.5, 0.05, 0.005)  # release g/s, depth m, current m/s, mixing m²/s


@pytest.mark.parametrize(
    ("down", "across", "concentration"),
    [
        (10, 0, 1.125589e-5),
        (10, 2, 4.141008e-6),
        (1, 0, 3.487451e-5),
        (-1, 0, 1.583300e-9),
        (-0.2, 0, 9.860364e-6),
        (0, 1, 2.349826e-7),
    ],
)
def test_the_exact_plume_has_the_numbers_computed_independently(down, across, concentration):
    # Computed independently with scipy (K0 scaled by its exponential).
    found = float(near.exact_plume_concentration(down, across, *WATER))
    assert found == pytest.approx(concentration, rel=5e-7, abs=0)  # half its last digit


def test_the_slender_plume_is_a_little_higher_close_to_the_trap():
    # Computed independently with numpy.
    assert float(plume_concentration(1, 0, *WATER)) == pytest.approx(3.568248e-5, rel=2e-7, abs=0)


@pytest.mark.parametrize(
    ("elapsed_s", "concentration", "digits"),
    [
        (100, 3.0366e-12, 2e-5),
        (200, 5.62795e-6, 1e-6),
        (300, 1.12345e-5, 5e-6),
        (600, 1.12559e-5, 5e-6),
    ],
)
def test_scent_arrives_as_computed_independently(elapsed_s, concentration, digits):
    # Computed independently with scipy, 10 m down-current.
    found = near.started_plume_concentration(10, 0, elapsed_s, *WATER)
    assert found == pytest.approx(concentration, rel=digits, abs=0)


@pytest.mark.parametrize("elapsed_s", [40, 90, 200, 260, 1000])
@pytest.mark.parametrize("across", [0, 1.5])
def test_scent_arrives_as_the_sum_of_what_was_given_off_each_moment(elapsed_s, across):
    release, depth, speed, mixing = WATER
    age_s, step_s = np.linspace(0, elapsed_s, 400_001, retstep=True)
    age_s = age_s[1:]
    left = np.exp(-((10 - speed * age_s) ** 2 + across**2) / (4 * mixing * age_s)) / age_s
    summed = release / (4 * math.pi * mixing * depth) * (left.sum() - left[-1] / 2) * step_s
    found = near.started_plume_concentration(10, across, elapsed_s, *WATER)
    assert found == pytest.approx(float(summed), rel=1e-6, abs=0)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.floats(-30, 30),
    st.floats(-10, 10),
    st.floats(1e-3, 0.5),
    st.floats(1e-4, 1e-2),
)
def test_after_a_long_time_the_started_plume_is_the_exact_one(down, across, speed, mixing):
    if math.hypot(down, across) < 0.01:
        down = 0.01
    steady = float(near.exact_plume_concentration(down, across, 1, 1, speed, mixing))
    late = near.started_plume_concentration(down, across, 1e12, 1, 1, speed, mixing)
    assert late == pytest.approx(steady, rel=1e-8, abs=1e-290)
    early = near.started_plume_concentration(down, across, 20, 1, 1, speed, mixing)
    assert 0 <= early <= steady * (1 + 1e-9)


def test_far_down_current_the_exact_plume_is_the_slender_one():
    down, across = [100, 100, 1000], [0, 3, 5]
    exact = near.exact_plume_concentration(down, across, *WATER)
    slender = plume_concentration(down, across, *WATER)
    assert exact.tolist() == pytest.approx(slender.tolist(), rel=2e-3, abs=0)


def test_the_exact_plume_keeps_its_digits_far_away():
    far = (10.0**7, [0, 10, 50], 1e-6, 0.5, 1.0, 1e-4)
    exact, slender = near.exact_plume_concentration(*far), plume_concentration(*far)
    assert exact.tolist() == pytest.approx(slender.tolist(), rel=1e-8, abs=0)


def test_no_distance_makes_the_exact_plume_overflow():
    found = near.exact_plume_concentration([1e6, -1e6, 1e6], [0, 0, 1e6], *WATER)
    assert np.isfinite(found).all()
    assert found[0] > 0
    assert near.started_plume_concentration(1e6, 0, 1.0, *WATER) == 0


def test_the_trap_itself_is_refused():
    with pytest.raises(InvalidValue, match="trap itself"):
        near.exact_plume_concentration([1, 0], [0, 0], *WATER)
    with pytest.raises(InvalidValue, match="trap itself"):
        near.started_plume_concentration(0, 0, 10, *WATER)
    with pytest.raises(InvalidValue, match="elapsed_s"):
        near.started_plume_concentration(1, 0, 0, *WATER)


BED = (0.05, 0.005, 1e-4)  # current m/s, mixing m²/s, vertical mixing m²/s


def test_the_plume_on_the_bed_has_the_numbers_computed_independently():
    # Computed independently with numpy: strength 0.1 m³/s, release 1e-6 g/s.
    length = near.bed_plume_length(0.1, 0.005, 1e-4)
    assert length == pytest.approx(22.5079, abs=5.1e-5)
    assert length / math.e == pytest.approx(8.2802, abs=5.1e-5)
    down = np.linspace(0.01, length, 20_001)
    widths = near.bed_plume_half_width(down, length, 0.05, 0.005)
    assert float(widths.max()) == pytest.approx(1.8199, abs=5.1e-5)
    assert down[widths.argmax()] == pytest.approx(8.2802, abs=2e-3)
    concentration = float(near.bed_plume_concentration(10, 0, 0, 1e-6, *BED))
    assert concentration == pytest.approx(2.25079e-5, rel=3e-6, abs=0)
    assert near.bed_plume_mixed_distance(0.05, 0.5, 1e-4) == pytest.approx(50)


def test_the_plume_on_the_bed_goes_with_the_strength_and_not_its_square():
    one, two = (near.bed_plume_length(strength, 0.005, 1e-4) for strength in (0.1, 0.2))
    assert two == pytest.approx(2 * one)


def test_all_that_the_bait_gives_off_passes_every_cross_section_above_the_bed():
    y, dy = np.linspace(-15, 15, 1501, retstep=True)
    z, dz = np.linspace(0, 3, 1501, retstep=True)
    found = near.bed_plume_concentration(10, y[:, None], z[None, :], 1e-6, *BED)
    found[:, 0] /= 2  # the trapezoid rule at the bed
    assert float(found.sum()) * dy * dz * 0.05 == pytest.approx(1e-6, rel=1e-6, abs=0)


def test_the_edge_of_the_plume_on_the_bed_is_at_the_threshold():
    length = near.bed_plume_length(0.1, 0.005, 1e-4)
    edge = near.bed_plume_half_width([2, 8, 20], length, 0.05, 0.005)
    found = near.bed_plume_concentration([2, 8, 20], edge, 0, 0.1 * 1e-5, *BED)
    assert found.tolist() == pytest.approx([1e-5] * 3)
    assert near.bed_plume_concentration([-1, 0], 0, 0, 1e-6, *BED).tolist() == [0, 0]


def test_a_steady_plume_without_a_current_is_refused():
    with pytest.raises(InvalidValue, match="speed_m_s"):
        near.exact_plume_concentration(1, 0, 1e-6, 0.5, 0.0, 0.005)
    with pytest.raises(InvalidValue, match="vertical_mixing_m2_s"):
        near.bed_plume_length(0.1, 0.005, math.nan)

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from trapline.errors import InvalidValue
from trapline.science import scent_still as still


def test_a_puff_has_the_numbers_computed_independently():
    # Computed independently with numpy: 1 g, mixing 0.001 m²/s, depth 0.5 m, threshold 0.01 g/m³.
    lifetime = still.puff_lifetime(1, 0.01, 0.5, 0.001)
    assert lifetime == pytest.approx(15915.494, abs=5.1e-4)
    assert lifetime / math.e == pytest.approx(5854.983, abs=5.1e-4)
    assert still.puff_max_radius(1, 0.01, 0.5) == pytest.approx(4.83941, abs=5.1e-6)
    assert float(still.puff_radius(600, lifetime, 0.001)) == pytest.approx(2.80490, abs=5.1e-6)
    found = still.puff_concentration([0, 3], 600, 1, 0.5, 0.001)
    assert found.tolist() == pytest.approx([0.265258, 6.238276e-3], rel=2e-6, abs=0)
    assert still.puff_max_radius(1, 0.01, 1) == pytest.approx(3.42198, abs=5.1e-6)


def test_the_greatest_radius_of_a_puff_does_not_depend_on_mixing():
    for mixing in (0.0005, 0.001, 0.01):
        lifetime = still.puff_lifetime(1, 0.01, 1, mixing)
        at_e = float(still.puff_radius(lifetime / math.e, lifetime, mixing))
        assert at_e == pytest.approx(still.puff_max_radius(1, 0.01, 1))
        around = still.puff_radius(np.linspace(1, lifetime, 500), lifetime, mixing)
        assert around.max() <= at_e
    assert still.puff_radius(
        [-5, 0, lifetime, 1.5 * lifetime, 1e-320], lifetime, 0.01
    ).tolist() == (pytest.approx([0] * 5, abs=1e-100))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(60, 1e5), st.floats(0.1, 5), st.floats(1e-4, 1e-2))
def test_a_puff_loses_nothing_and_a_steady_bait_gives_all(elapsed, depth, mixing):
    scale = still.mixing_reach(mixing, elapsed)

    def of(concentration, given_off):
        def ring(part):
            r = part * scale
            density = float(concentration(r, elapsed, given_off, depth, mixing))
            return 2 * math.pi * r * depth * density * scale

        return quad(ring, 1e-9, 6, epsrel=1e-9)[0]

    assert of(still.puff_concentration, 2.0) == pytest.approx(2.0, rel=1e-6, abs=0)
    assert of(still.still_concentration, 1e-6) == pytest.approx(1e-6 * elapsed, rel=1e-6, abs=0)


@pytest.mark.parametrize(
    ("strength", "mixing", "depth", "target", "w", "hours", "radius"),
    [
        (0.1, 0.001, 0.5, 0.062832, 1.82082, 1, 5.1205),
        (0.1, 0.001, 0.5, 0.062832, 1.82082, 12, 17.7380),
        (0.01, 0.0005, 1.0, 0.628319, 0.447899, 12, 6.2208),
        (0.01, 0.001, 0.5, 0.628319, 0.447899, 24, 12.4416),
    ],
)
def test_a_steady_bait_reaches_as_far_as_computed_independently(
    strength, mixing, depth, target, w, hours, radius
):
    # Computed independently with scipy (exponential integral and Brent's method).
    assert 4 * math.pi * mixing * depth / strength == pytest.approx(target, abs=5.1e-7)
    found = still.still_radius(strength, hours * 3600, depth, mixing)
    assert found == pytest.approx(radius, abs=5.1e-5)
    assert (found / still.mixing_reach(mixing, hours * 3600)) ** 2 == pytest.approx(
        w, rel=3e-6, abs=0
    )


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.floats(-4, 4), st.floats(60, 1e6), st.floats(0.1, 10), st.floats(1e-4, 1e-1))
def test_the_concentration_at_the_edge_is_the_threshold(log_strength, elapsed, depth, mixing):
    strength = 10**log_strength
    radius = still.still_radius(strength, elapsed, depth, mixing)
    if radius > 1e-100:
        found = still.still_concentration(radius, elapsed, strength * 1e-5, depth, mixing)
        assert float(found) == pytest.approx(1e-5, rel=1e-9, abs=0)
    else:
        assert 4 * math.pi * mixing * depth / strength > 400


def test_extreme_strengths_give_a_radius():
    assert still.still_radius(1e-9, 3600, 1, 0.01) == 0.0
    # For a small w the exponential integral is -γ - ln w (Abramowitz & Stegun 5.1.11).
    weak = 4 * math.pi * 0.01 / 100
    w = math.exp(-100 - np.euler_gamma)
    assert still.still_radius(weak, 3600, 1, 0.01) == pytest.approx(
        math.sqrt(144 * w), rel=1e-9, abs=0
    )
    assert still.still_radius(1e25, 3600, 1, 0.01) > still.still_radius(1e5, 3600, 1, 0.01)


def test_other_still_numbers_equal_those_computed_independently():
    # Computed independently with numpy.
    assert still.still_bed_radius(0.1, 0.001) == pytest.approx(15.9155, abs=5.1e-5)
    assert still.mixing_reach(0.001, 12 * 3600) == pytest.approx(13.1, abs=0.05)
    # A drift of 0.3 mm/s goes as far in the same time.
    assert still.mixing_reach(0.001, 12 * 3600) == pytest.approx(
        0.3e-3 * 12 * 3600, rel=0.02, abs=0
    )


@pytest.mark.parametrize("wrong", [-1.0, 0.0, math.nan])
def test_numbers_that_cannot_be_are_refused(wrong):
    with pytest.raises(InvalidValue, match="distance_m"):
        still.still_concentration([1, wrong], 60, 1e-6, 0.5, 0.001)
    with pytest.raises(InvalidValue, match="strength_m3_s"):
        still.still_radius(wrong, 60, 0.5, 0.001)
    with pytest.raises(InvalidValue, match="threshold_g_m3"):
        still.puff_lifetime(1, wrong, 0.5, 0.001)
    with pytest.raises(InvalidValue, match="mixing_m2_s"):
        still.puff_concentration(1, 60, 1, 0.5, wrong)

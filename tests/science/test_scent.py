import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import lambertw

from trapline.errors import InvalidValue
from trapline.science import scent
from trapline.science.scent_still import still_radius

speeds = st.floats(0.005, 1.0)
mixings = st.floats(1e-4, 2e-2)
depths = st.floats(0.1, 10)
lengths = st.floats(0.5, 300)

# Computed independently with numpy; release 1e-6 g/s and threshold 1e-5 g/m³ (strength 0.1),
# twice that in the last row. Depth, speed, mixing, strength | spread at 10 m, concentration at
# (10, 0) and (10, 2), length, greatest half-width, where, area.
PLUMES = [
    (0.5, 0.05, 0.005, 0.1, 1.4142, 1.12838e-5, 4.15107e-6, 12.7324, 0.9679, 4.6840, 19.6028),
    (1.0, 0.05, 0.005, 0.1, 1.4142, 5.64190e-6, 2.07554e-6, 3.1831, 0.4839, 1.1710, 2.4504),
    (0.5, 0.10, 0.005, 0.1, 1.0000, 7.97885e-6, 1.07982e-6, 6.3662, 0.4839, 2.3420, 4.9007),
    (0.5, 0.02, 0.001, 0.1, 1.0000, 3.98942e-5, 5.39910e-6, 159.1549, 2.4197, 58.5498, 612.5877),
    (0.5, 0.05, 0.005, 0.2, 1.4142, 2.25676e-5, 8.30215e-6, 50.9296, 1.9358, 18.7359, 156.8224),
]


@pytest.mark.parametrize(
    ("depth", "speed", "mixing", "strength", "spread", "on_axis", "beside", "length", "widest",
     "where", "area"),
    PLUMES,
)  # fmt: skip
def test_a_plume_has_the_numbers_computed_independently(
    depth, speed, mixing, strength, spread, on_axis, beside, length, widest, where, area
):
    release = strength * 1e-5
    water = (release, depth, speed, mixing)
    assert float(scent.plume_spread(10, speed, mixing)) == pytest.approx(spread, abs=5.1e-5)
    found = scent.plume_concentration([10, 10], [0, 2], *water)
    assert found.tolist() == pytest.approx([on_axis, beside], rel=2e-6, abs=0)
    reach = scent.plume_length(strength, depth, speed, mixing)
    assert reach == pytest.approx(length, abs=5.1e-5)
    assert scent.plume_max_half_width(reach, speed, mixing) == pytest.approx(widest, abs=5.1e-5)
    assert reach / math.e == pytest.approx(where, abs=5.1e-5)
    assert scent.plume_area(reach, speed, mixing) == pytest.approx(area, abs=5.1e-5)


@pytest.mark.parametrize(
    ("length", "speed", "mixing", "depth", "strength", "widest"),
    [
        (20, 0.05, 0.005, 0.5, 0.125331, 1.2131),
        (10, 0.02, 0.001, 0.5, 0.025066, 0.6065),
        (70, 0.096, 0.005, 1.0, 0.649792, 1.6378),
    ],
)
def test_an_assumed_length_gives_the_strength_computed_independently(
    length, speed, mixing, depth, strength, widest
):
    assert scent.plume_strength(length, depth, speed, mixing) == pytest.approx(strength, abs=5e-7)
    assert scent.plume_max_half_width(length, speed, mixing) == pytest.approx(widest, abs=5.1e-5)


def test_a_plume_of_20_m_in_5_cm_a_second_is_about_2_4_m_wide():
    assert 2 * scent.plume_max_half_width(20, 0.05, 0.005) == pytest.approx(2.4, abs=0.05)


def test_half_widths_equal_those_computed_independently():
    assert float(scent.plume_half_width(12.732395 / 2, 12.732395, 0.05, 0.005)) == pytest.approx(
        0.939437, abs=5.1e-7
    )
    at_half_and_quarter = scent.plume_half_width([10, 5], 20, 0.05, 0.005)
    assert at_half_and_quarter.tolist() == pytest.approx([1.177410] * 2, abs=5.1e-7)


def test_points_lie_inside_or_outside_a_plume_of_20_m():
    down = [10, 10, 5, 21, 20, 0, -1, -1e-9]
    across = [1.0, 1.5, 1.2, 0, 0, 0, 0, 0]
    found = scent.in_plume(down, across, 20, 0.05, 0.005)
    assert found.tolist() == [True] + [False] * 7
    assert scent.in_plume(10, -1.17, 20, 0.05, 0.005)


def test_decay_shortens_a_plume_to_the_length_computed_independently():
    # Computed independently with scipy: half-life 1 h.
    decay = math.log(2) / 3600
    assert scent.plume_length(0.1, 0.5, 0.05, 0.005, decay) == pytest.approx(11.640589, abs=5.1e-7)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.01, 10), depths, speeds, mixings, st.floats(1e-7, 1e-1))
def test_decay_shortens_a_plume_as_lambert_s_function_says(strength, depth, speed, mixing, decay):
    # L exp(2 λ L / u) = L0 is solved exactly by Lambert's W.
    lossless = scent.plume_length(strength, depth, speed, mixing)
    exact = speed / (2 * decay) * float(lambertw(2 * decay * lossless / speed).real)
    found = scent.plume_length(strength, depth, speed, mixing, decay)
    assert found == pytest.approx(exact, rel=1e-9, abs=0)
    assert found < lossless
    at_end = scent.plume_concentration(found, 0, strength * 1e-5, depth, speed, mixing, decay)
    assert float(at_end) == pytest.approx(1e-5, rel=1e-8, abs=0)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.floats(0.5, 100), depths, speeds, mixings)
def test_all_that_the_bait_gives_off_passes_every_cross_section(down, depth, speed, mixing):
    spread = float(scent.plume_spread(down, speed, mixing))
    across = np.linspace(-9 * spread, 9 * spread, 2001)
    flux = scent.plume_concentration(down, across, 2e-6, depth, speed, mixing) * speed * depth
    assert float(np.sum(flux)) * (across[1] - across[0]) == pytest.approx(2e-6, rel=1e-9, abs=0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(0.01, 10), depths, speeds, mixings)
def test_doubling_the_strength_makes_a_plume_four_times_as_long_and_twice_as_wide(
    strength, depth, speed, mixing
):
    one = scent.plume_length(strength, depth, speed, mixing)
    two = scent.plume_length(2 * strength, depth, speed, mixing)
    assert two == pytest.approx(4 * one)
    assert scent.plume_max_half_width(two, speed, mixing) == pytest.approx(
        2 * scent.plume_max_half_width(one, speed, mixing)
    )
    # The width does not depend on mixing, only on strength, current and depth.
    assert scent.plume_max_half_width(one, speed, mixing) == pytest.approx(
        strength / (speed * depth * math.sqrt(2 * math.pi * math.e))
    )
    assert scent.plume_strength(one, depth, speed, mixing) == pytest.approx(strength)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(lengths, speeds, mixings)
def test_the_area_is_the_integral_of_the_width(length, speed, mixing):
    def width(angle):
        # x = L (1 - cos angle) / 2 takes the steepness out of both tips.
        down = length * (1 - math.cos(angle)) / 2
        half_width = float(scent.plume_half_width(down, length, speed, mixing))
        return 2 * half_width * length / 2 * math.sin(angle)

    found = quad(width, 0, math.pi, epsrel=1e-9)[0]
    assert scent.plume_area(length, speed, mixing) == pytest.approx(found, rel=1e-7, abs=0)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(lengths, speeds, mixings, depths, st.floats(0.01, 0.99))
def test_the_concentration_on_the_contour_is_the_threshold(length, speed, mixing, depth, part):
    strength = scent.plume_strength(length, depth, speed, mixing)
    down = part * length
    edge = float(scent.plume_half_width(down, length, speed, mixing))
    on_edge = scent.plume_concentration(down, edge, strength * 1e-5, depth, speed, mixing)
    assert float(on_edge) == pytest.approx(1e-5, rel=1e-9, abs=0)
    assert edge <= scent.plume_max_half_width(length, speed, mixing) * (1 + 1e-12)


def test_nothing_is_smelt_up_current_and_no_distance_overflows():
    water = (1e-6, 0.5, 0.05, 0.005)
    assert scent.plume_concentration([-5, 0, 1e-320], [0, 0, 3], *water).tolist() == [0, 0, 0]
    assert scent.plume_half_width([-5, 0, 20, 30, 1e-320], 20, 0.05, 0.005).tolist() == [0] * 5


def test_two_grams_of_scent_reach_from_half_a_millimetre_to_52_km():
    # Thresholds of one lobster, 1e-4 and 1e-8 g/L: Zimmer-Faust & Case (1983); 2 g with a
    # half-life of 6 h, lengths computed independently with numpy.
    release = 2 * math.log(2) / (6 * 3600)
    lengths_m = [
        scent.plume_length(release / threshold, 0.5, 0.05, 0.005) for threshold in (0.1, 1e-5)
    ]
    assert lengths_m == pytest.approx([0.5e-3, 52e3], rel=0.06, abs=0)


@pytest.mark.parametrize(("still_m", "down_m"), [(5, 0.11), (20, 248)])
def test_reaches_in_still_water_and_in_a_current_are_not_one_assumption(still_m, down_m):
    # Computed independently with scipy: 12 h, mixing 1e-3 m²/s, depth 0.5 m, current 5 cm/s.
    low, high = 1e-4, 10.0
    for _ in range(80):
        middle = (low + high) / 2
        is_short = still_radius(middle, 12 * 3600, 0.5, 1e-3) < still_m
        low, high = (middle, high) if is_short else (low, middle)
    assert scent.plume_length(low, 0.5, 0.05, 1e-3) == pytest.approx(down_m, rel=0.03, abs=0)


NUMBERS = {
    "strength_m3_s": 0.1, "depth_m": 0.5, "speed_m_s": 0.05, "mixing_m2_s": 0.005,
}  # fmt: skip


@pytest.mark.parametrize("name", NUMBERS)
@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf, 1e31, 1e-31])
def test_a_number_that_cannot_be_is_refused_by_name(name, wrong):
    with pytest.raises(InvalidValue) as caught:
        scent.plume_length(**{**NUMBERS, name: wrong})
    assert caught.value.where == name


def test_a_place_that_is_no_number_is_refused_with_its_place():
    with pytest.raises(InvalidValue) as caught:
        scent.plume_concentration([1, math.nan], 0, 1e-6, 0.5, 0.05, 0.005)
    assert caught.value.where == "down_m, number 2"
    with pytest.raises(InvalidValue, match="decay_per_s"):
        scent.plume_length(0.1, 0.5, 0.05, 0.005, -1e-9)


def test_formulas_load_neither_scipy_nor_shapely():
    files = (
        "attraction",
        "bait_release",
        "mixing",
        "overlap",
        "scent",
        "scent_near",
        "scent_still",
    )
    program = "import sys\n" + "".join(f"import trapline.science.{name}\n" for name in files)
    program += "print([name for name in ('scipy', 'shapely', 'pandas') if name in sys.modules])"
    found = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )
    assert found.stdout.strip() == "[]"

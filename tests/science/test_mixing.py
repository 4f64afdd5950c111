import math

import pytest

from trapline.errors import InvalidValue
from trapline.model.water import SHORES
from trapline.science import mixing


@pytest.mark.parametrize(
    ("hours", "spread", "diffusivity"),
    [(1, 15.0517, 0.015733), (6, 122.468, None), (24, 620.059, None)],
)
def test_dye_in_the_ocean_spreads_as_computed_independently(hours, spread, diffusivity):
    # Computed independently with numpy from the relations of Okubo (1971).
    found = mixing.ocean_spread(hours * 3600)
    assert found == pytest.approx(spread, rel=5e-6, abs=0)
    if diffusivity is not None:
        assert mixing.ocean_mixing_after(hours * 3600) == pytest.approx(diffusivity, abs=5.1e-7)


@pytest.mark.parametrize(
    ("scale", "diffusivity"),
    [(1, 2.0551e-4), (5, 1.3081e-3), (10, 2.9029e-3), (30, 1.0269e-2), (100, 4.1005e-2),
     (1000, 0.57921)],
)  # fmt: skip
def test_mixing_grows_with_scale_as_computed_independently(scale, diffusivity):
    # Computed independently with numpy from Okubo (1971).
    assert mixing.ocean_mixing(scale) == pytest.approx(diffusivity, rel=5e-5, abs=0)


def test_four_thirds_law_and_streams_equal_the_numbers_computed_independently():
    assert mixing.four_thirds_mixing(1, 0.01) == pytest.approx(4.6416e-4, rel=2e-5, abs=0)
    assert mixing.four_thirds_mixing(8, 0.01) == pytest.approx(16 * 4.6416e-4, rel=2e-5, abs=0)
    assert mixing.stream_mixing(1, 0.005) == pytest.approx(0.003)
    assert mixing.stream_mixing(1, 0.005, 0.15) == pytest.approx(0.00075)


def test_every_shore_that_a_water_can_have_has_a_mixing_to_assume():
    values = {shore: assumed.mixing_m2_s for shore, assumed in mixing.MIXING.items()}
    assert values == {
        "sheltered pond": 5e-4,
        "lake shore": 2e-3,
        "slow river or tidal": 5e-3,
        "exposed shore": 1e-2,
    }
    assert tuple(values) == SHORES


@pytest.mark.parametrize(
    ("shore", "low", "high"),
    [
        ("sheltered pond", mixing.ocean_mixing(1), mixing.ocean_mixing(3)),
        ("lake shore", mixing.ocean_mixing(5), mixing.ocean_mixing(10)),
        ("slow river or tidal", mixing.stream_mixing(1, 0.005), mixing.stream_mixing(1, 0.010)),
        ("exposed shore", mixing.ocean_mixing(20), mixing.ocean_mixing(40)),
    ],
)
def test_a_value_to_assume_has_the_order_of_what_it_cites(shore, low, high):
    assert low < mixing.MIXING[shore].mixing_m2_s < high


def test_values_to_assume_say_so_and_cannot_be_changed():
    for assumed in mixing.MIXING.values():
        assert assumed.source.startswith("assumed")
        assert "order of magnitude after" in assumed.source
    with pytest.raises(TypeError):
        mixing.MIXING["lake shore"] = mixing.AssumedMixing(1.0, "")
    with pytest.raises(AttributeError):
        mixing.MIXING["lake shore"].mixing_m2_s = 1.0


@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf])
def test_scales_that_cannot_be_are_refused(wrong):
    for of in (mixing.ocean_spread, mixing.ocean_mixing, mixing.four_thirds_mixing):
        with pytest.raises(InvalidValue):
            of(wrong)
    with pytest.raises(InvalidValue, match="shear"):
        mixing.stream_mixing(1, wrong)

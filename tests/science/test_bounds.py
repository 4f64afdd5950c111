import math

import pytest

from trapline.errors import InvalidValue
from trapline.science import bounds


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf, -1.0, -1e-31, 1e31])
def test_numbers_beyond_reason_are_refused_with_name_value_and_a_way_out(wrong):
    for check in (bounds.positive, bounds.not_negative):
        with pytest.raises(InvalidValue) as caught:
            check(wrong, "reach_m")
        assert caught.value.where == "reach_m"
        assert f"{wrong:g}" in caught.value.error
        assert caught.value.what_to_do


def test_zero_is_not_negative_and_not_positive():
    assert bounds.not_negative(1e-31, "reach_m") == 0.0
    with pytest.raises(InvalidValue, match="beyond anything in water"):
        bounds.positive(1e-31, "reach_m")
    assert bounds.not_negative(0, "reach_m") == 0.0
    assert math.copysign(1, bounds.not_negative(-0.0, "reach_m")) == 1
    with pytest.raises(InvalidValue, match="more than 0"):
        bounds.positive(0, "reach_m")


@pytest.mark.parametrize("wrong", [math.nan, -0.01, 1.01])
def test_a_share_lies_between_nothing_and_all(wrong):
    assert [bounds.share(part, "part") for part in (0, 0.5, 1)] == [0, 0.5, 1]
    with pytest.raises(InvalidValue, match="between 0 and 1"):
        bounds.share(wrong, "part")


def test_the_first_wrong_value_of_an_array_is_named():
    with pytest.raises(InvalidValue) as caught:
        bounds.finite_array([1, 2, math.nan, math.inf], "down_m")
    assert (caught.value.where, "nan" in caught.value.error) == ("down_m, number 3", True)
    with pytest.raises(InvalidValue, match=r"number 2: .* is -4; it must be 0 or more"):
        bounds.not_negative_array([1, -4], "distance_m")
    with pytest.raises(InvalidValue, match=r"number 1: .* is 0; it must be more than 0"):
        bounds.positive_array([0, 4], "distance_m")
    with pytest.raises(InvalidValue) as caught:
        bounds.finite_array(math.inf, "down_m")
    assert caught.value.where == "down_m"


def test_good_arrays_come_back_as_floats():
    assert bounds.finite_array([-1, 2], "x_m").tolist() == [-1.0, 2.0]
    assert bounds.not_negative_array([0, 2], "x_m").tolist() == [0.0, 2.0]
    assert bounds.positive_array([[1], [2]], "x_m").shape == (2, 1)

"""Speed and direction of a current as people type them."""

import pytest

from trapline.errors import InvalidValue
from trapline.model.current import POINTS, parse_speed, parse_towards, point_of


@pytest.mark.parametrize(
    ("text", "speed_m_s"),
    [
        ("0.2", 0.2),
        ("0,2 m/s", 0.2),
        (" 20 cm/s ", 0.2),
        (".5kn", 0.5 * 1852 / 3600),  # the knot of the SI brochure: 1852 m an hour
        ("1 knot", 1852 / 3600),
        ("3.6 km/h", 1.0),
        ("0", 0.0),
    ],
)
def test_a_speed_is_read_with_its_unit(text: str, speed_m_s: float) -> None:
    assert parse_speed(text) == pytest.approx(speed_m_s)


@pytest.mark.parametrize("text", ["", "fast", "-0.2", "0.2 mph", "1.000,5", "nan", "٣"])
def test_what_is_no_speed_is_refused(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        parse_speed(text)
    assert caught.value.where == "Current speed"


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("225", 225.0), ("22,5°", 22.5), ("0", 0.0), ("360", 360.0),
        ("N", 0.0), ("ne", 45.0), ("SW", 225.0), ("wnw", 292.5),
        ("South-West", 225.0), ("north north-east", 22.5), ("west", 270.0),
    ],
)  # fmt: skip
def test_a_direction_is_read_in_degrees_or_words(text: str, degrees: float) -> None:
    assert parse_towards(text) == degrees


@pytest.mark.parametrize("text", ["", "361", "-1", "up", "NN", "nan", "NE by N", "1e2"])
def test_what_is_no_direction_is_refused(text: str) -> None:
    with pytest.raises(InvalidValue) as caught:
        parse_towards(text)
    assert caught.value.where == "Current flows towards"


def test_every_point_is_its_own_nearest() -> None:
    assert [point_of(parse_towards(point)) for point in POINTS] == list(POINTS)
    assert [point_of(degrees) for degrees in (11.2, 11.3, 359.0, 360.0)] == ["N", "NNE", "N", "N"]
    with pytest.raises(InvalidValue):
        point_of(float("nan"))

"""The table of lifts that the model takes: what it refuses, its order, its effects, its effort."""

from dataclasses import fields
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.bait_model import INDEPENDENT, LiftTable, Priors, lift_table


def as_arrays(table: LiftTable) -> dict[str, Any]:
    return {field.name: getattr(table, field.name) for field in fields(table)}


# --- what is refused --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("catch", "soak_h", "bait", "where"),
    [
        ([-1, 2], [24, 24], [0, 1], "catch[0]"),
        ([1, 1.5], [24, 24], [0, 1], "catch[1]"),
        ([float("nan"), 2], [24, 24], [0, 1], "catch[0]"),
        ([2_000_000, 2], [24, 24], [0, 1], "catch[0]"),
        ([1, 2], [24, 0], [0, 1], "soak_h[1]"),
        ([1, 2], [24, float("inf")], [0, 1], "soak_h[1]"),
        ([1, 2], [24, float("nan")], [0, 1], "soak_h[1]"),
        ([1, 2], [24, 24], [0, 2], "bait"),
        ([1, 2], [24, 24], [0, -1], "bait[1]"),
        ([1, 2], [24, 24], [0, 0.5], "bait[1]"),
        ([1, 2], [24, 24], [0, float("nan")], "bait[1]"),
        ([1, 2], [24, 24, 24], [0, 1], "catch"),
        ([[1, 2]], [[24, 24]], [[0, 1]], "catch"),
        ([], [], [], "catch"),
    ],
)
def test_what_cannot_be_a_lift_is_refused(
    catch: list[float], soak_h: list[float], bait: list[float], where: str
) -> None:
    with pytest.raises(InvalidValue) as refused:
        lift_table(catch, soak_h, bait)
    assert refused.value.where == where


@pytest.mark.parametrize("fraction", [0.0, -0.5, 1.5, float("nan")])
def test_a_part_that_no_catch_can_be_is_refused(fraction: float) -> None:
    with pytest.raises(InvalidValue, match="part above 0"):
        lift_table([1, 2], [24, 24], [0, 1], fraction=[1.0, fraction])


@pytest.mark.parametrize("name", ["round_", "place", "trip"])
def test_labels_that_are_not_one_a_row_are_refused(name: str) -> None:
    labels: dict[str, Any] = {name: ["a"]}
    with pytest.raises(InvalidValue, match="1 labels for 2 traps"):
        lift_table([1, 2], [24, 24], [0, 1], **labels)


def test_a_control_that_no_trap_had_is_refused() -> None:
    with pytest.raises(InvalidValue, match="not all baits"):
        lift_table([1, 2], [24, 24], [0, 1], controls=[2])


@pytest.mark.parametrize("saturation", [0.0, -1.0, float("nan"), float("inf")])
def test_a_saturation_that_is_no_rate_is_refused(saturation: float) -> None:
    with pytest.raises(InvalidValue, match="saturation_per_h"):
        lift_table([1], [24], [0], soak="saturating", saturation_per_h=saturation)


# --- one order for all orders -----------------------------------------------------------

ROWS = st.lists(
    st.tuples(
        st.integers(0, 6),
        st.sampled_from([6.0, 23.5, 24.0, 47.25]),
        st.sampled_from([1.0, 0.5]),
        st.sampled_from(["a", "b", "c"]),
        st.sampled_from([1, 2, 10]),
        st.sampled_from(["spring", "autumn"]),
    ),
    min_size=3,
    max_size=14,
)


@settings(max_examples=80, derandomize=True, deadline=None)
@given(rows=ROWS, data=st.data(), labelled=st.booleans())
def test_any_order_of_rows_gives_the_same_arrays(
    rows: list[Any], data: st.DataObject, labelled: bool
) -> None:
    baits = [index % 3 for index in range(len(rows))]
    order = data.draw(st.permutations(range(len(rows))))

    def table(indices: Any) -> LiftTable:
        catch, soak_h, fraction, place, round_, trip = zip(*(rows[i] for i in indices), strict=True)
        return lift_table(
            catch,
            soak_h,
            [baits[i] for i in indices],
            fraction=fraction,
            place=place if labelled else None,
            round_=round_ if labelled else None,
            trip=trip if labelled else None,
            controls=[1],
        )

    there, back = as_arrays(table(range(len(rows)))), as_arrays(table(order))
    for name, value in there.items():
        if isinstance(value, np.ndarray):
            assert value.tobytes() == back[name].tobytes(), name
        else:
            assert value == back[name], name


def test_every_row_keeps_what_is_its_own() -> None:
    table = lift_table(
        [5, 3, 8], [24.0, 12.0, 48.0], [1, 0, 0], fraction=[1.0, 0.5, 0.25],
        place=["x", "y", "x"], round_=[1, 1, 2],
    )  # fmt: skip

    rows = {
        (int(catch), int(bait)): (effort, part, int(place), int(round_))
        for catch, bait, effort, part, place, round_ in zip(
            table.catch, table.bait, np.exp(table.log_effort), np.exp(table.log_fraction),
            table.place, table.round_, strict=True,
        )
    }  # fmt: skip
    assert rows == {
        (5, 1): (pytest.approx(1.0), pytest.approx(1.0), 0, 0),
        (3, 0): (pytest.approx(0.5), pytest.approx(0.5), 1, 0),
        (8, 0): (pytest.approx(2.0), pytest.approx(0.25), 0, 1),
    }


# --- effects ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("round_", "place", "expected"),
    [
        (None, None, (False, False)),  # every row a place of its own, one round
        ([1, 1, 1, 1], ["a", "b", "c", "d"], (False, False)),
        ([1, 1, 2, 2], ["a", "b", "c", "d"], (True, False)),
        ([1, 2, 3, 4], ["a", "a", "b", "b"], (False, True)),
        ([1, 1, 2, 2], ["a", "b", "a", "b"], (True, True)),
        ([1, 1, 2, 2], ["a", "a", "a", "a"], (True, False)),  # one place: nothing to compare
    ],
)
def test_an_effect_needs_two_levels_and_one_that_repeats(
    round_: list[int] | None, place: list[str] | None, expected: tuple[bool, bool]
) -> None:
    table = lift_table([1, 2, 3, 4], [24.0] * 4, [0, 1, 0, 1], round_=round_, place=place)

    assert (table.has_rounds, table.has_places) == expected
    assert not table.has_trips
    assert table.is_repeated == any(expected)


def test_a_round_belongs_to_its_trip() -> None:
    # Two trips with rounds 1 and 2 each are four rounds.
    table = lift_table(
        [1] * 8, [24.0] * 8, [0, 1] * 4, round_=[1, 1, 2, 2] * 2, trip=["may"] * 4 + ["june"] * 4
    )

    assert (table.n_rounds, table.n_trips, table.has_trips) == (4, 2, True)
    assert (table.round_trip[table.round_] == table.trip).all()
    assert sorted(table.round_trip) == [0, 0, 1, 1]


# --- effort and priors ------------------------------------------------------------------


def test_saturating_effort_is_the_share_of_a_days_catch() -> None:
    # C(t) = C_inf (1 - exp(-k t)), Munro (1974), in units of a soak of 24 h.
    soaks = np.array([1.0, 24.0, 216.0])
    table = lift_table([1, 2, 3], soaks, [0, 0, 0], soak="saturating", saturation_per_h=0.03)

    expected = (1 - np.exp(-0.03 * soaks)) / (1 - np.exp(-0.03 * 24.0))
    assert np.exp(table.log_effort) == pytest.approx(expected, rel=1e-12)
    assert not table.is_exponent_free


@pytest.mark.parametrize(
    ("longest", "soak", "expected"),
    [(30.0, "power", False), (30.1, "power", True), (90.0, "linear", False)],
)
def test_the_exponent_is_free_where_soaks_differ_by_a_quarter(
    longest: float, soak: Any, expected: bool
) -> None:
    table = lift_table([1, 2], [24.0, longest], [0, 1], soak=soak)

    assert table.is_exponent_free is expected
    assert np.exp(table.log_exposure()) == pytest.approx([1.0, longest / 24.0])


def test_the_centre_is_the_mean_rate_of_the_baits_that_are_no_controls() -> None:
    table = lift_table([6, 2, 90], [24.0, 24.0, 24.0], [0, 1, 2], controls=[2])

    assert table.centre(INDEPENDENT) == pytest.approx(np.log(8.5 / 2))
    centres, sds = table.rate_priors(INDEPENDENT)
    assert centres - table.centre(INDEPENDENT) == pytest.approx([0.0, 0.0, -1.5])
    assert sds.tolist() == [1.5, 1.5, 2.5]


def test_a_free_exponent_enters_the_centre_at_its_prior_mean() -> None:
    table = lift_table([6, 2], [24.0, 96.0], [0, 1])

    assert table.centre(INDEPENDENT) == pytest.approx(np.log(8.5 / (1 + 4**0.8)))


def test_controls_alone_have_their_own_centre_and_a_fixed_one_is_kept() -> None:
    table = lift_table([6, 2], [24.0, 24.0], [0, 0], controls=[0])

    assert table.centre(INDEPENDENT) == pytest.approx(np.log(8.5 / 2))
    assert table.centre(Priors(centre=0.25)) == 0.25
    assert table.rivals == []

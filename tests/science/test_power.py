"""Sets needed to tell two baits apart, against the published formula computed elsewhere."""

import json
import math
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trapline.errors import InvalidValue
from trapline.science.power import FEWEST_SETS, detectable_ratio, power_of, sets_needed

# Zhu & Lakkis (2014) Stat Med 33:376-387, computed with R; simulation with R MASS.
REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "power.json").read_text("utf-8"))
GRID = REFERENCE["zhu_lakkis"]
METHODS: tuple[Any, ...] = (1, 2, 3)


def test_the_reference_is_there() -> None:
    assert len(GRID) == 56
    assert len(REFERENCE["simulation"]) >= 5


@pytest.mark.parametrize("row", GRID, ids=lambda row: "-".join(map(str, list(row.values())[:6])))
def test_sets_are_those_of_the_published_formula(row: dict[str, float]) -> None:
    for method in METHODS:
        found = sets_needed(
            row["mu0"], row["RR"], row["theta"],
            power=row["power"], sets_ratio=row["n1_over_n0"], exposure=row["exposure"],
            method=method,
        )  # fmt: skip
        assert found == pytest.approx(row[f"n0_approach{method}"], rel=1e-12)


@pytest.mark.parametrize(
    ("rate", "ratio", "inverse_k", "exposure", "wanted"),
    [
        # Inputs from the tables of Zhu & Lakkis (2014); values computed independently with R.
        (5, 2, 0.5, 1, (22.37386, 21.23734, 20.85564)),
        (0.8, 0.85, 0.4, 0.75, (1254.2286, 1315.6899, 1310.7301)),
        (1.4, 1.15, 1.5, 0.75, (1955.7613, 1920.9082, 1918.4716)),
    ],
)
def test_three_lines_of_the_published_tables(
    rate: float, ratio: float, inverse_k: float, exposure: float, wanted: tuple[float, ...]
) -> None:
    found = [sets_needed(rate, ratio, 1 / inverse_k, exposure=exposure, method=m) for m in METHODS]
    assert found == pytest.approx(wanted, abs=5e-5)


@pytest.mark.parametrize(
    ("rate", "dispersion_k", "sets"),
    [
        # Sets a bait for ratios 1.5, 2, 3, 4; computed independently with the same formula.
        (1, 0.5, (271, 90, 35, 22)),
        (1, 1, (176, 58, 22, 14)),
        (3, 0.5, (218, 74, 29, 19)),
        (3, 1, (123, 41, 16, 10)),
        (3, 2, (75, 25, 10, 6)),
        (3, 5, (46, 15, 6, 4)),
        (6, 1, (109, 37, 15, 10)),
        (6, 2, (62, 21, 8, 5)),
    ],
)
def test_sets_a_bait_in_whole_numbers(
    rate: float, dispersion_k: float, sets: tuple[int, ...]
) -> None:
    found = [sets_needed(rate, ratio, dispersion_k) for ratio in (1.5, 2, 3, 4)]
    assert tuple(math.ceil(n) for n in found) == sets


@pytest.mark.parametrize(("n_sets", "ratio"), [(10, 3.853), (20, 2.636), (40, 2.003)])
def test_ratio_that_can_be_told(n_sets: int, ratio: float) -> None:
    # Computed independently with the same formula, rate 3, k 1, method 3.
    assert detectable_ratio(n_sets, 3, 1, method=3) == pytest.approx(ratio, abs=5e-4)


def test_three_pairs_need_more_sets() -> None:
    # Computed independently: ×2 at rate 3, k 1, method 3, and the level shared by three pairs.
    assert math.ceil(sets_needed(3, 2, 1, level=0.05 / 3, method=3)) == 54


@pytest.mark.parametrize("row", REFERENCE["simulation"], ids=lambda row: row["id"])
def test_simulated_power_is_that_of_the_formula_from_ten_sets_on(row: dict[str, Any]) -> None:
    # 3000 trials with R MASS::glm.nb a row, power of the likelihood-ratio test.
    one, other = row["mean"]
    dispersion_k = float(row["theta"])
    found = power_of(row["n_per_group"], one, other / one, dispersion_k)
    off = abs(found - row["power"]) / row["mc_se"]
    if row["n_per_group"] >= FEWEST_SETS:
        assert off < 3
    else:
        assert off > 3  # why it is no answer there


def test_many_sets_are_needed_for_a_ratio_near_one_and_few_catches() -> None:
    sets = [sets_needed(3, ratio, 1) for ratio in (0.5, 0.8, 0.95, 1.05, 1.25, 2)]
    assert sets[0] < sets[1] < sets[2]
    assert sets[3] > sets[4] > sets[5]
    assert sets_needed(1, 2, 1) > sets_needed(3, 2, 1) > sets_needed(3, 2, math.inf)
    assert sets_needed(3, 2, 1, power=0.9) > sets_needed(3, 2, 1)
    assert sets_needed(3, 2, 1, exposure=2) == pytest.approx(sets_needed(6, 2, 1))


def test_poisson_catches_are_the_limit_of_a_large_k() -> None:
    for method in METHODS:
        limit = sets_needed(3, 2, 1e9, method=method)
        assert sets_needed(3, 2, math.inf, method=method) == pytest.approx(limit, rel=1e-8)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    rate=st.floats(0.2, 50), ratio=st.floats(1.05, 20), dispersion_k=st.floats(0.2, 50),
    sets_ratio=st.floats(0.25, 4), exposure=st.floats(0.1, 10), power=st.floats(0.5, 0.99),
    level=st.floats(0.001, 0.2), method=st.sampled_from(METHODS),
)  # fmt: skip
def test_power_and_ratio_undo_the_number_of_sets(
    rate: float, ratio: float, dispersion_k: float, power: float, **how: Any
) -> None:
    n_sets = sets_needed(rate, ratio, dispersion_k, power=power, **how)
    assert power_of(n_sets, rate, ratio, dispersion_k, **how) == pytest.approx(power, abs=1e-9)
    found = detectable_ratio(n_sets, rate, dispersion_k, power=power, **how)
    assert found == pytest.approx(ratio, rel=1e-9)


def test_a_tiny_catch_tells_no_ratio() -> None:
    with pytest.raises(InvalidValue, match="tell no ratio"):
        detectable_ratio(1, 1e-6, 1)
    # The formula needs no more than a huge ratio here, and says it.
    assert 1e3 < detectable_ratio(2, 0.05, 1) < 1e30


@pytest.mark.parametrize(
    "wrong",
    [
        {"rate": 0}, {"rate": math.nan}, {"ratio": 1}, {"ratio": -2}, {"dispersion_k": 0},
        {"dispersion_k": -math.inf}, {"dispersion_k": math.nan}, {"power": 1}, {"power": 0.49},
        {"power": math.nan}, {"level": 0}, {"level": 1}, {"level": math.nan},
        {"sets_ratio": 0}, {"exposure": math.inf}, {"method": 4},
    ],
)  # fmt: skip
def test_numbers_that_cannot_be_are_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(InvalidValue):
        sets_needed(**{"rate": 3, "ratio": 2, "dispersion_k": 1, **wrong})


def test_no_sets_have_no_power_and_tell_nothing() -> None:
    with pytest.raises(InvalidValue, match="n_sets is 0"):
        power_of(0, 3, 2, 1)
    with pytest.raises(InvalidValue, match="n_sets is 0"):
        detectable_ratio(0, 3, 1)
    assert power_of(50, 3, 1, 1) == pytest.approx(0.025)

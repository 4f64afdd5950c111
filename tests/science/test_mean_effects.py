"""The mean effect of places and rounds against sums written out."""

import numpy as np
import pytest

from trapline.science.bait_model import INDEPENDENT, LiftTable, lift_table
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.latent_modes import Modes, find_modes, make_design
from trapline.science.mean_effects import curve_of_means, level_logs, outer_mean

Array = np.ndarray


def table_of(places: int, rounds: int, trips: int) -> LiftTable:
    """Two baits; every place is fished in every round of every trip."""
    rows = [(p, r, t) for t in range(trips) for r in range(rounds) for p in range(places)]
    rng = np.random.default_rng(41)
    return lift_table(
        catch=rng.negative_binomial(1.0, 0.2, len(rows)).tolist(),
        soak_h=[24.0] * len(rows),
        bait=[(p + r + t) % 2 for p, r, t in rows],
        place=[p for p, _, _ in rows],
        round_=[r for _, r, _ in rows],
        trip=[f"trip {t}" for _, _, t in rows],
    )


# Places inner; rounds inner; rounds inner with trips; places inner with trips.
SIZES = [(6, 3, 1), (3, 6, 1), (3, 3, 2), (9, 2, 3), (2, 1, 3)]


def solved(size: tuple[int, int, int]) -> tuple[HyperSpace, Modes]:
    table = table_of(*size)
    space = hyper_space(table, make_design(table), INDEPENDENT)
    z = np.random.default_rng(1).normal(size=(len(space.names), 3))
    hypers = space.hypers(z)
    start = (hypers.centre, np.zeros((space.design.inner.n_levels, 1)))
    return space, find_modes(space.design, hypers, start, close=1e-9)


def effects(space: HyperSpace, outer: Array, inner: Array) -> dict[str, Array]:
    found, first = {space.design.inner.name: inner}, space.table.n_baits
    for group in space.design.groups:
        found[group.name] = outer[first : first + group.n_levels]
        first += group.n_levels
    return found


def log_mean_effect(space: HyperSpace, outer: Array, inner: Array, noise: Array) -> float:
    """Log of mean e^place times mean e^(round + trip); inner ones lognormal with a variance."""
    table, parts = space.table, effects(space, outer, inner)
    grown = {name: np.exp(effect) for name, effect in parts.items()}
    grown[space.design.inner.name] *= np.exp(noise / 2)
    total = 0.0
    if "place" in grown:
        total += np.log(sum(grown["place"]) / table.n_places)
    rounds = np.ones(table.n_rounds)
    if "round" in grown:
        rounds = rounds * grown["round"]
    if "trip" in grown:
        rounds = rounds * grown["trip"][table.round_trip]
    return float(total + np.log(rounds.sum() / table.n_rounds))


@pytest.mark.parametrize("size", SIZES)
def test_the_curve_is_the_log_mean_effect_with_slope_and_bend(size: tuple[int, int, int]) -> None:
    space, modes = solved(size)
    curve = curve_of_means(space, modes)
    n_outer = space.design.n_outer
    for b in range(3):
        noise = 1.0 / modes.inner_precision[:, b]

        def at(step: Array, b: int = b, noise: Array = noise) -> float:
            outer = modes.outer[:, b] + step
            inner = modes.inner[:, b] - modes.response[b] @ step
            whole = log_mean_effect(space, outer, inner, noise)
            return whole - float(outer_mean(space, outer[:, None])[0])

        # The log of a lognormal's mean less half its log variance.
        none = np.zeros(n_outer)
        assert curve.value[b] == pytest.approx(at(none) - curve.sd[b] ** 2 / 2, abs=1e-10)
        eye = 1e-3 * np.eye(n_outer)
        slopes = [(at(step) - at(-step)) / 2e-3 for step in eye]
        np.testing.assert_allclose(curve.slope[b], slopes, atol=1e-6)
        bends = [
            [
                (at(one + other) - at(one - other) - at(other - one) + at(-one - other)) / 4e-6
                for other in eye
            ]
            for one in eye
        ]
        np.testing.assert_allclose(curve.bend[b], bends, atol=1e-5)


@pytest.mark.parametrize("size", SIZES)
def test_the_spread_of_the_mean_is_that_of_its_inner_levels(size: tuple[int, int, int]) -> None:
    space, modes = solved(size)
    curve = curve_of_means(space, modes)
    rng = np.random.default_rng(2)
    for b in range(3):
        sd = modes.inner_precision[:, b] ** -0.5
        draws = modes.inner[:, b] + sd * rng.normal(size=(40_000, sd.size))
        parts = effects(space, modes.outer[:, b], draws.T)
        inner = np.exp(parts[space.design.inner.name])
        if space.design.inner.name == "round" and "trip" in parts:
            inner = inner * np.exp(parts["trip"])[space.table.round_trip][:, None]
        means = inner.mean(axis=0)
        ours = np.sqrt(np.expm1(curve.sd[b] ** 2))
        assert ours == pytest.approx(means.std() / means.mean(), rel=0.08)


@pytest.mark.parametrize("size", SIZES)
def test_outer_and_inner_means_together_are_the_whole(size: tuple[int, int, int]) -> None:
    space, modes = solved(size)
    weights = level_logs(space, modes.outer)
    for b in range(3):
        inner = modes.inner[:, b]
        logs = inner if weights is None else inner + weights[:, b]
        whole = np.log(np.exp(logs).mean()) + outer_mean(space, modes.outer)[b]
        nothing = np.zeros(inner.size)
        theirs = log_mean_effect(space, modes.outer[:, b], inner, nothing)
        assert whole == pytest.approx(theirs, abs=1e-10)


def test_a_curve_is_a_parabola_about_the_mode() -> None:
    space, modes = solved((6, 3, 1))
    curve = curve_of_means(space, modes)
    step = np.random.default_rng(3).normal(size=(space.design.n_outer, 6))
    outer = np.repeat(modes.outer, 2, axis=1) + step
    found = curve.at(modes, outer)
    for draw in range(6):
        node, x = draw // 2, step[:, draw]
        expected = curve.value[node] + curve.slope[node] @ x + x @ curve.bend[node] @ x / 2
        assert found[draw] == pytest.approx(expected)

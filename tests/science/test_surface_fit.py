"""Cubic surfaces through what few draws say."""

import numpy as np
import pytest

from trapline.science.surface_fit import fitted_surfaces

Array = np.ndarray


def fitted(
    z: Array, steps: Array, target: Array, weights: Array, plain: Array
) -> tuple[Array, Array]:
    fits, carried = fitted_surfaces(z, steps, target[None], weights, plain)
    return fits[0], carried[0]


def points(n_nodes: int, per_node: int, d: int, n_steps: int) -> tuple[Array, Array, Array]:
    rng = np.random.default_rng(31)
    z = 2.0 + 0.3 * rng.normal(size=(d, n_nodes))
    steps = rng.normal(size=(n_steps, n_nodes * per_node))
    return z, steps, rng.normal(size=(n_steps, n_nodes * 8))


def cubic(z: Array, steps: Array) -> Array:
    """A surface of the kind that is fitted."""
    at = np.repeat(z, steps.shape[1] // z.shape[1], axis=1)
    return np.asarray(
        0.3 * at[0] - 0.2 * at[1] ** 2 + 0.1 * steps[0] + 0.05 * steps[1] ** 3
        - 0.2 * at[1] * steps[2]
    )  # fmt: skip


def test_a_cubic_is_found_and_carried_to_other_draws() -> None:
    z, steps, plain = points(256, 2, 2, 4)
    inside = np.abs(plain).max(axis=0) < 3.0
    surface = cubic(z, steps)
    fit, carried = fitted(z, steps, surface, np.full(512, 1 / 512), plain)
    assert np.std(surface - fit) < 0.02 * np.std(surface)
    wrong = (cubic(z, plain) - carried)[inside]
    assert np.std(wrong) < 0.05 * np.std(surface)


def test_noise_is_not_carried() -> None:
    z, steps, plain = points(256, 2, 2, 4)
    noise = np.random.default_rng(1).normal(size=512)
    _, carried = fitted(z, steps, noise, np.full(512, 1 / 512), plain)
    assert np.std(carried) < 0.4


def test_more_terms_than_draws_is_no_failure() -> None:
    z, steps, plain = points(16, 2, 6, 60)
    fit, carried = fitted(z, steps, steps[0] ** 3, np.full(32, 1 / 32), plain)
    assert np.isfinite(fit).all()
    assert np.isfinite(carried).all()


def test_nothing_is_carried_beyond_what_was_seen() -> None:
    z, steps, plain = points(64, 2, 2, 3)
    fit, carried = fitted(z, steps, steps[0] ** 3, np.full(128, 1 / 128), 4 * plain)
    assert carried.max() <= fit.max()
    assert carried.min() >= fit.min()


def test_draws_that_weigh_nothing_are_not_fitted() -> None:
    z, steps, plain = points(256, 2, 2, 4)
    surface = cubic(z, steps)
    spoilt = surface.copy()
    spoilt[:50] = 40.0
    weights = np.full(512, 1 / 462)
    weights[:50] = 0.0
    fit, _ = fitted(z, steps, spoilt, weights, plain)
    assert np.std((surface - fit)[50:]) < 0.02 * np.std(surface)
    assert fit[50:].max() == pytest.approx(surface[50:].max(), abs=0.1)


def test_several_targets_are_fitted_as_each_alone() -> None:
    z, steps, plain = points(64, 2, 2, 3)
    targets = np.stack([steps[0], cubic(z, steps)])
    weights = np.full(128, 1 / 128)
    for ours, alone in zip(
        fitted_surfaces(z, steps, targets, weights, plain),
        zip(*(fitted(z, steps, one, weights, plain) for one in targets), strict=True),
        strict=True,
    ):
        np.testing.assert_allclose(ours, np.array(alone), atol=1e-9)

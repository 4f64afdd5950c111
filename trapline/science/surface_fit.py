"""What the model says beyond Laplace's approximation, as smooth surfaces.

What Laplace's approximation gets wrong is mostly that log densities are skew along each of the
coordinates that it makes round: a cubic in them, fitted to the few draws that the model itself
weighs, says most of it, and carries it over to many draws that it does not weigh.
"""

import numpy as np

from trapline.science.bait_model import Floats

_FARTHEST = 3.0  # standard deviations; beyond it a cubic says nothing
_PRIOR_ROWS = 1.0  # each coefficient is held back as if by so many draws that speak for 0
_ONE_THREAD = 1 << 18  # products; OpenBLAS does so many on one thread
_LEAST_BLOCK = 16  # draws; with smaller ones there would be more sums than draws
_MOST_SHARE = 0.25  # of terms in draws


def fitted_surfaces(
    z: Floats, steps: Floats, targets: Floats, weights: Floats, plain_steps: Floats
) -> tuple[Floats, Floats]:
    """Return fits of targets, at the draws they were made of (m, S) and at plain ones (m, T).

    Parameters
    ----------
    z : ndarray, shape (d, H)
        Coordinates of the hyperparameters at each node.
    steps, plain_steps : ndarray, shapes (D, S) and (D, T)
        Draws in coordinates in which Laplace's approximation is standard normal: those of the
        first node, then those of the next.
    targets : ndarray, shape (m, S)
        What is fitted, such as logs of ratios of weights.
    weights : ndarray, shape (S,)
        How much each draw counts; they add up to 1.

    References
    ----------
    Regression for control variates: Owen and Zhou (2000), J. Am. Stat. Assoc. 95, 135-143;
    orthogonal cubic: the third Hermite polynomial (both from memory).
    """
    n_nodes, n_draws, n_steps = z.shape[1], steps.shape[1], steps.shape[0]
    at_node = weights.reshape(n_nodes, -1).sum(axis=1)
    middle = z @ at_node
    sd = np.sqrt((z - middle[:, None]) ** 2 @ at_node)
    about = np.clip((z - middle[:, None]) / sd[:, None], -_FARTHEST, _FARTHEST)
    n_terms = 1 + 2 * about.shape[0] + (2 + about.shape[0]) * n_steps
    is_wide = n_terms <= _MOST_SHARE * n_draws
    terms = _terms(about, steps, is_wide)
    scaled = terms * (weights * n_draws)
    bend = _products(scaled, terms)
    held = np.arange(1, len(bend))
    bend[held, held] += _PRIOR_ROWS
    coefficients = np.linalg.solve(bend, scaled @ targets.T).T
    found = coefficients @ terms
    plain = np.clip(plain_steps, -_FARTHEST, _FARTHEST)
    cubic = _cubic(plain)
    carried = np.array([_carried(one, about, plain, cubic, is_wide) for one in coefficients])
    low, high = found.min(axis=1, keepdims=True), found.max(axis=1, keepdims=True)
    return found, np.clip(carried, low, high)


def _carried(
    coefficients: Floats, about: Floats, plain: Floats, cubic: Floats, is_wide: bool
) -> Floats:
    """Return one surface at plain draws, shape (T,); node by node what is straight in a draw."""
    n_z, n_steps, n_nodes = 1 + 2 * about.shape[0], plain.shape[0], about.shape[1]
    at_nodes = coefficients[:n_z] @ _z_terms(about)
    straight = np.tile(coefficients[n_z : n_z + n_steps, None], (1, n_nodes))
    if is_wide:
        straight += coefficients[n_z + 2 * n_steps :].reshape(-1, n_steps).T @ about
    carried = at_nodes[:, None] + (straight[:, :, None] * plain.reshape(n_steps, n_nodes, -1)).sum(
        axis=0
    )
    in_cubic = coefficients[n_z + n_steps : n_z + 2 * n_steps, None]
    return np.asarray(carried.ravel() + (in_cubic * cubic).sum(axis=0))


def _products(one: Floats, other: Floats) -> Floats:
    """Return sums over draws of all products of terms, shapes (p, S) to (p, p).

    By blocks that one thread does at once, unless terms are many: on a busy machine a second
    thread is waited for longer than the whole fit takes.
    """
    n_terms, n = one.shape
    block = _ONE_THREAD // n_terms**2
    if block < _LEAST_BLOCK:
        return np.asarray(one @ other.T)
    n_blocks = -(-n // block)
    filled = np.zeros((2, n_terms, n_blocks * block))
    filled[0, :, :n], filled[1, :, :n] = one, other
    first, second = filled.reshape(2, n_terms, n_blocks, block).transpose(0, 2, 1, 3)
    return np.asarray((first @ second.transpose(0, 2, 1)).sum(axis=0))


def _cubic(x: Floats) -> Floats:
    return np.asarray((x * x - 3.0) * x / np.sqrt(6.0))


def _z_terms(about: Floats) -> Floats:
    return np.concatenate([np.ones((1, about.shape[1])), about, about**2])


def _terms(about: Floats, steps: Floats, is_wide: bool) -> Floats:
    """Return what the fit is made of, shape (p, S)."""
    per_node = steps.shape[1] // about.shape[1]
    x, at = np.clip(steps, -_FARTHEST, _FARTHEST), np.repeat(about, per_node, axis=1)
    parts = [_z_terms(at), x, _cubic(x)]
    if is_wide:
        parts += [x * one for one in at]
    return np.concatenate(parts)

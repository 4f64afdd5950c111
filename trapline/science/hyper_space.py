"""The hyperparameters of the model of the baits on one scale: standard normal a priori.

Every spread, and the exponent of effort, is a function of a coordinate z whose prior is
normal(0, 1). There the posterior is smooth, its tails are those of the prior at worst, and a
spread of 0 lies at minus infinity.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from trapline.science.bait_model import Floats, LiftTable, Priors
from trapline.science.latent_modes import LEAST_SPREAD, Design, Hypers

_LEAST_SD = 1e-3
_GROUP_PRIORS = {
    "place": "place_sd",
    "round": "round_sd",
    "trip": "trip_sd",
    "bait by trip": "bait_trip_sd",
}


@dataclass(frozen=True, eq=False)
class HyperSpace:
    """Names of the coordinates, and the way from them to the hyperparameters.

    Attributes
    ----------
    names : tuple of str, length d
        "spread", "exponent", the names of the groups, "bait spread"; those in the model.
    """

    table: LiftTable
    design: Design
    priors: Priors
    names: tuple[str, ...]

    def values(self, name: str, z: Floats) -> Floats:
        """Return one hyperparameter from all coordinates, shapes (d, B) to (B,)."""
        if name not in self.names:
            return np.full(z.shape[1], 1.0 if name == "exponent" else 0.0)
        own = z[self.names.index(name)]
        priors = self.priors
        if name == "spread":
            # tan(pi/2 ndtr(z)) by the smaller tail, where it does not cancel.
            tail = np.pi / 2 * ndtr(-np.abs(own))
            low = np.tan(tail)
            share = np.where(own > 0, 1.0 / np.maximum(low, 1e-12), low)
            return np.asarray(np.maximum(priors.dispersion_scale * share, LEAST_SPREAD))
        if name == "exponent":
            ends = np.array([priors.exponent_low, priors.exponent_high]) - priors.exponent_mean
            low, high = ndtr(ends / priors.exponent_sd)
            return np.asarray(
                priors.exponent_mean + priors.exponent_sd * ndtri(low + (high - low) * ndtr(own))
            )
        scale = (
            priors.bait_spread if name == "bait spread" else getattr(priors, _GROUP_PRIORS[name])
        )
        # Half-normal: the upper half of a normal, by its upper tail.
        return np.asarray(np.maximum(scale * -ndtri(ndtr(-own) / 2), _LEAST_SD))

    def hypers(self, z: Floats) -> Hypers:
        """Return the hyperparameters of a batch of coordinates, shape (d, B)."""
        design, n_baits = self.design, self.table.n_baits
        n_batch, n_outer = z.shape[1], design.n_outer
        precision = np.zeros((n_batch, n_outer, n_outer))
        centre = np.zeros((n_outer, 1))
        means, sds = self.table.rate_priors(self.priors)
        centre[:n_baits, 0] = means
        diagonal = np.arange(n_outer)
        precision[:, diagonal[:n_baits], diagonal[:n_baits]] = 1.0 / sds**2
        log_det = np.full(n_batch, -2.0 * np.log(sds).sum())
        rivals = self.table.rivals
        if "bait spread" in self.names:
            block, block_log_det = _alike(self.values("bait spread", z), self.priors, len(rivals))
            precision[np.ix_(range(n_batch), rivals, rivals)] = block
            log_det += 2.0 * np.log(sds[rivals]).sum() + block_log_det
        first = n_baits
        for group in design.groups:
            columns = diagonal[first : first + group.n_levels]
            sd = self.values(group.name, z)
            precision[:, columns, columns] = (1.0 / sd**2)[:, None]
            log_det -= 2.0 * group.n_levels * np.log(sd)
            first += group.n_levels
        return Hypers(
            spread=self.values("spread", z),
            exponent=self.values("exponent", z),
            inner_sd=self.values(design.inner.name, z),
            centre=centre,
            precision=precision,
            log_det=log_det,
        )


def hyper_space(table: LiftTable, design: Design, priors: Priors) -> HyperSpace:
    """Return the coordinates that the model of a table has under some priors."""
    names = ["spread"]
    if table.is_exponent_free:
        names.append("exponent")
    names += [design.inner.name, *(group.name for group in design.groups)]
    if priors.bait_spread is not None and len(table.rivals) > 1:
        names.append("bait spread")
    return HyperSpace(table, design, priors, tuple(names))


def _alike(spread: Floats, priors: Priors, n: int) -> tuple[Floats, Floats]:
    """Return precision (B, n, n) and its log determinant of baits about a common mean.

    Their covariance is spread^2 I + rate_sd^2 J, with J all ones (Sherman and Morrison).
    """
    common = spread**2 + n * priors.rate_sd**2
    block = np.eye(n) - (priors.rate_sd**2 / common)[:, None, None]
    precision = block / spread[:, None, None] ** 2
    return precision, -(2.0 * (n - 1) * np.log(spread) + np.log(common))

"""The mean effect of the places and rounds fished: what turns a bait's log rate into a rate.

A rate is what the user would compute over the places and rounds fished: that of a typical
place and round, times the mean over places of e^effect, times that over rounds.
"""

from dataclasses import dataclass

import numpy as np

from trapline.science.bait_model import Floats
from trapline.science.hyper_space import HyperSpace
from trapline.science.inner_quadrature import inner_modes, lognormal_of
from trapline.science.latent_modes import Modes


@dataclass(frozen=True, eq=False)
class Curve:
    """The log mean effect of the inner factor as a parabola about each node's mode.

    Attributes
    ----------
    value, sd : ndarray, shape (H,)
        In the middle, and how far the levels leave it open.
    slope : ndarray, shape (H, D)
    bend : ndarray, shape (H, D, D)
        How it changes with the outer columns.
    """

    value: Floats
    slope: Floats
    bend: Floats
    sd: Floats

    def at(self, modes: Modes, outer: Floats) -> Floats:
        """Return the parabola at draws (D, S), S / H of each node."""
        n_nodes, n_outer = self.slope.shape
        away = outer.T.reshape(n_nodes, -1, n_outer) - modes.outer.T[:, None, :]
        rise = (away @ self.slope[:, :, None])[:, :, 0]
        rise += ((away @ self.bend) * away).sum(axis=2) / 2
        return (self.value[:, None] + rise).ravel()


def curve_of_means(space: HyperSpace, modes: Modes) -> Curve:
    """Return the log mean effect of the inner factor as a parabola about each node's mode.

    The log of a sum of e^x has the shares of the sum as slope, and as bend the covariance, in
    those shares, of how each x changes.
    """
    middle, sd = inner_modes(modes, modes.outer)
    mean = np.exp(middle + sd**2 / 2)
    weight = np.full_like(mean, 1.0 / mean.shape[0])
    changes = -modes.response
    logs = level_logs(space, modes.outer)
    if logs is not None:
        weight *= np.exp(logs)
        trips = _places_of(space)["trip"]
        changes[:, :, trips] += space.table.round_trip[:, None] == np.arange(space.table.n_trips)
    shares = weight * mean
    first = shares.sum(axis=0)
    second = (shares**2 * np.expm1(sd**2)).sum(axis=0)
    shares /= first
    slope = (shares.T[:, None, :] @ changes)[:, 0]
    away = changes - slope[:, None, :]
    bend = away.transpose(0, 2, 1) @ (shares.T[:, :, None] * away)
    log_mean, log_sd = lognormal_of(first, second)
    return Curve(log_mean, slope, bend, log_sd)


def level_logs(space: HyperSpace, outer: Floats) -> Floats | None:
    """Return the effect of the trip of each round, shape (P, S), where rounds are inner."""
    at = _places_of(space)
    if space.design.inner.name != "round" or "trip" not in at:
        return None
    return np.asarray(outer[at["trip"]][space.table.round_trip])


def outer_mean(space: HyperSpace, outer: Floats) -> Floats:
    """Return the log of the mean effect of those places, rounds and trips that are outer."""
    total = np.zeros(outer.shape[1])
    for effect in _effects(space, outer).values():
        total += np.log(np.exp(effect).mean(axis=0))
    return total


def _places_of(space: HyperSpace) -> dict[str, slice]:
    """Return where among the outer columns each group stands."""
    found, first = {}, space.table.n_baits
    for group in space.design.groups:
        found[group.name] = slice(first, first + group.n_levels)
        first += group.n_levels
    return found


def _effects(space: HyperSpace, outer: Floats) -> dict[str, Floats]:
    """Return the effects whose means are outer: of places, and of rounds with their trips."""
    at, found = _places_of(space), {}
    if "place" in at:
        found["place"] = outer[at["place"]]
    if space.design.inner.name == "round":
        return found  # the trips of rounds are in their weights
    if "round" in at:
        found["round"] = outer[at["round"]]
    if "trip" in at:
        trips = outer[at["trip"]][space.table.round_trip]
        found["round"] = found["round"] + trips if "round" in at else trips
    return found

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
class Line:
    """The log mean effect about each node's mode: value (H,), slope (H, D), sd (H,)."""

    value: Floats
    slope: Floats
    sd: Floats

    def at(self, modes: Modes, outer: Floats) -> Floats:
        """Return the line at draws (D, S), S / H of each node."""
        n_nodes, n_outer = self.slope.shape
        away = outer.T.reshape(n_nodes, -1, n_outer) - modes.outer.T[:, None, :]
        rise = (away @ self.slope[:, :, None])[:, :, 0]
        return (self.value[:, None] + rise).ravel()


def line_of_means(space: HyperSpace, modes: Modes) -> Line:
    """Return the log mean effect as a straight line about each node's mode.

    A sum of e^x changes in each x by the share that it has in the sum.
    """
    middle, sd = inner_modes(modes, modes.outer)
    mean = np.exp(middle + sd**2 / 2)
    weight = np.full_like(mean, 1.0 / mean.shape[0])
    logs = level_logs(space, modes.outer)
    if logs is not None:
        weight *= np.exp(logs)
    shares = weight * mean
    first = shares.sum(axis=0)
    second = (shares**2 * np.expm1(sd**2)).sum(axis=0)
    shares /= first
    slope = -(shares.T[:, None, :] @ modes.response)[:, 0]
    at = _places_of(space)
    if logs is not None:
        slope[:, at["trip"]] += shares.T @ _trips_of_rounds(space)
    effects, total = _effects(space, modes.outer), np.zeros(first.size)
    for name, effect in effects.items():
        grown = np.exp(effect)
        total += np.log(grown.mean(axis=0))
        parts = (grown / grown.sum(axis=0)).T
        if name in at:
            slope[:, at[name]] += parts
        if name == "round" and "trip" in at:
            slope[:, at["trip"]] += parts @ _trips_of_rounds(space)
    log_mean, log_sd = lognormal_of(first, second)
    return Line(log_mean + total, slope, log_sd)


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


def _trips_of_rounds(space: HyperSpace) -> Floats:
    """Return 1 where a round is one of a trip, shape (rounds, trips)."""
    return np.asarray(space.table.round_trip[:, None] == np.arange(space.table.n_trips), float)


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

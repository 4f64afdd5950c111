"""Learn or fill the bucket: what the next round costs in catch, and an animal in bait."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from trapline.analyses.so_far import SoFar
from trapline.model.bait import Bait

_NUMBER: Final = r"(\d+(?:[.,]\d+)?)"
# A number with at most a sign or letters of money about it, and perhaps "a kg" behind.
_PRICE: Final = re.compile(
    rf"[^\d/.,-]{{0,4}}{_NUMBER}[^\d/.,-]{{0,4}}?(?P<kg>(?:/|\bper|\ba)\s*kg)?"
)
_AMOUNT: Final = re.compile(rf"{_NUMBER}\s*(?P<unit>g|kg)", re.IGNORECASE)
_GRAMS_A_KG: Final = 1000.0
_ENDS: Final = (0.025, 0.975)


@dataclass(frozen=True, slots=True)
class AnimalCost:
    """What one animal costs in bait, by bait; None where price or amount are not known.

    `money_a_trap` is in whatever money was typed.
    """

    bait: str
    catch_a_trap: float
    money_a_trap: float | None
    money_an_animal: float | None


@dataclass(frozen=True, slots=True)
class LearnOrFill:
    """Animals expected of the next round, all baits in equal numbers or the best bait alone.

    Attributes
    ----------
    best : str
        The bait with the highest catch so far, by its median.
    n_traps : int
        In all.
    learning, filling : float
        Animals with all baits, and with the best one in every trap.
    given_up : tuple of float
        Animals that learning costs: the difference, and the ends of its 95 % interval; below
        0 where the best so far is not the best.
    costs : tuple of AnimalCost
        By bait, in the order of the table.
    """

    best: str
    n_traps: int
    learning: float
    filling: float
    given_up: tuple[float, float, float]
    costs: tuple[AnimalCost, ...]


def learn_or_fill(found: SoFar, baits: Sequence[Bait] = ()) -> LearnOrFill:
    """Return what the next round is expected to catch, and what an animal costs in bait.

    Parameters
    ----------
    found : SoFar
        What was found so far; traps without bait are left out of both.
    baits : sequence of Bait
        For their cost and amount, by name; without them no money is known.

    Notes
    -----
    Catches are posterior medians over the places and rounds so far, at soaks like those: the
    same that the rates of a comparison are.

    References
    ----------
    To learn or to earn: the two-armed bandit, Robbins (1952), Bull. Am. Math. Soc. 58,
    527-535 (from memory).
    """
    typical = np.median(found.catch_means, axis=0)
    best = int(np.argmax(typical))
    known = {" ".join(bait.name.split()).casefold(): bait for bait in baits}
    costs = tuple(
        _cost(name, float(catch), known) for name, catch in zip(found.baits, typical, strict=True)
    )
    n_traps = found.n_traps * len(found.baits)
    losses = n_traps * found.catch_means[:, best] - found.n_traps * found.catch_means.sum(axis=1)
    low, high = np.quantile(losses, _ENDS)
    learning, filling = found.n_traps * typical.sum(), n_traps * typical[best]
    return LearnOrFill(
        best=found.baits[best],
        n_traps=n_traps,
        learning=float(learning),
        filling=float(filling),
        given_up=(float(filling - learning), float(low), float(high)),
        costs=costs,
    )


def money_a_trap(cost: str, amount: str) -> float | None:
    """Return what the bait of one trap costs, in the money that was typed; None if not clear.

    Parameters
    ----------
    cost : str
        A number, with a sign of money or without: of one trap; or "4.50 / kg".
    amount : str
        In one trap; needed in g or kg where the cost is of a kilogram.

    References
    ----------
    Common practice, no source: a price that can be read in two ways is not read.

    Examples
    --------
    >>> money_a_trap("0,80 €", ""), money_a_trap("6 / kg", "250 g"), money_a_trap("6 / kg", "")
    (0.8, 1.5, None)
    """
    price = _PRICE.fullmatch(cost.strip())
    if price is None:
        return None
    money = float(price.group(1).replace(",", "."))
    if not price.group("kg"):
        return money
    weight = _AMOUNT.fullmatch(amount.strip())
    if weight is None:
        return None
    kilograms = float(weight.group(1).replace(",", "."))
    if weight.group("unit").lower() == "g":
        kilograms /= _GRAMS_A_KG
    return money * kilograms


def _cost(name: str, catch: float, known: Mapping[str, Bait]) -> AnimalCost:
    bait = known.get(" ".join(name.split()).casefold())
    money = money_a_trap(bait.cost, bait.amount) if bait else None
    each = money / catch if money is not None and catch > 0 else None
    return AnimalCost(name, catch, money, each)

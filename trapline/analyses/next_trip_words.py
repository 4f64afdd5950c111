"""What would settle it, and what it costs, in a few plain sentences; no promises."""

import math
from typing import Final

from trapline.analyses.bait_verdict import called, listed, sentence_case
from trapline.analyses.learn_or_fill import LearnOrFill
from trapline.analyses.next_trip import WANTED, NextTrip, PowerCurve

_TIMES: Final = {1.5: "1.5 times as much", 2.0: "twice as much", 3.0: "three times as much"}
_IN_TEN: Final = f"in {10 * WANTED:.0f} trials of 10"
_HARDLY: Final = 0.05  # narrower by less is no narrower
# The two shown beside each other: as the baits move, and as they stay.
_COMPARED: Final = 2.0


def settle_words(trip: NextTrip) -> tuple[str, ...]:
    """Return what would settle it, sentence by sentence."""
    said = (
        _about_rounds(trip),
        _about_others(trip),
        _about_fixed(trip),
        _about_traps(trip),
        _about_width(trip),
        _about_formula(trip),
        _about_basis(trip),
    )
    return tuple(one for one in said if one)


def bucket_words(bucket: LearnOrFill) -> tuple[str, ...]:
    """Return what learning costs in catch, and an animal in bait, sentence by sentence."""
    given_up, low, high = bucket.given_up
    said = [
        f"By the catches so far, one more round with all baits in equal numbers brings about "
        f"{_animals(bucket.learning)}; with {called(bucket.best)} in all {bucket.n_traps} traps "
        f"about {_count(bucket.filling)}."
    ]
    if round(given_up) > 0:
        said.append(
            f"So learning costs about {_animals(given_up)} ({_count(low)} to {_count(high)}"
            f"{'; below 0 if another bait is better after all' if round(low) < 0 else ''})."
        )
    else:
        said.append("So learning costs next to nothing.")
    costs = [
        f"{one.money_an_animal:.2f} with {called(one.bait)}"
        for one in bucket.costs
        if one.money_an_animal is not None
    ]
    if costs:
        said.append(f"In bait, an animal costs about {listed(costs)}, in the money you typed.")
    return tuple(said)


def _traps(trip: NextTrip) -> str:
    n = trip.found.n_traps
    return f"{n} trap{'s' if n > 1 else ''} a bait"


def _about_rounds(trip: NextTrip) -> str:
    curve = trip.curve(_COMPARED, "rounds", rotates=True)
    how, better = (
        f"With {_traps(trip)} and baits rotated, ",
        f"a bait that catches {_TIMES[_COMPARED]}",
    )
    if curve.needed is None:
        return f"{how}even {_name(curve.sizes[-1])} {better} {_share(curve)}."
    return f"{how}{_about(curve)}{_name(curve.needed)} {better} {_IN_TEN}."


def _about_others(trip: NextTrip) -> str:
    said = []
    for ratio in sorted(_TIMES, reverse=True):
        curve = trip.curve(ratio, "rounds", rotates=True)
        if ratio == _COMPARED:
            continue
        if curve.needed is None:
            said.append(
                f"for {_TIMES[ratio]} even {_rounds(curve.sizes[-1])} would do {_share(curve)}"
            )
        else:
            takes = "it would take " if not said else ""
            said.append(f"for {_TIMES[ratio]} {takes}{_about(curve)}{_rounds(curve.needed)}")
    return f"{sentence_case(', '.join(said))}."


def _about_fixed(trip: NextTrip) -> str:
    rotated, fixed = (trip.curve(_COMPARED, "rounds", rotates=rotates) for rotates in (True, False))
    if fixed.needed is None:
        return (
            f"Were every bait on its places from the first round on, even "
            f"{_name(fixed.sizes[-1])} one that catches {_TIMES[_COMPARED]} {_share(fixed)}."
        )
    if fixed.needed == rotated.needed:
        return ""
    return (
        f"Were every bait on its places from the first round on, about {_name(fixed.needed)} one "
        f"that catches {_TIMES[_COMPARED]} {_IN_TEN}."
    )


def _about_traps(trip: NextTrip) -> str:
    curve = trip.curve(_COMPARED, "traps a bait", rotates=True)
    if curve.needed == curve.sizes[0]:
        return ""  # the sentence about rounds says so
    if curve.needed is None:
        return (
            f"One more round alone would not do for {_TIMES[_COMPARED]}, not even with "
            f"{curve.sizes[-1]} traps a bait."
        )
    return (
        f"One more round alone would need about {curve.needed} traps a bait for "
        f"{_TIMES[_COMPARED]}."
    )


def _about_width(trip: NextTrip) -> str:
    width = trip.width(rotates=True)
    at = min(1, len(width.sizes) - 1)
    more, factor, now = width.sizes[at], width.factors[at], trip.found.factor_now
    after = f"After {more} more round{'s' if more > 1 else ''}"
    if factor > now * (1 - _HARDLY):
        return (
            f"{after}, the ratio of the leading bait to the next would hardly be known better "
            "than now."
        )
    return (
        f"{after}, with baits rotated, the 95 % interval of the ratio of the leading bait to the "
        f"next has an upper end about {_factor(factor)} times its lower; now it is "
        f"{_factor(now)} times."
    )


def _about_formula(trip: NextTrip) -> str:
    for one in trip.formula:
        if one.ratio == _COMPARED:
            low, high = round(min(one.sets)), round(max(one.sets))
            sets = f"{low}" if low == high else f"{low} to {high}"
            return (
                f"The closed formula for a test of two baits alone, which knows no rounds and "
                f"places, asks for {sets} trap sets a bait in all for {_TIMES[_COMPARED]}."
            )
    return ""


def _about_basis(trip: NextTrip) -> str:
    found, (fewest, most) = trip.found, trip.n_trials
    trials = f"{most}" if fewest == most else f"{fewest} to {most}"
    said = (
        f"Counted in {trials} simulated trials of each size, as many rounds as were fished so far "
        "included and laid out in the same way, at catches and patchiness like those so far: a "
        "rough number, and no promise."
    )
    assumed = [
        name
        for name, is_assumed in (
            ("rounds", found.are_rounds_assumed), ("places", found.are_places_assumed)
        )
        if is_assumed
    ]  # fmt: skip
    if assumed:
        said += f" How much {listed(assumed)} differ could not be seen yet and is assumed."
    if found.n_trips > 1:
        said += " Rounds to come are taken to belong to one trip."
    return said


def _about(curve: PowerCurve) -> str:
    return "" if curve.needed == curve.sizes[0] else "about "


def _rounds(number: int) -> str:
    return f"{number} more round{'s' if number > 1 else ''}"


def _name(rounds: int) -> str:
    return f"{_rounds(rounds)} name{'s' if rounds == 1 else ''}"


def _share(curve: PowerCurve) -> str:
    """Return how often the largest size names it, in trials of 100, in steps of 5 downward."""
    per_hundred = 5 * math.floor(20 * curve.shares[-1] + 1e-9)
    return f"in only about {per_hundred} trials of 100" if per_hundred else "in next to no trial"


def _animals(number: float) -> str:
    return f"{_count(number)} animal{'' if round(number) == 1 else 's'}"


def _count(number: float) -> str:
    """Return a number of animals in whole ones, large ones in two digits."""
    whole = round(number)
    if abs(whole) >= 100:
        digits = len(str(abs(whole))) - 2
        whole = round(whole, -digits)
    return f"{whole:,}".replace("-", "−")


def _factor(factor: float) -> str:
    if factor > 100:
        return "more than 100"
    return f"{factor:.0f}" if factor >= 9.95 else f"{factor:.1f}"

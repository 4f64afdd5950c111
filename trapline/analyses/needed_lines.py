"""How many more rounds or traps name a better bait, as rows of cells."""

from dataclasses import dataclass

from trapline.analyses.next_trip import RATIOS, NextTrip, PowerCurve


@dataclass(frozen=True, slots=True)
class NeededLine:
    """What is needed for a bait that catches so many times as much as the others."""

    ratio: str
    rounds: str
    rounds_kept: str
    traps: str


def needed_lines(trip: NextTrip) -> tuple[NeededLine, ...]:
    """Return a row for each ratio: rounds rotated, rounds kept, traps a bait in one round.

    Parameters
    ----------
    trip : NextTrip
        What simulated trials say.

    References
    ----------
    `trapline.analyses.next_trip`.
    """
    return tuple(
        NeededLine(
            ratio=f"×{ratio:g}",
            rounds=_needed(trip.curve(ratio, "rounds", rotates=True)),
            rounds_kept=_needed(trip.curve(ratio, "rounds", rotates=False)),
            traps=_needed(trip.curve(ratio, "traps a bait", rotates=True)),
        )
        for ratio in RATIOS
    )


def _needed(curve: PowerCurve) -> str:
    return f"over {curve.sizes[-1]}" if curve.needed is None else str(curve.needed)

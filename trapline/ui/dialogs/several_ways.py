"""Several places at once, as positions: along a line, on a string, by rope, or without any."""

from collections.abc import Sequence
from dataclasses import dataclass

from trapline.actions.places import measured_from
from trapline.errors import InvalidValue
from trapline.model.line import Place
from trapline.units import length_text

# A new place this near to the place at the end would be the same place again.
_SAME_M = 0.05
# More at once is a slip of the keys; a file can bring more.
MOST = 1000


@dataclass(frozen=True, slots=True)
class Spot:
    """A position to measure from or towards: a place that is there, or one that was typed."""

    lon_deg: float
    lat_deg: float
    place: Place | None = None

    @property
    def label(self) -> str:
        """What a sentence calls it."""
        return self.place.label if self.place else "the position"


def along(
    start: Spot, end: Spot | None, bearing_deg: float | None, spacing_m: float, n: int | None
) -> list[Place]:
    """Return places every `spacing_m` from a start, towards an end or on a bearing.

    Where a place or a stake stands at the start, the first new one is a spacing away from it.
    Without `n` as many as fit before the end.
    """
    from trapline.science.geodesy import geodesic_distance
    from trapline.science.survey import places_every, places_on_bearing

    taken = 1 if start.place else 0
    if end is None:
        if bearing_deg is None or n is None:
            raise InvalidValue("On a bearing the number of places is needed.", "How many")
        found = places_on_bearing(start.lon_deg, start.lat_deg, bearing_deg, spacing_m, n + taken)
    else:
        found = places_every(
            start.lon_deg, start.lat_deg, end.lon_deg, end.lat_deg, spacing_m,
            None if n is None else n + taken,
        )  # fmt: skip
    positions = list(zip(found[0].tolist(), found[1].tolist(), strict=True))[taken:]
    if end is not None and end.place and n is None and positions:
        left_m = geodesic_distance(*positions[-1], end.lon_deg, end.lat_deg)
        if left_m < _SAME_M:
            positions.pop()
    if not positions:
        raise InvalidValue(
            f"No place fits {length_text(spacing_m)} from {start.label} and before the end.",
            "Spacing",
            "Type a smaller spacing, or a number of places.",
        )
    return _placed(positions, "along the line")


def between(first: Spot, last: Spot, n: int, *, at_ends: bool) -> list[Place]:
    """Return n pots evenly on a string; `at_ends` hangs the outer two at its very ends."""
    from trapline.science.survey import places_along

    if at_ends and n < 2:
        raise InvalidValue(
            f"{n} pot cannot hang at both ends.", "How many", "Type 2 or more, or untick the ends."
        )
    found = places_along(
        first.lon_deg, first.lat_deg, last.lon_deg, last.lat_deg, n if at_ends else n + 2
    )
    positions = list(zip(found[0].tolist(), found[1].tolist(), strict=True))
    return _placed(positions if at_ends else positions[1:-1], "along the line")


def by_rope(
    origin: Place, bearing_deg: float, first_m: float, step_m: float, n: int
) -> list[Place]:
    """Return places measured from one that is there, each `step_m` farther on the same bearing.

    They keep rope and bearing, so that they move along when the origin is corrected.
    """
    return [
        measured_from(
            origin,
            Place(
                label=f"{number}",
                fix="rope and bearing",
                from_place_id=origin.id,
                rope_m=first_m + number * step_m,
                bearing_deg=bearing_deg,
            ),
        )
        for number in range(n)
    ]


def nowhere(n: int) -> list[Place]:
    """Return places without a position: they have an order and no gap verdict."""
    return [Place(label=f"{number}") for number in range(n)]


def at_position(spot: Spot) -> list[Place]:
    """Return one place at a typed position."""
    return _placed([(spot.lon_deg, spot.lat_deg)], "typed")


def _placed(positions: Sequence[tuple[float, float]], fix: str) -> list[Place]:
    if len(positions) > MOST:
        raise InvalidValue(
            f"That would be {len(positions)} places; at most {MOST} are added at once.",
            "Spacing",
            "Type a larger spacing.",
        )
    return [
        Place(label=f"{number}", lon_deg=lon_deg, lat_deg=lat_deg, fix=fix)
        for number, (lon_deg, lat_deg) in enumerate(positions)
    ]


def labelled(places: Sequence[Place], labels: Sequence[str]) -> list[Place]:
    """Return places under their labels."""
    return [place.with_(label=label) for place, label in zip(places, labels, strict=True)]


def legs_of(places: Sequence[Place]) -> list[float]:
    """Return the distances in metres from place to place in their order; empty without any."""
    from trapline.science.spacing import legs

    lon = [place.lon_deg for place in places if place.lon_deg is not None]
    lat = [place.lat_deg for place in places if place.lat_deg is not None]
    return [float(distance_m) for distance_m in legs(lon, lat)[1]] if len(lon) > 1 else []


def sentence(places: Sequence[Place]) -> str:
    """Return what will be added: ``8 places, 1.50 m apart, 10.5 m in all: P8 to P15``."""
    n = len(places)
    names = places[0].label if n == 1 else f"{places[0].label} to {places[-1].label}"
    words = ["1 place" if n == 1 else f"{n} places"]
    apart_m = legs_of(places)
    if apart_m:
        words.append(f"{length_text(min(apart_m))} apart")
        words.append(f"{length_text(sum(apart_m))} in all")
    elif not places[0].has_position:
        words.append("in the order of the line, without a position")
    return f"{', '.join(words)}: {names}"

"""A pond, reach or bay."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

WATER_KINDS = ("still", "flowing", "tidal")
SHORES = ("sheltered pond", "lake shore", "slow river or tidal", "exposed shore")


@dataclass(frozen=True, kw_only=True, slots=True)
class Water(f.Noun):
    """A water: its kind of shore decides the mixing that a plume assumes.

    `shoreline` is a closed ring of (lon_deg, lat_deg), drawn below the map; empty when unknown.
    """

    table: ClassVar[str] = "water"
    noun: ClassVar[str] = "water"
    name: str = f.text("Name", required=True)
    kind: str = f.choice("Kind of water", WATER_KINDS, "still")
    shore: str = f.choice("Kind of shore", SHORES, "lake shore")
    mixed_depth_m: float | None = f.number("Mixed depth", "m", above=0, high=200)
    shoreline: tuple[tuple[float, float], ...] = f.listing("Shoreline")
    notes: str = f.text("Notes", lines=6)

    def check(self) -> None:
        """Refuse a shoreline with positions that are not on the earth."""
        for number, point in enumerate(self.shoreline, 1):
            if not isinstance(point, tuple) or len(point) != 2 or None in point:
                raise InvalidValue(
                    f"Point {number} of the shoreline is no position: {point!r}.",
                    "Shoreline",
                    "Give each point a longitude and a latitude.",
                )
            f.check_value(point[0], f"lon_deg of point {number}", LON)
            f.check_value(point[1], f"lat_deg of point {number}", LAT)


LON = f.number("Longitude", "°", low=-180, high=180).metadata
LAT = f.number("Latitude", "°", low=-90, high=90).metadata

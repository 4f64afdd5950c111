"""A line and its places in their order."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

LINE_KINDS = ("shore line", "set apart", "crab pots", "string")
# Minimum gap in metres that each kind of line starts with; always the user's to change.
# Common practice, no source: 1.5 m (5 ft) for a hand-thrown shore line, 10 m for crayfish
# traps set apart, 30 m for crab pots, on their own buoys or on one rope.
DEFAULT_MIN_GAP_M = {"shore line": 1.5, "set apart": 10.0, "crab pots": 30.0, "string": 30.0}
# Beyond these the traps no longer sample the same ground: our judgement, no source, except
# 9 m (30 ft) of shore line for a handful of traps: common practice, no source.
DEFAULT_MAX_GAP_M = {"shore line": 9.0, "set apart": 50.0, "crab pots": 150.0, "string": 150.0}
FIXES = ("not fixed", "GPS", "map", "typed", "rope and bearing", "along the line")


@dataclass(frozen=True, kw_only=True, slots=True)
class Line(f.Noun):
    """Places in their order: singles, or pots on one rope (a string) with two ends."""

    table: ClassVar[str] = "line"
    noun: ClassVar[str] = "line"
    water_id: str | None = f.link("Water", "water")
    name: str = f.text("Name", "Line 1", required=True)
    kind: str = f.choice("Kind of line", LINE_KINDS, "set apart")
    spacing_m: float | None = f.number("Spacing on the rope", "m", above=0, high=10_000)
    notes: str = f.text("Notes", lines=4)


@dataclass(frozen=True, kw_only=True, slots=True)
class Place(f.Noun):
    """A spot of a water, the same on every round and trip; a stake is measured from, not fished.

    With `fix` "rope and bearing" the position follows from `from_place_id`,
    `rope_m` and `bearing_deg`, and moves along when that place is corrected.
    """

    table: ClassVar[str] = "place"
    noun: ClassVar[str] = "place"
    line_id: str | None = f.link("Line", "line")
    ordinal: int = f.count("Order", low=1, default=1)
    label: str = f.text("Place", required=True)
    lon_deg: float | None = f.number("Longitude", "°", low=-180, high=180)
    lat_deg: float | None = f.number("Latitude", "°", low=-90, high=90)
    accuracy_m: float | None = f.number("Accuracy", "m", low=0, high=100_000)
    fix: str = f.choice("How fixed", FIXES, "not fixed")
    is_stake: bool = f.flag("Stake")
    from_place_id: str | None = f.link("Measured from", "place")
    rope_m: float | None = f.number("Rope", "m", low=0, high=100_000)
    bearing_deg: float | None = f.number("Bearing", "°", low=0, high=360)
    depth_m: float | None = f.number("Depth", "m", low=0, high=11_000)
    bottom: str = f.text("Bottom")
    notes: str = f.text("Notes", lines=4)

    def check(self) -> None:
        """Refuse half a position, and a place measured from itself."""
        if (self.lon_deg is None) != (self.lat_deg is None):
            raise InvalidValue(
                f"Place '{self.label}' has only half a position.",
                self.label,
                "Give both latitude and longitude, or neither.",
            )
        if self.from_place_id == self.id:
            raise InvalidValue(
                f"Place '{self.label}' cannot be measured from itself.",
                self.label,
                "Choose another place or a stake.",
            )

    @property
    def has_position(self) -> bool:
        """Whether the place can be drawn where it is and gets a gap verdict."""
        return self.lon_deg is not None

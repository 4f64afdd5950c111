"""A trip and its rounds."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f
from trapline.model.instants import zone

SCHEMES = ("none", "blocks", "whole line")
LIFT_FROM = ("first place", "last place")


@dataclass(frozen=True, kw_only=True, slots=True)
class Trip(f.Noun):
    """One outing on one water. Gaps are the user's limits; the layout can be redrawn from here.

    `layout_draw` is the JSON text of the scheme and the draw that the baits came
    from, since the test of a comparison redraws from the same set.
    """

    table: ClassVar[str] = "trip"
    noun: ClassVar[str] = "trip"
    name: str = f.text("Name", required=True)
    water_id: str | None = f.link("Water", "water")
    line_id: str | None = f.link("Line", "line")
    started_on: str | None = f.day("First day")
    purpose: str = f.text("Purpose")
    zone: str = f.text("Time zone", "UTC", required=True)
    min_gap_m: float | None = f.number("Minimum gap", "m", low=0, high=100_000)
    max_gap_m: float | None = f.number("Maximum gap", "m", above=0, high=1_000_000)
    reference_bait_id: str | None = f.link("Reference bait", "bait")
    target_species_id: str | None = f.link("Target species", "species")
    winner_threshold: float = f.number("Winner threshold", "", low=0.8, high=0.999, default=0.975)
    layout_scheme: str = f.choice("Layout", SCHEMES, "none")
    layout_seed: int | None = f.count("Seed of the draw", low=0, high=2**53)
    # A key for each of 2000 places, and 200 rounds of them.
    layout_draw: str = f.text("Draw", lines=50, most=2_000_000)
    notes: str = f.text("Notes", lines=12)

    def check(self) -> None:
        """Refuse an unknown zone and a maximum gap under the minimum."""
        zone(self.zone)
        low, high = self.min_gap_m, self.max_gap_m
        if low is not None and high is not None and high < low:
            raise InvalidValue(
                f"The maximum gap ({high:g} m) is less than the minimum ({low:g} m).",
                "Maximum gap",
                "Type a larger maximum or a smaller minimum.",
            )


@dataclass(frozen=True, kw_only=True, slots=True)
class Round(f.Noun):
    """One pass along the line. The current is where the water flows *towards*."""

    table: ClassVar[str] = "round"
    noun: ClassVar[str] = "round"
    trip_id: str | None = f.link("Trip", "trip")
    number: int = f.count("Round", low=1, default=1)
    set_on: str | None = f.day("Set on")
    crew: str = f.text("Crew")
    boat: str = f.text("Boat")
    weather: str = f.text("Weather")
    water_temp_c: float | None = f.number("Water temperature", "°C", low=-3, high=60)
    current_m_s: float | None = f.number("Current speed", "m/s", low=0, high=5)
    current_to_deg: float | None = f.number("Current flows towards", "°", low=0, high=360)
    tide_state: str = f.text("State of the tide")
    high_water_utc: str | None = f.instant("High water")
    lift_from: str = f.choice("Lift from", LIFT_FROM, "first place")
    notes: str = f.text("Notes", lines=6)

    @property
    def has_current(self) -> bool:
        """Whether there is a steady current: its speed is over nothing and its direction known."""
        return bool(self.current_m_s) and self.current_to_deg is not None

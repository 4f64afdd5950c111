"""One trap at one place in one round: planned, set, lifted."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

STATES = ("planned", "set", "lifted")
BAIT_ACTIONS = ("fresh", "topped up", "left as it was")
CONDITIONS = ("", "fished", "disturbed", "robbed", "lost", "not lifted")
BAIT_LEFT = ("", "none", "a quarter", "half", "three quarters", "all")
# Eleven years: beyond this a year was mistyped. Our judgement, no source.
MOST_SOAK_H = 100_000.0
AFTERWARDS = ("", "out of the water", "set again", "moved")


@dataclass(frozen=True, kw_only=True, slots=True)
class TrapSet(f.Noun):
    """What was planned, what was really done, and how the trap was found.

    `lon_deg, lat_deg` is the position really set at; None while planned or
    where the place has none. `counted` is False until somebody counted: a
    catch of 0 is data, an uncounted trap is not.
    """

    table: ClassVar[str] = "trap_set"
    noun: ClassVar[str] = "trap set"
    round_id: str | None = f.link("Round", "round")
    trap_id: str | None = f.link("Trap", "trap")
    planned_place_id: str | None = f.link("Planned place", "place")
    place_id: str | None = f.link("Place", "place")
    planned_bait_id: str | None = f.link("Planned bait", "bait")
    bait_id: str | None = f.link("Bait", "bait")
    state: str = f.choice("State", STATES, "planned")
    lon_deg: float | None = f.number("Longitude set at", "°", low=-180, high=180)
    lat_deg: float | None = f.number("Latitude set at", "°", low=-90, high=90)
    block: int | None = f.count("Block", low=1)
    set_utc: str | None = f.instant("Set")
    lift_utc: str | None = f.instant("Lifted")
    set_by: str = f.text("Set by")
    lifted_by: str = f.text("Lifted by")
    continues_id: str | None = f.link("Goes on from", "trap_set")
    bait_action: str = f.choice("Bait hung", BAIT_ACTIONS, "fresh")
    bait_hung_utc: str | None = f.instant("Bait hung since")
    condition: str = f.choice("Condition", CONDITIONS, "")
    disturbed_utc: str | None = f.instant("Disturbed at")
    bait_left: str = f.choice("Bait left", BAIT_LEFT, "")
    counted: bool = f.flag("Counted")
    fraction_counted: float = f.number("Part counted", "", above=0, high=1, default=1.0)
    afterwards: str = f.choice("After the lift", AFTERWARDS, "")
    moved_to_place_id: str | None = f.link("Moved to", "place")
    notes: str = f.text("Notes", lines=4)

    def check(self) -> None:
        """Refuse a lift before the set, and half a position."""
        if self.set_utc and self.lift_utc and self.lift_utc < self.set_utc:
            raise InvalidValue(
                f"The lift ({self.lift_utc}) is before the set ({self.set_utc}).",
                "Lifted",
                "Type a later lift or an earlier set time.",
            )
        if self.disturbed_utc:
            if self.set_utc and self.disturbed_utc < self.set_utc:
                raise InvalidValue(
                    "The trap was disturbed before it was set.",
                    "Disturbed at",
                    "Type a later time.",
                )
            if self.lift_utc and self.disturbed_utc > self.lift_utc:
                raise InvalidValue(
                    "The trap was disturbed after its lift.",
                    "Disturbed at",
                    "Type an earlier time.",
                )
        if (self.lon_deg is None) != (self.lat_deg is None):
            raise InvalidValue(
                "The position set at is only half.", "Position", "Give both numbers or neither."
            )

    @property
    def is_in_water(self) -> bool:
        """Whether this trap still stands in the water: set, and nobody has taken it out."""
        return self.state == "set"

"""What hangs in the trap."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

BAIT_FORMS = ("whole", "cut", "punctured can", "bag", "pellets", "none")
MARKS = ("circle", "square", "triangle", "diamond", "star", "cross", "pentagon", "ring")
# Okabe & Ito (2008), Color Universal Design: the eight colours that keep apart for
# colour-blind readers; yellow and light ones are drawn with a dark outline.
COLOURS = (
    "#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9", "#CC79A7", "#F0E442", "#000000",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Bait(f.Noun):
    """A bait, or "no bait" (a control). The three reaches are the user's assumptions.

    They are never converted into one another: a reach in still water and one
    down-current have no common strength that could be measured on a trap.
    """

    table: ClassVar[str] = "bait"
    noun: ClassVar[str] = "bait"
    name: str = f.text("Name", required=True)
    kind: str = f.text("Group")
    form: str = f.choice("Form", BAIT_FORMS, "whole")
    amount: str = f.text("Amount")
    cost: str = f.text("Cost")
    colour: str = f.text("Colour", COLOURS[0])
    mark: str = f.choice("Mark", MARKS, "circle")
    still_reach_m: float | None = f.number("Reach in still water", "m", low=0, high=500)
    down_reach_m: float | None = f.number("Reach down-current", "m", low=0, high=2000)
    side_reach_m: float | None = f.number("Reach sideways", "m", low=0, high=500)
    half_life_h: float | None = f.number("Half-life (assumed)", "h", above=0, high=10_000)
    is_control: bool = f.flag("No bait (control)")
    notes: str = f.text("Notes", lines=4)

    def check(self) -> None:
        """Refuse a colour that cannot be drawn."""
        digits = self.colour[1:]
        if len(self.colour) != 7 or self.colour[0] != "#" or not _is_hex(digits):
            raise InvalidValue(
                f"Colour: '{self.colour}' is not a colour.", "Colour", "Write it like #0072B2."
            )


def _is_hex(digits: str) -> bool:
    return all(letter in "0123456789abcdefABCDEF" for letter in digits)

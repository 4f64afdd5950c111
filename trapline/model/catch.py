"""What came up in one trap: species by fate."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

FATES = (
    "kept", "put back", "undersize back", "dead", "removed", "used as bait",
    "dropped back at the lift",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class Catch(f.Noun):
    """One species with one fate in one trap set: a count, a weight, or n of a named measure."""

    table: ClassVar[str] = "catch"
    noun: ClassVar[str] = "catch"
    trap_set_id: str | None = f.link("Trap set", "trap_set")
    species_id: str | None = f.link("Species", "species")
    fate: str = f.choice("Fate", FATES, "kept")
    count: int | None = f.count("Count", high=1_000_000)
    weight_kg: float | None = f.number("Weight", "kg", low=0, high=100_000)
    measure_n: float | None = f.number("Measures", "", low=0, high=100_000)
    measure_name: str = f.text("Measure")
    notes: str = f.text("Notes", lines=3)

    def check(self) -> None:
        """Refuse a row that says nothing: a blank is not a 0."""
        if self.count is None and self.weight_kg is None and self.measure_n is None:
            raise InvalidValue(
                "A catch needs a count, a weight or a number of measures.",
                "Count",
                "Type 0 where nothing was caught, or leave the trap uncounted.",
            )

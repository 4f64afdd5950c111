"""The gear."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.model import fields as f

TRAP_STATES = ("in service", "lost", "found", "retired")


@dataclass(frozen=True, kw_only=True, slots=True)
class Trap(f.Noun):
    """A trap or pot. `tags` are (year or None, tag) pairs given by an authority."""

    table: ClassVar[str] = "trap"
    noun: ClassVar[str] = "trap"
    number: str = f.text("Number", required=True)
    tags: tuple[tuple[int | None, str], ...] = f.listing("Authority tags")
    kind: str = f.text("Kind of trap")
    entrance_mm: float | None = f.number("Entrance", "mm", above=0, high=2000)
    mesh_mm: float | None = f.number("Mesh", "mm", above=0, high=1000)
    escape_mm: float | None = f.number("Escape opening", "mm", above=0, high=1000)
    has_excluder: bool = f.flag("Excluder")
    owner_mark: str = f.text("Owner's mark")
    state: str = f.choice("State", TRAP_STATES, "in service")
    state_note: str = f.text("Where and when lost or found", lines=3)
    notes: str = f.text("Notes", lines=4)

    @property
    def tag_text(self) -> str:
        """The tags as one cell: ``AB 120 (2026), C 7``."""
        return ", ".join(f"{tag} ({year})" if year else tag for year, tag in self.tags)

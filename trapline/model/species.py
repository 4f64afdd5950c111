"""What is caught."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.model import fields as f

ROLES = ("target", "by-catch")


@dataclass(frozen=True, kw_only=True, slots=True)
class Species(f.Noun):
    """A species with the user's own local status and size limits: law is never shipped."""

    table: ClassVar[str] = "species"
    noun: ClassVar[str] = "species"
    name: str = f.text("Common name", required=True)
    scientific_name: str = f.text("Scientific name")
    role: str = f.choice("Role", ROLES, "target")
    local_status: str = f.text("Local status (yours)")
    min_size_mm: float | None = f.number("Least size (yours)", "mm", low=0, high=10_000)
    max_size_mm: float | None = f.number("Greatest size (yours)", "mm", low=0, high=10_000)
    notes: str = f.text("Notes", lines=4)

"""The gear."""

import re
from dataclasses import dataclass
from typing import ClassVar

from trapline.errors import InvalidValue
from trapline.model import fields as f

_TAG = re.compile(r"([^()]*[^()\s])\s*(?:\(\s*([1-9][0-9]{3})\s*\))?")
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

    def check(self) -> None:
        """Refuse tags that are not pairs of a year, or none, and a text."""
        for tag in self.tags:
            if not isinstance(tag, tuple) or len(tag) != 2 or not isinstance(tag[1], str):
                raise InvalidValue(
                    f"Authority tags: {tag!r} is no year and tag.",
                    "Authority tags",
                    "Type it again.",
                )
            f.clean_text(tag[1], "Authority tags", 1)
            if tag[0] is not None and (not isinstance(tag[0], int) or not 1000 <= tag[0] <= 9999):
                raise InvalidValue(
                    f"Authority tags: {tag[0]!r} is not a year.",
                    "Authority tags",
                    "Type a year like 2026.",
                )

    @property
    def tag_text(self) -> str:
        """The tags as one cell: ``AB 120 (2026), C 7``."""
        return ", ".join(f"{tag} ({year})" if year else tag for year, tag in self.tags)


def tags_from_text(text: str) -> tuple[tuple[int | None, str], ...]:
    """Return tags as they are typed in one cell, ``AB 120 (2026), C 7``; none of an empty one.

    Raises
    ------
    InvalidValue
        Brackets without a year of four digits, or a year without a tag.
    """
    tags: list[tuple[int | None, str]] = []
    for part in text.replace(";", ",").split(","):
        if not part.strip():
            continue
        match = _TAG.fullmatch(part.strip())
        if match is None:
            raise InvalidValue(
                f"'{part.strip()}' is not a tag, or a tag with its year.",
                "Authority tags",
                "Type them like AB 120 (2026), C 7.",
            )
        tags.append((int(match[2]) if match[2] else None, match[1]))
    return tuple(tags)

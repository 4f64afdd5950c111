"""The project itself: its name and the story in its notes."""

from dataclasses import dataclass
from typing import ClassVar

from trapline.model import fields as f


@dataclass(frozen=True, kw_only=True, slots=True)
class ProjectInfo(f.Noun):
    """One row a file: what the project is called and whether it is an invented example."""

    table: ClassVar[str] = "project"
    noun: ClassVar[str] = "project"
    name: str = f.text("Name", required=True)
    notes: str = f.text("Notes", lines=12)
    is_example: bool = f.flag("Invented example")

"""The list of nouns: everything that is a table of the project."""

from typing import Final

from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water

# In the order in which rows may be written: each refers only to earlier ones.
NOUNS: Final[tuple[type[Noun], ...]] = (
    ProjectInfo, Water, Line, Place, Trap, Bait, Species, Trip, Round, TrapSet, Catch,
)  # fmt: skip
BY_TABLE: Final[dict[str, type[Noun]]] = {noun.table: noun for noun in NOUNS}

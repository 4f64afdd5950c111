"""What a reader of places hands back: what was understood, what was not and why.

Nothing here writes anything: the preview shows it, and an action takes it over.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from trapline.errors import InputProblem
from trapline.exchange.files import shown
from trapline.model.fields import MAX_TEXT


@dataclass(frozen=True)
class FoundPlace:
    """One place read from a file; without a position both degrees are None."""

    label: str
    lon_deg: float | None
    lat_deg: float | None
    depth_m: float | None = None
    note: str = ""
    row: int = 0
    origin: str = ""


@dataclass(frozen=True)
class Refused:
    """One row that was not understood; `row` 0 is not a place (part of a track)."""

    row: int
    where: str
    text: str
    why: str
    what_to_do: str


@dataclass(frozen=True)
class Track:
    """One unbroken walked or rowed line, usable as a shoreline."""

    name: str
    lon_deg: tuple[float, ...]
    lat_deg: tuple[float, ...]


@dataclass(frozen=True)
class FoundPlaces:
    """Everything that one file gave; `columns` says which header was read as what."""

    source: str
    format: str
    places: tuple[FoundPlace, ...]
    refused: tuple[Refused, ...] = ()
    columns: dict[str, str] = field(default_factory=dict)
    tracks: tuple[Track, ...] = ()
    unit: str = "row"

    def sentence(self) -> str:
        """Return how much was understood, ``12 of 14 rows understood, 1 track``."""
        total = len(self.places) + sum(1 for row in self.refused if row.row > 0)
        parts = []
        if total or not self.tracks:
            unit = self.unit if total == 1 else f"{self.unit}s"
            parts.append(f"{len(self.places)} of {total} {unit} understood")
        if self.tracks:
            parts.append(f"{len(self.tracks)} track{'s' if len(self.tracks) > 1 else ''}")
        return ", ".join(parts)


def reason(problem: InputProblem) -> tuple[str, str]:
    """Return why a row was not understood, naming its field, and one thing to do."""
    field_name = problem.where
    named = not field_name or field_name in problem.error.lower()
    why = problem.error if named else f"{field_name.capitalize()}: {problem.error}"
    return why, problem.what_to_do or "Correct the row in the file."


def refused_because(problem: InputProblem, row: int, where: str, text: str) -> Refused:
    """Return the report of a row whose reading raised `problem`."""
    return Refused(row, where, shown(text), *reason(problem))


def check_texts(label: str, note: str) -> None:
    """Refuse a name or note that is longer than a project keeps."""
    for what, value in (("name", label), ("note", note)):
        if len(value) > MAX_TEXT:
            raise InputProblem(
                f"The {what} '{shown(value, 20)}' has {len(value)} characters; "
                f"at most {MAX_TEXT} are kept.",
                "",
                "Shorten it.",
            )


def name_apart(
    places: Iterable[FoundPlace],
) -> tuple[tuple[FoundPlace, ...], tuple[Refused, ...]]:
    """Return the places with every name used once, and the second ones of a name as refused.

    A place without a name gets ``WP 3`` from its row, with a suffix where that is taken.
    """
    found = list(places)
    taken = {place.label: place for place in found if place.label}
    firsts: dict[str, FoundPlace] = {}
    kept: list[FoundPlace] = []
    refused: list[Refused] = []
    for place in found:
        named = place
        if not place.label:
            label = f"WP {place.row}"
            while label in taken:
                label += "a"
            named = replace(place, label=label)
            taken[label] = named
        first = firsts.setdefault(named.label, named)
        if first is named:
            kept.append(named)
            continue
        refused.append(
            Refused(
                named.row,
                named.origin,
                shown(named.label),
                f"A second place is called '{shown(named.label)}'; {first.origin} has that name.",
                "Rename one of the two.",
            )
        )
    return tuple(kept), tuple(refused)

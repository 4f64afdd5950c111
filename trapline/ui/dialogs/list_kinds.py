"""What the list editors show of each noun: columns, the rest below, and how a new row begins."""

from collections.abc import Callable
from dataclasses import dataclass, field

from trapline.drawing.icons import mark_icon
from trapline.model.bait import COLOURS, MARKS, Bait
from trapline.model.fields import Noun
from trapline.model.line import Line
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.water import Water
from trapline.ui.tables.noun_columns import NounColumn

COLOUR_NAMES = (
    "blue", "orange", "green", "vermilion", "sky blue", "purple", "yellow", "black",
)  # fmt: skip


@dataclass(frozen=True)
class Section:
    """Some fields below the table, under a heading, with a sentence of explanation."""

    heading: str
    fields: tuple[str, ...]
    note: str = ""
    labels: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ListKind:
    """One list: its noun and words, its columns, what is below, and what a new row is.

    `pasted` is what a pasted row begins as, where that is not what a new one is.
    """

    noun: type[Noun]
    title: str
    one: str
    empty: str
    columns: Callable[[str], tuple[NounColumn, ...]]
    sections: tuple[Section, ...]
    new: Callable[[Snapshot], Noun]
    pasted: Callable[[Snapshot], Noun] | None = None


def free_text(taken: set[str], stem: str) -> str:
    """Return the stem, or the stem with the first number from 2 that is free."""
    used = {one.casefold() for one in taken}
    text, number = stem, 1
    while text.casefold() in used:
        number += 1
        text = f"{stem} {number}"
    return text


def new_bait(snapshot: Snapshot, name: str = "New bait", *, is_control: bool = False) -> Bait:
    """Return a bait in the next colour and mark that no other has; pairs differ before they repeat.

    All three reaches stay empty: they are the user's assumptions.
    """
    baits = snapshot.all(Bait)
    used = {(bait.colour.upper(), bait.mark) for bait in baits}
    pairs = [(COLOURS[n % 8], MARKS[(n + n // 8) % 8]) for n in range(64)]
    free = [pair for pair in pairs if pair not in used]
    colours, marks = {one[0] for one in used}, {one[1] for one in used}
    unlike = [pair for pair in free if pair[0] not in colours and pair[1] not in marks]
    colour, mark = (unlike or free or pairs)[0]
    return Bait(
        name=free_text({bait.name for bait in baits}, name),
        colour=colour,
        mark=mark,
        form="none" if is_control else "whole",
        is_control=is_control,
    )


def next_trap(snapshot: Snapshot) -> Trap:
    """Return a trap with the number after the greatest, like the last one in all else."""
    traps = snapshot.all(Trap)
    numbers = [
        int(trap.number) for trap in traps if trap.number.isascii() and trap.number.isdigit()
    ]
    number = str(max(numbers, default=0) + 1)
    if not traps:
        return Trap(number=number)
    last = traps[-1]
    return Trap(
        number=number,
        kind=last.kind,
        entrance_mm=last.entrance_mm,
        mesh_mm=last.mesh_mm,
        escape_mm=last.escape_mm,
        has_excluder=last.has_excluder,
        owner_mark=last.owner_mark,
    )


def _bait_columns(theme: str) -> tuple[NounColumn, ...]:
    return (
        NounColumn(
            "name", "Name", decoration=lambda bait: mark_icon(bait.mark, bait.colour, theme)
        ),
        NounColumn("kind", "Group"),
        NounColumn("form", "Form"),
        NounColumn("amount", "Amount"),
        NounColumn("still_reach_m", "Still m"),
        NounColumn("down_reach_m", "Down m"),
        NounColumn("side_reach_m", "Side m"),
        NounColumn("cost", "Cost"),
        NounColumn("notes", "Notes", stretch=True),
    )


BAITS = ListKind(
    noun=Bait,
    title="Baits",
    one="bait",
    empty="No baits yet. Add what you want to compare, and “no bait” as the control.",
    columns=_bait_columns,
    sections=(
        Section("On the map", ("colour", "mark")),
        Section(
            "Reach of the scent: your assumption",
            ("still_reach_m", "down_reach_m", "side_reach_m"),
            "How far you assume it draws. Nothing on a trap measures it, and the three are never"
            " worked out from one another.",
            {"still_reach_m": "In still water", "down_reach_m": "Down-current",
             "side_reach_m": "Sideways"},
        ),
        Section("More", ("half_life_h", "is_control", "notes")),
    ),
    new=new_bait,
)  # fmt: skip
TRAPS = ListKind(
    noun=Trap,
    title="Traps",
    one="trap",
    empty="No traps yet. Add several at once, like numbers 1–20.",
    columns=lambda _: (
        NounColumn("number", "Number"),
        NounColumn("tags", "Tags (year)"),
        NounColumn("kind", "Kind"),
        NounColumn("entrance_mm", "Entrance mm"),
        NounColumn("mesh_mm", "Mesh mm"),
        NounColumn("escape_mm", "Escape mm"),
        NounColumn("has_excluder", "Excluder"),
        NounColumn("state", "State"),
        NounColumn("notes", "Notes", stretch=True),
    ),
    sections=(
        Section("Whose it is", ("owner_mark",)),
        Section("Lost or found", ("state", "state_note"), labels={"state_note": "Where, when"}),
        Section("Notes", ("notes",)),
    ),
    new=next_trap,
    pasted=lambda snapshot: Trap(number=next_trap(snapshot).number),
)
SPECIES = ListKind(
    noun=Species,
    title="Species",
    one="species",
    empty="No species yet. Add what you fish for, and what else comes up.",
    columns=lambda _: (
        NounColumn("name", "Common name"),
        NounColumn("scientific_name", "Scientific name"),
        NounColumn("role", "Role"),
        NounColumn("local_status", "Local status (yours)"),
        NounColumn("min_size_mm", "Least mm (yours)"),
        NounColumn("max_size_mm", "Greatest mm (yours)"),
        NounColumn("notes", "Notes", stretch=True),
    ),
    sections=(
        Section(
            "Notes",
            ("notes",),
            "Status and sizes are what you type: the program knows no law. Ask the authority of"
            " your water.",
        ),
    ),
    new=lambda snapshot: Species(
        name=free_text({row.name for row in snapshot.all(Species)}, "New species"),
        role="by-catch" if snapshot.species("target") else "target",
    ),
)
WATERS = ListKind(
    noun=Water,
    title="Waters",
    one="water",
    empty="No waters yet. A new trip makes one, or add it here.",
    columns=lambda _: (
        NounColumn("name", "Name"),
        NounColumn("kind", "Kind of water"),
        NounColumn("shore", "Kind of shore"),
        NounColumn("mixed_depth_m", "Mixed depth m"),
        NounColumn("notes", "Notes", stretch=True),
    ),
    sections=(Section("Notes", ("notes",)),),
    new=lambda snapshot: Water(
        name=free_text({row.name for row in snapshot.all(Water)}, "New water")
    ),
)
LINES = ListKind(
    noun=Line,
    title="Lines",
    one="line",
    empty="No lines yet. A new trip makes one, or add it here.",
    columns=lambda _: (
        NounColumn("name", "Name"),
        NounColumn("water_id", "Water"),
        NounColumn("kind", "Kind of line"),
        NounColumn("spacing_m", "On the rope m"),
        NounColumn("notes", "Notes", stretch=True),
    ),
    sections=(Section("Notes", ("notes",)),),
    new=lambda snapshot: Line(
        name=free_text({row.name for row in snapshot.all(Line)}, "New line"),
        water_id=next((row.id for row in snapshot.all(Water)), None),
    ),
)

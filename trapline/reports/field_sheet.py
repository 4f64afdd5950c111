"""The field sheet: a planned round to carry to the water, with boxes to write in, and its map."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Final

from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import Leg, SpacingCheck, check_spacing
from trapline.drawing.map_builder import build_map
from trapline.drawing.map_content import MarkStyle
from trapline.drawing.map_furniture import compass_word
from trapline.drawing.paper import PageSetup
from trapline.drawing.theme import PAPER_MONOCHROME
from trapline.model.instants import local_text
from trapline.model.snapshot import Snapshot
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.reports.blocks import (
    bullets,
    facts,
    heading,
    paragraph,
    space,
    title,
    writing_lines,
)
from trapline.reports.letters import NOTE
from trapline.reports.maps import map_pieces
from trapline.reports.page import MARGIN_MM, Piece, Report
from trapline.reports.pdf_file import print_report, write_report
from trapline.reports.table import Cell, TableColumn, TableLook, table
from trapline.units import length_text

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

ROW_MM: Final = 9.0
# Greys that a printer without colours prints as they are.
BLACK_AND_WHITE: Final = replace(PAPER_MONOCHROME, border="#9a9a9a", control_border="#9a9a9a")
# In the order in which a hand goes along the row.
COLUMNS: Final = (
    TableColumn("No.", 9.0, is_right=True),
    TableColumn("Place", least_mm=12, most_mm=34),
    TableColumn("Trap, tag", least_mm=14, most_mm=32),
    TableColumn("Bait", least_mm=18, most_mm=36),
    TableColumn("To next", 19.5, is_right=True),
    TableColumn("Set", 12.5, is_centred=True),
    TableColumn("Lift", 12.5, is_centred=True),
    TableColumn("Count", 14.0, is_centred=True),
    TableColumn("Escapes", 14.0, is_centred=True),
    TableColumn("By-catch", 18.5, is_centred=True),
    TableColumn("Condition", 20.0, is_centred=True),
)
CONDITIONS: Final = "F  D  R  L  N"
KEY: Final = (
    "Count: write 0 where you counted and found none; leave the box empty where you did not count."
    " Escapes: seen to drop back at the lift."
    " Condition, ring one: F fished, D disturbed, R robbed, L lost, N not lifted."
)
CAUTIONS: Final = (
    "Local rules come first: season, permit, tags, sizes, number of traps. Cold water: wear a"
    " lifejacket, go with a partner. By-catch goes back at once where it was caught. Check, clean"
    " and dry everything before another water."
)
NOT_FIXED: Final = "no position"


def field_sheet(snapshot: Snapshot, round_id: str, paper: str = "A4") -> Report:
    """Return the field sheet of a round, laid out on A4 or Letter."""
    fished = snapshot.need(Round, round_id)
    trip = snapshot.need(Trip, fished.trip_id)
    spacing = check_spacing(snapshot, round_id)
    content = build_map(snapshot, round_id, spacing, check_plumes(snapshot, round_id))

    def pieces(width: float, room: float) -> Iterator[Piece]:
        yield from title(trip.name, f"Field sheet, round {fished.number}", width)
        yield from facts(_facts(snapshot, trip, fished), width, 6)
        yield from paragraph(KEY, width, NOTE, below_mm=1.5)
        rows = _rows(snapshot, trip, fished, spacing)
        yield from table(
            COLUMNS, rows, width, TableLook(has_boxes=True, row_mm=ROW_MM, theme=BLACK_AND_WHITE)
        )
        yield space(1.5)
        yield from paragraph(CAUTIONS, width, NOTE)
        yield from writing_lines("Notes", 3)
        if spacing.warnings:
            yield from heading("Gaps to mind", width)
            yield from bullets([warning.text for warning in spacing.warnings], width)
        yield space(2.0)
        yield from map_pieces(content, BLACK_AND_WHITE, width, room, fills_page=True)

    return Report(
        PageSetup(paper, margin_mm=MARGIN_MM),
        f"Field sheet: {trip.name}, round {fished.number}",
        pieces,
    )


def _facts(snapshot: Snapshot, trip: Trip, fished: Round) -> list[tuple[str, str]]:
    water = snapshot.water_of(trip)
    current = ""
    if fished.has_current:
        current = f"{fished.current_m_s:g} m/s towards {fished.current_to_deg:.0f}°"
    temperature = "" if fished.water_temp_c is None else f"{fished.water_temp_c:g} °C"
    tide = fished.tide_state
    if fished.high_water_utc:
        high_water = local_text(fished.high_water_utc, trip.zone, "%H:%M")
        tide = f"{tide}, high water {high_water}".removeprefix(", ")
    return [
        ("Water", f"{water.name} ({water.kind})" if water else ""),
        ("Set on", fished.set_on or ""),
        ("Crew", fished.crew),
        ("Boat", fished.boat),
        ("Lift from", fished.lift_from),
        ("Times in", trip.zone),
        ("Weather", fished.weather),
        ("Water temperature", temperature),
        ("Current", current),
        ("Tide", tide),
        ("Least gap (yours)", _limit(trip.min_gap_m)),
        ("Greatest gap (yours)", _limit(trip.max_gap_m)),
    ]


def _limit(metres: float | None) -> str:
    return "none" if metres is None else length_text(metres)


def _rows(
    snapshot: Snapshot, trip: Trip, fished: Round, spacing: SpacingCheck
) -> list[list[Cell | str]]:
    legs = {leg.first.set_id: leg for leg in spacing.legs}
    unplaced = {row.set_id for row in spacing.unplaced}
    sets = snapshot.sets(fished.id)
    following = {row.id: after.id for row, after in pairwise(sets)}
    rows: list[list[Cell | str]] = []
    for number, row in enumerate(sets, 1):
        bait = snapshot.bait_of(row)
        mark = MarkStyle(bait.name, bait.colour, bait.mark) if bait else None
        if row.id in unplaced:
            to_next = NOT_FIXED
        else:
            to_next = _to_next(legs.get(row.id), following.get(row.id))
        rows.append(
            [
                str(number),
                Cell(snapshot.place_label(row), is_strong=True),
                _trap(snapshot, row),
                Cell(bait.name if bait else "", mark),
                to_next,
                local_text(row.set_utc, trip.zone, "%H:%M"),
                local_text(row.lift_utc, trip.zone, "%H:%M"),
                "",
                "",
                "",
                CONDITIONS,
            ]
        )
    return rows


def _trap(snapshot: Snapshot, row: TrapSet) -> str:
    trap = snapshot.get(Trap, row.trap_id)
    if trap is None:
        return ""
    return f"{trap.number}\n{trap.tag_text}" if trap.tags else trap.number


def _to_next(leg: Leg | None, next_set_id: str | None) -> str:
    """Return how far and which way the next trap stands; its place may have no position."""
    if leg is None or leg.second.set_id != next_set_id:
        return "–" if next_set_id is None else "not known"
    return f"{length_text(leg.distance_m)} {compass_word(leg.bearing_deg)}"


def field_sheet_pdf(snapshot: Snapshot, round_id: str, path: Path, paper: str = "A4") -> Path:
    """Write the field sheet of a round as a PDF and return its path.

    Raises
    ------
    EnvironmentProblem
        The file cannot be written.
    """
    return write_report(field_sheet(snapshot, round_id, paper), path)


def print_field_sheet(
    snapshot: Snapshot, round_id: str, printer: "QPrinter", paper: str = "A4"
) -> None:
    """Print the field sheet of a round.

    Raises
    ------
    EnvironmentProblem
        The printer does not begin.
    """
    print_report(field_sheet(snapshot, round_id, paper), printer)

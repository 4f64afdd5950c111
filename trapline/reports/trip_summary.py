"""The summary of a trip, to be kept, handed to an authority, or read before the next one."""

from collections.abc import Iterator
from typing import Final

from trapline.analyses.bait_verdict import called
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.spacing_check import check_spacing
from trapline.analyses.trip_lifts import TripLift
from trapline.analyses.trip_summary import TripSummary
from trapline.drawing.catch_map import catch_map
from trapline.drawing.map_builder import build_map
from trapline.drawing.map_content import MarkStyle
from trapline.drawing.paper import PageSetup
from trapline.drawing.theme import PAPER
from trapline.model.bait import Bait
from trapline.model.instants import local_text
from trapline.model.snapshot import Snapshot
from trapline.reports.blocks import bullets, facts, heading, kept, paragraph, space, title
from trapline.reports.comparison_pages import comparison_pieces
from trapline.reports.letters import BODY, NOTE, Style
from trapline.reports.maps import map_pieces
from trapline.reports.page import MARGIN_MM, Piece, Report
from trapline.reports.table import Cell, Row, TableColumn, table

IN_SHORT: Final = Style(9.5)
CAUTIONS: Final = (
    "Local rules come first: seasons, permits, tags, sizes and numbers differ from water to water"
    " and from year to year. This program knows none of them; ask the authority of your water.",
    "Cold water kills faster than it looks: wear a lifejacket, go with a partner, tell somebody"
    " when you will be back.",
    "By-catch goes back at once where it was caught. Air-breathing animals drown in a trap.",
    "Check, clean and dry everything before another water; carry no bait, water or animals there.",
)
ROUND_COLUMNS: Final = (
    TableColumn("Round", 12, is_right=True),
    TableColumn("Set on", 20),
    TableColumn("First set to last lift", least_mm=34),
    TableColumn("Weather and water", least_mm=30),
    TableColumn("Set", 11, is_right=True),
    TableColumn("Lifted", 13, is_right=True),
    TableColumn("Counted", 15, is_right=True),
    TableColumn("Catch", 13, is_right=True),
)
TRAP_COLUMNS: Final = (
    TableColumn("Round", 12.0, is_right=True),
    TableColumn("Place", least_mm=13, most_mm=32),
    TableColumn("Trap, tag", least_mm=16, most_mm=34),
    TableColumn("Bait", least_mm=20, most_mm=34),
    TableColumn("Set", 22.5),
    TableColumn("Soak (h)", 15, is_right=True),
    TableColumn("Condition", 17.5),
    TableColumn("Catch", least_mm=19.5, most_mm=24, is_right=True),
    TableColumn("By-catch", least_mm=17, most_mm=40),
    TableColumn("Per 24 h", 15, is_right=True),
)
PLACE_COLUMNS: Final = (
    TableColumn("", 8, is_right=True),
    TableColumn("Place", least_mm=20, most_mm=50),
    TableColumn("Trap sets", is_right=True, least_mm=14),
    TableColumn("Counted", is_right=True, least_mm=14),
    TableColumn("Catch", is_right=True, least_mm=14),
    TableColumn("Hours of fishing", is_right=True, least_mm=18),
    TableColumn("Catch per trap and 24 h", is_right=True, least_mm=24),
    TableColumn("Baits", least_mm=30, most_mm=70),
)
MOST_PLACES: Final = 40
MOST_WARNINGS: Final = 24


def trip_summary_report(snapshot: Snapshot, found: TripSummary, paper: str = "A4") -> Report:
    """Return the summary of a trip, laid out on A4 or Letter."""

    def pieces(width: float, room: float) -> Iterator[Piece]:
        yield from title(found.trip.name, "Trip summary", width)
        yield from facts(found.facts, width, 3)
        yield from paragraph(found.in_short, width, IN_SHORT, below_mm=1.5)
        yield from _rounds(found, width)
        yield from _map(snapshot, found, width, room)
        yield from _traps(found, width)
        yield from _warnings(found, width)
        yield from comparison_pieces(found.comparison, snapshot.all(Bait), found.target, width)
        yield from _places(snapshot, found, width, room)
        yield from _gear(found, width)
        yield from _notes(found, width)
        yield from heading("Care and caution", width)
        yield from kept(bullets(CAUTIONS, width, NOTE))

    return Report(PageSetup(paper, margin_mm=MARGIN_MM), f"Trip summary: {found.trip.name}", pieces)


def _rounds(found: TripSummary, width: float) -> Iterator[Piece]:
    rows: list[Row] = [
        [
            str(row.number),
            row.set_on,
            row.times,
            row.conditions,
            str(row.n_sets),
            str(row.n_lifted),
            str(row.n_counted),
            str(row.caught) if row.n_counted else "–",
        ]
        for row in found.rounds
    ]
    if rows:
        yield from table(ROUND_COLUMNS, rows, width)


def _map(snapshot: Snapshot, found: TripSummary, width: float, room: float) -> Iterator[Piece]:
    if found.map_round is None:
        return
    round_id = found.map_round.id
    content = build_map(
        snapshot, round_id, check_spacing(snapshot, round_id), check_plumes(snapshot, round_id)
    )
    yield from heading(f"The line in round {found.map_round.number}", width)
    yield from map_pieces(content, PAPER, width, room)


def _traps(found: TripSummary, width: float) -> Iterator[Piece]:
    yield from heading("Traps", width)
    rows = [_trap_row(found, lift) for lift in found.lifts]
    if not rows:
        yield from paragraph("No trap was planned on this trip.", width)
        return
    yield from table(TRAP_COLUMNS, rows, width)
    yield space(1.0)
    yield from paragraph(_about_counts(found), width, NOTE)
    fates = ", ".join(f"{n} {fate}" for fate, n in found.totals.fates)
    if fates:
        yield from paragraph(f"What became of the {found.target}: {fates}.", width)
    if found.bycatch:
        words = ", ".join(f"{n} {species} ({fate})" for species, fate, n in found.bycatch)
        yield from paragraph(f"By-catch: {words}.", width)
    noted = [
        f"{lift.place}, round {lift.round.number}: {lift.trap_set.notes}"
        for lift in found.lifts
        if lift.trap_set.notes
    ]
    if noted:
        yield from paragraph("Notes:", width)
        yield from bullets(noted, width, NOTE)


def _trap_row(found: TripSummary, lift: TripLift) -> Row:
    mark = None
    if lift.bait is not None:
        mark = MarkStyle(lift.bait.name, lift.bait.colour, lift.bait.mark, "set")
    rate = lift.rate_per_24h()
    return [
        str(lift.round.number),
        Cell(lift.place, is_strong=True),
        ", ".join(word for word in (lift.trap, lift.tag) if word),
        Cell(lift.bait_name if lift.bait else "–", mark),
        local_text(lift.trap_set.set_utc, found.trip.zone, "%d %b %H:%M"),
        "–" if lift.soak_h is None else f"{lift.soak_h:.1f}",
        lift.condition,
        Cell(lift.catch_words, is_strong=lift.counts),
        lift.bycatch_words,
        "–" if rate is None else f"{rate:.2f}",
    ]


def _about_counts(found: TripSummary) -> str:
    totals = found.totals
    said = "A count of 0 is a count; 'not counted' and 'lost' are none and enter no rate."
    if totals.left_out:
        reasons = ", ".join(f"{n} {why}" for why, n in totals.left_out)
        said += f" Without a valid count: {reasons}."
    if totals.n_halved:
        said += f" {totals.n_halved} disturbed with half their soak in these rates."
    return said


def _warnings(found: TripSummary, width: float) -> Iterator[Piece]:
    yield from heading("Warnings", width)
    if found.warnings:
        shown = list(found.warnings[:MOST_WARNINGS])
        if len(found.warnings) > len(shown):
            shown.append(f"And {len(found.warnings) - len(shown)} more.")
        yield from bullets(shown, width, BODY)
    else:
        yield from paragraph("No gap was too short and no scents of different baits met.", width)


def _places(snapshot: Snapshot, found: TripSummary, width: float, room: float) -> Iterator[Piece]:
    places = found.places
    if len(places.counted) < 2:
        return
    yield from heading("Catch on the map", width)
    rows: list[Row] = [
        [
            str(number),
            Cell(row.place, is_strong=True),
            str(row.n_sets),
            str(row.n_counted),
            str(row.catch) if row.n_counted else "–",
            f"{row.effort_h:.1f}" if row.n_counted else "–",
            "no valid count" if row.rate_per_24h is None else f"{row.rate_per_24h:.2f}",
            ", ".join(map(called, row.baits)),
        ]
        for number, row in enumerate(places.places[:MOST_PLACES], 1)
    ]
    yield from map_pieces(catch_map(snapshot, places), PAPER, width, room)
    yield space(1.5)
    yield from table(PLACE_COLUMNS, rows, width)
    rest = len(places.places) - len(rows)
    note = places.caution + (f" {rest} more places caught less." if rest > 0 else "")
    if note:
        yield space(1.0)
        yield from paragraph(note.strip(), width, NOTE)


def _gear(found: TripSummary, width: float) -> Iterator[Piece]:
    yield from heading("Gear not recovered", width)
    gear = found.gear
    texts = [
        f"Still in the water: {row.words} (round {row.round_number})." for row in gear.in_water
    ]
    texts += [
        f"Lost and not found: {row.words}." + (f" {row.note}" if row.note else "")
        for row in gear.lost
    ]
    if texts:
        yield from bullets(texts, width, BODY)
    else:
        yield from paragraph("All gear of this trip is accounted for.", width)


def _notes(found: TripSummary, width: float) -> Iterator[Piece]:
    if found.trip.notes.strip():
        yield from heading("Notes", width)
        yield from paragraph(found.trip.notes.strip(), width)

"""The comparison of baits as pieces of a report: verdict, table, charts, what was left out."""

from collections.abc import Iterator, Sequence

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from trapline.analyses.bait_comparison import BaitComparison
from trapline.analyses.comparison_words import (
    PRIORS,
    bait_lines,
    left_out_texts,
    permutation_words,
)
from trapline.analyses.pair_words import differ_lines, pair_lines, pair_note
from trapline.analyses.trip_comparison import TripComparison
from trapline.drawing.chart_content import bait_columns, bait_looks, ratio_rows, trips_forest
from trapline.drawing.map_content import MarkStyle
from trapline.drawing.theme import PAPER
from trapline.model.bait import Bait
from trapline.reports.blocks import bullets, heading, kept, paragraph, picture, space
from trapline.reports.letters import BODY, CAPTION, NOTE, Style
from trapline.reports.page import Piece, mm
from trapline.reports.table import Cell, Row, TableColumn, table

VERDICT = Style(9.5)
COLUMNS = (
    TableColumn("Bait", least_mm=24, most_mm=50),
    TableColumn("Trap sets", is_right=True, least_mm=12),
    TableColumn("Counted", is_right=True, least_mm=12),
    TableColumn("Catch", is_right=True, least_mm=11),
    TableColumn("Soak (h)", is_right=True, least_mm=13),
    TableColumn("Catch per trap and 24 h (95 % interval)", is_right=True, least_mm=34),
    TableColumn("Times the reference (95 % interval)", is_right=True, least_mm=34),
    TableColumn("Chance to be best", is_right=True, least_mm=16),
    TableColumn("Found disturbed", is_right=True, least_mm=17),
)

PAIR_COLUMNS = (
    TableColumn("Bait", least_mm=24, most_mm=50),
    TableColumn("against", least_mm=24, most_mm=50),
    TableColumn("Ratio (95 % interval)", is_right=True, least_mm=34),
    TableColumn("Chance to catch more", is_right=True, least_mm=20),
    TableColumn("Test (p)", is_right=True, least_mm=18),
)


def comparison_pieces(
    found: TripComparison, baits: Sequence[Bait], noun: str, width: float
) -> Iterator[Piece]:
    """Yield the verdict in words, then what it rests on."""
    yield from heading("Which bait catches more", width)
    yield from paragraph(found.verdict, width, VERDICT, below_mm=1.5)
    comparison = found.comparison
    if comparison is not None:
        words = permutation_words(comparison.permutation)
        if words:
            yield from paragraph(words, width, NOTE, below_mm=1.5)
        yield from table(COLUMNS, _rows(found, comparison, baits), width)
        yield space(1.0)
        yield from paragraph(PRIORS, width, NOTE)
        yield space(2.0)
        yield from _charts(found, comparison, baits, noun)
        yield from _pairs(comparison, width)
        yield from _trips(found, comparison, baits)
        yield from _settling(comparison, baits, width)
    yield from _notes(found, width)


def _rows(found: TripComparison, comparison: BaitComparison, baits: Sequence[Bait]) -> list[Row]:
    looks = bait_looks([row.bait for row in comparison.baits], baits)
    return [
        [
            Cell(line.bait, MarkStyle(line.bait, *looks[line.bait], "set"), is_strong=True),
            line.n_sets,
            line.n_counted,
            line.catch,
            line.soak_h,
            line.rate,
            line.ratio,
            line.chance_best,
            line.disturbed,
        ]
        for line in bait_lines(found)
    ]


def _charts(
    found: TripComparison, comparison: BaitComparison, baits: Sequence[Bait], noun: str
) -> Iterator[Piece]:
    n_baits = len(comparison.baits)

    def paint_traps(painter: QPainter, rect: QRectF) -> None:
        from trapline.drawing.bait_chart import bait_chart
        from trapline.drawing.figure_painter import paint_figure

        columns = bait_columns(comparison, found.rows, found.options, baits)
        title = "Every trap, and the rate of each bait"
        paint_figure(painter, rect, bait_chart(columns, PAPER, noun=noun, title=title))

    def paint_ratios(painter: QPainter, rect: QRectF) -> None:
        from trapline.drawing.bait_chart import forest_chart
        from trapline.drawing.figure_painter import paint_figure

        ratios = ratio_rows(comparison, baits)
        title = f"Compared with {comparison.ratios[0].reference}" if comparison.ratios else ""
        reference = comparison.ratios[0].reference if comparison.ratios else ""
        paint_figure(painter, rect, forest_chart(ratios, reference, PAPER, title=title))

    yield picture(paint_traps, mm(34 + 13 * n_baits), mm(30 + 11 * n_baits))
    if comparison.ratios:
        yield space(2.0)
        yield picture(paint_ratios, mm(20 + 10 * len(comparison.ratios)))


def _pairs(comparison: BaitComparison, width: float) -> Iterator[Piece]:
    """Yield the table of every two baits, where there are more than two."""
    lines = pair_lines(comparison)
    if len(lines) < 2:
        return
    yield space(1.5)
    rows = [[line.bait, line.other, line.ratio, line.beats, line.p] for line in lines]
    columns: Sequence[TableColumn] = PAIR_COLUMNS
    if all(line.p == "–" for line in lines):  # the note says why
        columns, rows = columns[:-1], [row[:-1] for row in rows]
    yield from paragraph("Every pair", width, CAPTION, keeps_with_next=True)
    yield from table(columns, rows, width)
    yield space(1.0)
    yield from paragraph(pair_note(comparison), width, NOTE)


def _trips(
    found: TripComparison, comparison: BaitComparison, baits: Sequence[Bait]
) -> Iterator[Piece]:
    """Yield the two leading baits trip by trip, where several trips are compared."""
    finding = comparison.finding
    forest = trips_forest(found, finding.bait, finding.runner_up, baits)
    if forest is None:
        return

    def paint(painter: QPainter, rect: QRectF) -> None:
        from trapline.drawing.figure_painter import paint_figure
        from trapline.drawing.trips_chart import trips_chart

        paint_figure(painter, rect, trips_chart(forest, PAPER, title="Trip by trip"))

    yield space(2.0)
    n_rows = len(forest.trips) + 1
    yield picture(paint, mm(20 + 10 * n_rows), mm(18 + 7 * n_rows))


def _settling(comparison: BaitComparison, baits: Sequence[Bait], width: float) -> Iterator[Piece]:
    """Yield how much catches differ, and what would settle it where that was simulated."""
    parts = [("How much catches differ beside the baits", differ_lines(comparison))]
    if comparison.settle is not None:
        from trapline.analyses.learn_or_fill import learn_or_fill
        from trapline.analyses.next_trip_words import bucket_words, settle_words

        costs = bucket_words(learn_or_fill(comparison.settle.found, baits))
        parts += [
            ("What would settle it", settle_words(comparison.settle)),
            ("Learn, or fill the bucket", costs),
        ]
    for caption, texts in parts:
        yield from _listed(caption, texts, width)


def _listed(caption: str, texts: Sequence[str], width: float) -> Iterator[Piece]:
    """Yield texts under a caption that does not stand alone; nothing without a text."""
    if texts:
        yield space(1.5)
        pieces = [*paragraph(caption, width, CAPTION), *bullets(texts, width, BODY)]
        yield from [*kept(pieces[:2]), *pieces[2:]]


def _notes(found: TripComparison, width: float) -> Iterator[Piece]:
    hangs = [
        f"{one.label} (now {'yes' if one.is_on else 'no'}): {one.words}."
        for one in found.switches
        if one.n_sets
    ]
    weighed = [
        f"{one.bait}: {one.weight_kg:g} kg in {one.n_sets} trap sets, {one.kg_per_24h:.2g} kg per"
        " trap and 24 h."
        for one in found.weighed
    ]
    halved = [f"Half the soak counts: {', '.join(found.halved)}."] if found.halved else []
    for caption, texts in (
        ("On what the verdict hangs", hangs),
        ("Left out of the comparison", [*left_out_texts(found.left_out), *halved]),
        ("Weighed", weighed),
        ("Take care", list(found.warnings)),
    ):
        yield from _listed(caption, texts, width)
    if found.left_out:
        yield from paragraph(
            "A trap that was not counted is not a trap without catch: it is left out, not taken"
            " for 0.",
            width,
            NOTE,
        )

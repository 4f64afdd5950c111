"""``trapline compare``: the comparison of baits in a table of lifts, or in a project."""

from argparse import ArgumentTypeError, Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import chosen_trip, file_bytes, project_snapshot
from trapline.cli.output import DONE, add_json, print_json
from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.analyses.bait_comparison import BaitComparison
    from trapline.analyses.table_switches import SwitchCheck
    from trapline.analyses.trip_comparison import TripComparison
    from trapline.model.snapshot import Snapshot
    from trapline.science.intervals import Interval


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "compare",
        help="compare the baits in a table of lifts or a project",
        description="Says which bait catches most and how sure that is. The table has the columns"
        " bait, catch and soak_h (hours) and may have trap, place, round (or night), block, trip,"
        " condition (fished, disturbed, robbed, lost, not lifted), fraction_counted and old_bait"
        " (yes or no: soaks on old bait are left out). A blank catch is not 0: its row is left out"
        " and listed. A project is compared over all rounds of a trip, with the reference of that"
        " trip. Rates, ratios and the verdict take every bait by itself; the chance of being the"
        " best ('Best') takes baits as alike until the lifts say"
        " otherwise.",
        epilog="Exit code 0 when it was compared, whatever was found. Example:"
        " trapline compare lifts.csv --reference 'no bait'",
        allow_abbrev=False,
    )
    parser.add_argument(
        "lifts",
        metavar="LIFTS.csv|PROJECT.gpkg",
        help="a table, one row a trap lifted, or a project",
    )
    parser.add_argument(
        "--trip",
        metavar="NAME",
        action="append",
        help="of a project; may be given again, without it the latest trip",
    )
    parser.add_argument(
        "--reference",
        metavar="BAIT",
        default="",
        help="take ratios to this bait; else to 'no bait', 'none' or 'control', else to the first",
    )
    parser.add_argument(
        "--factor",
        metavar="N",
        type=_factor,
        default=2.0,
        help="say how likely each bait catches N times as much as the reference (2)",
    )
    parser.add_argument(
        "--soak",
        choices=("power", "linear", "saturating"),
        default="power",
        help="how the catch grows with the soak: as a power of it that the lifts help to tell"
        " (as usual), in step with it, or levelling off",
    )
    parser.add_argument(
        "--no-settle",
        action="store_true",
        help="leave out the simulated trials of what would settle it, which take a few seconds",
    )
    add_json(parser)
    parser.set_defaults(run=run)


def _factor(text: str) -> float:
    """Return how many times as much is asked for."""
    try:
        factor = float(text)
    except ValueError:
        factor = 0.0
    if not 1.0 <= factor <= 1000.0:
        raise ArgumentTypeError(f"'{text}' is no number from 1 to 1000")
    return factor


def run(args: Namespace) -> int:
    """Print the comparison of the baits in a table or a project."""
    if args.lifts.lower().endswith(".gpkg"):
        return _compare_project(args)
    if args.trip:
        raise InvalidValue("A table is compared as a whole.", "--trip", "Leave it out.")
    data, name = file_bytes(args.lifts)
    from trapline.analyses.bait_comparison import CompareOptions, compare_baits, lift_rows
    from trapline.analyses.settle import next_trip_of, settled
    from trapline.exchange.tables import read_lifts

    table = read_lifts(data, name)
    rows = lift_rows(table.rows, source=name, lines=table.lines)
    options = CompareOptions(reference=args.reference, soak=args.soak, factor=args.factor)
    comparison = compare_baits(rows, options)
    next_trip = None if args.no_settle else next_trip_of(comparison, is_quick=True)
    if next_trip is not None:
        comparison = settled(comparison, next_trip)
    if args.json:
        print_json(comparison.as_dict())
    else:
        from trapline.analyses.table_switches import depends_on

        print("\n".join(_lines(comparison, depends_on(rows, options, comparison))))
    return DONE


def _compare_project(args: Namespace) -> int:
    """Print the comparison of the baits over the rounds of one trip or of several."""
    snapshot = project_snapshot(args.lifts)
    trips = [chosen_trip(snapshot, name) for name in args.trip or [None]]
    reference_id = trips[0].reference_bait_id
    from trapline.analyses.settle import next_trip_of
    from trapline.analyses.trip_comparison import CompareChoice, compare_trips, settled_trips
    from trapline.analyses.trip_lifts import rounds_in_order, target_of

    if args.reference:
        reference_id = _bait_id(snapshot, args.reference)
    target = target_of(snapshot, trips[0])
    found = compare_trips(
        snapshot,
        CompareChoice(
            round_ids=rounds_in_order(snapshot, [trip.id for trip in trips]),
            species_id=target.id if target else None,
            reference_bait_id=reference_id,
            linear_soak=args.soak == "linear",
            saturating_soak=args.soak == "saturating",
            factor=args.factor,
        ),
    )
    if found.comparison is not None and not args.no_settle:
        next_trip = next_trip_of(found.comparison, is_quick=True)
        if next_trip is not None:
            found = settled_trips(found, next_trip)
    if args.json:
        print_json(found.as_dict())
    else:
        print("\n".join(_project_lines(found)))
    return DONE


def _bait_id(snapshot: "Snapshot", name: str) -> str:
    from trapline.model.bait import Bait

    baits = snapshot.all(Bait)
    for bait in baits:
        if bait.name.casefold() == name.strip().casefold():
            return bait.id
    known = ", ".join(bait.name for bait in baits) or "none"
    raise InvalidValue(f"There is no bait '{name}'.", "--reference", f"Use one of: {known}.")


def _project_lines(found: "TripComparison") -> list[str]:
    """Return the comparison of a project as lines of text."""
    if found.comparison is None:
        return [found.problem]
    from trapline.analyses.comparison_words import left_out_texts, permutation_words

    lines = _head(found.comparison)
    words = permutation_words(found.comparison.permutation)
    lines += ["", words] if words else []
    hangs = [f"  {one.label}: {one.words}" for one in found.switches if one.n_sets]
    shares = [
        f"  {one.bait}: {one.n_disturbed} of {one.n_lifted}"
        for one in found.disturbed
        if one.n_disturbed
    ]
    for title, texts in (
        ("On what the verdict hangs", hangs),
        ("Found disturbed", shares),
        ("Take care", [f"  {warning}" for warning in found.warnings]),
        ("Left out", [f"  {text}" for text in left_out_texts(found.left_out)]),
    ):
        lines += ["", title, *texts] if texts else []
    return lines


def _head(comparison: "BaitComparison") -> list[str]:
    """Return the table, the ratios and the verdict."""
    from trapline.analyses.comparison_words import chance_text
    from trapline.analyses.pair_words import differ_lines

    lines = _table(comparison)
    if comparison.ratios:
        factor = f"{comparison.options.factor:g}"
        lines += ["", f"Times as much as {comparison.ratios[0].reference} (95 % interval)"]
        lines += [
            f"  {one.bait}: {_interval(one.ratio)}; more: {chance_text(one.beats)}; "
            f"{factor} times as much: {chance_text(one.beats_by_factor)}"
            for one in comparison.ratios
        ]
    if comparison.pairs and len(comparison.pairs) > 1:
        lines += ["", "Every two baits: times as much (95 % interval)"]
        lines += [f"  {one.bait} : {one.other}  {_interval(one.ratio)}" for one in comparison.pairs]
    differ = [f"  {line}" for line in differ_lines(comparison)]
    lines += ["", "How much catches differ beside the baits", *differ] if differ else []
    return [*lines, "", comparison.verdict]


def _lines(comparison: "BaitComparison", checks: "tuple[SwitchCheck, ...]") -> list[str]:
    """Return the comparison as lines of text."""
    lines = _head(comparison)
    changed = [
        f"  {check.switch}: {check.finding.word} {check.finding.bait}".rstrip()
        for check in checks
        if check.changes and check.finding
    ]
    for title, found in (
        ("This would change with", changed),
        ("Take care", [f"  {warning}" for warning in comparison.warnings]),
        ("Left out", [f"  row {row.row}: {row.why}" for row in comparison.excluded]),
    ):
        lines += ["", title, *found] if found else []
    return lines


def _table(comparison: "BaitComparison") -> list[str]:
    from trapline.analyses.comparison_words import chance_text

    heads = ("Bait", "Traps", "Counted", "Catch", "Soak h", "Per 24 h (95 %)", "Best")
    rows = [heads]
    for bait in comparison.baits:
        # A trap without bait is no rival for the best bait, whatever it caught.
        chance = comparison.chance_best(bait)
        best = "-" if chance is None else chance_text(chance)
        rows.append(
            (
                bait.bait,
                str(bait.n_traps),
                str(bait.n_counted),
                str(bait.catch),
                f"{bait.soak_h:.1f}",
                _interval(bait.rate_per_24h),
                best,
            )
        )
    widths = [max(len(row[column]) for row in rows) for column in range(len(heads))]
    return [
        "  ".join(
            cell.ljust(width) if column == 0 else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _interval(interval: "Interval | None") -> str:
    if interval is None:
        return "-"
    return f"{_three(interval.median)} ({_three(interval.low)} to {_three(interval.high)})"


def _three(value: float) -> str:
    """Return a number with three digits that matter, or all before the point; no powers of 10."""
    if value < 0.001:
        return "under 0.001"
    return f"{value:.0f}" if value >= 99.95 else f"{value:.3g}"

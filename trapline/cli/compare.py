"""``compare LIFTS.csv``: the comparison of baits in a table, without a project."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import file_bytes
from trapline.cli.output import DONE, add_json, print_json

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.analyses.bait_comparison import BaitComparison, SwitchCheck
    from trapline.science.rates import Interval


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "compare",
        help="compare the baits in a table of lifts",
        description="Says which bait catches most and how sure that is. The table has the columns"
        " bait, catch and soak_h (hours) and may have trap, place, round (or night), block,"
        " condition (fished, disturbed, robbed, lost, not lifted) and fraction_counted. A blank"
        " catch is not 0: its row is left out and listed.",
        epilog="Exit code 0 when it was compared, whatever was found.",
        allow_abbrev=False,
    )
    parser.add_argument("lifts", metavar="LIFTS.csv", help="a table, one row a trap lifted")
    parser.add_argument(
        "--reference",
        metavar="BAIT",
        default="",
        help="take ratios to this bait; else to 'no bait', 'none' or 'control', else to the first",
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Print the comparison of the baits in a table."""
    data, name = file_bytes(args.lifts)
    from trapline.analyses.bait_comparison import (
        CompareOptions,
        compare_baits,
        depends_on,
        lift_rows,
    )
    from trapline.exchange.tables import read_lifts

    table = read_lifts(data, name)
    rows = lift_rows(table.rows, source=name, lines=table.lines)
    options = CompareOptions(reference=args.reference)
    comparison = compare_baits(rows, options)
    if args.json:
        print_json(comparison.as_dict())
    else:
        print("\n".join(_lines(comparison, depends_on(rows, options))))
    return DONE


def _lines(comparison: "BaitComparison", checks: "tuple[SwitchCheck, ...]") -> list[str]:
    """Return the comparison as lines of text."""
    lines = _table(comparison)
    if comparison.ratios:
        lines += ["", f"Times as much as {comparison.ratios[0].reference} (95 % interval)"]
        lines += [f"  {ratio.bait}: {_interval(ratio.ratio)}" for ratio in comparison.ratios]
    lines += ["", comparison.verdict]
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
    heads = ("Bait", "Traps", "Counted", "Catch", "Soak h", "Per 24 h (95 %)", "Best")
    rows = [heads]
    for bait in comparison.baits:
        best = "-" if bait.chance_best is None else f"{100 * bait.chance_best:.0f} %"
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
    return f"{interval.median:.3g} ({interval.low:.3g} to {interval.high:.3g})"

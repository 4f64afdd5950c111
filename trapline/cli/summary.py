"""``trapline summary``: the summary of a trip as a PDF."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import add_paper, chosen_trip, pdf_path, project_snapshot
from trapline.cli.output import DONE, add_json, print_json

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

_HELP = "write the summary of a trip as a PDF"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "summary",
        help=_HELP,
        description="Writes the pages that the window shows: map, traps, catches, comparison of"
        " the baits, gear not recovered. An existing file is replaced.",
        allow_abbrev=False,
    )
    parser.add_argument("project", metavar="PROJECT.gpkg", help="the file of the project")
    parser.add_argument("--trip", metavar="NAME", help="without it the latest trip")
    add_paper(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Write the summary."""
    path = pdf_path(args.out)
    snapshot = project_snapshot(args.project)
    trip = chosen_trip(snapshot, args.trip)
    from trapline.analyses.trip_summary import trip_summary
    from trapline.reports.pdf_file import write_report
    from trapline.reports.trip_summary import trip_summary_report

    found = trip_summary(snapshot, trip.id)
    report = trip_summary_report(snapshot, found, args.paper)
    write_report(report, path)
    if args.json:
        totals = found.totals
        print_json(
            {
                "pdf": str(path),
                "pages": report.n_pages,
                "trip": trip.name,
                "sets": totals.n_sets,
                "counted": totals.n_counted,
                "catch": totals.caught,
                "effort_h": totals.effort_h,
                "rate_per_24h": totals.rate_per_24h,
                "verdict": found.comparison.verdict,
            }
        )
    else:
        print(f"{path} ({report.n_pages} pages)" if report.n_pages > 1 else path)
    return DONE

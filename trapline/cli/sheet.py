"""``trapline sheet``: the field sheet of a round as a PDF."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import add_paper, chosen_round, chosen_trip, pdf_path, project_snapshot
from trapline.cli.output import DONE, add_json, print_json

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

_HELP = "write the field sheet of a round as a PDF"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "sheet",
        help=_HELP,
        description="Writes the planned round as a table with empty boxes, and its map, in black"
        " and white. An existing file is replaced.",
        allow_abbrev=False,
    )
    parser.add_argument("project", metavar="PROJECT.gpkg", help="the file of the project")
    parser.add_argument("--trip", metavar="NAME", help="without it the latest trip")
    parser.add_argument("--round", metavar="N", type=int, help="without it the last round")
    add_paper(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Write the field sheet."""
    path = pdf_path(args.out)
    snapshot = project_snapshot(args.project)
    trip = chosen_trip(snapshot, args.trip)
    fished = chosen_round(snapshot, trip, args.round)
    from trapline.reports.field_sheet import field_sheet
    from trapline.reports.pdf_file import write_report

    report = field_sheet(snapshot, fished.id, args.paper)
    write_report(report, path)
    if args.json:
        print_json(
            {"pdf": str(path), "pages": report.n_pages, "trip": trip.name, "round": fished.number}
        )
    else:
        print(f"{path} ({report.n_pages} pages)" if report.n_pages > 1 else path)
    return DONE

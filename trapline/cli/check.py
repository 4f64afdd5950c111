"""``trapline check``: is a project whole, and what is left open in it?"""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import chosen_trip, project_snapshot
from trapline.cli.output import DONE, FOUND, add_json, print_json

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

_HELP = "say whether a project is whole and what is left open"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "check",
        help=_HELP,
        description="Reads every row of a project and looks whether what each refers to is there;"
        " then lists gear still in the water or lost,"
        " traps lifted and not counted, missing times and baits, and the warnings about gaps and"
        " scents of each trip's last round.",
        epilog="Exit code 1 when something is wrong or left open, 0 when nothing is, 2 when the"
        " file cannot be read.",
        allow_abbrev=False,
    )
    parser.add_argument("project", metavar="PROJECT.gpkg", help="the file of the project")
    parser.add_argument("--trip", metavar="NAME", help="only this trip")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Print what is left open."""
    snapshot = project_snapshot(args.project)
    chosen = None if args.trip is None else [chosen_trip(snapshot, args.trip).id]
    from trapline.analyses.loose_rows import loose_rows
    from trapline.analyses.open_ends import open_ends

    loose = loose_rows(snapshot)
    found = open_ends(snapshot, chosen)
    if args.json:
        print_json(
            {
                "valid": not loose,
                "problems": list(loose),
                "open": [{"kind": one.kind, "n": one.n, "text": one.text} for one in found],
            }
        )
    else:
        for text in (*loose, *(one.text for one in found)):
            print(text)
        n_trips = len(snapshot.trips()) if chosen is None else 1
        trips = f"{n_trips} trip{'' if n_trips == 1 else 's'}"
        rest = "" if found else " Nothing is left open."
        if loose:
            rest = " Another program left it so: correct it there, or open the newest backup."
        print(f"The project can be read ({trips}).{rest}")
    return FOUND if found or loose else DONE

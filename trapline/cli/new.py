"""``trapline new``: a project file, with its first water, line and trip where they are named."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import length_m, writable_project
from trapline.cli.output import DONE, add_json, print_json
from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.model.line import Line
    from trapline.model.trip import Trip
    from trapline.model.water import Water

_HELP = "make a new project"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    from trapline.model.line import LINE_KINDS

    parser = subparsers.add_parser(
        "new",
        help=_HELP,
        description="Makes a project file. With --trip it starts a trip with its first round;"
        " without --min-gap the limits are those of the kind of line.",
        allow_abbrev=False,
    )
    parser.add_argument("project", metavar="PROJECT.gpkg", help="a file that is not there yet")
    parser.add_argument("--name", help="what the project is called; else as its file")
    parser.add_argument("--water", metavar="NAME", help="the water that is fished")
    parser.add_argument("--line", metavar="NAME", help="else 'Line 1'")
    parser.add_argument("--line-kind", choices=LINE_KINDS, help="else 'set apart'")
    parser.add_argument("--trip", metavar="NAME", help="start a trip")
    parser.add_argument("--day", metavar="YYYY-MM-DD", help="the first day of the trip; else today")
    parser.add_argument("--zone", metavar="NAME", help="its time zone; else this computer's")
    parser.add_argument("--min-gap", metavar="LENGTH", help="closer is too close: 10m or 33ft, say")
    parser.add_argument(
        "--max-gap", metavar="LENGTH", help="farther from every other is too far: 50m, say"
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Make the project, whole or not at all."""
    path = writable_project(args.project)
    water, line, trip = _rows(args, args.name or path.stem)
    from trapline.actions.editing import add
    from trapline.actions.trips import start_trip
    from trapline.model.project_info import ProjectInfo
    from trapline.model.trip import Trip
    from trapline.store.project import Project

    with Project.create(path, ProjectInfo(name=args.name or path.stem)) as project:
        if trip is not None and water is not None:
            start_trip(project, trip, water=water, line=line)
            trip = project.snapshot().need(Trip, trip.id)
        elif water is not None:
            add(project, water, line.with_(water_id=water.id), label="Add water")
    if args.json:
        print_json(
            {
                "project": str(path),
                "water": water.name if water else None,
                "trip": trip.name if trip else None,
                "zone": trip.zone if trip else None,
                "min_gap_m": trip.min_gap_m if trip else None,
                "max_gap_m": trip.max_gap_m if trip else None,
            }
        )
    else:
        print(path)
    return DONE


def _rows(args: Namespace, name: str) -> "tuple[Water | None, Line, Trip | None]":
    """Return what was named, checked before anything is made."""
    import datetime as dt

    from trapline.model.instants import computer_zone
    from trapline.model.line import Line
    from trapline.model.trip import Trip
    from trapline.model.water import Water

    if args.trip is None:
        _refuse_without(args, "trip", ("day", "zone", "min_gap", "max_gap"))
        if args.water is None:
            _refuse_without(args, "water", ("line", "line_kind"))
    line = Line(name=args.line or "Line 1", kind=args.line_kind or "set apart")
    water = None
    if args.water is not None or args.trip is not None:
        water = Water(name=name if args.water is None else args.water)
    if args.trip is None:
        return water, line, None
    trip = Trip(
        name=args.trip,
        started_on=args.day or dt.date.today().isoformat(),
        zone=args.zone or computer_zone(),
        min_gap_m=None if args.min_gap is None else length_m(args.min_gap, "--min-gap"),
        max_gap_m=None if args.max_gap is None else length_m(args.max_gap, "--max-gap"),
    )
    return water, line, trip


def _refuse_without(args: Namespace, noun: str, options: tuple[str, ...]) -> None:
    given = [word for word in options if getattr(args, word) is not None]
    if given:
        raise InvalidValue(
            f"--{given[0].replace('_', '-')} belongs to a {noun}, and none is named.",
            f"--{noun}",
            f"Name it with --{noun}.",
        )

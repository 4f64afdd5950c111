"""``trapline import``: places from a GPX file or a table into a project."""

from argparse import Namespace
from typing import TYPE_CHECKING, Any

from trapline.cli.arguments import chosen_trip, file_bytes, writable_project
from trapline.cli.output import DONE, FOUND, add_json, print_json
from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.analyses.import_preview import Arrival
    from trapline.exchange.found import FoundPlaces
    from trapline.model.line import Line
    from trapline.model.snapshot import Snapshot
    from trapline.model.trip import Round, Trip

_HELP = "import places from a GPX file or a table"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "import",
        help=_HELP,
        description="Adds the waypoints of a GPX file, or the rows of a table whose columns are"
        " found by their headers, to the end of a line. Names are kept. A name that the line has"
        " already is skipped where the two are within 5 m, and else imported under a new name:"
        " nothing is overwritten. One undo takes the whole import back.",
        epilog="Exit code 0 when every row came in under its own name, 1 when something was"
        " skipped, renamed or not understood, 2 when nothing could be done.",
        allow_abbrev=False,
    )
    parser.add_argument("project", metavar="PROJECT.gpkg", help="the file of the project")
    parser.add_argument("file", metavar="FILE", help="a GPX file, or a table: CSV and the like")
    parser.add_argument("--line", metavar="NAME", help="the line; else that of the trip")
    parser.add_argument(
        "--trip", metavar="NAME", help="plan traps there in its latest round; else the latest trip"
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Import the places of a file."""
    data, name = file_bytes(args.file)
    path = writable_project(args.project)
    from trapline.actions.importing import fix_of, import_places
    from trapline.analyses.import_preview import chosen_places, preview_import
    from trapline.exchange.places_file import read_places
    from trapline.store.project import Project

    found = read_places(data, name)
    with Project.open(path) as project:
        snapshot = project.snapshot()
        line, fished = _where(snapshot, args.line, args.trip)
        arrivals = preview_import(snapshot, line.id, found.places)
        chosen = chosen_places(arrivals)
        if chosen:
            round_id = fished.id if fished else None
            import_places(project, line.id, round_id, chosen, fix=fix_of(found))
    if args.json:
        print_json(_answer(found, arrivals, line, fished))
    else:
        print("\n".join(_lines(found, arrivals, line, fished)))
    is_smooth = not found.refused and all(one.treatment == "import" for one in arrivals)
    return DONE if is_smooth else FOUND


def _where(
    snapshot: "Snapshot", line_name: str | None, trip_name: str | None
) -> "tuple[Line, Round | None]":
    """Return the line that the places come to, and the round that fishes them."""
    from trapline.model.line import Line

    trip: Trip | None = None
    if trip_name is not None or snapshot.trips():
        trip = chosen_trip(snapshot, trip_name)
    line = snapshot.get(Line, trip.line_id) if trip else None
    if line_name is not None:
        line = _line_named(snapshot, line_name, line)
    elif line is None:
        lines = snapshot.all(Line)
        if len(lines) != 1:
            raise InvalidValue(
                f"The project has {len(lines) or 'no'} lines and no trip to choose by.",
                "--line",
                "Name the line with --line."
                if lines
                else "Make one: trapline new PROJECT --water …",
            )
        line = lines[0]
    # Another trip's line is not fished by this one, unless the trip was named with it.
    is_fished = trip is not None and (trip_name is not None or trip.line_id == line.id)
    rounds = snapshot.rounds(trip.id) if trip is not None and is_fished else ()
    return line, rounds[-1] if rounds else None


def _line_named(snapshot: "Snapshot", name: str, of_trip: "Line | None") -> "Line":
    from trapline.model.line import Line

    found = [line for line in snapshot.all(Line) if name in (line.name, line.id)]
    if of_trip is not None and of_trip in found:
        return of_trip
    if len(found) == 1:
        return found[0]
    known = ", ".join(f"'{line.name}'" for line in snapshot.all(Line)) or "none"
    wrong = f"There are {len(found)} lines" if found else "There is no line"
    raise InvalidValue(f"{wrong} named '{name}'.", "--line", f"Use one of: {known}.")


def _answer(
    found: "FoundPlaces", arrivals: "tuple[Arrival, ...]", line: "Line", fished: "Round | None"
) -> dict[str, Any]:
    from trapline.analyses.import_preview import RENAME, SKIP

    refused = [
        {"row": row.row, "where": row.where, "text": row.text, "error": row.why,
         "what_to_do": row.what_to_do}
        for row in found.refused
    ]  # fmt: skip
    return {
        "understood": found.sentence(),
        "format": found.format,
        "columns": found.columns,
        "line": line.name,
        "round": fished.number if fished else None,
        "imported": [one.new_label for one in arrivals if one.treatment != SKIP],
        "renamed": [
            {"name": one.found.label, "as": one.new_label, "because": one.remark}
            for one in arrivals
            if one.treatment == RENAME
        ],
        "skipped": [
            {"name": one.found.label, "because": one.remark}
            for one in arrivals
            if one.treatment == SKIP
        ],
        "refused": refused,
    }


def _lines(
    found: "FoundPlaces", arrivals: "tuple[Arrival, ...]", line: "Line", fished: "Round | None"
) -> list[str]:
    from trapline.analyses.import_preview import RENAME, SKIP
    from trapline.exchange.files import shown

    said = [f"{found.sentence()} ({found.format})."]
    for one in arrivals:
        name = shown(one.found.label)
        if one.treatment == SKIP:
            said.append(f"Skipped {name}: {shown(one.remark)}.")
        elif one.treatment == RENAME:
            said.append(f"{name} came in as {shown(one.new_label)}: {shown(one.remark)}.")
    said += [f"{row.where}: {row.why} {row.what_to_do}" for row in found.refused]
    n = sum(one.treatment != SKIP for one in arrivals)
    whereto = f"line '{line.name}'" + (f", round {fished.number}" if fished else "")
    said.append(f"Imported {n} place{'' if n == 1 else 's'} into {whereto}.")
    return said

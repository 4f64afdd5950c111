"""``trapline gaps``: which traps stand too close together, and which too far from all others."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import (
    chosen_round,
    chosen_trip,
    file_bytes,
    gap_limits_m,
    project_snapshot,
)
from trapline.cli.output import DONE, FOUND, add_json, print_json
from trapline.errors import InvalidValue
from trapline.units import length_text

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.analyses.position_gaps import PositionGaps

_HELP = "check the gaps between the traps in a table or a project"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "gaps",
        help=_HELP,
        description="Lists pairs closer than the minimum gap and traps farther from their nearest"
        " neighbour than the maximum. Distances are along the earth (WGS 84). Takes a table with"
        " columns id, lat, lon and your limits, or a project and the limits of its trip.",
        epilog="Exit code 1 when there is such a pair or trap, 0 when there is none. Example:"
        " trapline gaps places.csv --min-gap 10m --max-gap 50m",
        allow_abbrev=False,
    )
    parser.add_argument(
        "source", metavar="POSITIONS.csv|PROJECT.gpkg", help="a table of places, or a project"
    )
    parser.add_argument(
        "--min-gap", metavar="LENGTH", help="closer is too close: 10m, 33ft or 11yd, say"
    )
    parser.add_argument(
        "--max-gap", metavar="LENGTH", help="farther from every other is too far: 50m, say"
    )
    parser.add_argument("--trip", metavar="NAME", help="of a project; without it the latest trip")
    parser.add_argument(
        "--round", metavar="N", type=int, help="of that trip; without it the last round"
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Print the gaps of a table of positions, or of a round of a project."""
    if args.source.lower().endswith(".gpkg"):
        return _project_gaps(args)
    for option, value in (("--trip", args.trip), ("--round", args.round)):
        if value is not None:
            raise InvalidValue("A table has no trips.", option, "Leave it out.")
    if args.min_gap is None:
        raise InvalidValue("No minimum gap was given.", "--min-gap", "Add one like --min-gap 10m.")
    low, high = gap_limits_m(args.min_gap, args.max_gap)
    data, name = file_bytes(args.source)
    from trapline.analyses.position_gaps import gaps_of_positions
    from trapline.exchange.tables import read_positions_strict

    found = gaps_of_positions(*read_positions_strict(data, name), low, high)
    if args.json:
        print_json(found.as_dict())
    else:
        _print(found, low, high)
    return FOUND if found.found_something else DONE


def _project_gaps(args: Namespace) -> int:
    """Print the gaps of one round under its trip's own limits."""
    for option, value in (("--min-gap", args.min_gap), ("--max-gap", args.max_gap)):
        if value is not None:
            raise InvalidValue("A trip has its own limits.", option, "Leave it out.")
    from trapline.analyses.spacing_check import check_spacing

    snapshot = project_snapshot(args.source)
    fished = chosen_round(snapshot, chosen_trip(snapshot, args.trip), args.round)
    found = check_spacing(snapshot, fished.id)
    if args.json:
        print_json(found.as_dict())
    else:
        for warning in found.warnings:
            print(warning.text)
        limits = [
            f"{word} gap {'none' if metres is None else length_text(metres)}"
            for word, metres in (("minimum", found.min_gap_m), ("maximum", found.max_gap_m))
        ]
        n_placed, n_others = len(found.standings), len(found.unplaced)
        print(f"Positions: {n_placed}, without a position: {n_others}, {', '.join(limits)}.")
    return FOUND if found.found_something else DONE


def _print(found: "PositionGaps", low: float, high: float | None) -> None:
    from trapline.exchange.files import shown

    for pair in found.pairs:
        print(f"{shown(pair.a)} and {shown(pair.b)} are {length_text(pair.distance_m)} apart.")
    for row in found.lonely:
        far = length_text(row.distance_m)
        print(f"{shown(row.id)} is {far} from {shown(row.nearest)}, its nearest neighbour.")
    words = [
        f"Positions: {found.n_positions}",
        f"pairs closer than {length_text(low)}: {len(found.pairs)}",
    ]
    if high is not None:
        words.append(f"farther than {length_text(high)} from all others: {len(found.lonely)}")
    print(f"{', '.join(words)}.")

"""``trapline gaps``: which traps stand too close together, and which too far from all others."""

from argparse import Namespace
from typing import TYPE_CHECKING

from trapline.cli.arguments import file_bytes, gap_limits_m
from trapline.cli.output import DONE, FOUND, add_json, print_json
from trapline.units import length_text

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

    from trapline.analyses.position_gaps import PositionGaps

_HELP = "check the gaps between positions in a table"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "gaps",
        help=_HELP,
        description="Lists pairs of positions closer than the minimum gap and positions farther"
        " from their nearest neighbour than the maximum. Distances are along the earth (WGS 84).",
        epilog="Exit code 1 when there is such a pair or position, 0 when there is none.",
        allow_abbrev=False,
    )
    parser.add_argument("table", metavar="POSITIONS.csv", help="a table with columns id, lat, lon")
    parser.add_argument(
        "--min-gap", required=True, metavar="LENGTH", help="for example 10m, 33ft or 11yd"
    )
    parser.add_argument("--max-gap", metavar="LENGTH", help="for example 50m")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Print the gaps of a table of positions."""
    low, high = gap_limits_m(args.min_gap, args.max_gap)
    data, name = file_bytes(args.table)
    from trapline.analyses.position_gaps import gaps_of_positions
    from trapline.exchange.tables import read_positions_strict

    found = gaps_of_positions(*read_positions_strict(data, name), low, high)
    if args.json:
        print_json(found.as_dict())
    else:
        _print(found, low, high)
    return FOUND if found.found_something else DONE


def _print(found: "PositionGaps", low: float, high: float | None) -> None:
    from trapline.exchange.files import shown

    for pair in found.pairs:
        print(f"{shown(pair.a)} and {shown(pair.b)} are {length_text(pair.distance_m)} apart.")
    for row in found.lonely:
        if row.nearest is None or row.distance_m is None:
            print(f"{shown(row.id)} has no neighbour.")
        else:
            far = length_text(row.distance_m)
            print(f"{shown(row.id)} is {far} from {shown(row.nearest)}, its nearest neighbour.")
    words = [
        f"Positions: {found.n_positions}",
        f"pairs closer than {length_text(low)}: {len(found.pairs)}",
    ]
    if high is not None:
        words.append(f"farther than {length_text(high)} from all others: {len(found.lonely)}")
    print(f"{', '.join(words)}.")

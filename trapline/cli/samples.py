"""``trapline samples``: the invented projects that come with the program."""

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from trapline.actions.samples import copy_sample, list_samples
from trapline.cli.output import DONE, add_json, print_json
from trapline.errors import InputProblem

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

_HELP = "list the sample projects, or copy one to work on"


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the command to the command line."""
    parser = subparsers.add_parser(
        "samples",
        help=_HELP,
        description="Lists the sample projects, or copies one under a fresh name. All of them"
        " are invented.",
        allow_abbrev=False,
    )
    parser.add_argument("verb", nargs="?", choices=("list", "copy"), default="list")
    parser.add_argument("name", nargs="?", metavar="NAME", help="the sample to copy")
    parser.add_argument("--to", metavar="FOLDER", help="where to; else your documents")
    add_json(parser)
    parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """List the samples or copy one."""
    if (args.verb == "copy") != (args.name is not None):
        raise InputProblem(
            "A sample is copied by its name." if args.verb == "copy" else "A list takes no name.",
            "trapline samples",
            "Write: trapline samples copy NAME",
        )
    if args.verb == "list":
        names = list_samples()
        if args.json:
            print_json({"samples": names})
        else:
            print("\n".join(names) or "No samples came with this installation.")
        return DONE
    path = copy_sample(args.name, Path(args.to) if args.to else None)
    if args.json:
        print_json({"project": str(path)})
    else:
        print(path)
    return DONE

"""The command line: one table of commands, one way to fail.

Exit codes: 0 done, 1 done and found something to act on, 2 could not.
"""

import os
import sys
import traceback
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Sequence
from typing import Final, NoReturn

from trapline import __version__
from trapline.cli import (
    check,
    compare,
    gaps,
    import_places,
    new,
    samples,
    sheet,
    summary,
    undo,
)
from trapline.cli.output import COULD_NOT, DONE, say_problem, speak_utf8
from trapline.errors import InputProblem, TraplineError

# Each module has add_parser(subparsers), which sets `run`, and run(args) -> exit code.
# What is slow to load is imported inside run.
COMMANDS: Final = (
    new, import_places, gaps, sheet, compare, summary, check, undo, samples,
)  # fmt: skip

_DESCRIPTION: Final = """\
Lay out, set, lift and compare a line of baited traps.

  trapline                  open the window
  trapline PROJECT.gpkg     open the window on a project
  trapline COMMAND ...      answer here; 'trapline COMMAND --help' says more"""
_EXITS: Final = "Exit codes: 0 done, 1 found something to act on, 2 could not."


class _Parser(ArgumentParser):
    """A parser whose complaints take the way of all others."""

    def error(self, message: str) -> NoReturn:
        """Raise what was wrongly typed."""
        raise InputProblem(
            f"{message[:1].upper()}{message[1:]}.", self.prog, f"See '{self.prog} --help'."
        )


def build_parser() -> ArgumentParser:
    """Return the parser of the whole command line."""
    parser = _Parser(
        prog="trapline",
        description=_DESCRIPTION,
        epilog=_EXITS,
        formatter_class=RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"trapline {__version__}")
    parser.add_argument(
        "--sample", metavar="NAME", help="open the window on a fresh copy of a sample"
    )
    subparsers = parser.add_subparsers(
        title="commands", metavar="COMMAND", dest="command", required=True
    )
    for command in COMMANDS:
        command.add_parser(subparsers)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    as_json = "--json" in words
    speak_utf8()
    try:
        return _run(words)
    except SystemExit:  # how argparse ends after --help and --version
        return DONE
    except TraplineError as problem:
        return say_problem(problem, as_json=as_json)
    except BrokenPipeError:  # the reader, such as `head`, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return COULD_NOT
    except Exception as fault:  # noqa: BLE001 - the last stop: whatever it is, it is said
        traceback.print_exc()
        return say_problem(_bug(fault), as_json=as_json)


def _run(words: list[str]) -> int:
    if words and os.path.splitext(words[0])[1] and not words[0].startswith("-"):
        raise InputProblem(
            f"'{words[0]}' is neither a file nor a command."
            if len(words) == 1
            else f"'{words[0]}' is not a command, and a file is opened with nothing behind it.",
            "trapline",
            "See 'trapline --help'.",
        )
    args = build_parser().parse_args(words)
    if args.sample:
        raise InputProblem("--sample NAME stands alone.", "trapline", "See 'trapline --help'.")
    code: int = args.run(args)
    sys.stdout.flush()
    return code


def _bug(fault: Exception) -> TraplineError:
    return TraplineError(
        f"This is a fault in trapline itself ({type(fault).__name__}: {fault}).",
        "",
        "Nothing was left half done. Please report it with what is printed above.",
    )


if __name__ == "__main__":
    sys.exit(main())

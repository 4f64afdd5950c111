"""The command line: one table of commands, one way to fail.

Exit codes: 0 done, 1 done and found something to act on, 2 could not.
"""

import os
import re
import sys
import traceback
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Sequence
from contextlib import suppress
from typing import Any, Final, NoReturn

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
from trapline.cli.output import (
    COULD_NOT,
    DONE,
    drop_output,
    flush_output,
    say_problem,
    speak_utf8,
)
from trapline.errors import EnvironmentProblem, InputProblem, TraplineError

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

    # argparse overrides

    def _print_message(self, message: str, file: Any = None) -> None:
        """Print help or the version; later argparse hides that nothing could be written."""
        if message:
            (file or sys.stderr).write(message)


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
    speak_utf8()
    try:
        code = _answered(words, as_json="--json" in words)
        flush_output()
    except OSError as problem:
        drop_output()
        if not isinstance(problem, BrokenPipeError):  # such as `head`, which has seen enough
            with suppress(OSError):
                say_problem(_unheard(problem))
        return COULD_NOT
    return code


def _answered(words: list[str], *, as_json: bool) -> int:
    """Run one command and say what stopped it; only a failure of the output itself is raised."""
    try:
        return _run(words)
    except SystemExit:  # how argparse ends after --help and --version
        return DONE
    except TraplineError as problem:
        return say_problem(problem, as_json=as_json)
    except KeyboardInterrupt:
        return say_problem(_STOPPED, as_json=as_json)
    except Exception as fault:
        # What happens to a file bears its name; a stream that was already open has none.
        if isinstance(fault, OSError) and fault.filename is None:
            raise
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
    if _asks_for_sample(words) and len(words) > 1 and "--help" not in words:
        raise InputProblem(
            "--sample NAME opens the window and stands alone.",
            "trapline",
            "Leave the rest out, or copy the sample: trapline samples copy NAME",
        )
    args = build_parser().parse_args(_with_negative_lengths(words))
    code: int = args.run(args)
    return code


def _asks_for_sample(words: list[str]) -> bool:
    return any(word.partition("=")[0] == "--sample" for word in words)


def _with_negative_lengths(words: list[str]) -> list[str]:
    """Return the words with ``--min-gap -5m`` as one: alone, ``-5m`` passes for an option."""
    tied: list[str] = []
    for word in words:
        if tied and tied[-1] in ("--min-gap", "--max-gap") and re.match(r"-[0-9.,]", word):
            tied[-1] += f"={word}"
        else:
            tied.append(word)
    return tied


_STOPPED: Final = EnvironmentProblem("It was stopped.", "", "Start it again when you like.")


def _unheard(problem: OSError) -> TraplineError:
    return EnvironmentProblem(
        f"The answer could not be written out ({problem.strerror}).",
        "output",
        "Send it where there is room.",
    )


def _bug(fault: Exception) -> TraplineError:
    return TraplineError(
        f"This is a fault in trapline itself ({type(fault).__name__}: {fault}).",
        "",
        "Nothing was left half done. Please report it with what is printed above.",
    )


if __name__ == "__main__":
    sys.exit(main())

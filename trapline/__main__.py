"""The way in: no arguments or a project file open the window, any other word is a command."""

import sys
from collections.abc import Sequence
from pathlib import Path

from trapline.errors import TraplineError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    if not words or (len(words) == 1 and Path(words[0]).is_file()):
        return open_window(Path(words[0]) if words else None)
    option, _, name = words[0].partition("=")
    if option == "--sample" and len(words) == (1 if name else 2):
        return open_sample(name or words[1])
    from trapline.cli.main import main as command_line

    return command_line(words)


def window() -> int:
    """Open the window on the file that was handed over, if any: the way in without a terminal."""
    return open_window(Path(sys.argv[1]) if len(sys.argv) > 1 else None)


def open_sample(name: str) -> int:
    """Open the window on a fresh copy of a sample, which the window makes."""
    from trapline.actions.samples import check_sample

    try:
        check_sample(name)
    except TraplineError as problem:
        return _say(problem)
    return open_window(None, sample=name)


def open_window(path: Path | None, sample: str | None = None) -> int:
    """Open the window and return when it is closed; say in one sentence why it cannot open."""
    from trapline.ui.display import missing_library, why_no_window

    problem = why_no_window()
    if problem:
        return _say(problem)
    try:
        from trapline.ui.app import run
    except ImportError as wrong:
        problem = missing_library(wrong)
        if problem is None:
            raise
        return _say(problem)
    return run(path, sample=sample)


def _say(problem: TraplineError) -> int:
    from trapline.cli.output import say_problem

    return say_problem(problem)


if __name__ == "__main__":
    sys.exit(main())

"""What a command prints: lines for people, or with ``--json`` one object for programs."""

import json
import math
import os
import sys
from argparse import ArgumentParser
from io import TextIOWrapper
from typing import Any, Final

from trapline.errors import TraplineError

DONE: Final = 0
FOUND: Final = 1
COULD_NOT: Final = 2


def add_json(parser: ArgumentParser) -> None:
    """Give a command the option that every command has."""
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def speak_utf8() -> None:
    """Print UTF-8 wherever the program runs, under the C locale and on Windows too."""
    for stream in (sys.stdout, sys.stderr):
        # A program started from a menu may have no stream, and a test one of its own.
        if isinstance(stream, TextIOWrapper):
            # A file name of undecodable bytes must not stop the sentence that names it.
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")


def print_json(answer: dict[str, Any]) -> None:
    """Print one JSON object; NaN and infinity, which JSON does not have, become null."""
    try:
        text = json.dumps(answer, ensure_ascii=False, allow_nan=False)
    except ValueError:  # one of them is in it: only then is the answer gone through
        text = json.dumps(_finite(answer), ensure_ascii=False, allow_nan=False)
    print(text)


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(one) for one in value]
    return value


def flush_output() -> None:
    """Hand over what was printed, so that a full disk or a closed pipe is met here."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.flush()


def drop_output() -> None:
    """Send what a stream cannot get rid of nowhere: Python would trip over it at the end."""
    for stream in (sys.stdout, sys.stderr):
        if stream is None:
            continue
        try:
            stream.flush()
        except OSError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def say_problem(problem: TraplineError, *, as_json: bool = False) -> int:
    """Print what is wrong, where, and what to do; return the exit code for it."""
    if as_json:
        print_json(problem.as_dict())
    else:
        print(problem, file=sys.stderr)
    return COULD_NOT

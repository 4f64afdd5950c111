"""``trapline undo``, ``redo``, ``history``: the steps of a project, as in the window."""

from argparse import Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from trapline.cli.arguments import writable_project
from trapline.cli.output import DONE, add_json, print_json
from trapline.errors import InvalidValue

if TYPE_CHECKING:
    from argparse import ArgumentParser, _SubParsersAction

_HELP = {
    "undo": "take back the latest step of a project",
    "redo": "do the step again that was taken back last",
    "history": "list the steps of a project, the newest first",
}
_MORE = {
    "undo": "Takes back the latest step, as Undo in the window does; once more takes back the one"
    " before it.",
    "redo": "Does the step again that was taken back last, as Redo in the window does. A new change"
    " of the project ends that.",
    "history": "Lists the steps with their number and time (UTC), the newest first, and says which"
    " were undone.",
}
_MOST_STEPS = 1_000_000_000  # more than a file can hold
_STATE = {"undone": " (undone)", "dropped": " (undone, and not to be done again)"}


def add_parser(subparsers: "_SubParsersAction[ArgumentParser]") -> None:
    """Add the three commands to the command line."""
    for name, words in _HELP.items():
        parser = subparsers.add_parser(
            name, help=words, description=_MORE[name], allow_abbrev=False
        )
        parser.add_argument("project", metavar="PROJECT.gpkg", help="the file of the project")
        if name == "history":
            parser.add_argument("--limit", type=int, metavar="N", help="only the newest N steps")
        add_json(parser)
        parser.set_defaults(run=run)


def run(args: Namespace) -> int:
    """Step back or forth, or list the steps."""
    if args.command == "history":
        return _list(Path(args.project), args.limit, as_json=args.json)
    from trapline.store.project import Project

    path = writable_project(args.project)
    is_undo = args.command == "undo"
    with Project.open(path) as project:
        if (project.next_undo() if is_undo else project.next_redo()) is None:
            raise InvalidValue(
                f"There is nothing to {args.command}.",
                path.name,
                f"Its steps: trapline history {path}",
            )
        label = (project.undo() if is_undo else project.redo()).label
    if args.json:
        print_json({"undone" if is_undo else "redone": label})
    else:
        print(f"{'Undone' if is_undo else 'Done again'}: {label}")
    return DONE


def _list(path: Path, limit: int | None, *, as_json: bool) -> int:
    if limit is not None and limit < 1:
        raise InvalidValue(f"{limit} is not a number of steps.", "--limit", "Write 1 or more.")
    from trapline.store.project import Project

    with Project.open(path, read_only=True) as project:
        steps = project.history(None if limit is None else min(limit, _MOST_STEPS))
    if as_json:
        names = ("step", "label", "at_utc", "who", "state")
        print_json({"steps": [{name: getattr(row, name) for name in names} for row in steps]})
        return DONE
    for row in steps:
        print(f"{row.step:>5}  {row.at_utc}  {row.label}{_STATE.get(row.state, '')}")
    return DONE

"""One change on a disk that fails: started by the test of disk faults, in a process of its own.

It imports everything once, then for each line ``PATH`` on its input forks a child that opens
the project, says ``pid N``, waits for another line while the disk is spoilt, makes one change
with three rows, and says as JSON what came of it.
"""

import json
import os
import sys
from pathlib import Path

from trapline.errors import TraplineError
from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.store.project import Project


def say(line: str) -> None:
    """Write a line at once, in one piece."""
    os.write(1, f"{line}\n".encode())


def change_once(project: Project, note: str) -> str:
    """Change three rows; return what is said to the user, empty when all went well."""
    try:
        with project.change(note) as change:
            picture = change.snapshot
            change.update(picture.project.with_(notes=note))
            change.update(picture.all(Place)[0].with_(notes=note))
            change.insert(Catch(trap_set_id=picture.all(TrapSet)[0].id, count=1, notes="x" * 9000))
    except TraplineError as problem:
        return str(problem)
    return ""


def run(path: Path) -> None:
    """Open, wait, change, look, change again."""
    project = Project.open(path)
    say(f"pid {os.getpid()}")
    sys.stdin.readline()
    said = change_once(project, "first")
    try:
        known = project.snapshot().project.notes
    except TraplineError as problem:
        known = problem.error
    again = change_once(project, "second")
    say(json.dumps({"said": said, "known": known, "again": again}))


def main() -> None:
    """Fork a child for each project that is asked for."""
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                run(Path(line.rstrip("\n")))
            finally:
                os._exit(1)
        os.waitpid(child, 0)
        say("ended")


if __name__ == "__main__":
    main()

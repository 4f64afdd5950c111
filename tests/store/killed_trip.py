"""A trip that is run to be killed: started by the test of kills, in a process of its own.

It imports everything once, then for each line ``PATH SEED`` on its input forks a child
that makes random changes to the project and prints ``done N`` after each that was acknowledged.
"""

import os
import random
import sys
from pathlib import Path

from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.model.trapset import TrapSet
from trapline.store.project import Project


def say(line: str) -> None:
    """Write a line at once, in one piece."""
    os.write(1, f"{line}\n".encode())


def run_trip(path: Path, seed: int) -> None:
    """Change the project until killed. Step N sets three notes to N; others do and undo."""
    rng = random.Random(seed)
    project = Project.open(path)
    number = 0
    while True:
        number += 1
        with project.change(f"step {number}") as change:
            picture = change.snapshot
            change.update(picture.project.with_(notes=f"{number}"))
            change.update(picture.all(Place)[0].with_(notes=f"{number}"))
            trap_set = picture.all(TrapSet)[0]
            change.insert(
                Catch(trap_set_id=trap_set.id, count=number, notes="x" * rng.randrange(9000))
            )
        say(f"done {number}")
        if rng.random() < 0.3:
            project.undo()
            say(f"undone {number}")
            project.redo()
            say(f"done {number}")


def main() -> None:
    """Fork a child for each trip that is asked for, and say its number first."""
    for line in sys.stdin:
        path, seed = line.rstrip("\n").rsplit(" ", 1)
        child = os.fork()
        if child == 0:
            say(f"pid {os.getpid()}")
            try:
                run_trip(Path(path), int(seed))
            finally:
                os._exit(1)
        os.waitpid(child, 0)
        say("ended")


if __name__ == "__main__":
    main()

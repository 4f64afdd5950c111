"""A disk that is full, fails, or loses power: the message is right and the file whole.

Each fault is tried at the first system call of its kind, then the second, and so on until the
change succeeds: the loop of SQLite's own tests (https://www.sqlite.org/testing.html, 3.1 to 3.4).
"""

import contextlib
import json
import os
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.needed import require
from trapline.errors import EnvironmentProblem
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.store.backups import make_backup, save_copy
from trapline.store.project import Project

START = "Invented\nfor a test"
Dump = Callable[[Path], list[str]]
CHILD = Path(__file__).with_name("faulty_disk.py")


def can_inject() -> str:
    """Why this machine forbids to make system calls fail; empty when it does not."""
    require("strace", "strace")
    words = ["strace", "-qq", "-o", os.devnull, "-e", "inject=unlink:error=EIO", "true"]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    return "" if done.returncode == 0 else f"strace cannot be used: {done.stderr.strip()}"


@pytest.fixture(scope="module")
def changes() -> Iterator[subprocess.Popen[str]]:
    if why := can_inject():
        pytest.skip(why)  # a sandbox may forbid tracing, whatever is installed
    child = subprocess.Popen(
        [sys.executable, str(CHILD)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(CHILD.parents[2])},
    )
    yield child
    child.communicate(timeout=30)
    assert child.returncode == 0


def change_with(
    changes: subprocess.Popen[str], path: Path, fault: str
) -> tuple[dict[str, str] | None, bool]:
    """Make the change under a fault.

    Returns what came of it (None when the child was killed), and whether the fault came to be.
    """
    assert changes.stdin is not None
    assert changes.stdout is not None
    changes.stdin.write(f"{path}\n")
    changes.stdin.flush()
    number = changes.stdout.readline().split()[1]
    log = path.parent.parent / f"{path.parent.name}.strace"
    call = fault.partition(":")[0]
    words = ["strace", "-o", str(log), "-e", f"trace={call}", "-e", f"inject={fault}", "-p", number]
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True) as spoiler:
        assert spoiler.stderr is not None
        assert "attached" in spoiler.stderr.readline()
        changes.stdin.write("go\n")
        changes.stdin.flush()
        said = None
        while (line := changes.stdout.readline()) != "ended\n":
            said = json.loads(line)
    traced = log.read_text()
    return said, "INJECTED" in traced or "killed by SIGKILL" in traced


def check_whole(path: Path) -> str:
    """Make sure that the file is sound and its last step whole; return the step's label."""
    with Project.open(path) as project:
        assert not project.read_only
        picture = project.snapshot()
        labels = [step.label for step in project.history()]
        assert len(picture.all(Catch)) == 3 + labels.index("Fill")
        note = "" if labels[0] == "Fill" else labels[0]
        assert picture.all(Place)[0].notes == note
        assert picture.project.notes == (note or START)
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    assert [one.name for one in path.parent.iterdir()] == ["lake.gpkg"]
    return labels[0]


def is_kept(said: str) -> bool:
    """Whether the user was told that the step is in the file."""
    return said == "" or "The step is in the file" in said


@pytest.mark.parametrize("lasting", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        ("pwrite64", "ENOSPC", "The disk is full; nothing of this step was written"),
        ("pwrite64", "EIO", "The disk failed"),
        # The flushes of a commit: journal twice, file, and the folder before and after.
        ("fdatasync,fsync", "EIO", "(The disk failed|The step is in the file)"),
        ("unlink", "EIO", "The disk failed"),
    ],
)
def test_a_failing_disk_is_said_and_leaves_whole_steps(
    changes: subprocess.Popen[str],
    lake_path: Path,
    call: str,
    error: str,
    words: str,
    lasting: bool,
) -> None:
    start = lake_path.read_bytes()
    told = 0
    for when in range(1, 300, 7 if call == "pwrite64" else 1):
        lake_path.write_bytes(start)
        fault = f"{call}:error={error}:when={when}{'+' * lasting}"
        done, hit = change_with(changes, lake_path, fault)
        assert done is not None, f"the program crashed at {fault}"
        last = "second" if is_kept(done["again"]) else "first" if is_kept(done["said"]) else "Fill"
        assert check_whole(lake_path) == last
        # The program knows what is in the file, too; or says that it cannot look.
        known = "first" if is_kept(done["said"]) else START
        assert done["known"] == known or (lasting and done["known"].startswith("The disk"))
        if not hit:
            break
        for said in (done["said"], done["again"]):
            assert said == "" or re.match(f"lake.gpkg: {words}", said)
            told += said != ""
    else:
        pytest.fail("the change never succeeded")
    assert told >= 2


@pytest.mark.parametrize("call", ["pwrite64", "fdatasync,fsync", "unlink"])
def test_a_kill_at_any_system_call_leaves_whole_steps(
    changes: subprocess.Popen[str], lake_path: Path, call: str
) -> None:
    start = lake_path.read_bytes()
    found = []
    for when in range(1, 300, 5 if call == "pwrite64" else 1):
        lake_path.write_bytes(start)
        done, hit = change_with(changes, lake_path, f"{call}:signal=SIGKILL:when={when}")
        found.append(check_whole(lake_path))
        if not hit:
            assert done is not None
            break
        assert done is None
    else:
        pytest.fail("the change never succeeded")
    assert found[0] == "Fill"
    assert found[-1] == "second"
    assert found == sorted(found, key=["Fill", "first", "second"].index)


def test_a_database_that_may_not_grow_is_a_full_disk(lake: Project, dump: Dump) -> None:
    """SQLite's own way to fail with "full", which needs no special rights."""
    pages = lake.connection().execute("PRAGMA page_count").fetchone()[0]
    lake.connection().execute(f"PRAGMA max_page_count={pages}")
    before, kept = dump(lake.path), lake.snapshot()
    bait = lake.snapshot().all(Bait)[0]
    with pytest.raises(EnvironmentProblem, match="disk is full"), lake.change("Long") as change:
        change.update(bait.with_(notes="x" * 20_000))
    assert dump(lake.path) == before
    assert lake.snapshot() == kept
    lake.connection().execute("PRAGMA max_page_count=100000")
    with lake.change("Long") as change:
        change.update(bait.with_(notes="x" * 20_000))
    lake.undo()
    assert lake.snapshot() == kept


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 600 kB in memory."""
    folder = tmp_path / "disk"
    folder.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", "size=600k", "tmpfs", str(folder)]
    require("mount", "mount")
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        # Only root may mount.
        pytest.skip(f"a small disk cannot be mounted: {done.stderr.strip()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_fills_up_is_said_and_emptied_again(
    small_disk: Path, filled_bytes: bytes, dump: Dump, tmp_path: Path
) -> None:
    path = small_disk / "lake.gpkg"
    path.write_bytes(filled_bytes)
    with Project.open(path) as project:
        before: list[str] = []

        def fill() -> None:
            for number in range(1000):
                before[:] = dump(path)
                with project.change(f"Note {number}") as change:
                    change.insert(Bait(name=f"bait {number}", notes="x" * 15_000))

        with pytest.raises(EnvironmentProblem, match="disk is full"):
            fill()
        assert dump(path) == before
        baits = project.snapshot().all(Bait)
        assert len(baits) > 2
        assert make_backup(project) == ""  # elsewhere there is space
        with pytest.raises(EnvironmentProblem, match=r"full|No space"):
            save_copy(project, small_disk / "copy.gpkg")
        save_copy(project, tmp_path / "copy.gpkg")
        assert os.listdir(small_disk) == ["lake.gpkg"]
        with Project.open(path) as again:
            assert again.snapshot() == project.snapshot()
        subprocess.run(["mount", "-o", "remount,size=2M", str(small_disk)], check=True)
        with project.change("Now there is space") as change:
            change.insert(Bait(name="more", notes="x" * 15_000))
        project.undo()
        assert project.snapshot().all(Bait) == baits


def test_a_disk_that_is_full_already_is_opened_and_only_read(
    small_disk: Path, filled_bytes: bytes
) -> None:
    path = small_disk / "lake.gpkg"
    path.write_bytes(filled_bytes)
    with contextlib.suppress(OSError), (small_disk / "ballast").open("wb", buffering=0) as ballast:
        while ballast.write(b"x" * 4096):
            pass
    with Project.open(path) as project:
        assert len(project.snapshot().all(Bait)) == 1
        assert project.why_read_only == "The disk is full."

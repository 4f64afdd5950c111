"""What the tests of the store share: a filled project, its dump, and two outside readers.

The readers are GDAL's GeoPackage validator and pyogrio. Both run in processes of their own:
GDAL opening our file in this process would drop SQLite's locks.
"""

import json
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.needed import absent
from trapline.errors import TraplineError
from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.line import Line, Place
from trapline.model.project_info import ProjectInfo
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.project import Project

# Debian's python3-gdal belongs to Debian's own Python.
GDAL_PYTHON = "/usr/bin/python3"
_SERVE = """
import contextlib, io, json, sys, traceback
{prepare}
for line in sys.stdin:
    said = io.StringIO()
    try:
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            answer = look(json.loads(line))
    except BaseException:
        answer = traceback.format_exc()
    print(json.dumps(said.getvalue() + answer), flush=True)
"""
_GDAL = """
from osgeo import gdal, ogr
gdal.UseExceptions()
from osgeo_utils.samples import validate_gpkg
def look(path):
    code = validate_gpkg.main(["validate_gpkg", "-k", "--extra", path])
    return "" if code == 0 else f"validate_gpkg ended with {code}"
"""
_PYOGRIO = """
import pyogrio, pyogrio.raw
def look(path):
    layers = {str(name): kind for name, kind in pyogrio.list_layers(path)}
    missing = {"place", "trap_set", "project", "water", "line", "trap", "bait", "species", "trip",
               "round", "catch"} - set(layers)
    for name in layers:
        pyogrio.raw.read(path, layer=name)
    return f"pyogrio does not list {missing}" if missing else ""
"""


class Reader:
    """A child process that reads files by name and says what is wrong with them."""

    def __init__(self, command: list[str], prepare: str) -> None:
        self._child = subprocess.Popen(
            [*command, "-c", _SERVE.format(prepare=prepare)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def look(self, path: Path) -> str:
        assert self._child.stdin is not None
        assert self._child.stdout is not None
        self._child.stdin.write(json.dumps(str(path)) + "\n")
        self._child.stdin.flush()
        line = self._child.stdout.readline()
        assert line, "the reader ended"
        return str(json.loads(line))

    def close(self) -> None:
        self._child.communicate(timeout=30)


def has_gdal() -> bool:
    if not Path(GDAL_PYTHON).exists():
        return False
    words = [GDAL_PYTHON, "-c", "import osgeo_utils.samples.validate_gpkg, osgeo.ogr"]
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


@pytest.fixture(scope="session")
def gdal_python() -> str:
    """The Python that has GDAL. Its absence is a fault on a build machine, a reason elsewhere."""
    if not has_gdal():
        absent(f"{GDAL_PYTHON} has no GDAL (Debian: python3-gdal)")
    return GDAL_PYTHON


@pytest.fixture(scope="session")
def readers() -> Iterator[list[Reader]]:
    """GDAL's validator where there is one (see `gdal_python`), and pyogrio."""
    found = [Reader([sys.executable, "-W", "error"], _PYOGRIO)]
    if has_gdal() or os.environ.get("CI"):
        found.append(Reader([GDAL_PYTHON], _GDAL))
    yield found
    for reader in found:
        reader.close()


@pytest.fixture(scope="session")
def assert_valid_gpkg(readers: list[Reader]) -> Callable[[Path], None]:
    """A check that a file is a valid GeoPackage for GDAL's validator and read by pyogrio."""

    def check(path: Path) -> None:
        said = [reader.look(path) for reader in readers]
        assert not any(said), f"{path}: {said}"

    return check


@pytest.fixture(autouse=True)
def every_project_is_valid(
    tmp_path: Path, assert_valid_gpkg: Callable[[Path], None]
) -> Iterator[None]:
    """Let the outside readers look at each file that a test leaves and that opens as a project."""
    yield
    for path in sorted(tmp_path.rglob("*.gpkg")):
        try:
            Project.open(path, read_only=True).close()
        except TraplineError:
            continue  # one that was spoilt on purpose
        assert_valid_gpkg(path)


def _fill(project: Project) -> None:
    with project.change("Fill") as change:
        shore = ((10.0, 60.0), (10.01, 60.0), (10.0, 60.01), (10.0, 60.0))
        water = change.insert(Water(name="Long pond", shoreline=shore, mixed_depth_m=2.5))
        line = change.insert(Line(name="North bank", water_id=water.id))
        stake = change.insert(Place(line_id=line.id, label="Stake", is_stake=True))
        places = [
            change.insert(
                Place(
                    line_id=line.id,
                    ordinal=number,
                    label=f"P{number}",
                    lon_deg=10 + number / 1000,
                    lat_deg=60.0,
                    from_place_id=stake.id,
                    depth_m=1.5,
                )
            )
            for number in range(1, 4)
        ]
        trap = change.insert(Trap(number="7", tags=((2026, "AB 120"), (None, "C 7"))))
        bait = change.insert(Bait(name="Fish & oil", still_reach_m=4))
        species = change.insert(Species(name="Crayfish", scientific_name="Astacus astacus"))
        trip = change.insert(
            Trip(
                name="August",
                water_id=water.id,
                line_id=line.id,
                started_on="2026-08-01",
                zone="Europe/Oslo",
                reference_bait_id=bait.id,
                target_species_id=species.id,
            )
        )
        fished = change.insert(Round(trip_id=trip.id, number=1, set_on="2026-08-01"))
        for place in places:
            trap_set = change.insert(
                TrapSet(
                    round_id=fished.id,
                    trap_id=trap.id,
                    planned_place_id=place.id,
                    place_id=place.id,
                    planned_bait_id=bait.id,
                    bait_id=bait.id,
                    state="lifted",
                    set_utc="2026-08-01T18:30:00Z",
                    lift_utc="2026-08-02T06:00:00Z",
                    counted=True,
                    lon_deg=place.lon_deg,
                    lat_deg=place.lat_deg,
                )
            )
            change.insert(Catch(trap_set_id=trap_set.id, species_id=species.id, count=0))


@pytest.fixture(scope="session")
def filled_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The file of a project with every noun in it, made once and copied by each test."""
    path = tmp_path_factory.mktemp("filled") / "lake.gpkg"
    with Project.create(path, ProjectInfo(name="Lake", notes="Invented\nfor a test")) as project:
        _fill(project)
    return path.read_bytes()


@pytest.fixture
def lake_path(tmp_path: Path, filled_bytes: bytes) -> Path:
    """A closed project with every noun in it."""
    path = tmp_path / "lake.gpkg"
    path.write_bytes(filled_bytes)
    return path


@pytest.fixture
def lake(lake_path: Path) -> Iterator[Project]:
    """The same project, open."""
    with Project.open(lake_path) as project:
        yield project


@pytest.fixture(scope="session")
def dump() -> Callable[[Path], list[str]]:
    """A way to see everything that is in a file, as the SQL that would make it again."""

    def read(path: Path) -> list[str]:
        with closing(sqlite3.connect(path)) as db:
            return list(db.iterdump())

    return read


@pytest.fixture(scope="session")
def change_outside() -> Callable[..., None]:
    """A way to run SQL on a file as another program would, with none of our settings."""

    def run(path: Path, *statements: str) -> None:
        with closing(sqlite3.connect(path)) as db:
            for statement in statements:
                db.execute(statement)
            db.commit()

    return run


@pytest.fixture
def public_folder() -> Iterator[Path]:
    """A folder that every user of the machine can reach."""
    folder = Path(tempfile.mkdtemp(prefix="trapline-"))
    folder.chmod(0o755)
    yield folder
    for path in (folder, *folder.rglob("*")):
        if path.is_dir():
            path.chmod(0o755)
    shutil.rmtree(folder)


def _in_child(function: Callable[[], object]) -> int:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # other threads do nothing here
        child = os.fork()
    if child == 0:
        try:
            function()
            os._exit(0)
        except BaseException:  # noqa: BLE001  # a forked child must never go on running the tests
            traceback.print_exc()
        finally:
            os._exit(1)
    return os.waitpid(child, 0)[1]


@pytest.fixture(scope="session")
def in_child() -> Callable[[Callable[[], object]], int]:
    """Run a function in a child process that may die, and return how it ended (`os.waitpid`)."""
    return _in_child


@pytest.fixture(scope="session")
def as_plain_user() -> Callable[[Callable[[], Any]], Any]:
    """Run a function in a child that is not root, for whom every file can be written to.

    What it returns comes back as JSON.
    """
    if os.geteuid() == 0:
        closed = [
            str(one) for one in Path(__file__).parents if not one.stat().st_mode & stat.S_IXOTH
        ]
        if closed:
            absent(f"the project lies where no plain user may look: {', '.join(closed)}")

    def run(function: Callable[[], Any]) -> Any:
        reading, writing = os.pipe()

        def answer() -> None:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            os.write(writing, json.dumps(function()).encode())

        status = _in_child(answer)
        os.close(writing)
        with os.fdopen(reading, "rb") as given:
            said = given.read()
        assert status == 0, "see the trace above"
        return json.loads(said)

    return run

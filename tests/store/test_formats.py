"""Every format that was ever released is opened and written on by the present version.

The files in ``formats/`` are never made anew: each was written by the version that it is
named after, and a later format adds another file beside it. ``python tests/store/test_formats.py``
writes the file of the present format, once, at its release.
"""

import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from trapline.model.bait import Bait
from trapline.model.catch import Catch
from trapline.model.line import Line, Place
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.store.migrations import SCHEMA_VERSION
from trapline.store.project import Project

FORMATS = Path(__file__).parent / "formats"


def released() -> list[Path]:
    return sorted(FORMATS.glob("format_*.gpkg"))


def test_there_is_a_file_of_every_format() -> None:
    assert [path.stem for path in released()] == [
        f"format_{number}" for number in range(1, SCHEMA_VERSION + 1)
    ]


@pytest.mark.parametrize("path", released(), ids=lambda path: path.stem)
def test_a_released_format_is_read_and_written_on(
    path: Path, tmp_path: Path, dump: Callable[[Path], list[str]]
) -> None:
    copy = tmp_path / path.name
    shutil.copyfile(path, copy)
    with Project.open(copy) as project:
        picture = project.snapshot()
        assert not project.read_only
        assert all(picture.all(noun) for noun in NOUNS)
        assert picture.project.name == "Old reservoir"
        assert picture.trips()[0].zone == "Europe/Oslo"
        assert picture.all(Place)[0].label == "stake by the outlet"
        assert picture.all(Place)[1].lat_deg == 60.0005
        assert picture.all(Trap)[0].tags == ((2026, "AB 120"), (None, "C 7"))
        assert picture.all(Water)[0].shoreline[1] == (10.02, 60.0)
        assert [row.count for row in picture.all(Catch)] == [0, 3]
        assert picture.all(TrapSet)[0].lift_utc == "2026-08-02T06:00:00Z"
        assert picture.all(Bait)[1].is_control
        with project.change("Go on") as change:
            change.update(picture.all(Catch)[0].with_(count=9))
            change.insert(Place(label="new", lon_deg=10, lat_deg=60))
        project.undo()
        assert project.snapshot() == picture
        assert "Place the pots" in [step.label for step in project.history()]


def test_a_file_of_the_present_format_has_the_tables_of_the_schema(
    tmp_path: Path, dump: Callable[[Path], list[str]]
) -> None:
    """Else schema.sql was changed after its release without a new format."""

    def tables(path: Path) -> list[str]:
        return [line for line in dump(path) if line.startswith("CREATE")]

    Project.create(tmp_path / "new.gpkg", ProjectInfo(name="x")).close()
    assert tables(tmp_path / "new.gpkg") == tables(released()[-1])


def write_present_format(path: Path) -> None:
    """Write a small project with every noun and with steps done, undone and dropped."""
    with Project.create(path, ProjectInfo(name="Old reservoir", notes="Invented.")) as project:
        with project.change("Place the pots") as change:
            shore = ((10.0, 60.0), (10.02, 60.0), (10.0, 60.02), (10.0, 60.0))
            water = change.insert(Water(name="Reservoir", shoreline=shore))
            line = change.insert(Line(name="East", water_id=water.id))
            change.insert(Place(label="stake by the outlet", line_id=line.id, is_stake=True))
            place = change.insert(Place(label="1", line_id=line.id, lon_deg=10.01, lat_deg=60.0005))
            trap = change.insert(Trap(number="1", tags=((2026, "AB 120"), (None, "C 7"))))
            bait = change.insert(Bait(name="Cut fish", down_reach_m=12.5))
            change.insert(Bait(name="No bait", form="none", is_control=True))
            target = change.insert(Species(name="Crayfish", min_size_mm=95))
            other = change.insert(Species(name="Minnow", role="by-catch"))
        with project.change("Fish a night") as change:
            trip = change.insert(
                Trip(name="August", water_id=water.id, line_id=line.id, zone="Europe/Oslo")
            )
            fished = change.insert(Round(trip_id=trip.id, set_on="2026-08-01", water_temp_c=17.5))
            trap_set = change.insert(
                TrapSet(
                    round_id=fished.id,
                    trap_id=trap.id,
                    place_id=place.id,
                    bait_id=bait.id,
                    state="lifted",
                    lon_deg=10.01,
                    lat_deg=60.0005,
                    set_utc="2026-08-01T18:30:00Z",
                    lift_utc="2026-08-02T06:00:00Z",
                    condition="fished",
                    counted=True,
                )
            )
            for species, count in ((target, 0), (other, 3)):
                change.insert(Catch(trap_set_id=trap_set.id, species_id=species.id, count=count))
        for note in ("dropped", "undone"):
            with project.change(f"Note: {note}") as change:
                change.update(trip.with_(notes=note))
            project.undo()


if __name__ == "__main__":
    write_present_format(FORMATS / f"format_{SCHEMA_VERSION}.gpkg")
    sys.exit(0)

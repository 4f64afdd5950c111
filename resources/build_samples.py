"""Rebuild the invented samples: ``python resources/build_samples.py [FOLDER]``.

Everything here is made up: waters, people, catches. The waters are drawn in the
middle of an ocean, where there is no lake and no shore, so that nobody takes them
for a place to fish. Two runs give the same content, and the same bytes where the
SQLite library is the same one.
"""

import csv
import dataclasses
import io
import sqlite3
import sys
import tempfile
import uuid
from pathlib import Path

import numpy as np

from trapline.actions.fair_order import draw_fair_order
from trapline.actions.places import add_places
from trapline.actions.trips import new_trip_from, next_round, start_trip
from trapline.exchange.found import FoundPlace
from trapline.exchange.gpx import write_gpx
from trapline.model.bait import COLOURS, Bait
from trapline.model.catch import Catch
from trapline.model.fields import Noun
from trapline.model.instants import parse_local
from trapline.model.line import Line, Place
from trapline.model.nouns import NOUNS
from trapline.model.project_info import ProjectInfo
from trapline.model.snapshot import Snapshot
from trapline.model.species import Species
from trapline.model.trap import Trap
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.model.water import Water
from trapline.science.geodesy import LocalPlane
from trapline.store.project import Project

NAMESPACE = uuid.UUID("8a1f6f0e-6a57-4f4e-9b0e-3d1f0c5f7a11")
ZONE = "Atlantic/Azores"
WRITTEN = "2026-08-20T12:00:00Z"

LAKE_STORY = """\
AN INVENTED EXAMPLE. Quillam Water does not exist; it is drawn in the open ocean.

Edda and Joss rowed twelve crayfish traps along the north shore of Quillam Water on four
evenings in August. They wanted to know whether fish, liver, canned corn or pellets draws
more crayfish, and whether the expensive one is worth its price.

Each evening three traps held each bait. The order was drawn in blocks of four along the
shore and rotated over the rounds, so that no bait had the good spots to itself.

What happened: P7 and P8 stand closer than the ten metres they had set themselves, since a
reed bed was in the way. On the second night something pulled trap 9 half out of the water.
On the third, trap 4 was gone in the morning; its float turned up empty, and trap 13 took its
place. On the last morning rain stopped Joss from counting trap 11.
"""

SHORE_STORY = """\
AN INVENTED EXAMPLE. Brackle Quay does not exist; it is drawn in the open ocean.

Wim throws eight small traps from the quay, a stride and a bit apart, and lifts them the next
evening. A GPS cannot tell such places apart, so he drives one stake, takes its position
once, and measures each place with a knotted rope: the gaps are true to a hand's width.

He compares fish heads, chicken skin and a can of sprats with holes in it, and leaves two
traps without bait: does any bait beat none? All scents meet along so short a line, so
what he learns is which bait is taken first when all can be smelt.

Two rounds are lifted. The next trip is planned, with the baits rotated.
"""


# The lake


# Corners of the lake in metres east and north of its middle, clockwise from the west.
LAKE_CORNERS = (
    (-112, 8), (-97, 47), (-60, 66), (-20, 79), (28, 81), (70, 66), (106, 38), (129, 0),
    (118, -42), (82, -60), (42, -53), (8, -79), (-42, -88), (-82, -60), (-97, -28),
)  # fmt: skip
LAKE = LocalPlane(-38.2, 47.3)


def lake_outline() -> np.ndarray:
    """Return a smooth closed line through the corners, shape (n, 2), metres east and north."""
    corners = np.array(LAKE_CORNERS, dtype=float)
    before, after = np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0)
    further = np.roll(corners, -2, axis=0)
    t = np.linspace(0, 1, 8, endpoint=False)[:, None, None]
    # A Catmull-Rom spline: it passes through its corners.
    points = 0.5 * (
        2 * corners
        + (after - before) * t
        + (2 * before - 5 * corners + 4 * after - further) * t**2
        + (3 * corners - before - 3 * after + further) * t**3
    )
    return points.transpose(1, 0, 2).reshape(-1, 2)


def lake_shoreline() -> tuple[tuple[float, float], ...]:
    """Return the ring of the invented lake, about 240 by 170 m."""
    lon, lat = LAKE.to_earth(*lake_outline().T)
    ring = [(round(float(x), 7), round(float(y), 7)) for x, y in zip(lon, lat, strict=True)]
    return (*ring, ring[0])


def lake_places() -> list[Place]:
    """Return twelve places seven metres off the north shore, one pair of them too close."""
    steps = [14.2, 13.1, 15.8, 12.6, 16.4, 14.9, 8.6, 17.3, 13.7, 15.2, 14.4]
    depths = [1.4, 1.6, 1.9, 2.1, 2.4, 2.2, 1.8, 1.7, 2.0, 2.3, 2.6, 2.2]
    bottoms = ["stones"] * 4 + ["gravel"] * 2 + ["reeds"] * 2 + ["stones"] * 4
    shore = lake_outline()[6:60]
    along = np.gradient(shore, axis=0)
    inward = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    track = shore + 7.0 * inward
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(track, axis=0).T))])
    at = np.cumsum([3.0, *steps])
    east, north = (np.interp(at, walked, track[:, axis]) for axis in (0, 1))
    lon, lat = LAKE.to_earth(east, north)
    return [
        Place(label=f"P{n + 1}", lon_deg=round(float(lon[n]), 7), lat_deg=round(float(lat[n]), 7),
              fix="GPS", accuracy_m=3.0, depth_m=depths[n], bottom=bottoms[n])
        for n in range(12)
    ]  # fmt: skip


def lake_baits() -> list[Bait]:
    """Return the four baits of the lake trial with their assumed reaches."""
    baits = [
        Bait(name="Roach, cut", kind="fish", form="cut", amount="half a fish", half_life_h=8.0,
             colour=COLOURS[0], mark="circle"),
        Bait(name="Liver", kind="meat", form="bag", amount="60 g", half_life_h=6.0,
             colour=COLOURS[1], mark="square"),
        Bait(name="Corn, canned", kind="plant", form="punctured can", amount="one can",
             half_life_h=24.0, colour=COLOURS[2], mark="triangle"),
        Bait(name="Pellets", kind="pellets", form="pellets", amount="40 g", half_life_h=16.0,
             colour=COLOURS[3], mark="diamond"),
    ]  # fmt: skip
    return [reaching(bait) for bait in baits]


def reaching(bait: Bait) -> Bait:
    """Return a bait with the reaches that the invented people assume, or none for no bait."""
    if bait.is_control:
        return bait
    return bait.with_(still_reach_m=5.0, down_reach_m=10.0, side_reach_m=2.0)


def build_lake(path: Path) -> None:
    """Write the lake trial."""
    project = Project.create(
        path, ProjectInfo(name="lake sample", notes=LAKE_STORY, is_example=True)
    )
    water = Water(
        name="Quillam Water (invented)", shore="sheltered pond", mixed_depth_m=1.5,
        shoreline=lake_shoreline(), notes="Does not exist.",
    )  # fmt: skip
    line = Line(name="North shore", kind="set apart")
    baits = lake_baits()
    traps = [
        Trap(number=str(n), kind="crayfish trap", entrance_mm=60, mesh_mm=20, escape_mm=28,
             tags=((2026, f"QW {n:03d}"),))
        for n in range(1, 14)
    ]  # fmt: skip
    target = Species(name="Crayfish", role="target", local_status="ask the water's owner")
    perch = Species(name="Perch", role="by-catch")
    trip = Trip(
        name="August bait trial", started_on="2026-08-11", zone=ZONE, purpose="compare four baits",
        reference_bait_id=baits[3].id, target_species_id=target.id, notes=LAKE_STORY,
    )  # fmt: skip
    start_trip(
        project, trip, water=water, line=line,
        first_round=Round(set_on="2026-08-11", crew="Edda, Joss", boat="the grey skiff",
                          weather="calm, overcast", water_temp_c=18.2),
        extra=(*baits, *traps, target, perch),
    )  # fmt: skip
    rounds = project.snapshot().rounds(trip.id)
    add_places(project, line.id, lake_places(), round_id=rounds[0].id)
    give_traps(project, rounds[0].id, traps)
    draw_fair_order(project, trip.id, [bait.id for bait in baits], n_rounds=4, seed=20_811,
                    even_succession=False)  # fmt: skip
    rng = np.random.default_rng(4711)
    means = dict(zip([bait.id for bait in baits], [9.0, 3.4, 1.1, 2.6], strict=True))
    at_place = np.exp(rng.normal(0, 0.35, 12))
    weather = ["calm, overcast", "light rain", "clear, warm", "rain in the morning"]
    for number in range(1, 5):
        if number > 1:
            next_round(project, trip.id)
        fill_lake_round(project, trip, number, weather[number - 1], means, at_place, rng, target,
                        perch)  # fmt: skip
    project.close()


def give_traps(project: Project, round_id: str, traps: list[Trap]) -> None:
    """Put the traps out along the line in the order of their numbers."""
    with project.change("Assign traps") as change:
        for row, trap in zip(change.snapshot.sets(round_id), traps, strict=False):
            change.update(row.with_(trap_id=trap.id))


def fill_lake_round(
    project: Project,
    trip: Trip,
    number: int,
    weather: str,
    means: dict[str, float],
    at_place: np.ndarray,
    rng: np.random.Generator,
    target: Species,
    perch: Species,
) -> None:
    """Set and lift one round of the lake: an evening and a morning."""
    snapshot = project.snapshot()
    fished = snapshot.round_numbered(trip.id, number)
    day = fished.set_on or ""
    morning = f"{day[:-2]}{int(day[-2:]) + 1:02d}"
    mood = float(np.exp(rng.normal(0, 0.2)))
    with project.change("Past round") as change:
        change.update(fished.with_(weather=weather, water_temp_c=round(17.6 + number * 0.3, 1)))
        for order, row in enumerate(snapshot.sets(fished.id)):
            place = snapshot.need(Place, row.place_id)
            set_utc = parse_local(f"{18 + (40 + 4 * order) // 60}:{(40 + 4 * order) % 60:02d}",
                                  ZONE, day)  # fmt: skip
            lift_utc = parse_local(f"{7 + (5 + 6 * order) // 60}:{(5 + 6 * order) % 60:02d}",
                                   ZONE, morning)  # fmt: skip
            mean = means[row.bait_id or ""] * at_place[order] * mood
            count = int(rng.negative_binomial(3.0, 3.0 / (3.0 + mean)))
            left = str(rng.choice(["none", "a quarter", "half", "three quarters"]))
            extra: dict[str, object] = {"condition": "fished", "counted": True, "bait_left": left}
            if (number, order) == (2, 8):
                extra["condition"], extra["notes"] = "disturbed", "half out of the water"
            elif (number, order) == (3, 3):
                extra = {"condition": "lost", "notes": "float found empty"}
            elif (number, order) == (4, 10):
                extra = {"condition": "fished", "notes": "rain, not counted"}
            spare = next(trap for trap in snapshot.all(Trap) if trap.number == "13")
            done = row.with_(
                state="lifted", set_utc=set_utc, lift_utc=lift_utc, bait_hung_utc=set_utc,
                trap_id=row.trap_id or spare.id, lon_deg=place.lon_deg, lat_deg=place.lat_deg,
                set_by="Joss", lifted_by="Edda",
                afterwards="" if extra.get("condition") == "lost" else "out of the water", **extra,
            )  # fmt: skip
            change.update(done)
            if done.condition == "lost":
                lost = snapshot.need(Trap, row.trap_id)
                change.update(lost.with_(state="lost", state_note=f"{place.label}, {morning}"))
            if done.counted:
                put_catch(change.insert, done, target, count, perch, int(rng.poisson(0.25)))


def put_catch(
    insert: object, row: TrapSet, target: Species, count: int, other: Species, by_catch: int
) -> None:
    """Write what came up: most are kept, small ones go back, one in a while drops back."""
    assert callable(insert)
    small, dropped = count // 4, int(count > 6)
    insert(Catch(trap_set_id=row.id, species_id=target.id, fate="kept",
                 count=count - small - dropped))  # fmt: skip
    if small:
        insert(Catch(trap_set_id=row.id, species_id=target.id, fate="undersize back", count=small))
    if dropped:
        insert(Catch(trap_set_id=row.id, species_id=target.id, fate="dropped back at the lift",
                     count=1))  # fmt: skip
    if by_catch:
        insert(Catch(trap_set_id=row.id, species_id=other.id, fate="put back", count=by_catch))


# The quay


def build_shore(path: Path) -> None:
    """Write the line thrown from the shore."""
    project = Project.create(
        path, ProjectInfo(name="shore line sample", notes=SHORE_STORY, is_example=True)
    )
    water = Water(name="Brackle Quay (invented)", kind="tidal", shore="slow river or tidal",
                  mixed_depth_m=2.0, notes="Does not exist.")  # fmt: skip
    line = Line(name="Quay wall", kind="shore line", spacing_m=1.7)
    baits = [
        Bait(name="Fish heads", kind="fish", form="whole", amount="one head", colour=COLOURS[0],
             mark="circle"),
        Bait(name="Chicken skin", kind="meat", form="bag", amount="40 g", colour=COLOURS[1],
             mark="square"),
        Bait(name="Sprats in a can", kind="fish", form="punctured can", amount="one can",
             colour=COLOURS[2], mark="triangle"),
        Bait(name="No bait", form="none", colour=COLOURS[7], mark="ring", is_control=True),
    ]  # fmt: skip
    traps = [Trap(number=letter, kind="folding trap", owner_mark="W") for letter in "ABCDEFGH"]
    target = Species(name="Shore crab", role="target")
    other = Species(name="Goby", role="by-catch")
    trip = Trip(
        name="First throws", started_on="2026-08-03", zone=ZONE, purpose="does any bait beat none?",
        reference_bait_id=baits[3].id, target_species_id=target.id, notes=SHORE_STORY,
    )  # fmt: skip
    start_trip(
        project, trip, water=water, line=line,
        first_round=Round(set_on="2026-08-03", crew="Wim", weather="fresh breeze",
                          tide_state="two hours after low water"),
        extra=(*map(reaching, baits), *traps, target, other),
    )  # fmt: skip
    first = project.snapshot().rounds(trip.id)[0]
    add_places(project, line.id, shore_places(), round_id=first.id)
    give_traps(project, first.id, traps)
    draw_fair_order(project, trip.id, [bait.id for bait in baits], n_rounds=2, seed=803,
                    even_succession=False)  # fmt: skip
    rng = np.random.default_rng(803)
    means = dict(zip([bait.id for bait in baits], [5.5, 3.0, 3.6, 0.4], strict=True))
    for number, day in ((1, "2026-08-03"), (2, "2026-08-04")):
        if number > 1:
            next_round(project, trip.id)
        fill_shore_round(project, trip, number, day, means, rng, target, other)
    new_trip_from(project, trip.id, "Second throws", started_on="2026-08-22", seed=822)
    project.close()


def shore_places() -> list[Place]:
    """Return the stake and eight places measured from it with a rope."""
    stake = Place(label="Stake", lon_deg=-38.75, lat_deg=46.9, fix="GPS", accuracy_m=4.0,
                  is_stake=True, notes="an iron bar at the foot of the steps")  # fmt: skip
    ropes = [1.0, 2.7, 4.4, 6.1, 7.8, 9.5, 11.2, 12.9]
    return [stake] + [
        Place(label=f"K{n}", fix="rope and bearing", from_place_id=stake.id, rope_m=rope,
              bearing_deg=74.0, depth_m=1.2, bottom="silt")
        for n, rope in enumerate(ropes, 1)
    ]  # fmt: skip


def fill_shore_round(
    project: Project,
    trip: Trip,
    number: int,
    day: str,
    means: dict[str, float],
    rng: np.random.Generator,
    target: Species,
    other: Species,
) -> None:
    """Throw and lift one round from the quay: from evening to evening."""
    snapshot = project.snapshot()
    fished = snapshot.round_numbered(trip.id, number)
    after = f"{day[:-2]}{int(day[-2:]) + 1:02d}"
    with project.change("Past round") as change:
        for order, row in enumerate(snapshot.sets(fished.id)):
            place = snapshot.need(Place, row.place_id)
            set_utc = parse_local(f"19:{10 + order:02d}", ZONE, day)
            done = row.with_(
                state="lifted", condition="fished", counted=True, afterwards="out of the water",
                set_utc=set_utc, bait_hung_utc=set_utc, set_by="Wim", lifted_by="Wim",
                lift_utc=parse_local(f"18:{30 + 2 * order:02d}", ZONE, after),
                lon_deg=place.lon_deg, lat_deg=place.lat_deg,
                bait_left=str(rng.choice(["none", "a quarter", "half"])),
            )  # fmt: skip
            change.update(done)
            mean = means[row.bait_id or ""]
            count = int(rng.negative_binomial(4.0, 4.0 / (4.0 + mean)))
            put_catch(change.insert, done, target, count, other, int(rng.poisson(0.15)))


# The files beside the projects, and the same bytes every time


def settle(draft: Path, final: Path, name: str) -> Snapshot:
    """Write a draft's rows into a fresh file with keys and times that never change."""
    with Project.open(draft) as project:
        rows = [row for noun in NOUNS for row in project.snapshot().all(noun)]
    keys = {
        row.id: str(uuid.uuid5(NAMESPACE, f"{name}/{row.table}/{number}"))
        for number, row in enumerate(rows)
    }
    settled = [renamed(row, keys) for row in rows]
    final.unlink(missing_ok=True)
    info = settled[0]
    assert isinstance(info, ProjectInfo)
    with Project.create(final, info) as project:
        with project.change("Example") as change:
            for row in settled[1:]:
                change.insert(row)
        snapshot = project.snapshot()
    database = sqlite3.connect(final)
    # The example itself cannot be undone away: its steps are history only.
    database.execute("DELETE FROM app_step_row")
    database.execute("UPDATE app_step SET at_utc = ?, who = '', state = 'closed'", (WRITTEN,))
    database.execute("UPDATE gpkg_contents SET last_change = '2026-08-20T12:00:00.000Z'")
    database.commit()
    database.execute("VACUUM")
    database.close()
    return snapshot


def renamed(row: Noun, keys: dict[str, str]) -> Noun:
    """Return a row with its own key and all that it refers to replaced."""
    values = {}
    for item in dataclasses.fields(row):
        name, value = item.name, getattr(row, item.name)
        if name == "layout_draw" and value:
            for old, new in keys.items():
                value = value.replace(old, new)
        values[name] = keys.get(value, value) if isinstance(value, str) else value
    return type(row)(**values)


def write_gpx_file(snapshot: Snapshot, path: Path) -> None:
    """Write the places with a position as GPX waypoints."""
    found = [
        FoundPlace(place.label, place.lon_deg, place.lat_deg, place.depth_m, place.bottom, n, "")
        for n, place in enumerate(snapshot.all(Place), 1)
        if place.has_position
    ]
    path.write_bytes(write_gpx(found, path.stem))


def write_places_csv(snapshot: Snapshot, path: Path) -> None:
    """Write the places as a table."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(["name", "latitude", "longitude", "depth_m", "note"])
    for place in snapshot.all(Place):
        writer.writerow([place.label, f"{place.lat_deg:.7f}", f"{place.lon_deg:.7f}",
                         "" if place.depth_m is None else f"{place.depth_m:g}",
                         place.bottom])  # fmt: skip
    path.write_text(stream.getvalue(), encoding="utf-8")


def main(folder: Path) -> None:
    """Build both samples into a folder."""
    for name, build in (("lake_bait_trial", build_lake), ("shore_line", build_shore)):
        with tempfile.TemporaryDirectory() as draft_folder:
            draft = Path(draft_folder) / f"{name}.gpkg"
            build(draft)
            settled = Path(draft_folder) / "settled.gpkg"
            snapshot = settle(draft, settled, name)
            (folder / f"{name}.gpkg").write_bytes(settled.read_bytes())
        write_gpx_file(snapshot, folder / f"{name}.gpx")
        write_places_csv(snapshot, folder / f"{name}_places.csv")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "sample_projects")

"""Places: adding, moving, measuring with a rope, ordering, deleting."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from trapline.actions.editing import refuse_double
from trapline.errors import Conflict, InvalidValue
from trapline.model.changes import Changes
from trapline.model.kept_draw import KeptDraw, block_of, kept_draw, planned_baits
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.store.project import Project
from trapline.store.transaction import Change

# [0-9] and not \d: digits of other scripts are letters of a name here.
_NUMBERED = re.compile(r"(.*?)([0-9]{1,9})", re.DOTALL)


def next_label(snapshot: Snapshot, line_id: str | None, taken: Iterable[str] = ()) -> str:
    """Return the label after the last one of a line: ``P8`` after ``P7``, ``P1`` at first."""
    places = snapshot.places(line_id)
    match = _NUMBERED.fullmatch(places[-1].label) if places else None
    stem, digits = (match.group(1), match.group(2)) if match else ("P", "0")
    first = f"{stem}{int(digits) + 1:0{len(digits)}d}"
    return labels_from(snapshot, line_id, first, 1, taken)[0]


def labels_from(
    snapshot: Snapshot, line_id: str | None, first: str, n: int, taken: Iterable[str] = ()
) -> list[str]:
    """Return n labels counted on from a first one, those left out that the line has already.

    Without a number at its end the first one is counted on as ``Bay``, ``Bay 2``, ``Bay 3``.
    """
    used = {row.label.strip().casefold() for row in snapshot.places(line_id, stakes=True)}
    used |= {label.strip().casefold() for label in taken}
    found: list[str] = []
    match = _NUMBERED.fullmatch(first)
    if match is None and first.strip().casefold() not in used:
        found.append(first)
    stem, digits = (match.group(1), match.group(2)) if match else (f"{first} ", "2")
    number = int(digits)
    while len(found) < n:
        label = f"{stem}{number:0{len(digits)}d}"
        if label.strip().casefold() not in used:
            found.append(label)
        number += 1
    return found[:n]


def add_places(
    project: Project,
    line_id: str,
    places: Sequence[Place],
    *,
    round_id: str | None = None,
    label: str = "",
) -> Changes:
    """Add places to the end of a line; with a round, a trap set is planned at each.

    The places' own `ordinal` and `line_id` are set here; a place measured by
    rope gets its position from the place it is measured from.

    Raises
    ------
    InvalidValue
        A label is taken.
    """
    what = "Add place" if len(places) == 1 else f"Add {len(places)} places"
    with project.change(label or what) as change:
        append_places(change, line_id, places, round_id)
    return project.last_changes


def append_places(
    change: Change, line_id: str, places: Sequence[Place], round_id: str | None
) -> None:
    """Write places behind the last one of a line, inside an open change."""
    change.snapshot.need(Line, line_id)
    if round_id:
        change.snapshot.need(Round, round_id)
    before = change.snapshot
    there = before.places(line_id, stakes=True)
    # Looked up by name and key: a thousand places must not each look at a thousand others.
    names = {row.label.strip().casefold() for row in there}
    added: dict[str, Place] = {}
    for ordinal, draft in enumerate(places, max((row.ordinal for row in there), default=0) + 1):
        origin = added.get(draft.from_place_id or "") or before.get(Place, draft.from_place_id)
        place = measured_from(origin, draft.with_(line_id=line_id, ordinal=ordinal))
        name = place.label.strip().casefold()
        if name in names:
            raise InvalidValue(
                f"There is already a place called '{place.label}'.",
                "Place",
                "Choose another name.",
            )
        names.add(name)
        added[place.id] = change.insert(place)
        if round_id and not place.is_stake:
            plan_set(change, round_id, place.id)


def plan_set(change: Change, round_id: str, place_id: str) -> TrapSet:
    """Plan one trap set at a place of a round inside an open change."""
    return change.insert(TrapSet(round_id=round_id, planned_place_id=place_id, place_id=place_id))


def measured_from(origin: Place | None, place: Place) -> Place:
    """Return a place with the position that its rope and bearing give, or as it is."""
    if place.fix != "rope and bearing" or place.rope_m is None or place.bearing_deg is None:
        return place
    if origin is None or origin.lon_deg is None or origin.lat_deg is None:
        return place.with_(lon_deg=None, lat_deg=None)
    from trapline.science.survey import place_from

    lon_deg, lat_deg = place_from(origin.lon_deg, origin.lat_deg, place.bearing_deg, place.rope_m)
    return place.with_(lon_deg=float(lon_deg), lat_deg=float(lat_deg))


def edit_place(project: Project, place_id: str, **values: Any) -> Changes:
    """Change any fields of a place; what was measured from it by rope moves along.

    With ``fix`` "rope and bearing" the position follows from the rope; without a position
    given, the place is not fixed. Whatever no longer belongs to the way it is fixed goes.

    Raises
    ------
    InvalidValue
        The label is taken, or the place would be measured from one measured from it.
    Conflict
        It would become a stake and is fished.
    """
    with project.change("Edit place") as change:
        place = change.snapshot.need(Place, place_id).with_(**values)
        refuse_double(change.snapshot, place)
        if place.is_stake and any(
            place_id in (row.place_id, row.planned_place_id, row.moved_to_place_id)
            for row in change.snapshot.all(TrapSet)
        ):
            raise Conflict(
                f"'{place.label}' is fished in a round, and a stake is not fished.",
                "Stake",
                "Leave it out of the round first, or add the stake as a place of its own.",
            )
        _fix(change, place)
    return project.last_changes


def write_places(change: Change, values: Mapping[str, Mapping[str, Any]]) -> None:
    """Change any fields of places inside an open change: place id to fields; names may be swapped.

    Raises
    ------
    InvalidValue
        Two places of a line would have one name.
    """
    for place_id, fields in values.items():
        _fix(change, change.snapshot.need(Place, place_id).with_(**fields))
    snapshot = change.snapshot
    renamed = [snapshot.need(Place, key) for key, fields in values.items() if "label" in fields]
    for line_id in dict.fromkeys(place.line_id for place in renamed):
        there = snapshot.places(line_id, stakes=True)
        n_called = Counter(place.label.strip().casefold() for place in there)
        for place in renamed:
            if place.line_id == line_id and n_called[place.label.strip().casefold()] > 1:
                raise InvalidValue(
                    f"There is already a place called '{place.label}'.",
                    "Place",
                    "Choose another name.",
                )


def move_place(
    project: Project, place_id: str, lon_deg: float, lat_deg: float, *, fix: str = "map"
) -> Changes:
    """Move a place; what was measured from it by rope moves along."""
    with project.change("Move place") as change:
        place = change.snapshot.need(Place, place_id)
        # How near the old fix was says nothing about the new one.
        _fix(change, place.with_(lon_deg=lon_deg, lat_deg=lat_deg, fix=fix, accuracy_m=None))
    return project.last_changes


def clear_position(project: Project, place_ids: Iterable[str]) -> Changes:
    """Forget where places are: they stay in the order of the line, without a gap verdict."""
    with project.change("Clear position") as change:
        for place_id in place_ids:
            place = change.snapshot.need(Place, place_id)
            _fix(change, place.with_(lon_deg=None, lat_deg=None, fix="not fixed"))
    return project.last_changes


def _fix(change: Change, place: Place) -> None:
    """Write a place whose position or way of fixing may have changed."""
    if place.fix == "rope and bearing":
        if place.from_place_id is None or place.rope_m is None or place.bearing_deg is None:
            raise InvalidValue(
                f"'{place.label}' lacks the place it is measured from, the rope or the bearing.",
                place.label,
                "Give all three.",
            )
        _refuse_circle(change.snapshot, place)
        place = measured_from(change.snapshot.need(Place, place.from_place_id), place)
    else:
        place = place.with_(from_place_id=None, rope_m=None, bearing_deg=None)
        if not place.has_position:
            place = place.with_(fix="not fixed", accuracy_m=None)
        elif place.fix == "not fixed":
            place = place.with_(fix="typed")
    change.update(place)
    _carry_along(change, place.id)


def _refuse_circle(snapshot: Snapshot, place: Place) -> None:
    passed: set[str] = {place.id}
    origin = snapshot.get(Place, place.from_place_id)
    while origin is not None:
        if origin.id in passed:  # a circle elsewhere was written by another program
            raise InvalidValue(
                f"'{place.label}' cannot be measured from a place that is measured from it.",
                place.label,
                "Choose a stake or another place.",
            )
        passed.add(origin.id)
        origin = snapshot.get(Place, origin.from_place_id)


def _carry_along(change: Change, place_id: str) -> None:
    """Move what is measured from a place after it, rope by rope."""
    waiting, moved = [place_id], {place_id}
    while waiting:
        origin = change.snapshot.need(Place, waiting.pop())
        for row in change.snapshot.all(Place):
            is_measured = row.from_place_id == origin.id and row.fix == "rope and bearing"
            if is_measured and row.id not in moved:
                change.update(measured_from(origin, row))
                waiting.append(row.id)
                moved.add(row.id)


def order_places(project: Project, line_id: str, place_ids: Sequence[str]) -> Changes:
    """Give the places of a line the order of `place_ids`; stakes keep out of it.

    Raises
    ------
    InvalidValue
        The list is not exactly the line's places.
    """
    with project.change("Order places") as change:
        places = {row.id: row for row in change.snapshot.places(line_id)}
        if set(places) != set(place_ids) or len(place_ids) != len(places):
            raise InvalidValue(
                "The order does not name each place of the line once.", "Order", "Try again."
            )
        for ordinal, place_id in enumerate(place_ids, 1):
            change.update(places[place_id].with_(ordinal=ordinal))
    return project.last_changes


def delete_places(project: Project, place_ids: Iterable[str]) -> Changes:
    """Delete places together with the trap sets that are only planned there.

    Raises
    ------
    Conflict
        A trap was set there already, or another place is measured from it.
    """
    gone = set(place_ids)
    with project.change("Delete place" if len(gone) == 1 else "Delete places") as change:
        snapshot = change.snapshot
        for row in snapshot.all(Place):
            if row.from_place_id in gone and row.id not in gone:
                origin = snapshot.need(Place, row.from_place_id)
                raise Conflict(
                    f"'{row.label}' is measured from '{origin.label}'.",
                    origin.label,
                    f"Fix '{row.label}' in another way first, or delete both.",
                )
        for planned in snapshot.all(TrapSet):
            links = (planned.place_id, planned.planned_place_id, planned.moved_to_place_id)
            used = [link for link in links if link in gone]
            if not used:
                continue
            if planned.state != "planned":
                place = snapshot.need(Place, used[0])
                raise Conflict(
                    f"A trap was set at '{place.label}' already; its record would be lost.",
                    place.label,
                    "Leave the place out of the next round instead.",
                )
            if planned.place_id in gone:
                change.delete(planned)
            else:  # it was only meant for there, and stands elsewhere
                change.update(planned.with_(planned_place_id=planned.place_id))
        _delete_in_order(change, [row for row in snapshot.all(Place) if row.id in gone])
    return project.last_changes


def _delete_in_order(change: Change, places: list[Place]) -> None:
    for row in places:
        if row.from_place_id is not None:
            change.update(row.with_(from_place_id=None))
    for row in places:
        change.delete(row)


def leave_out(project: Project, set_ids: Iterable[str]) -> Changes:
    """Take planned trap sets out of a round; the places stay on the line."""
    with project.change("Leave out of the round") as change:
        for set_id in set_ids:
            row = change.snapshot.need(TrapSet, set_id)
            if row.state != "planned":
                raise Conflict("The trap is set already.", "", "Lift it first.")
            change.delete(row)
    return project.last_changes


def take_in(project: Project, round_id: str, place_ids: Iterable[str]) -> Changes:
    """Plan a trap set at places of the line that the round does not fish yet.

    A place that the trip's draw knows gets the bait that was drawn for it.

    Raises
    ------
    Conflict
        One of them is a stake.
    """
    with project.change("Take into the round") as change:
        kept, baits = _drawn_baits(change.snapshot, round_id)
        fished = {row.place_id for row in change.snapshot.sets(round_id)}
        for place_id in place_ids:
            place = change.snapshot.need(Place, place_id)
            if place.is_stake:
                raise Conflict(
                    f"'{place.label}' is a stake, and a stake is not fished.",
                    place.label,
                    "Choose places only, or add a place there.",
                )
            if place_id in fished:
                continue
            row = plan_set(change, round_id, place_id)
            if kept is not None and place_id in baits:
                bait_id, block = baits[place_id], block_of(kept, place_id)
                change.update(row.with_(planned_bait_id=bait_id, bait_id=bait_id, block=block))
    return project.last_changes


def _drawn_baits(snapshot: Snapshot, round_id: str) -> tuple[KeptDraw | None, dict[str, str]]:
    """Return the draw of a round's trip, and the bait that it deals to each place there."""
    fished = snapshot.need(Round, round_id)
    try:
        kept = kept_draw(snapshot.need(Trip, fished.trip_id))
    except InvalidValue:  # another program wrote it: nobody knows what was drawn
        kept = None
    nth = snapshot.rounds(fished.trip_id or "").index(fished) + 1
    return kept, planned_baits(kept, nth) if kept else {}


def where_next(sets: Sequence[TrapSet]) -> Iterator[tuple[TrapSet, str | None]]:
    """Yield each trap set with the place to go to next: the planned one, where that is free.

    A trap that stood elsewhere may have had its place taken by one that was moved there.
    """
    taken: set[str | None] = set()
    wanted = {row.id: row.moved_to_place_id or row.planned_place_id or row.place_id for row in sets}
    for row in sorted(sets, key=lambda row: wanted[row.id] != row.place_id):
        place_id = row.place_id if wanted[row.id] in taken else wanted[row.id]
        taken.add(place_id)
        yield row, place_id

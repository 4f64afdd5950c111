"""Places: adding, moving, measuring with a rope, ordering, deleting."""

import re
from collections.abc import Iterable, Sequence

from trapline.actions.editing import refuse_double
from trapline.errors import Conflict, InvalidValue
from trapline.model.changes import Changes
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round
from trapline.store.project import Project
from trapline.store.transaction import Change


def next_label(snapshot: Snapshot, line_id: str | None, taken: Iterable[str] = ()) -> str:
    """Return the label after the last one of a line: ``P8`` after ``P7``, ``P1`` at first."""
    used = {row.label.casefold() for row in snapshot.places(line_id, stakes=True)}
    used |= {label.casefold() for label in taken}
    places = snapshot.places(line_id)
    match = re.fullmatch(r"(.*?)(\d+)", places[-1].label) if places else None
    stem, digits = (match.group(1), match.group(2)) if match else ("P", "0")
    number = int(digits) + 1
    while (label := f"{stem}{number:0{len(digits)}d}").casefold() in used:
        number += 1
    return label


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
        change.snapshot.need(Line, line_id)
        last = max((row.ordinal for row in change.snapshot.places(line_id, stakes=True)), default=0)
        for ordinal, draft in enumerate(places, last + 1):
            place = positioned(change.snapshot, draft.with_(line_id=line_id, ordinal=ordinal))
            refuse_double(change.snapshot, place)
            change.insert(place)
            if round_id and not place.is_stake:
                plan_set(change, round_id, place.id)
    return project.last_changes


def plan_set(change: Change, round_id: str, place_id: str) -> TrapSet:
    """Plan one trap set at a place of a round inside an open change."""
    return change.insert(TrapSet(round_id=round_id, planned_place_id=place_id, place_id=place_id))


def positioned(snapshot: Snapshot, place: Place) -> Place:
    """Return a place with the position that its rope and bearing give, or as it is."""
    if place.fix != "rope and bearing" or place.rope_m is None or place.bearing_deg is None:
        return place
    origin = snapshot.get(Place, place.from_place_id)
    if origin is None or origin.lon_deg is None or origin.lat_deg is None:
        return place.with_(lon_deg=None, lat_deg=None)
    from trapline.science.survey import place_from

    lon_deg, lat_deg = place_from(origin.lon_deg, origin.lat_deg, place.bearing_deg, place.rope_m)
    return place.with_(lon_deg=float(lon_deg), lat_deg=float(lat_deg))


def move_place(
    project: Project, place_id: str, lon_deg: float, lat_deg: float, *, fix: str = "map"
) -> Changes:
    """Move a place; what was measured from it by rope moves along."""
    with project.change("Move place") as change:
        place = change.snapshot.need(Place, place_id)
        moved = place.with_(
            lon_deg=lon_deg, lat_deg=lat_deg, fix=fix,
            from_place_id=None, rope_m=None, bearing_deg=None,
        )  # fmt: skip
        change.update(moved)
        _carry_along(change, place_id)
    return project.last_changes


def clear_position(project: Project, place_ids: Iterable[str]) -> Changes:
    """Forget where places are: they stay in the order of the line, without a gap verdict."""
    with project.change("Clear position") as change:
        for place_id in place_ids:
            place = change.snapshot.need(Place, place_id)
            change.update(
                place.with_(
                    lon_deg=None,
                    lat_deg=None,
                    fix="not fixed",
                    accuracy_m=None,
                    from_place_id=None,
                    rope_m=None,
                    bearing_deg=None,
                )
            )
            _carry_along(change, place_id)
    return project.last_changes


def measure_place(
    project: Project, place_id: str, from_place_id: str, rope_m: float, bearing_deg: float
) -> Changes:
    """Fix a place by rope and bearing from another place or a stake.

    Raises
    ------
    InvalidValue
        That place is itself measured from this one.
    """
    with project.change("Measure place") as change:
        place = change.snapshot.need(Place, place_id)
        origin: Place | None = change.snapshot.need(Place, from_place_id)
        while origin is not None:
            if origin.id == place_id:
                raise InvalidValue(
                    f"'{place.label}' cannot be measured from a place that is measured from it.",
                    place.label,
                    "Choose a stake or another place.",
                )
            origin = change.snapshot.get(Place, origin.from_place_id)
        measured = place.with_(
            fix="rope and bearing", from_place_id=from_place_id, rope_m=rope_m,
            bearing_deg=bearing_deg, accuracy_m=None,
        )  # fmt: skip
        change.update(positioned(change.snapshot, measured))
        _carry_along(change, place_id)
    return project.last_changes


def _carry_along(change: Change, place_id: str) -> None:
    """Move what is measured from a place after it, rope by rope."""
    waiting = [place_id]
    while waiting:
        origin = waiting.pop()
        for row in change.snapshot.all(Place):
            if row.from_place_id == origin and row.fix == "rope and bearing":
                change.update(positioned(change.snapshot, row))
                waiting.append(row.id)


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
            change.delete(planned)
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
    """Plan a trap set at places of the line that the round does not fish yet."""
    with project.change("Take into the round") as change:
        change.snapshot.need(Round, round_id)
        fished = {row.place_id for row in change.snapshot.sets(round_id)}
        for place_id in place_ids:
            if place_id not in fished:
                plan_set(change, round_id, change.snapshot.need(Place, place_id).id)
    return project.last_changes

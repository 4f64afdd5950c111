"""What an import would do: how near each found place is to one that is there, and double names."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from trapline.exchange.found import FoundPlace
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.science.geodesy import earth_centred, geodesic_distance

NEW, SKIP, RENAME = "import", "skip", "import under a new name"
# A handheld receiver finds the same spot again within a few metres (from memory: about 5 m):
# the same name nearer than this is the same place.
SAME_PLACE_M = 5.0
_BLOCK = 200_000


@dataclass(frozen=True, slots=True)
class Arrival:
    """One found place beside what the project has already.

    Attributes
    ----------
    nearest, nearest_m : str, float or None
        The nearest place of the same water and its distance; None where there is none.
    same_name : str
        The place of the line that has this name already (or, in the file, one before it),
        as it is written there; empty where the name is free.
    same_name_m : float or None
        How far that one is; None where one of the two has no position.
    treatment : {"import", "skip", "import under a new name"}
        What is done unless the user says otherwise. Nothing is ever overwritten.
    new_label : str
        The name it gets when it is imported.
    """

    found: FoundPlace
    nearest: str
    nearest_m: float | None
    same_name: str
    same_name_m: float | None
    treatment: str
    new_label: str

    @property
    def treatments(self) -> tuple[str, ...]:
        """What can be done with it."""
        return (SKIP, RENAME) if self.same_name else (NEW, SKIP)

    @property
    def remark(self) -> str:
        """What to know before importing it, in words; empty where there is nothing."""
        if self.same_name:
            far = "" if self.same_name_m is None else f", {_metres(self.same_name_m)} away"
            return f"name taken{far}"
        if self.nearest_m is not None and self.nearest_m < SAME_PLACE_M:
            return f"only {_metres(self.nearest_m)} from '{self.nearest}'"
        return "" if self.found.lon_deg is not None else "without a position"


def _metres(distance_m: float) -> str:
    return f"{distance_m:.2f} m" if distance_m < 10 else f"{distance_m:.0f} m"


def preview_import(
    snapshot: Snapshot, line_id: str, found: Sequence[FoundPlace]
) -> tuple[Arrival, ...]:
    """Return what an import of found places into a line would meet, in their order.

    Parameters
    ----------
    line_id : str
        The line that they come to.
    found : sequence of FoundPlace, length n
        As a reader of :mod:`trapline.exchange` gives them.

    Returns
    -------
    tuple of Arrival, length n
        A name that is there already is skipped within `SAME_PLACE_M` of it, or where one of the
        two has no position; farther away it is imported under a new name.

    Raises
    ------
    InvalidValue
        There is no such line.
    """
    line = snapshot.need(Line, line_id)
    there = [place for one in _lines(snapshot, line) for place in snapshot.places(one, stakes=True)]
    nearest = _nearest(there, found)
    named: dict[str, Place | FoundPlace] = {
        _key(place.label): place for place in there if place.line_id == line_id
    }
    taken = {*named, *(_key(one.label) for one in found)}
    arrivals = []
    for number, one in enumerate(found):
        label, distance_m = nearest.get(number, ("", None))
        same = named.setdefault(_key(one.label), one)
        if same is one:
            arrivals.append(Arrival(one, label, distance_m, "", None, NEW, one.label))
            continue
        away_m = _apart_m(one, same)
        treatment = RENAME if away_m is not None and away_m > SAME_PLACE_M else SKIP
        new_label = _free_label(one.label, taken)
        arrivals.append(Arrival(one, label, distance_m, same.label, away_m, treatment, new_label))
    return tuple(arrivals)


def chosen_places(
    arrivals: Iterable[Arrival], treatments: Mapping[int, str] | None = None
) -> tuple[FoundPlace, ...]:
    """Return what an import takes over: without those skipped, renamed where that was chosen.

    Parameters
    ----------
    arrivals : iterable of Arrival
        As :func:`preview_import` returned them.
    treatments : mapping of int to str, optional
        What the user chose instead, by the number of the arrival, counted from 0.
    """
    chosen = treatments or {}
    return tuple(
        replace(one.found, label=one.new_label)
        for number, one in enumerate(arrivals)
        if chosen.get(number, one.treatment) != SKIP
    )


def _key(label: str) -> str:
    return label.strip().casefold()


def _lines(snapshot: Snapshot, line: Line) -> list[str]:
    if line.water_id is None:
        return [line.id]
    return [one.id for one in snapshot.lines(line.water_id)]


def _apart_m(one: FoundPlace, other: Place | FoundPlace) -> float | None:
    if one.lon_deg is None or one.lat_deg is None:
        return None
    if other.lon_deg is None or other.lat_deg is None:
        return None
    return float(geodesic_distance(one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg))


def _free_label(label: str, taken: set[str]) -> str:
    """Return ``Bay 2`` after ``Bay``, with the first number that is free, and take it."""
    number = 2
    while _key(f"{label} {number}") in taken:
        number += 1
    taken.add(_key(f"{label} {number}"))
    return f"{label} {number}"


def _nearest(there: Sequence[Place], found: Sequence[FoundPlace]) -> dict[int, tuple[str, float]]:
    """Return the label and distance of the nearest place of each found one that has a position."""
    placed = [
        (place.label, place.lon_deg, place.lat_deg)
        for place in there
        if place.lon_deg is not None and place.lat_deg is not None
    ]
    rows = [
        (number, one.lon_deg, one.lat_deg)
        for number, one in enumerate(found)
        if one.lon_deg is not None and one.lat_deg is not None
    ]
    if not placed or not rows:
        return {}
    labels, lon, lat = zip(*placed, strict=True)
    numbers, found_lon, found_lat = zip(*rows, strict=True)
    near = _nearest_rows(earth_centred(lon, lat), earth_centred(found_lon, found_lat))
    apart_m = geodesic_distance(found_lon, found_lat, np.asarray(lon)[near], np.asarray(lat)[near])
    return {
        number: (labels[row], float(distance_m))
        for number, row, distance_m in zip(numbers, near.tolist(), apart_m, strict=True)
    }


def _nearest_rows(there: NDArray[np.float64], found: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return for each found row the nearest row of those there, by the chord through the earth."""
    step = max(1, _BLOCK // len(there))
    parts = [
        ((found[start : start + step, None, :] - there[None, :, :]) ** 2).sum(axis=2).argmin(axis=1)
        for start in range(0, len(found), step)
    ]
    return np.concatenate(parts)

"""The catch on the map: the area of a mark grows with the catch per 24 h of its place."""

from typing import Final

import numpy as np

from trapline.analyses.place_catch import PlaceCatch, PlaceCatches
from trapline.drawing.map_content import MapContent, MarkStyle, Unplaced
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.water import Water
from trapline.science.geodesy import LocalPlane, centre_of

# What the legend says; the marks differ by shape as well.
COUNTED: Final = MarkStyle("catch per 24 h, by area", "#56B4E9", "circle", "set")
NOT_COUNTED: Final = MarkStyle("no valid count", "#8a9296", "cross", "set")
# The best place gets a mark of so many times the usual area; a place without catch the least.
BEST_FACTOR: Final = 6.0
LEAST_FACTOR: Final = 0.25


def catch_map(snapshot: Snapshot, catches: PlaceCatches) -> MapContent:
    """Return the map of the places with their catch, each with its rate in its label."""
    rows = [(row, snapshot.get(Place, row.place_id)) for row in catches.places]
    placed = [(row, place) for row, place in rows if place is not None and place.has_position]
    lon_deg = np.array([place.lon_deg for _, place in placed], dtype=np.float64)
    lat_deg = np.array([place.lat_deg for _, place in placed], dtype=np.float64)
    plane = LocalPlane(*centre_of(lon_deg, lat_deg)) if placed else LocalPlane(0.0, 0.0)
    east_m, north_m = plane.to_plane(lon_deg, lat_deg)
    best = catches.best_rate_per_24h
    looks = [_style(row) for row, _ in placed]
    styles = tuple(dict.fromkeys(looks))
    return MapContent(
        anchor_lon_deg=plane.lon_deg,
        anchor_lat_deg=plane.lat_deg,
        ids=tuple(row.place_id for row, _ in placed),
        labels=tuple(_label(row) for row, _ in placed),
        east_m=east_m,
        north_m=north_m,
        styles=styles,
        style_of=np.array([styles.index(look) for look in looks], dtype=np.intp),
        size_factors=np.array([_factor(row, best) for row, _ in placed], dtype=np.float64),
        shorelines=_shorelines(snapshot, [place for _, place in placed], plane),
        unplaced=tuple(
            Unplaced(row.place_id, _label(row), _style(row))
            for row, place in rows
            if place is None or not place.has_position
        ),
    )


def _style(row: PlaceCatch) -> MarkStyle:
    return COUNTED if row.rate_per_24h is not None else NOT_COUNTED


def _label(row: PlaceCatch) -> str:
    rate = row.rate_per_24h
    return f"{row.place}: {rate:.1f}" if rate is not None else row.place


def _factor(row: PlaceCatch, best: float) -> float:
    if row.rate_per_24h is None:
        return 0.5
    share = row.rate_per_24h / best if best > 0 else 0.0
    return max(LEAST_FACTOR, BEST_FACTOR * share)


def _shorelines(
    snapshot: Snapshot, places: list[Place], plane: LocalPlane
) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], ...]:
    lines = [snapshot.get(Line, place.line_id) for place in places]
    water_ids = dict.fromkeys(line.water_id for line in lines if line is not None)
    waters = [snapshot.get(Water, water_id) for water_id in water_ids]
    rings = [np.array(water.shoreline, dtype=np.float64) for water in waters if water is not None]
    return tuple(np.column_stack(plane.to_plane(*ring.T)) for ring in rings if len(ring) > 2)

"""The gaps of a place while it is dragged: a plain scan, exact at the end."""

import math
from typing import NamedTuple

from trapline.analyses.spacing_check import SpacingCheck


class LiveGap(NamedTuple):
    """One neighbour of the dragged place."""

    place_id: str
    distance_m: float
    is_short: bool


class LiveGaps:
    """Called with the dragged place and where it is now; gives its nearest gaps."""

    def __init__(self, spacing: SpacingCheck) -> None:
        import numpy as np

        self.min_gap_m = spacing.min_gap_m or 0.0
        self.ids = [row.place_id for row in spacing.standings]
        self.lon_deg = np.array([row.lon_deg for row in spacing.standings])
        self.lat_deg = np.array([row.lat_deg for row in spacing.standings])

    def __call__(self, place_id: str, lon_deg: float, lat_deg: float) -> list[LiveGap]:
        """Return the gaps under the minimum, or else the nearest one."""
        import numpy as np

        from trapline.science.spacing import distances_from

        others = np.array([one != place_id for one in self.ids], dtype=bool)
        if not others.any():
            return []
        lons, lats = self.lon_deg[others], self.lat_deg[others]
        ids = [one for one in self.ids if one != place_id]
        within_m = max(self.min_gap_m, 1.0)
        while True:
            rows, metres = distances_from(lon_deg, lat_deg, lons, lats, within_m)
            if len(rows) or within_m > 1e6:
                break
            within_m *= 8
        found = [
            LiveGap(ids[int(row)], float(distance), bool(distance < self.min_gap_m))
            for row, distance in zip(rows, metres, strict=True)
            if math.isfinite(distance)
        ]
        return [gap for gap in found if gap.is_short] or found[:1]

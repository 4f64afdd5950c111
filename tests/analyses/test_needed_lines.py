"""How many more rounds or traps name a better bait, as cells."""

import numpy as np

from trapline.analyses.needed_lines import NeededLine, needed_lines
from trapline.analyses.next_trip import RATIOS, NextTrip, Of, PowerCurve
from trapline.analyses.so_far import SoFar


def curve(ratio: float, of: Of, rotates: bool, needed: int | None) -> PowerCurve:
    return PowerCurve(ratio, rotates, of, (1, 2, 8), (0.1, 0.5, 0.9), needed)


def trip(needed: dict[tuple[Of, bool], int | None]) -> NextTrip:
    two = np.zeros((4, 2))
    one = np.ones(4)
    return NextTrip(
        found=SoFar(("fish", "corn"), 3, 2, True, two, np.ones((4, 2)), one, one, one, 4.0, 2.0),
        curves=tuple(
            curve(ratio, of, rotates, n) for ratio in RATIOS for (of, rotates), n in needed.items()
        ),
        widths=(),
        formula=(),
        n_trials=(50, 200),
        is_quick=False,
    )


def test_each_ratio_has_what_is_needed_in_its_own_column() -> None:
    found = trip(
        {
            ("rounds", True): 2, ("rounds", False): 7,
            ("traps a bait", True): 5, ("traps a bait", False): 6,
        }
    )  # fmt: skip
    assert needed_lines(found) == tuple(
        NeededLine(f"×{ratio:g}", "2", "7", "5") for ratio in (1.5, 2, 3)
    )


def test_what_is_beyond_the_largest_size_is_said_to_be_over_it() -> None:
    found = trip(
        {
            ("rounds", True): 8, ("rounds", False): None,
            ("traps a bait", True): None, ("traps a bait", False): None,
        }
    )  # fmt: skip
    assert needed_lines(found)[1] == NeededLine("×2", "8", "over 8", "over 8")

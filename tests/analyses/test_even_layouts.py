"""The test of a draw with even successions redraws as the draw was made."""

from typing import Any

import numpy as np
import pytest

from trapline.analyses import drawn_layout
from trapline.analyses.smallest_p import smallest_p
from trapline.model.kept_draw import KeptDraw
from trapline.science import layout
from trapline.science.layout import Scheme, all_layouts, draw_layout


def kept(scheme: Scheme, seed: int = 1, **values: Any) -> KeptDraw:
    drawn = draw_layout(scheme, seed)
    return KeptDraw(
        scheme=scheme.as_dict(), seed=seed, bait_ids=tuple("abcdef"[: scheme.n_baits]),
        place_ids=tuple(map(str, range(scheme.n_places))),
        rounds=tuple(map(tuple, drawn.rounds.tolist())), **values,
    )  # fmt: skip


def evenly(n_places: int, n_baits: int, n_rounds: int) -> Scheme:
    return Scheme(n_places, n_baits, n_rounds, even_succession=True)


def test_the_most_even_layouts_are_gone_through_one_and_all() -> None:
    draw = kept(evenly(4, 4, 4))
    layouts, complete = drawn_layout._layouts(draw, [1, 2, 3, 4])
    assert complete
    assert len(layouts) == 144  # of the 576 Latin squares of order 4, those of Williams
    assert np.array(draw.rounds).tolist() in layouts.tolist()
    some, _ = drawn_layout._layouts(draw, [1, 3])
    assert some.tolist() == layouts[:, [0, 2]].tolist()


def test_rounds_fished_before_stay() -> None:
    draw = kept(evenly(6, 2, 4), n_given=1)
    layouts, complete = drawn_layout._layouts(draw, [1, 2, 3, 4])
    every = all_layouts(evenly(6, 2, 4), previous_rounds=draw.rounds[:1])
    assert complete
    assert layouts.tolist() == every.tolist()


def test_of_too_many_the_most_even_of_sixteen_are_drawn_again() -> None:
    draw = kept(evenly(12, 4, 4), seed=3)
    layouts, complete = drawn_layout._layouts(draw, [1, 2, 3, 4])
    again, _ = drawn_layout._layouts(draw, [1, 2, 3, 4])
    assert not complete
    assert len(layouts) == drawn_layout.N_DRAWN_EVENLY
    assert layouts.tolist() == again.tolist()
    wanted = layout.redraws(
        evenly(12, 4, 4), np.random.default_rng([3, 1]), drawn_layout.N_DRAWN_EVENLY
    )
    assert layouts.tolist() == wanted.tolist()
    anyhow, _ = drawn_layout._layouts(kept(Scheme(12, 4, 4)), [1])
    assert len(anyhow) == drawn_layout.N_DRAWN


@pytest.mark.parametrize(
    ("scheme", "wanted"),
    [
        # 4! names among 144 squares of Williams; 2! among 72.
        (evenly(4, 4, 4), 24 / 144),
        (evenly(6, 2, 4), 2 / 72),
        # Not listed: no limit that could be said.
        (evenly(12, 4, 4), 0.0),
    ],
)
def test_the_smallest_p_is_that_of_the_even_layouts(scheme: Scheme, wanted: float) -> None:
    assert smallest_p(kept(scheme)) == pytest.approx(wanted)

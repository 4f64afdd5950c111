"""The front door: which way a table is integrated, and that both give the same kind of answer."""

from typing import Any

import numpy as np
import pytest

from trapline.science.bait_model import SHRINKING, LiftTable, lift_table
from trapline.science.bait_posterior import bait_posterior
from trapline.science.drawn_rates import DrawnPosterior
from trapline.science.exact_rates import ExactPosterior
from trapline.science.posterior import BaitPosterior


def table_of(**labels: Any) -> LiftTable:
    return lift_table([3, 9, 1, 12, 0, 8, 2, 7], [24.0] * 8, [0, 1] * 4, **labels)


PLAIN = table_of()
ROUNDS = table_of(round_=[1] * 4 + [2] * 4)
PLACES = table_of(place=[1, 2, 3, 4] * 2)


def test_a_table_without_repeats_is_integrated_exactly() -> None:
    posterior = bait_posterior(PLAIN)
    assert isinstance(posterior, ExactPosterior)
    assert posterior.effective_share is None


@pytest.mark.parametrize("table", [ROUNDS, PLACES], ids=["rounds", "places"])
def test_repeated_rounds_or_places_are_drawn(table: LiftTable) -> None:
    posterior = bait_posterior(table)
    assert isinstance(posterior, DrawnPosterior)
    assert posterior.effective_share is not None


def test_one_round_or_a_place_for_every_row_is_no_repeat() -> None:
    for table in (table_of(round_=[1] * 8), table_of(place=list(range(8)))):
        assert isinstance(bait_posterior(table), ExactPosterior)


@pytest.mark.parametrize("table", [PLAIN, ROUNDS], ids=["exact", "drawn"])
def test_the_prior_is_handed_on(table: LiftTable) -> None:
    independent, shrinking = bait_posterior(table), bait_posterior(table, SHRINKING)
    # Baits that are taken to be like each other lie closer.
    assert shrinking.ratio(1, 0).median < 0.97 * independent.ratio(1, 0).median
    assert shrinking.best[1] < independent.best[1]


@pytest.mark.parametrize("table", [PLAIN, ROUNDS], ids=["exact", "drawn"])
def test_both_ways_keep_the_one_promise(table: LiftTable) -> None:
    posterior: BaitPosterior = bait_posterior(table)
    assert len(posterior.rates) == 2
    assert posterior.best.sum() == pytest.approx(1.0)
    assert posterior.beats.shape == (2, 2)
    assert posterior.beats_by(1, 0, 1.0) == pytest.approx(posterior.beats[1, 0], abs=1e-9)
    assert posterior.spreads.spread.low < posterior.spreads.spread.high
    draws = posterior.draws(64)
    assert draws.log_rates.shape == (64, 2)
    assert draws.row_logs.shape == (64, 8)
    for name in ("spread", "exponent", "round_sd", "place_sd", "trip_sd", "bait_trip_sd"):
        assert getattr(draws, name).shape == (64,)
    np.testing.assert_array_equal(draws.exponent, 1.0)

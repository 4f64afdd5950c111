"""Rates of baits over rounds, places and trips: against sums over grids, and in hard cases.

How near 256 nodes come to 16,384: pytest -m study tests/science/test_drawn_rates.py
"""

import tracemalloc
from dataclasses import replace
from functools import cache
from itertools import combinations, permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.special import ndtr

from trapline.science import drawn_rates
from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.drawn_rates import DrawnPosterior, drawn_posterior
from trapline.science.exact_rates import exact_posterior
from trapline.science.hyper_proposal import proposal_about_mode
from trapline.science.hyper_space import hyper_space
from trapline.science.intervals import Interval
from trapline.science.latent_modes import make_design

Array = np.ndarray
Rows = dict[str, Any]


def rotated(
    n_baits: int, n_places: int, n_rounds: int, *, mean: float = 5.0, k: float = 1.5, seed: int = 1
) -> Rows:
    """Lifts of baits that move on by one place each round, places and rounds unlike each other."""
    rng = np.random.default_rng(seed)
    at = [(p, r) for r in range(n_rounds) for p in range(n_places)]
    places, rounds = rng.normal(0, 0.6, n_places), rng.normal(0, 0.4, n_rounds)
    means = np.array([mean * np.exp(places[p] + rounds[r]) for p, r in at])
    return {
        "catch": rng.negative_binomial(k, k / (k + means)).tolist(),
        "soak_h": [24.0] * len(at),
        "bait": [(p + r) % n_baits for p, r in at],
        "place": [p for p, _ in at],
        "round_": [r for _, r in at],
    }


def over_trips(n_trips: int, n_baits: int = 2, n_places: int = 4, n_rounds: int = 2) -> Rows:
    rng = np.random.default_rng(n_trips)
    at = [(p, r, t) for t in range(n_trips) for r in range(n_rounds) for p in range(n_places)]
    means = 5.0 * np.exp(rng.normal(0, 0.7, n_trips))[[t for _, _, t in at]]
    return {
        "catch": rng.negative_binomial(1.5, 1.5 / (1.5 + means)).tolist(),
        "soak_h": [24.0] * len(at),
        "bait": [(p + r) % n_baits for p, r, _ in at],
        "place": [f"{t}/{p}" for p, _, t in at],
        "round_": [r for _, r, _ in at],
        "trip": [f"trip {t}" for _, _, t in at],
    }


def changed(rows: Rows, **columns: Any) -> Rows:
    return {**rows, **columns}


@cache
def plain() -> tuple[LiftTable, DrawnPosterior]:
    table = lift_table(**rotated(3, 6, 4))
    return table, drawn_posterior(table)


@cache
def tripped() -> tuple[LiftTable, DrawnPosterior]:
    table = lift_table(**over_trips(3))
    return table, drawn_posterior(table)


def log_ends(interval: Interval) -> Array:
    return np.log([interval.low, interval.median, interval.high])


def quantiles(values: Array, weights: Array) -> Array:
    order = np.argsort(values)
    reached = np.cumsum(weights[order]) - weights[order] / 2
    return np.interp([0.025, 0.5, 0.975], reached / weights.sum(), values[order])


# --- against sums over grids ----------------------------------------------------------------


def even_normal(n: int, reach: float) -> tuple[Array, Array]:
    """Points and weights of the trapezium rule for a standard normal: exact to many digits."""
    points = np.linspace(-reach, reach, n)
    return points, stats.norm.pdf(points) / stats.norm.pdf(points).sum()


def by_sums(table: LiftTable, priors: Priors) -> dict[str, Any]:
    """Two baits in two rounds, all else written out: sums over every unknown.

    The unknowns are the coordinates of both spreads, both log rates and both rounds' effects,
    each on an even grid. Likelihood by scipy.stats.nbinom.
    """
    points, weights = even_normal(19, 4.0)
    effects, effect_weights = even_normal(21, 4.2)
    means, sds = table.rate_priors(priors)
    betas = np.linspace((means - 3.3 * sds).min(), (means + 3.3 * sds).max(), 81)
    priors_of = [stats.norm.pdf(betas, m, s) for m, s in zip(means, sds, strict=True)]
    etas = np.linspace(betas[0] - 20.0, betas[-1] + 20.0, 3001)
    both = np.zeros((betas.size, betas.size))
    found: dict[str, list[Any]] = {"spread": [], "round": [], "values": [], "weights": []}
    for z, z_weight in zip(points, weights, strict=True):
        spread = max(stats.halfcauchy.isf(ndtr(-z), scale=priors.dispersion_scale), 1e-3)
        k = spread**-2.0
        likelihood = {
            (bait, level): stats.nbinom.logpmf(
                table.catch[(table.bait == bait) & (table.round_ == level)],
                k, k / (k + np.exp(etas)[:, None]),
            ).sum(axis=1)
            for bait in (0, 1) for level in (0, 1)
        }  # fmt: skip
        for z_round, round_weight in zip(points, weights, strict=True):
            sd = stats.halfnorm.isf(ndtr(-z_round), scale=priors.round_sd)
            eta = betas[:, None] + sd * effects
            parts = {at: np.exp(np.interp(eta, etas, logs)) for at, logs in likelihood.items()}
            level_sums = [(parts[0, r] * effect_weights) @ parts[1, r].T for r in (0, 1)]
            mass = z_weight * round_weight * level_sums[0] * level_sums[1] * np.outer(*priors_of)
            both += mass
            found["spread"].append(spread * mass.sum())
            found["round"].append(sd * mass.sum())
            grown = np.exp(sd * effects)
            mean_effect = np.log((grown[:, None] + grown) / 2)
            own = parts[0, 0][:, :, None] * parts[0, 1][:, None, :]
            other = (parts[1, 0] * priors_of[1][:, None]).T @ parts[1, 1]
            w = own * other * np.outer(effect_weights, effect_weights)
            found["values"].append((betas[:, None, None] + mean_effect).ravel())
            found["weights"].append((z_weight * round_weight * w.T * priors_of[0]).T.ravel())
    total = both.sum()
    both /= total
    differences = betas[:, None] - betas
    fine = (betas[1] - betas[0]) * (np.arange(40) - 19.5) / 40
    mass, edges = np.histogram(
        np.concatenate(found["values"]), bins=1500, weights=np.concatenate(found["weights"])
    )
    return {
        "ratio": quantiles(
            (differences[..., None] + fine).ravel(), np.repeat(both.ravel() / 40, 40)
        ),
        "beats": both[differences > 1e-9].sum() + both[np.abs(differences) < 1e-9].sum() / 2,
        "rate": quantiles((edges[1:] + edges[:-1]) / 2, mass),
        "spread": sum(found["spread"]) / total,
        "round": sum(found["round"]) / total,
    }


@pytest.mark.parametrize(
    ("catch", "controls"), [([8, 3, 1, 0, 14, 6, 2, 5], ()), ([5, 0, 9, 0, 7, 1, 12, 0], (1,))]
)
def test_many_draws_of_two_baits_in_two_rounds_are_as_sums_over_all_unknowns_say(
    catch: list[int], controls: tuple[int, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drawn_rates, "N_FIRST", 2048)
    table = lift_table(
        catch, [24.0] * 8, [0, 0, 1, 1] * 2 if not controls else [0, 1] * 4,
        round_=[1] * 4 + [2] * 4, controls=controls,
    )  # fmt: skip
    ours, theirs = drawn_posterior(table), by_sums(table, INDEPENDENT)
    np.testing.assert_allclose(log_ends(ours.ratio(0, 1)), theirs["ratio"], atol=0.03)
    assert ours.beats[0, 1] == pytest.approx(theirs["beats"], abs=0.002)
    np.testing.assert_allclose(log_ends(ours.rates[0]), theirs["rate"], atol=0.02)
    draws = ours.draws(2000)
    assert draws.spread.mean() == pytest.approx(theirs["spread"], rel=0.06)
    assert draws.round_sd.mean() == pytest.approx(theirs["round"], rel=0.04)


NO_ROUNDS = replace(INDEPENDENT, round_sd=1e-3)


@pytest.mark.parametrize("priors", [NO_ROUNDS, replace(NO_ROUNDS, bait_spread=1.0)])
@pytest.mark.parametrize("case", ["equal soaks", "unequal soaks", "an empty bait", "a control"])
def test_rounds_that_cannot_differ_are_no_rounds(case: str, priors: Priors) -> None:
    # The same rows without rounds, which are integrated on grids.
    rows = changed(rotated(3, 6, 3), place=None)
    if case == "unequal soaks":
        rows = changed(rows, soak_h=[10.0, 24.0, 24.0, 40.0, 60.0, 24.0] * 3)
    if case == "an empty bait":
        rows["catch"] = [c if b else 0 for c, b in zip(rows["catch"], rows["bait"], strict=True)]
    if case == "a control":
        rows["controls"] = (1,)
    ours = drawn_posterior(lift_table(**rows), priors)
    theirs = exact_posterior(lift_table(**changed(rows, round_=None)), priors)
    for a, b in permutations(range(3), 2):
        sd = np.ptp(log_ends(theirs.ratio(a, b))) / 3.92
        np.testing.assert_allclose(
            log_ends(ours.ratio(a, b)), log_ends(theirs.ratio(a, b)), atol=max(0.03, 0.15 * sd)
        )
        assert ours.beats_by(a, b, 2.0) == pytest.approx(theirs.beats_by(a, b, 2.0), abs=0.008)
    for one, other in zip(ours.rates, theirs.rates, strict=True):
        sd = np.ptp(log_ends(other)) / 3.92
        np.testing.assert_allclose(log_ends(one), log_ends(other), atol=max(0.03, 0.15 * sd))
    np.testing.assert_allclose(ours.beats, theirs.beats, atol=0.008)
    np.testing.assert_allclose(ours.best, theirs.best, atol=0.008)


# --- what belongs together ------------------------------------------------------------------


@pytest.mark.parametrize("made", [plain, tripped])
def test_a_rate_is_the_baits_own_times_the_mean_effect_of_places_and_rounds(made: Any) -> None:
    table, posterior = made()
    draws = posterior.draws(3000)
    # Effects of each row are what its mean has beside bait and effort; no matter which of them
    # is of its place, round, trip or bait by trip: here by what rows of one bait share.
    if not table.has_trips:
        effect = draws.row_logs - draws.log_rates[:, table.bait]
        # effect = place + round for every row of a full rotation
        grid = np.zeros((3000, table.n_places, table.n_rounds))
        grid[:, table.place, table.round_] = effect
        place = grid.mean(axis=2)
        rounds = grid.mean(axis=1) - grid.mean(axis=(1, 2))[:, None]
        np.testing.assert_allclose(grid, place[:, :, None] + rounds[:, None, :], atol=1e-9)
        mean = np.log(np.exp(place).mean(axis=1) * np.exp(rounds).mean(axis=1))
        for bait in range(table.n_baits):
            expected = np.quantile(draws.log_rates[:, bait] + mean, [0.025, 0.5, 0.975])
            np.testing.assert_allclose(log_ends(posterior.rates[bait]), expected, atol=0.09)
    else:
        for bait in range(table.n_baits):
            middle = np.median(draws.log_rates[:, bait])
            assert abs(np.log(posterior.rates[bait].median) - middle) < 1.0


def test_ratios_and_chances_turned_round_are_each_others_opposites() -> None:
    _, posterior = plain()
    for a, b in combinations(range(3), 2):
        forward, back = posterior.ratio(a, b), posterior.ratio(b, a)
        np.testing.assert_allclose(log_ends(forward), -log_ends(back)[::-1], atol=0.005)
        assert posterior.beats[a, b] + posterior.beats[b, a] == pytest.approx(1.0)
        assert posterior.beats_by(a, b, 1.0) == pytest.approx(posterior.beats[a, b], abs=1e-12)
        assert posterior.beats_by(a, b, forward.low) == pytest.approx(0.975, abs=0.003)
        assert posterior.beats_by(a, b, forward.high) == pytest.approx(0.025, abs=0.003)
    assert posterior.beats_by(1, 1, 1.0) == 0.5
    assert posterior.beats_by(1, 1, 1.5) == 0.0
    assert posterior.beats_by(1, 1, 0.5) == 1.0
    assert posterior.best.sum() == pytest.approx(1.0)


def test_two_baits_are_best_as_often_as_they_beat_each_other() -> None:
    posterior = drawn_posterior(lift_table(**rotated(2, 4, 3)))
    np.testing.assert_allclose(posterior.best, posterior.beats[[0, 1], [1, 0]], atol=1e-9)


def test_controls_are_never_best() -> None:
    rows = changed(rotated(3, 6, 4), controls=(0,))
    for priors in (INDEPENDENT, SHRINKING):
        posterior = drawn_posterior(lift_table(**rows), priors)
        assert posterior.best[0] == 0.0
        assert posterior.best.sum() == pytest.approx(1.0)
    only = drawn_posterior(lift_table(**changed(rows, controls=(0, 1, 2))))
    assert only.best.tolist() == [0.0, 0.0, 0.0]


def test_spreads_are_those_in_the_model() -> None:
    spreads = plain()[1].spreads
    assert spreads.dispersion_k.low == pytest.approx(spreads.spread.high**-2)
    assert spreads.dispersion_k.median == pytest.approx(spreads.spread.median**-2)
    assert spreads.rounds is not None
    assert spreads.places is not None
    assert spreads.exponent is spreads.trips is spreads.bait_trips is None
    trips = tripped()[1].spreads
    assert None not in (trips.rounds, trips.trips, trips.bait_trips)
    unequal = drawn_posterior(lift_table(**changed(rotated(2, 4, 3), soak_h=[6.0, 24.0, 48.0] * 4)))
    assert unequal.spreads.exponent is not None
    assert 0.0 < unequal.spreads.exponent.low < unequal.spreads.exponent.high < 1.2


def test_the_same_spreads_in_draws_and_intervals() -> None:
    table, posterior = plain()
    draws = posterior.draws(4000)
    for ours, values in (
        (posterior.spreads.spread, draws.spread),
        (posterior.spreads.rounds, draws.round_sd),
        (posterior.spreads.places, draws.place_sd),
    ):
        assert ours is not None
        assert np.quantile(values, 0.5) == pytest.approx(ours.median, rel=0.1, abs=0.03)
        assert np.quantile(values, 0.975) == pytest.approx(ours.high, rel=0.15)
    assert (draws.exponent == 1.0).all()
    assert (draws.trip_sd == 0.0).all()
    assert (draws.bait_trip_sd == 0.0).all()
    assert table.n_trips == 1


# --- the next trip --------------------------------------------------------------------------


@cache
def unlike_trips() -> DrawnPosterior:
    """Bait 1 catches four times as much on three trips, and a third as much on the fourth."""
    rows = over_trips(4)
    times = [((1, 4), (3, 1))[t == "trip 3"] for t in rows["trip"]]
    rows["catch"] = [
        4 * both[bait] + i % 3
        for i, (bait, both) in enumerate(zip(rows["bait"], times, strict=True))
    ]
    return drawn_posterior(lift_table(**rows))


def test_the_next_trip_is_as_its_draws_say() -> None:
    posterior = unlike_trips()
    draws = posterior.draws(6000)
    own = draws.bait_trip_sd[:, None] * np.random.default_rng(9).normal(size=(6000, 2))
    above = draws.log_rates[:, 1] + own[:, 1] > draws.log_rates[:, 0] + own[:, 0]
    assert posterior.next_trip(1, 0) == pytest.approx(above.mean(), abs=0.02)
    assert posterior.next_trip(0, 1) + posterior.next_trip(1, 0) == pytest.approx(1.0)
    # The draws would show it if trips were less unlike each other than that.
    half = draws.log_rates[:, 1] + own[:, 1] / 2 > draws.log_rates[:, 0] + own[:, 0] / 2
    assert half.mean() > above.mean() + 0.025


def test_the_next_trip_is_less_sure_than_all_trips_together() -> None:
    rows = over_trips(4)
    rows["catch"] = [30 + c if b else c for c, b in zip(rows["catch"], rows["bait"], strict=True)]
    posterior = drawn_posterior(lift_table(**rows))
    assert 0.6 < posterior.next_trip(1, 0) < posterior.beats[1, 0]


def test_without_trips_the_next_is_as_this() -> None:
    _, posterior = plain()
    assert posterior.next_trip(0, 1) == pytest.approx(posterior.beats[0, 1], abs=1e-9)


# --- the same digits ------------------------------------------------------------------------


def digits(rows: Rows) -> list[float]:
    posterior = drawn_posterior(lift_table(**rows))
    ratio = posterior.ratio(0, 1)
    return [
        ratio.low, ratio.median, ratio.high, posterior.best[0], posterior.beats[0, 1],
        posterior.effective_share, posterior.rates[0].high, posterior.spreads.spread.high,
    ]  # fmt: skip


@settings(max_examples=10, derandomize=True, deadline=None)
@given(st.randoms(use_true_random=False), st.booleans())
def test_any_order_of_the_rows_gives_the_same_digits(random: Any, has_trips: bool) -> None:
    rows = over_trips(2, n_places=2) if has_trips else rotated(2, 4, 2)
    columns = list(zip(*rows.values(), strict=True))
    random.shuffle(columns)
    shuffled = {name: list(c) for name, c in zip(rows, zip(*columns, strict=True), strict=True)}
    assert digits(shuffled) == digits(rows)


def test_other_names_in_the_same_order_give_the_same_digits() -> None:
    rows = rotated(2, 4, 3)
    named = changed(
        rows,
        place=["abcd"[p] for p in rows["place"]],
        round_=[f"2026-07-{r + 1:02}" for r in rows["round_"]],
    )
    assert digits(named) == digits(rows)


def test_draws_are_the_same_every_time() -> None:
    table, posterior = plain()
    again = drawn_posterior(table)
    for name, values in vars(posterior.draws(50)).items():
        np.testing.assert_array_equal(values, getattr(again.draws(50), name))


# --- nodes ----------------------------------------------------------------------------------


def test_nodes_are_doubled_until_the_best_is_settled(monkeypatch: pytest.MonkeyPatch) -> None:
    table = lift_table(**rotated(3, 6, 4))
    counts = []
    for moved in (1.0, 0.0):
        monkeypatch.setattr(drawn_rates, "MOVED", moved)
        monkeypatch.setattr(drawn_rates, "N_MOST", 1024)
        counts.append(drawn_posterior(table).sample.z.shape[1])
    assert counts == [512, 1024]


def test_nodes_that_hardly_count_are_drawn_anew_about_what_they_found(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    table = lift_table(**HARD["a million or nothing by round"])
    again = drawn_posterior(table, SHRINKING)
    monkeypatch.setattr(drawn_rates, "LEAST_SHARE", 1e-9)
    once = drawn_posterior(table, SHRINKING)
    assert once.effective_share < 0.2
    assert again.effective_share > 2 * once.effective_share
    assert not np.array_equal(once.proposal.middle, again.proposal.middle)


def test_nodes_that_count_are_drawn_once() -> None:
    table, posterior = plain()
    space = hyper_space(table, make_design(table), INDEPENDENT)
    np.testing.assert_array_equal(posterior.proposal.middle, proposal_about_mode(space).middle)


def test_very_many_columns_keep_the_draws_few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawn_rates, "MOVED", 0.0)
    monkeypatch.setattr(drawn_rates, "_MOST_CELLS", 1100 * 64 * 7)
    assert drawn_posterior(lift_table(**rotated(3, 6, 4))).sample.z.shape[1] == 1024


# --- hard cases -----------------------------------------------------------------------------


def one_row_of_the_last_bait() -> Rows:
    rows = rotated(3, 6, 3)
    return changed(rows, bait=[3 if i == 7 else b for i, b in enumerate(rows["bait"])])


def with_row(rows: Rows, **row: Any) -> Rows:
    return {name: [*values, row[name]] for name, values in rows.items()}


HARD: dict[str, Rows] = {
    "nothing caught": changed(rotated(3, 6, 3), catch=[0] * 18),
    "an empty bait": changed(
        rotated(3, 6, 3), catch=[[0, 5, 3][b] for b in rotated(3, 6, 3)["bait"]]
    ),
    "one bait": changed(rotated(3, 6, 3), bait=[0] * 18),
    "a bait with one row": one_row_of_the_last_bait(),
    "a round with one row": with_row(
        rotated(3, 6, 3), catch=4, soak_h=24.0, bait=0, place=0, round_=9
    ),
    "one of 5,000": changed(rotated(3, 6, 3), catch=[5000] + [3, 0, 4, 1, 7] * 3 + [2, 6]),
    "one of a million": changed(rotated(3, 6, 3), catch=[1_000_000] + [3] * 17),
    "a million everywhere": changed(rotated(3, 6, 3), catch=[1_000_000] * 18),
    "a million or nothing by bait": changed(
        rotated(2, 6, 3), catch=[0 if b else 1_000_000 for b in rotated(2, 6, 3)["bait"]]
    ),
    "a million or nothing by place": changed(rotated(2, 6, 3), catch=[1_000_000, 0] * 9),
    "a million or nothing by round": changed(
        rotated(2, 6, 2), catch=[1_000_000] * 6 + [0] * 6
    ),
    "no patchier than chance": changed(rotated(3, 6, 3), catch=[5] * 18),
    "far less patchy than chance": changed(rotated(3, 6, 3), catch=[5000, 5001, 4999] * 6),
    "soaks from an hour to nine days": changed(
        rotated(3, 6, 3), soak_h=[1.0, 24.0, 216.0, 48.0, 6.0, 96.0] * 3
    ),
    "soaks that differ by bait": changed(
        rotated(2, 6, 3), soak_h=[200.0 if b else 1.0 for b in rotated(2, 6, 3)["bait"]]
    ),
    "a thousandth counted": changed(rotated(3, 6, 3), fraction=[1.0, 0.001, 0.5] * 6),
    "a place twice in a round": with_row(
        rotated(3, 6, 3), catch=4, soak_h=24.0, bait=2, place=0, round_=0
    ),
    "one place in two rounds of two": {
        "catch": [3, 5, 0, 8], "soak_h": [24.0] * 4, "bait": [0, 1, 1, 0],
        "place": [0, 0, 0, 0], "round_": [1, 1, 2, 2],
    },
    "one bait at one place, two lifts each": {
        "catch": [3, 5, 1, 0], "soak_h": [24.0] * 4, "bait": [0] * 4,
        "place": [0, 0, 1, 1], "round_": [1, 2, 1, 2],
    },
    "two baits on two places that never change": {
        "catch": [9, 2, 7, 4], "soak_h": [24.0] * 4, "bait": [0, 1, 0, 1],
        "place": [0, 1, 0, 1], "round_": [1, 1, 2, 2],
    },
    "sixty rounds on four places": rotated(2, 4, 60),
    "only controls": changed(rotated(3, 6, 3), controls=(0, 1, 2)),
    "two trips": over_trips(2),
    "five trips": over_trips(5, n_baits=3, n_places=3),
    "trips of one round": over_trips(3, n_rounds=1),
    "a bait on one trip only": changed(
        over_trips(3), bait=[2 if i in (0, 5) else i % 2 for i in range(24)]
    ),
    "an empty trip": changed(over_trips(3), catch=[0] * 8 + [5, 3] * 8),
}  # fmt: skip


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
@pytest.mark.parametrize("name", HARD)
def test_hard_cases_give_ordered_intervals_and_chances(name: str, priors: Priors) -> None:
    table = lift_table(**HARD[name])
    assert table.is_repeated
    posterior = drawn_posterior(table, priors)
    n_baits = table.n_baits
    assert 0.1 < posterior.effective_share <= 1.0  # no warning, however wild the table
    for interval in (
        *posterior.rates, *(posterior.ratio(a, b) for a, b in permutations(range(n_baits), 2)),
    ):  # fmt: skip
        assert 0.0 < interval.low < interval.median < interval.high < np.inf
    for interval in vars(posterior.spreads).values():
        if interval is not None:
            assert 0.0 <= interval.low <= interval.median <= interval.high < np.inf
    assert posterior.beats.shape == (n_baits, n_baits)
    assert ((posterior.beats >= 0.0) & (posterior.beats <= 1.0)).all()
    np.testing.assert_allclose(posterior.beats + posterior.beats.T, 1.0, atol=1e-12)
    assert ((posterior.best >= 0.0) & (posterior.best <= 1.0)).all()
    draws = posterior.draws(40)
    for values in vars(draws).values():
        assert np.isfinite(values).all()
    assert (draws.spread > 0).all()


def test_an_empty_bait_is_beaten_and_its_rate_still_above_nothing() -> None:
    posterior = drawn_posterior(lift_table(**HARD["an empty bait"]))
    assert posterior.beats[1, 0] > 0.99
    assert posterior.rates[0].high < posterior.rates[1].median
    assert posterior.rates[0].low > 0.0


def test_a_million_against_nothing_is_no_open_question() -> None:
    for priors in (INDEPENDENT, SHRINKING):
        posterior = drawn_posterior(lift_table(**HARD["a million or nothing by bait"]), priors)
        assert posterior.beats[0, 1] > 0.999
        assert posterior.best[0] > 0.999


def test_alike_baits_are_alike() -> None:
    posterior = drawn_posterior(lift_table(**HARD["nothing caught"]))
    np.testing.assert_allclose(posterior.best, 1 / 3, atol=0.02)
    np.testing.assert_allclose(posterior.beats, 0.5, atol=0.02)


def test_usual_tables_keep_a_good_share_of_their_draws() -> None:
    for rows in (rotated(3, 6, 4), rotated(6, 12, 4), over_trips(3), over_trips(2)):
        assert drawn_posterior(lift_table(**rows)).effective_share > 0.25


@pytest.mark.parametrize("size", [(6, 1000, 6), (4, 60, 60)], ids=["places", "rounds too"])
def test_thousands_of_rows_need_little_memory(
    size: tuple[int, int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    if size[2] > 6:  # as if its chance of being best did not settle
        monkeypatch.setattr(drawn_rates, "MOVED", 0.0)
        monkeypatch.setattr(drawn_rates, "N_MOST", 1024)
    tracemalloc.start()
    try:
        posterior = drawn_posterior(lift_table(**rotated(*size, k=1.0)))
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 300e6
    ratio = posterior.ratio(0, 1)
    assert ratio.high / ratio.low < 1.6
    assert posterior.effective_share > 0.1


# --- how near ---------------------------------------------------------------------------------


ACCURACY = {
    "three baits, rotated": rotated(3, 6, 4),
    "six baits, ten traps, four nights": rotated(6, 60, 4, k=1.0),
    "two baits, two rounds": rotated(2, 4, 2),
    "nothing caught": changed(rotated(3, 6, 3), catch=[0] * 18),
    "an empty bait": HARD["an empty bait"],
    "soaks from an hour to nine days": HARD["soaks from an hour to nine days"],
    "three trips": over_trips(3, n_baits=3, n_places=6),
    "a control": changed(rotated(3, 6, 4, seed=3), controls=(2,)),
}


@pytest.mark.study
@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
@pytest.mark.parametrize("name", ACCURACY)
def test_few_nodes_are_nearly_as_good_as_thousands(
    name: str, priors: Priors, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = lift_table(**ACCURACY[name])
    ours = drawn_posterior(table, priors)
    for limit in ("N_FIRST", "N_MOST"):
        monkeypatch.setattr(drawn_rates, limit, 16_384)
    monkeypatch.setattr(drawn_rates, "_nodes_at_first", lambda _: 16_384)
    monkeypatch.setattr(drawn_rates, "_MOST_CELLS", 1 << 34)
    theirs = drawn_posterior(table, priors)
    assert theirs.sample.z.shape[1] == 16_384

    def errors(ours: Interval, theirs: Interval) -> Array:
        """In standard deviations of the log."""
        width = np.ptp(log_ends(theirs)) / 3.92
        return np.abs(log_ends(ours) - log_ends(theirs)) / width

    ratios = np.array([
        errors(ours.ratio(a, b), theirs.ratio(a, b))
        for a, b in combinations(range(table.n_baits), 2)
    ])  # fmt: skip
    rates = np.array([errors(a, b) for a, b in zip(ours.rates, theirs.rates, strict=True)])
    beats = np.abs(ours.beats - theirs.beats)
    best = np.abs(ours.best - theirs.best)
    found = {
        "nodes": ours.sample.z.shape[1], "ratio ends, mean": ratios.mean(),
        "ratio ends, worst": ratios.max(), "rate ends, mean": rates.mean(),
        "rate ends, worst": rates.max(), "beats": beats.max(), "best": best.max(),
        # Of the chances that decide a winner.
        "beats beyond .95": beats[theirs.beats > 0.95].max(initial=0.0),
    }  # fmt: skip
    print(name, {what: round(float(value), 4) for what, value in found.items()})
    assert ratios.mean() < 0.05
    assert ratios.max() < 0.2
    assert rates.mean() < 0.05
    assert rates.max() < 0.2
    assert beats.max() < 0.015
    assert best.max() < 0.015
    assert found["beats beyond .95"] < 0.004

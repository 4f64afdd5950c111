"""Laplace's approximation against a log posterior written out with scipy.stats."""

from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import approx_fprime, minimize

from trapline.science.bait_model import INDEPENDENT, SHRINKING, LiftTable, Priors, lift_table
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.latent_modes import Modes, find_modes, make_design, recentred

Array = np.ndarray


def rotated(catch: list[int] | None = None) -> LiftTable:
    """Three baits on six places over three rounds, one soak half of the others."""
    rng = np.random.default_rng(11)
    n = 18
    return lift_table(
        catch=rng.negative_binomial(1.5, 0.2, n).tolist() if catch is None else catch,
        soak_h=[24.0] * (n - 1) + [12.0],
        bait=[(i + r) % 3 for r in range(3) for i in range(6)],
        fraction=[1.0] * (n - 2) + [0.5, 0.25],
        place=list(range(6)) * 3,
        round_=[r for r in range(3) for _ in range(6)],
    )


def over_trips() -> LiftTable:
    rng = np.random.default_rng(12)
    return lift_table(
        catch=rng.negative_binomial(1.0, 0.2, 24).tolist(),
        soak_h=[24.0] * 24,
        bait=[0, 1, 1, 0, 0, 1, 0, 1] * 3,
        place=[0, 1, 2, 3] * 6,
        round_=[0, 0, 0, 0, 1, 1, 1, 1] * 3,
        trip=["a"] * 8 + ["b"] * 8 + ["c"] * 8,
        controls=[1],
    )


TABLES = {"rotated": rotated, "trips": over_trips}


def space_of(table: LiftTable, priors: Priors = INDEPENDENT) -> HyperSpace:
    return hyper_space(table, make_design(table), priors)


def modes_at(space: HyperSpace, z: Array, close: float = 1e-9) -> Modes:
    hypers = space.hypers(z)
    start = (hypers.centre, np.zeros((space.design.inner.n_levels, 1)))
    return find_modes(space.design, hypers, start, close=close)


def log_posterior(space: HyperSpace, z: Array, priors: Priors, outer: Array, inner: Array) -> float:
    """Log of likelihood times priors, every constant in it, at one point; from the table itself."""
    table, design = space.table, space.design
    one = z[:, None]

    def value(name: str) -> float:
        return float(space.values(name, one)[0])

    effects = {design.inner.name: inner}
    first = table.n_baits
    for group in design.groups:
        effects[group.name] = outer[first : first + group.n_levels]
        first += group.n_levels
    logs = value("exponent") * table.log_effort + table.log_fraction + outer[table.bait]
    for name, levels in (("place", table.place), ("round", table.round_), ("trip", table.trip)):
        if name in effects:
            logs = logs + effects[name][levels]
    if "bait by trip" in effects:
        pairs = sorted(set(zip(table.bait.tolist(), table.trip.tolist(), strict=True)))
        at = [pairs.index(p) for p in zip(table.bait.tolist(), table.trip.tolist(), strict=True)]
        logs = logs + effects["bait by trip"][at]
    k = value("spread") ** -2
    total = stats.nbinom.logpmf(table.catch, k, k / (k + np.exp(logs))).sum()
    total += sum(stats.norm.logpdf(e, 0, value(name)).sum() for name, e in effects.items())
    means, sds = table.rate_priors(priors)
    covariance = np.diag(sds**2)
    if "bait spread" in space.names:
        rivals = table.rivals
        covariance[np.ix_(rivals, rivals)] = priors.rate_sd**2
        covariance[rivals, rivals] += value("bait spread") ** 2
    baits = outer[: table.n_baits]
    return float(total + stats.multivariate_normal(means, covariance).logpdf(baits))


def gradient_and_hessian(
    space: HyperSpace, z: Array, priors: Priors, x: Array
) -> tuple[Array, Array]:
    """Central differences of the log posterior in all columns."""
    n_outer, step = space.design.n_outer, 1e-4

    def at(x: Array) -> float:
        return log_posterior(space, z, priors, x[:n_outer], x[n_outer:])

    size = x.size
    eye = step * np.eye(size)
    slope = np.array([(at(x + e) - at(x - e)) / (2 * step) for e in eye])
    bend = np.zeros((size, size))
    for i in range(size):
        for j in range(i + 1):
            bend[i, j] = bend[j, i] = (
                at(x + eye[i] + eye[j]) - at(x + eye[i] - eye[j])
                - at(x - eye[i] + eye[j]) + at(x - eye[i] - eye[j])
            ) / (4 * step**2)  # fmt: skip
    return slope, bend


def some_z(space: HyperSpace, n: int = 3) -> Array:
    return np.random.default_rng(1).normal(0.2, 0.7, size=(len(space.names), n))


# --- mode, curvature, evidence --------------------------------------------------------------


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
@pytest.mark.parametrize("name", TABLES)
def test_the_log_posterior_is_level_at_the_mode(name: str, priors: Priors) -> None:
    space = space_of(TABLES[name](), priors)
    z = some_z(space)
    modes = modes_at(space, z)
    for b in range(z.shape[1]):
        x = np.concatenate([modes.outer[:, b], modes.inner[:, b]])
        n_outer = space.design.n_outer
        for i in range(x.size):
            step = np.zeros(x.size)
            step[i] = 1e-4
            up, down = (
                log_posterior(space, z[:, b], priors, (x + s)[:n_outer], (x + s)[n_outer:])
                for s in (step, -step)
            )
            assert abs(up - down) / 2e-4 < 2e-5


@pytest.mark.parametrize("priors", [INDEPENDENT, SHRINKING], ids=["independent", "shrinking"])
@pytest.mark.parametrize("name", TABLES)
def test_the_schur_complement_is_that_of_the_whole_hessian(name: str, priors: Priors) -> None:
    space = space_of(TABLES[name](), priors)
    z = some_z(space, 1)
    modes = modes_at(space, z)
    n_outer = space.design.n_outer
    x = np.concatenate([modes.outer[:, 0], modes.inner[:, 0]])
    _, bend = gradient_and_hessian(space, z[:, 0], priors, x)
    bend = -bend
    inner, across = bend[n_outer:, n_outer:], bend[n_outer:, :n_outer]
    np.testing.assert_allclose(modes.inner_precision[:, 0], np.diag(inner), rtol=1e-4, atol=1e-4)
    response = np.linalg.solve(inner, across)
    np.testing.assert_allclose(modes.response[0], response, atol=2e-4)
    schur = bend[:n_outer, :n_outer] - across.T @ response
    np.testing.assert_allclose(modes.chol[0] @ modes.chol[0].T, schur, rtol=1e-3, atol=2e-3)


@pytest.mark.parametrize("name", TABLES)
def test_evidence_differs_between_nodes_as_laplaces_formula_says(name: str) -> None:
    # Tierney and Kadane (1986), J. Am. Stat. Assoc. 81, 82-86: height times the volume of the
    # normal at the mode; here of the log posterior above and its numerical Hessian.
    space = space_of(TABLES[name]())
    z = some_z(space, 2)
    modes = modes_at(space, z)
    n_outer = space.design.n_outer
    theirs = []
    for b in range(2):
        x = np.concatenate([modes.outer[:, b], modes.inner[:, b]])
        _, bend = gradient_and_hessian(space, z[:, b], INDEPENDENT, x)
        height = log_posterior(space, z[:, b], INDEPENDENT, x[:n_outer], x[n_outer:])
        theirs.append(height - np.linalg.slogdet(-bend)[1] / 2)
    ours = modes.log_evidence[1] - modes.log_evidence[0]
    assert ours == pytest.approx(theirs[1] - theirs[0], abs=1e-4)


def test_evidence_of_many_animals_is_the_integral_itself() -> None:
    # One bait in two rounds, so many animals that Laplace's approximation is next to exact:
    # against sums on fine grids of bait and of each round's effect.
    table = lift_table([40, 60, 55, 20, 35, 31], [24.0] * 6, [0] * 6, round_=[1, 1, 1, 2, 2, 2])
    space = space_of(table)
    z = np.array([[-1.0, -1.0], [-0.8, 0.3]])
    modes = modes_at(space, z)
    baits = np.linspace(-3.0, 10.0, 1301)
    logs = []
    for b in range(2):
        k = space.values("spread", z[:, b : b + 1])[0] ** -2
        sd = space.values("round", z[:, b : b + 1])[0]
        effects = np.linspace(-7 * sd, 7 * sd, 401)
        mean = np.exp(baits[:, None] + effects)[:, :, None]
        density = stats.norm.pdf(baits, table.centre(INDEPENDENT), 1.5)
        for level in (0, 1):
            rows = table.catch[table.round_ == level]
            fit = stats.nbinom.logpmf(rows, k, k / (k + mean)).sum(axis=2)
            density *= np.trapezoid(np.exp(fit) * stats.norm.pdf(effects, 0, sd), effects, axis=1)
        logs.append(np.log(np.trapezoid(density, baits)))
    ours = modes.log_evidence[1] - modes.log_evidence[0]
    assert ours == pytest.approx(logs[1] - logs[0], abs=0.01)


def test_recentred_outer_columns_are_where_their_own_density_is_highest() -> None:
    # Forty places with two lifts of few animals each: integrated over fine grids, the density of
    # bait and rounds has its top away from the joint mode.
    rng = np.random.default_rng(13)
    mean = 1.5 * np.exp(rng.normal(0, 1.0, 40))
    table = lift_table(
        catch=rng.poisson(np.tile(mean, 2)).tolist(), soak_h=[24.0] * 80,
        bait=[0, 1] * 20 + [1, 0] * 20, place=list(range(40)) * 2, round_=[0] * 40 + [1] * 40,
    )  # fmt: skip
    space = space_of(table)
    z = np.array([[0.0], [0.9], [0.0]])
    hypers = space.hypers(z)
    modes = modes_at(space, z)
    found = recentred(space.design, hypers, modes)
    k, sd = hypers.spread[0] ** -2, hypers.inner_sd[0]
    effects = np.linspace(-6 * sd, 6 * sd, 241)

    def fall(outer: Array) -> float:
        logs = (outer[table.bait] + outer[2:][table.round_])[:, None] + effects
        fit = stats.nbinom.logpmf(table.catch[:, None], k, k / (k + np.exp(logs)))
        at_place = np.zeros((40, effects.size))
        np.add.at(at_place, table.place, fit)
        at_place += stats.norm.logpdf(effects, 0, sd)
        away = outer - hypers.centre[:, 0]
        total = np.log(np.trapezoid(np.exp(at_place), effects, axis=1)).sum()
        return float(away @ hypers.precision[0] @ away / 2 - total)

    top = minimize(fall, found.outer[:, 0], tol=1e-8).x
    errors = [np.abs(one.outer[:, 0] - top).max() for one in (modes, found)]
    assert errors[0] > 0.04
    assert errors[1] < 0.2 * errors[0]
    # The inner modes and the height are those of the new place.
    expected = modes.inner[:, 0] - modes.response[0] @ (found.outer - modes.outer)[:, 0]
    np.testing.assert_allclose(found.inner[:, 0], expected)
    rise = found.log_evidence[0] - modes.log_evidence[0]
    slopes = approx_fprime(modes.outer[:, 0], fall, 1e-6)
    schur = modes.chol[0] @ modes.chol[0].T
    assert rise == pytest.approx(slopes @ np.linalg.solve(schur, slopes) / 2, rel=0.1)


# --- a batch --------------------------------------------------------------------------------


def test_each_of_a_batch_is_what_it_is_alone() -> None:
    space = space_of(rotated())
    z = some_z(space, 5)
    together = modes_at(space, z)
    for b in range(5):
        alone = modes_at(space, z[:, b : b + 1])
        np.testing.assert_allclose(together.outer[:, b], alone.outer[:, 0], atol=1e-8)
        np.testing.assert_allclose(together.log_evidence[b], alone.log_evidence[0], atol=1e-8)


def test_other_catches_in_a_batch_are_other_tables() -> None:
    space = space_of(rotated())
    z = some_z(space, 2)
    hypers = space.hypers(z)
    catches = np.stack([np.arange(18.0), np.arange(18.0)[::-1]], axis=1)
    start = (hypers.centre, np.zeros((space.design.inner.n_levels, 1)))
    both = find_modes(space.design, hypers, start, catches, close=1e-9)
    for b in range(2):
        one = hypers.take(np.array([b]))
        alone = find_modes(space.design, one, start, catches[:, b : b + 1], close=1e-9)
        np.testing.assert_allclose(both.outer[:, b], alone.outer[:, 0], atol=1e-8)
        np.testing.assert_allclose(both.log_evidence[b], alone.log_evidence[0], atol=1e-7)
        np.testing.assert_allclose(both.count_terms[b], alone.count_terms[0], atol=1e-7)


def test_batches_are_joined_and_taken_apart() -> None:
    space = space_of(rotated())
    z = some_z(space, 4)
    whole = modes_at(space, z)
    index = np.array([2, 0])
    taken = whole.take(index)
    joined = whole.take(np.array([0, 1])).joined(whole.take(np.array([2, 3])))
    for name in ("outer", "inner", "inner_precision"):
        np.testing.assert_array_equal(getattr(joined, name), getattr(whole, name))
        np.testing.assert_array_equal(getattr(taken, name), getattr(whole, name)[:, index])
    for name in ("chol", "response", "log_evidence", "count_terms"):
        np.testing.assert_array_equal(getattr(joined, name), getattr(whole, name))
        np.testing.assert_array_equal(getattr(taken, name), getattr(whole, name)[index])


# --- far from anything ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "catch",
    [[0] * 18, [1_000_000] * 18, [0] * 17 + [1_000_000], [1_000_000, 0] * 9, [5000] + [3] * 17],
    ids=["none", "all a million", "one a million", "every other a million", "one of 5,000"],
)
@pytest.mark.parametrize("far", [-8.0, 0.0, 4.0])
def test_newtons_method_arrives_from_anywhere(catch: list[int], far: float) -> None:
    space = space_of(rotated(catch))
    z = np.full((len(space.names), 1), far)
    hypers = space.hypers(z)
    places = space.design.inner.n_levels
    found = []
    for outer, inner in ((0.0, 0.0), (14.0, 3.0), (-12.0, -5.0)):
        start = (np.full((space.design.n_outer, 1), outer), np.full((places, 1), inner))
        modes = find_modes(space.design, hypers, start, close=1e-7)
        found.append(np.concatenate([modes.outer, modes.inner])[:, 0])
        assert np.isfinite(modes.log_evidence).all()
    for one, other in pairwise(found):
        np.testing.assert_allclose(one, other, atol=1e-4)


# --- the design -----------------------------------------------------------------------------


def test_the_factor_with_most_levels_is_eliminated() -> None:
    assert make_design(rotated()).inner.name == "place"
    assert make_design(over_trips()).inner.name == "round"


def test_the_rows_of_a_design_are_those_of_the_table() -> None:
    table = over_trips()
    design = make_design(table)
    np.testing.assert_array_equal(design.catch[:, 0], table.catch[design.order])
    np.testing.assert_array_equal(design.inner.levels, table.round_[design.order])
    columns = design.columns.toarray()
    np.testing.assert_array_equal(columns[:, :2].argmax(axis=1), table.bait[design.order])
    assert (columns.sum(axis=1) == 4).all()  # bait, place, trip, bait by trip
    np.testing.assert_array_equal(design.effects.toarray().T, design.sums.toarray())


def test_hundreds_of_rounds_and_places_need_no_square_of_their_number() -> None:
    n = 200
    table = lift_table(
        catch=[(3 * i) % 7 for i in range(4 * n)],
        soak_h=[24.0] * (4 * n),
        bait=[i % 2 for i in range(4 * n)],
        place=[i % n for i in range(4 * n)],
        round_=[(7 * i) % (n - 1) for i in range(4 * n)],
    )
    design = make_design(table)
    assert design.n_outer == 2 + n - 1
    assert design.products.nnz < 12 * 4 * n
    space = space_of(table)
    modes = modes_at(space, np.zeros((3, 2)), close=1e-6)
    assert np.isfinite(modes.log_evidence).all()

"""Where the hyperparameters are drawn: about their mode, as wide as their density."""

import numpy as np
import pytest

from trapline.science.bait_model import INDEPENDENT, SHRINKING, Priors, lift_table
from trapline.science.hyper_proposal import Proposal, proposal_about_mode
from trapline.science.hyper_space import HyperSpace, hyper_space
from trapline.science.latent_modes import find_modes, make_design

Array = np.ndarray


def rotated_space(
    priors: Priors = INDEPENDENT, catch: list[int] | None = None, soak_h: list[float] | None = None
) -> HyperSpace:
    n = 48
    rng = np.random.default_rng(21)
    mean = 6.0 * np.exp(rng.normal(0, 0.6, 12)[np.arange(n) % 12])
    table = lift_table(
        catch=rng.negative_binomial(2.0, 2.0 / (2.0 + mean)).tolist() if catch is None else catch,
        soak_h=[24.0] * n if soak_h is None else soak_h,
        bait=[(i + r) % 3 for r in range(4) for i in range(12)],
        place=list(range(12)) * 4,
        round_=[r for r in range(4) for _ in range(12)],
    )
    return hyper_space(table, make_design(table), priors)


def log_density(space: HyperSpace, z: Array) -> Array:
    """Laplace's log evidence and the normal prior of the coordinates, shape (B,)."""
    hypers = space.hypers(z)
    start = (hypers.centre, np.zeros((space.design.inner.n_levels, 1)))
    modes = find_modes(space.design, hypers, start, close=1e-8)
    return np.asarray(modes.log_evidence - (z**2).sum(axis=0) / 2)


SPACES = {
    "rotated": rotated_space(),
    "shrinking": rotated_space(SHRINKING),
    "unequal soaks": rotated_space(soak_h=[6.0, 24.0, 48.0, 20.0] * 12),
    "nothing caught": rotated_space(catch=[0] * 48),
    "under-dispersed": rotated_space(catch=[5] * 48),
    "one of 5,000": rotated_space(catch=[5000] + [4] * 47),
}


@pytest.fixture(scope="module", params=SPACES)
def found(request: pytest.FixtureRequest) -> tuple[HyperSpace, Proposal]:
    space = SPACES[request.param]
    return space, proposal_about_mode(space)


def test_no_place_close_by_is_higher_than_the_middle(found: tuple[HyperSpace, Proposal]) -> None:
    space, proposal = found
    n = len(space.names)
    steps = np.concatenate([np.zeros((1, n)), 0.7 * np.eye(n), -0.7 * np.eye(n)])
    logs = log_density(space, proposal.middle[:, None] + proposal.scale @ steps.T)
    assert logs[0] == logs.max()


def test_one_scale_away_the_density_has_fallen_as_a_normals_would(
    found: tuple[HyperSpace, Proposal],
) -> None:
    space, proposal = found
    n = len(space.names)
    middle = log_density(space, proposal.middle[:, None])
    for side in (-1.0, 1.0):
        column = 0 if side < 0 else 1
        far = side * np.diag(proposal.reach[:, column]) / 1.2  # wider on purpose
        falls = middle - log_density(space, proposal.middle[:, None] + proposal.scale @ far)
        # Never much less far than the fall to 1/sqrt(e), which is .5; the prior holds it back.
        assert falls.min() > 0.1
        assert falls.max() < 1.5
    assert proposal.scale.shape == (n, n)


def test_sides_reach_less_than_the_prior(found: tuple[HyperSpace, Proposal]) -> None:
    _, proposal = found
    lengths = np.sqrt((proposal.scale**2).sum(axis=0))[:, None] * proposal.reach
    assert (lengths <= 1.2 * 1.5 * 1.01).all() or (proposal.reach <= 1.21).all()
    assert (proposal.reach >= 0.6).all()


def test_modes_to_begin_from_are_close_to_the_modes(found: tuple[HyperSpace, Proposal]) -> None:
    space, proposal = found
    rng = np.random.default_rng(3)
    z = proposal.middle[:, None] + proposal.scale @ rng.normal(size=(len(space.names), 40))
    hypers = space.hypers(z)
    modes = find_modes(space.design, hypers, proposal.start_at(z), close=1e-8)
    outer, inner = proposal.start_at(z)
    away = np.concatenate([outer - modes.outer, inner - modes.inner])
    from_middle = np.concatenate([
        modes.outer - proposal.ways[: space.design.n_outer, :1],
        modes.inner - proposal.ways[space.design.n_outer :, :1],
    ])  # fmt: skip
    # Half as far off, on average, as the middle's own would be, or a tenth of a log.
    assert (away**2).mean() < max(0.25 * (from_middle**2).mean(), 0.01)
    at_middle = proposal.start_at(proposal.middle[:, None])
    exact = find_modes(space.design, space.hypers(proposal.middle[:, None]), at_middle, close=1e-8)
    np.testing.assert_allclose(at_middle[0], exact.outer, atol=0.02)
    np.testing.assert_allclose(at_middle[1], exact.inner, atol=0.02)

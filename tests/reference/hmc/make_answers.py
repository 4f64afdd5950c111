"""Answers of a general-purpose sampler to the model of the baits, kept in answers.json.

The model of `trapline.science.bait_model` is written out here a second time, likelihood and
priors, in numpyro (Phan, Pradhan & Jankowiak 2019, arXiv:1912.11554), and integrated by the
No-U-Turn sampler (Hoffman & Gelman 2014, JMLR 15, 1593-1623). Only the table of the lifts and
the log rate about which the priors stand come from the package.

Run by name, from the top of the project, in an environment of its own; no test needs it:

    python3 -m venv ../hmc && ../hmc/bin/pip install numpyro
    PYTHONPATH=. nice ../hmc/bin/python tests/reference/hmc/make_answers.py [data set ...]

One processor, about twenty-five minutes for all; data sets not named keep their answers. Seeds are
fixed; other versions of the libraries draw other numbers, within the errors given.
"""

import json
import os
import sys
import time
from collections.abc import Callable
from itertools import combinations
from pathlib import Path
from typing import Any

# Read when jax loads: one thread.
os.environ["XLA_FLAGS"] = "--xla_cpu_multi_thread_eigen=false"
os.environ["OMP_NUM_THREADS"] = "1"

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
import numpyro.distributions as dist
import scipy.special
import scipy.stats
from data_sets import DATA_SETS
from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
from numpyro.infer import MCMC, NUTS

from trapline.science.bait_model import INDEPENDENT, LiftTable, lift_table

HERE = Path(__file__).parent
ANSWERS = HERE / "answers.json"

SEED = 20_240_611
CHAINS = 4
WARM_UP = 2_000
DRAWS = 16_000  # of each chain
DRAWS_OF_ONE_ROUND = 64_000  # a model without effects of rounds and places is quick
TARGET_ACCEPT = 0.99
BATCHES = 20  # of each chain, for the Monte Carlo errors

TAILS = (0.05, 0.95)  # whose effective sizes are looked at


# --- the model ------------------------------------------------------------------------------


def effects(name: str, shape: int | tuple[int, ...], scale: float) -> Any:
    """Normal effects about 0, shape `shape`, whose spread is half-normal."""
    spread = numpyro.sample(f"{name}_sd", dist.HalfNormal(scale))
    standard = numpyro.sample(f"{name}_z", dist.Normal(0, 1).expand(shape).to_event())
    return numpyro.deterministic(f"{name}_effect", spread * standard)


def log_rates(table: LiftTable, shrinking: bool) -> Any:
    centre = table.centre(INDEPENDENT)
    rates = jnp.zeros(table.n_baits)
    rivals, controls = np.array(table.rivals), np.array(sorted(table.controls), dtype=int)
    if shrinking:
        middle = numpyro.sample("middle", dist.Normal(centre, 1.5))
        apart = numpyro.sample("apart", dist.HalfNormal(1.0))
        z = numpyro.sample("rival_z", dist.Normal(0, 1).expand([rivals.size]).to_event())
        rates = rates.at[rivals].set(middle + apart * z)
    else:
        prior = dist.Normal(centre, 1.5).expand([rivals.size]).to_event()
        rates = rates.at[rivals].set(numpyro.sample("rival", prior))
    if controls.size:
        prior = dist.Normal(centre - 1.5, 2.5).expand([controls.size]).to_event()
        rates = rates.at[controls].set(numpyro.sample("control", prior))
    return numpyro.deterministic("log_rate", rates)


def log_likelihood(catch: np.ndarray, log_mean: Any, spread: Any) -> Any:
    """Negative binomial of mean m and variance m + (spread m)^2, as sums that nothing cancels in.

    The library's own, of logs of gamma functions, is out by whole numbers at spreads below
    1e-7, and holds a chain there for good; `check_likelihood` compares where both work.
    """
    variance = spread**2
    ranks = np.arange(catch.max())
    rows_above = (catch[:, None] > ranks).sum(0)
    rising = (rows_above * jnp.log1p(variance * ranks)).sum()
    falling = (catch + 1 / variance) * jnp.log1p(variance * jnp.exp(log_mean))
    return rising + (catch * log_mean - falling).sum() - scipy.special.gammaln(catch + 1).sum()


def check_likelihood() -> None:
    """Stop unless the likelihood is scipy's, and Poisson's where the spread is nothing."""
    catch, log_mean = np.array([0, 1, 3, 12, 0]), np.array([-3.0, 0.0, 1.0, 2.0, 1.5])
    mean = np.exp(log_mean)
    for spread in (0.05, 0.5, 3.0):
        k = 1 / spread**2
        ours = log_likelihood(catch, log_mean, spread)
        theirs = scipy.stats.nbinom.logpmf(catch, k, k / (k + mean)).sum()
        np.testing.assert_allclose(ours, theirs, rtol=1e-10)
        # The library's beta function is a short series.
        library = dist.NegativeBinomial2(mean, k).log_prob(catch).sum()
        np.testing.assert_allclose(ours, library, rtol=1e-6)
    poisson = scipy.stats.poisson.logpmf(catch, mean).sum()
    np.testing.assert_allclose(log_likelihood(catch, log_mean, 1e-9), poisson, rtol=1e-10)


def model(table: LiftTable, shrinking: bool) -> None:
    rate = log_rates(table, shrinking)
    spread = numpyro.sample("spread", dist.HalfCauchy(0.5))
    exponent: Any = 1.0
    if table.is_exponent_free:
        exponent = numpyro.sample("exponent", dist.TruncatedNormal(0.8, 0.3, low=0.0, high=1.2))
    log_mean = rate[table.bait] + exponent * table.log_effort + table.log_fraction
    if table.has_rounds:
        log_mean = log_mean + effects("round", (table.n_rounds,), 1.0)[table.round_]
    if table.has_places:
        log_mean = log_mean + effects("place", (table.n_places,), 1.0)[table.place]
    if table.has_trips:
        log_mean = log_mean + effects("trip", (table.n_trips,), 1.0)[table.trip]
        crossed = effects("bait_trip", (table.n_baits, table.n_trips), 0.5)
        log_mean = log_mean + crossed[table.bait, table.trip]
    numpyro.deterministic("row_log", log_mean)
    numpyro.factor("catch", log_likelihood(table.catch, log_mean, spread))


# --- what is kept of the draws --------------------------------------------------------------


def rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def with_error(statistic: Callable[[np.ndarray], float], values: np.ndarray) -> list[float]:
    """The statistic of all draws, and its Monte Carlo standard error from batches of each chain.

    Batch means: Flegal, Haran & Jones (2008), Statistical Science 23, 250-260.
    """
    batches = [statistic(part) for chain in values for part in np.array_split(chain, BATCHES)]
    error = np.std(batches, ddof=1) / np.sqrt(len(batches))
    return [rounded(statistic(values.ravel()), 6), rounded(float(error), 2)]


def summary(values: np.ndarray) -> dict[str, Any]:
    """Mean, spread and quantiles with their errors, of draws of shape (chains, draws)."""
    return {
        "mean": with_error(np.mean, values),
        "sd": with_error(np.std, values),
        "low": with_error(lambda part: float(np.quantile(part, 0.025)), values),
        "median": with_error(np.median, values),
        "high": with_error(lambda part: float(np.quantile(part, 0.975)), values),
        **convergence(values),
    }


def convergence(values: np.ndarray) -> dict[str, Any]:
    """Rank-normalised split R-hat and effective sizes: Vehtari et al. (2021), Bayesian Anal. 16."""
    ranks = scipy.stats.rankdata(values).reshape(values.shape)
    normal = scipy.stats.norm.ppf((ranks - 0.375) / (values.size + 0.25))
    tails = [effective_sample_size((values <= end) * 1.0) for end in np.quantile(values, TAILS)]
    return {
        "rhat": round(float(split_gelman_rubin(normal)), 5),
        "ess_bulk": round(float(effective_sample_size(normal))),
        "ess_tail": round(float(min(tails))),
    }


def pair(rate: np.ndarray, a: int, b: int) -> dict[str, Any]:
    log_ratio = rate[..., a] - rate[..., b]
    return {
        "baits": [a, b],
        "log_ratio": summary(log_ratio),
        "beats": with_error(np.mean, (log_ratio > 0) * 1.0),
        "beats_twice": with_error(np.mean, (log_ratio > np.log(2.0)) * 1.0),
    }


def chances(table: LiftTable, rate: np.ndarray) -> list[list[float]]:
    """Chance of the highest rate among the baits that are no controls, with its error."""
    rivals = np.array(table.rivals)
    best = rivals[np.argmax(rate[..., rivals], axis=-1)]
    return [with_error(np.mean, (best == bait) * 1.0) for bait in range(table.n_baits)]


def rates_per_24_h(table: LiftTable, draws: dict[str, np.ndarray]) -> np.ndarray:
    """Log of each bait's rate over the places and rounds fished, shape (chains, draws, J)."""
    log_rate = draws["log_rate"]
    if table.has_places:
        log_rate = log_rate + np.log(np.exp(draws["place_effect"]).mean(-1, keepdims=True))
    when = np.zeros((*log_rate.shape[:2], table.n_rounds))
    if table.has_rounds:
        when = when + draws["round_effect"]
    if table.has_trips:
        when = when + draws["trip_effect"][..., table.round_trip]
    return log_rate + np.log(np.exp(when).mean(-1, keepdims=True))


def answer(table: LiftTable, shrinking: bool, seed: int) -> dict[str, Any]:
    """Sample one posterior and return what is kept of it."""
    began = time.monotonic()
    n_draws = DRAWS if table.is_repeated else DRAWS_OF_ONE_ROUND
    kernel = NUTS(model, target_accept_prob=TARGET_ACCEPT, dense_mass=True)
    mcmc = MCMC(
        kernel, num_warmup=WARM_UP, num_samples=n_draws, num_chains=CHAINS,
        chain_method="sequential", progress_bar=False,
    )  # fmt: skip
    mcmc.run(jax.random.PRNGKey(seed), table, shrinking, extra_fields=("diverging", "num_steps"))
    took_s = time.monotonic() - began
    draws = {name: np.asarray(kept) for name, kept in mcmc.get_samples(True).items()}
    extra = mcmc.get_extra_fields()
    rate, per_24_h = draws["log_rate"], rates_per_24_h(table, draws)
    names = {"spread": "spread", "exponent": "exponent", "round_sd": "rounds",
             "place_sd": "places", "trip_sd": "trips", "bait_trip_sd": "bait_trips"}  # fmt: skip
    row_logs = draws["row_log"].reshape(-1, table.catch.size)
    found = {
        "pairs": [pair(rate, a, b) for a, b in combinations(range(table.n_baits), 2)],
        "log_rates_24_h": [summary(per_24_h[..., j]) for j in range(table.n_baits)],
        "log_rates": [summary(rate[..., j]) for j in range(table.n_baits)],
        "spreads": {ours: summary(draws[name]) for name, ours in names.items() if name in draws},
        "best": chances(table, rate),
        "row_logs": {
            "mean": [rounded(value, 5) for value in row_logs.mean(0)],
            "sd": [rounded(value, 5) for value in row_logs.std(0)],
        },
    }
    sampled = [*(one["log_ratio"] for one in found["pairs"]), *found["log_rates_24_h"],
               *found["log_rates"], *found["spreads"].values()]  # fmt: skip
    return found | {
        "draws": CHAINS * n_draws,
        "divergences": int(extra["diverging"].sum()),
        "worst_rhat": max(one["rhat"] for one in sampled),
        "least_ess_bulk": min(one["ess_bulk"] for one in sampled),
        "least_ess_tail": min(one["ess_tail"] for one in sampled),
        "steps_per_draw": round(float(extra["num_steps"].mean()), 1),
        "took_s": round(took_s),
    }


def data_set(name: str) -> dict[str, Any]:
    make, controls = DATA_SETS[name]
    number = list(DATA_SETS).index(name)
    rows = make(np.random.default_rng([SEED, number]))
    table = lift_table(**rows, controls=controls)
    answers: dict[str, Any] = {"rows": rows, "controls": controls}
    for prior, shrinking in (("independent", False), ("shrinking", True)):
        answers[prior] = found = answer(table, shrinking, SEED + 2 * number + shrinking)
        print(
            f"{name} ({prior}): {found['took_s']} s, {found['divergences']} divergences, "
            f"R-hat {found['worst_rhat']}, least effective size {found['least_ess_bulk']} in "
            f"the bulk, {found['least_ess_tail']} in the tails, "
            f"{found['steps_per_draw']} steps a draw",
            flush=True,
        )
    return answers


def settings() -> dict[str, Any]:
    return {
        "seed": SEED,
        "chains": CHAINS,
        "warm_up": WARM_UP,
        "batches_per_chain": BATCHES,
        "target_accept": TARGET_ACCEPT,
        "versions": {
            "python": sys.version.split()[0],
            "numpyro": numpyro.__version__,
            "jax": jax.__version__,
            "numpy": np.__version__,
        },
    }


def written(value: Any, depth: int = 0) -> str:
    """JSON with a line for each summary, rather than for each number."""
    inside = value.values() if isinstance(value, dict) else value
    if not isinstance(value, dict | list) or not any(isinstance(part, dict) for part in inside):
        return json.dumps(value)
    if isinstance(value, dict):
        lines = [f"{json.dumps(key)}: {written(part, depth + 1)}" for key, part in value.items()]
    else:
        lines = [written(part, depth + 1) for part in value]
    around = "{}" if isinstance(value, dict) else "[]"
    gap = "\n" + " " * (depth + 1)
    return f"{around[0]}{gap}{(',' + gap).join(lines)}\n{' ' * depth}{around[1]}"


def main(names: list[str]) -> None:
    jax.config.update("jax_enable_x64", True)
    check_likelihood()
    kept = json.loads(ANSWERS.read_text("utf-8"))["data_sets"] if ANSWERS.exists() else {}
    for name in names or DATA_SETS:
        kept[name] = data_set(name)
        in_order = {known: kept[known] for known in DATA_SETS if known in kept}
        everything = {"settings": settings(), "data_sets": in_order}
        ANSWERS.write_text(written(everything) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])

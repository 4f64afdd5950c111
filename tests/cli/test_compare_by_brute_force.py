"""``compare`` against every labelling gone through, fine grids, and R."""

import csv
import json
import math
import random
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.stats

from tests.cli.brute_force import Lifts, Posterior, permutation, smallest_p
from trapline.cli.main import main

REFERENCE = Path(__file__).parents[1] / "reference"
KRUSKAL = json.loads((REFERENCE / "kruskal.json").read_text(encoding="utf-8"))["tables"]
BAITS = ("fish", "liver", "none", "bread")
LAYOUTS = ("free", "rounds", "blocks", "rounds and blocks", "kept places", "moved places",
           "places in blocks")  # fmt: skip


@pytest.fixture
def compared(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    def compare(lifts: Lifts, *options: str) -> dict[str, Any]:
        path = tmp_path / "lifts.csv"
        path.write_text(lifts.csv(), encoding="utf-8")
        assert main(["compare", str(path), "--no-settle", *options, "--json"]) == 0
        answer: dict[str, Any] = json.loads(capsys.readouterr().out)
        return answer

    return compare


def made_up(layout: str, seed: int) -> Lifts:
    """Return a small table: blanks, ties, unequal numbers, soaks, conditions and parts counted."""
    rnd = random.Random(f"{layout} {seed}")
    names = rnd.sample(BAITS, rnd.choice([2, 2, 3]))
    columns: dict[str, list[Any]] = {}
    if "places" in layout:
        n_places = rnd.randint(2, 5)
        cells = [(place, number) for number in (1, 2) for place in range(n_places)]
        if rnd.random() < 0.5:  # some places were not fished in every round
            cells = [cell for cell in cells if rnd.random() < 0.85]
        own = [rnd.choice(names) for _ in range(n_places)]
        baits = [own[place] if "kept" in layout else rnd.choice(names) for place, _ in cells]
        columns = {"place": [f"P{p}" for p, _ in cells], "round": [number for _, number in cells]}
        if "blocks" in layout:
            blocks = [rnd.choice("xy") for _ in range(n_places)]
            columns["block"] = [blocks[place] for place, _ in cells]
    else:
        baits = [rnd.choice(names) for _ in range(rnd.randint(4, 7))]
        if "rounds" in layout:
            columns["round"] = [rnd.choice("12") for _ in baits]
        if "blocks" in layout:
            columns["block"] = [rnd.choice("xy") for _ in baits]
        if seed % 3 == 0:
            columns["place"] = list(range(len(baits)))
    if seed % 2:
        columns["condition"] = rnd.choices(["fished", "", "robbed", "disturbed"], [6, 3, 1, 1],
                                           k=len(baits))  # fmt: skip
    if seed % 5 == 0:
        columns["fraction_counted"] = rnd.choices([1, 0.5, 0.25], k=len(baits))
    return Lifts(
        bait=baits,
        catch=rnd.choices([0, 1, 2, 3, 5, 8, None], k=len(baits)),
        soak_h=rnd.choices([24, 12, 22.5, 48, None], [6, 2, 2, 2, 1], k=len(baits)),
        columns=columns,
    )


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_test_is_that_of_every_labelling(layout: str, compared: Any) -> None:
    kinds = Counter()
    for seed in range(16):
        lifts = made_up(layout, seed)
        used = lifts.used()
        n_baits = len({lifts.bait[i] for i in used})
        if not lifts.bait:
            continue
        answer = compared(lifts)
        found = answer["permutation"]
        if n_baits < 2 or not any(lifts.catch[i] for i in used):
            assert (found, answer["ratios"]) == (None, None), lifts.csv()
            assert "No ratios and no test" in answer["warnings"][0]
            continue
        p_min = found.pop("p_min") if found else None
        assert found == permutation(lifts), lifts.csv()
        if found and len(used) <= 6:
            assert p_min == pytest.approx(smallest_p(lifts), rel=1e-12), lifts.csv()
            kinds[found["unit"]] += 1
    assert kinds["place" if "places" in layout else "trap"] >= 4


@pytest.mark.parametrize("layout", LAYOUTS)
def test_rows_catches_and_hours_are_counted_as_by_hand(layout: str, compared: Any) -> None:
    for seed in range(16, 24):
        lifts = made_up(layout, seed)
        used = lifts.used()
        if not lifts.bait:
            continue
        answer = compared(lifts)
        names = list(dict.fromkeys(lifts.bait))
        assert [bait["bait"] for bait in answer["baits"]] == names
        for bait in answer["baits"]:
            mine = [i for i in used if lifts.bait[i] == bait["bait"]]
            assert bait["n_traps"] == lifts.bait.count(bait["bait"])
            assert bait["n_counted"] == len(mine)
            assert bait["catch"] == sum(lifts.catch[i] or 0 for i in mine)
            assert bait["soak_h"] == pytest.approx(sum(lifts.soak_h[i] or 0 for i in mine))
        left_out = [row["row"] for row in answer["excluded"]]
        assert left_out == [i + 1 for i in range(len(lifts.bait)) if i not in used]
        if answer["ratios"] is not None:
            reference = "none" if "none" in names else names[0]
            pairs = [(ratio["bait"], ratio["reference"]) for ratio in answer["ratios"]]
            assert pairs == [(name, reference) for name in names if name != reference]


# --- rates --------------------------------------------------------------------------------


def large(seed: int) -> Lifts:
    """Return a larger table: some thirty traps, patchy or even, of two to five baits."""
    rng = np.random.default_rng(seed)
    names = ["fish", "liver", "none", "bread", "can"][: 2 + seed % 4]
    baits = [names[i % len(names)] for i in range(10 * len(names) - seed)]
    means = dict(zip(names, np.exp(rng.normal(1.5, 1.0, len(names))), strict=True))
    k = (0.5, 1.0, 4.0, 100.0)[seed % 4]
    soaks = [round(float(hours), 2) for hours in rng.uniform(6, 60, len(baits))]
    catches = [
        int(rng.negative_binomial(k, k / (k + means[bait] * hours / 24)))
        for bait, hours in zip(baits, soaks, strict=True)
    ]
    return Lifts(baits, [*catches], [*soaks])


TABLES = {
    **{f"large {seed}": large(seed) for seed in (0, 1)},
    "free": made_up("free", 1),
    "parts counted": made_up("blocks", 5),
    "one trap each": Lifts(["fish", "liver", "none"], [4, 0, 1], [24, 12, 48]),
    "a bait without a catch": Lifts(["fish"] * 3 + ["liver"] * 3, [7, 2, 9, 0, 0, 0], [24] * 6),
}


@pytest.mark.parametrize("name", TABLES)
def test_rates_and_ratios_are_those_of_a_fine_grid(name: str, compared: Any) -> None:
    lifts = TABLES[name]
    answer = compared(lifts)
    # Few rows leave wide posteriors of dispersion and exponent: they are cut finer.
    wanted = Posterior(lifts, 100, 24, 1601) if len(lifts.bait) < 12 else Posterior(lifts)
    known = [bait for bait in answer["baits"] if bait["n_counted"]]
    assert [bait["bait"] for bait in known] == wanted.baits
    for bait in known:
        low, median, high = wanted.rate(bait["bait"])
        rate = {"median": median, "low": low, "high": high}
        assert bait["rate_per_24h"] == pytest.approx(rate, rel=3e-3)
    for row in answer["ratios"]:
        low, median, high = wanted.ratio(row["bait"], row["reference"])
        ratio = {"median": median, "low": low, "high": high}
        assert row["ratio"] == pytest.approx(ratio, rel=3e-3)


# --- more arrangements than anybody can list by hand --------------------------------------


def p_of_two_baits(strata: list[list[tuple[float, bool]]]) -> tuple[int, int]:
    """Return as extreme and all, for rates and whether they are of the first bait, by stratum.

    With two baits H grows with the distance of the rank sum from its mean; sums are counted
    with a table of ways (as Wilcoxon's are).
    """
    ranks = scipy.stats.rankdata([rate for stratum in strata for rate, _ in stratum]) * 2
    is_first = [first for stratum in strata for _, first in stratum]
    sums: Counter[int] = Counter({0: 1})
    at = 0
    for stratum in strata:
        ways: dict[int, Counter[int]] = {0: Counter({0: 1})}
        for rank in ranks[at : at + len(stratum)]:
            for taken in sorted(ways, reverse=True):
                more = ways.setdefault(taken + 1, Counter())
                for total, n in ways[taken].items():
                    more[total + int(rank)] += n
        dealt = ways[sum(first for _, first in stratum)]
        joined: Counter[int] = Counter()
        for a, n in sums.items():
            for b, m in dealt.items():
                joined[a + b] += n * m
        sums, at = joined, at + len(stratum)
    observed = sum(rank for rank, first in zip(ranks, is_first, strict=True) if first)
    mean = ranks.sum() * sum(is_first) / len(is_first)
    far = abs(observed - mean) - 1e-9
    return sum(n for total, n in sums.items() if abs(total - mean) >= far), sum(sums.values())


def test_a_million_arrangements_are_listed_and_more_are_drawn(compared: Any) -> None:
    rng = np.random.default_rng(8)
    catches = [[int(y) for y in rng.poisson(4, 10)] for _ in range(7)]
    for n_blocks in (6, 7):
        strata = [
            [(float(y) + 5 * (at == 0), at == 0) for at, y in enumerate(row)]
            for row in catches[:n_blocks]
        ]
        lifts = Lifts(
            bait=["fish" if first else "liver" for row in strata for _, first in row],
            catch=[int(rate) for row in strata for rate, _ in row],
            soak_h=[24] * (10 * n_blocks),
            columns={"block": [f"b{block}" for block in range(n_blocks) for _ in range(10)]},
        )
        found = compared(lifts)["permutation"]
        n_as_extreme, n_all = p_of_two_baits(strata)
        assert n_all == 10**n_blocks
        assert found["within"] == "block"
        if n_blocks == 6:
            assert (found["exact"], found["n_arrangements"]) == (True, 1_000_000)
            assert found["n_as_extreme"] == n_as_extreme
            assert found["p"] == n_as_extreme / n_all
            assert found["p_min"] == 1e-6
        else:
            assert (found["exact"], found["n_arrangements"]) == (False, 100_000)
            assert found["p"] == (found["n_as_extreme"] + 1) / 100_001
            true = n_as_extreme / n_all
            assert abs(found["p"] - true) <= 4 * math.sqrt(true / 100_000) + 1e-5


@pytest.mark.parametrize("name", KRUSKAL)
def test_two_baits_of_published_tables_give_the_exact_p_of_r(name: str, compared: Any) -> None:
    about = KRUSKAL[name]
    with (REFERENCE / "counts" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    n_exact = 0
    for one, other, p in about["pairs"]:
        mine = [row for row in rows if row[about["group"]] in (one, other)]
        lifts = Lifts(
            bait=[row[about["group"]] for row in mine],
            catch=[int(row[about["rate"]]) if row[about["rate"]] else None for row in mine],
            soak_h=[float(row[about["soak_h"]]) if about["soak_h"] else 24.0 for row in mine],
        )
        used = lifts.used()
        n = math.comb(len(used), sum(lifts.bait[i] == one for i in used))
        found = compared(lifts)["permutation"]
        assert found["exact"] == (n <= 1_000_000)
        if found["exact"]:
            n_exact += 1
            assert found["n_arrangements"] == n
            assert found["p"] == pytest.approx(p, rel=1e-10)
        else:
            assert abs(found["p"] - p) <= 4 * math.sqrt(p * (1 - p) / 100_000) + 2e-5
    assert n_exact or name in ("InsectSprays", "warpbreaks", "quine")


@pytest.mark.parametrize("name", KRUSKAL)
def test_all_baits_of_published_tables_agree_with_draws_of_r(name: str, compared: Any) -> None:
    about = KRUSKAL[name]
    with (REFERENCE / "counts" / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    lifts = Lifts(
        bait=[row[about["group"]] for row in rows],
        catch=[int(row[about["rate"]]) if row[about["rate"]] else None for row in rows],
        soak_h=[float(row[about["soak_h"]]) if about["soak_h"] else 24.0 for row in rows],
    )
    found = compared(lifts)["permutation"]
    p = about["drawn"]["p"]
    assert not found["exact"]
    assert abs(found["p"] - p) <= 4 * math.sqrt(2 * p * (1 - p) / 100_000) + 2e-5

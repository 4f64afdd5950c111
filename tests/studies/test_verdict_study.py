"""The study in tiny form: every part runs, stops and goes on, and its yardsticks are right."""

import csv
import json
import math
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from scipy import stats

from tests.studies import verdict_study
from tests.studies.study_cells import PARTS, Cell, cell_of, cells_of, coverage_cells, generator
from tests.studies.study_goals import misses
from tests.studies.study_kept import Arrays, Kept, pack, unpack
from tests.studies.study_peers import nb_size, peers
from tests.studies.study_report import write_report
from tests.studies.study_runs import RIGHT, WRONG, Columns, run_cell
from tests.studies.study_tables import Found, best_rows, coverage_rows, low_cells

REFERENCE: Final = Path(__file__).resolve().parents[1] / "reference"


def run(out: Path, part: str, cells: int, runs: int, jobs: int = 0) -> dict[str, Arrays]:
    words = ["--part", part, "--cells", str(cells), "--runs", str(runs), "--jobs", str(jobs),
             "--more-runs", "1", "--out", str(out)]  # fmt: skip
    assert verdict_study.main(words) == 0
    return results(out, part, cells, runs)


def results(out: Path, part: str, cells: int, runs: int) -> dict[str, Arrays]:
    kept = Kept(out, part)
    return {cell.key: kept.columns(cell, runs) for cell in cells_of(part, cells)}


def same(one: dict[str, Arrays], other: dict[str, Arrays]) -> None:
    assert one.keys() == other.keys()
    for key, columns in one.items():
        assert columns.keys() == other[key].keys()
        for name, values in columns.items():
            np.testing.assert_array_equal(values, other[key][name], f"{key}: {name}")


@pytest.mark.parametrize("part", PARTS)
def test_each_part_runs(part: str, tmp_path: Path) -> None:
    for columns in run(tmp_path, part, 2, 2).values():
        assert columns
        for name, values in columns.items():
            assert len(values) == 2, name
            assert not np.isnan(values).any(), name


def test_a_study_that_was_stopped_goes_on_with_the_same_numbers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = run(tmp_path / "whole", "coverage", 3, 4)
    run(tmp_path / "parts", "coverage", 3, 2)
    done: list[Cell] = []

    def stopped_after_one(cell: Cell, runs: range) -> Columns:
        if done:
            raise KeyboardInterrupt
        done.append(cell)
        return run_cell(cell, runs)

    with monkeypatch.context() as patch:
        patch.setattr(verdict_study, "run_cell", stopped_after_one)
        words = ["--part", "coverage", "--cells", "3", "--runs", "4", "--jobs", "0"]
        assert verdict_study.main([*words, "--out", str(tmp_path / "parts")]) == 130
    kept = results(tmp_path / "parts", "coverage", 3, 4)
    assert sorted(len(columns["our_winner"]) for columns in kept.values()) == [2, 2, 4]
    with (tmp_path / "parts" / "coverage.jsonl").open("a") as file:
        file.write('{"cell":"coverage torn')  # as a killed process leaves it
    same(run(tmp_path / "parts", "coverage", 3, 4), whole)


def test_what_is_finished_is_not_run_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(tmp_path, "coverage", 2, 2)
    monkeypatch.setattr(verdict_study, "run_cell", None)
    run(tmp_path, "coverage", 2, 2)


def test_other_processes_give_the_same_numbers(tmp_path: Path) -> None:
    same(run(tmp_path / "here", "best", 2, 2), run(tmp_path / "there", "best", 2, 2, jobs=1))


def test_a_run_does_not_depend_on_the_runs_before_it() -> None:
    cell = coverage_cells()[7]
    forward, backward = run_cell(cell, range(3)), run_cell(cell, [2, 1, 0])
    assert forward == {name: values[::-1] for name, values in backward.items()}


def test_no_two_runs_share_their_random_numbers() -> None:
    seen = {generator(cell, run).random() for cell in coverage_cells() for run in range(3)}
    assert len(seen) == 3 * 900


def test_no_two_cells_are_called_the_same() -> None:
    keys = [cell.key for part in PARTS for cell in cells_of(part)]
    assert len(keys) == len(set(keys)) > 1000


def test_numbers_are_kept_in_five_digits_and_digits_as_text() -> None:
    assert pack([1.0, 0.0, 2.0]) == "102"
    assert unpack(pack([0.123456789, math.inf])).tolist() == [0.12346, math.inf]
    assert unpack(pack([1.0, 0.0])).tolist() == [1.0, 0.0]


def insect_sprays() -> np.ndarray[Any, np.dtype[np.int64]]:
    with (REFERENCE / "counts" / "InsectSprays.csv").open() as file:
        rows = list(csv.DictReader(file))
    groups = sorted({row["spray"] for row in rows})
    return np.array([[int(r["count"]) for r in rows if r["spray"] == g] for g in groups])


def test_the_negative_binomial_fit_is_that_of_glm_nb() -> None:
    # R, MASS::glm.nb and emmeans on InsectSprays (Beall 1942).
    known = json.loads((REFERENCE / "count_models.json").read_text())["InsectSprays"]
    counts = insect_sprays()[None]
    assert nb_size(counts.astype(float))[0] == pytest.approx(known["theta"], rel=1e-4)
    pair = next(row for row in known["pairwise"] if row["contrast"] == "A / B")
    fit = peers(counts)["nb"]
    assert math.exp(-fit.high[0]) == pytest.approx(pair["lo"], rel=1e-4)
    assert math.exp(-fit.low[0]) == pytest.approx(pair["hi"], rel=1e-4)


def test_the_quasi_poisson_fit_is_that_of_glm() -> None:
    # R, summary(glm(count ~ spray, quasipoisson, InsectSprays)): dispersion 1.507713,
    # sprayB 0.05588 with standard error 0.12984; from memory.
    fit = peers(insect_sprays()[None])["quasi"]
    reach = stats.t.ppf(0.975, 66)
    assert (fit.high[0] + fit.low[0]) / 2 == pytest.approx(0.05588, abs=1e-5)
    assert (fit.high[0] - fit.low[0]) / 2 / reach == pytest.approx(0.12984, abs=1e-5)


def test_counts_that_are_not_patchy_have_no_finite_k() -> None:
    counts = np.array([[[5, 5, 6, 5], [4, 5, 5, 5]], [[0, 0, 0, 0], [0, 0, 0, 0]]])
    assert nb_size(counts.astype(float)).tolist() == [math.inf, math.inf]


def test_the_t_test_is_that_of_scipy() -> None:
    rng = np.random.default_rng(5)
    counts = rng.poisson(rng.gamma(2, [[[20.0]], [[60.0]]], (2, 300, 4))).transpose(1, 0, 2)
    logs = np.log(counts + 0.5)
    found = stats.ttest_ind(logs[:, 1], logs[:, 0], axis=1)
    limits = found.confidence_interval(0.95)
    fit = peers(counts)["t"]
    np.testing.assert_allclose(fit.low, limits.low, atol=1e-9)
    np.testing.assert_allclose(fit.high, limits.high, atol=1e-9)
    np.testing.assert_array_equal(fit.winner >= 0, found.pvalue < 0.05)


def test_the_poisson_test_is_the_likelihood_ratio_of_two_totals() -> None:
    rng = np.random.default_rng(6)
    counts = rng.poisson(3, (300, 2, 3))
    known = [
        stats.power_divergence(total, lambda_="log-likelihood").pvalue < 0.05
        for total in counts.sum(axis=2)
        if total.sum()
    ]
    named = peers(counts)["poisson"].winner[counts.sum(axis=(1, 2)) > 0] >= 0
    np.testing.assert_array_equal(named, known)
    assert 0 < np.sum(known) < 300


def test_a_winner_is_apart_from_each_other_bait() -> None:
    alone = [[40, 41, 39], [2, 3, 2], [1, 2, 2]]
    followed = [[40, 41, 39], [38, 41, 40], [1, 2, 2]]
    nothing = [[0, 0, 0]] * 3
    found = peers(np.array([alone, followed, nothing]))
    assert {name: one.winner.tolist() for name, one in found.items()} == {
        "mean": [0, 0, -1], "poisson": [0, -1, -1], "quasi": [0, -1, -1], "nb": [0, -1, -1],
        "t": [0, -1, -1],
    }  # fmt: skip


def test_our_winner_is_right_only_where_it_is_the_better_bait() -> None:
    plain: dict[str, Any] = {"traps": 12, "baits": 2, "mean": 40, "k": math.inf}
    better = run_cell(cell_of("coverage", ratio=4, **plain), range(5))
    assert better["our_winner"] == better["mean_winner"] == [RIGHT] * 5
    equal = run_cell(cell_of("coverage", ratio=1, **plain), range(5))
    assert set(equal["mean_winner"]) == {WRONG}


def made_up(n_runs: int, n_common: int, later: float, **values: Any) -> Found:
    cell = cell_of("coverage", **{"traps": 3, "baits": 2, "mean": 5, "k": 1, "ratio": 1} | values)
    hits = np.ones(n_runs)
    hits[n_common:] = np.arange(n_runs - n_common) < later * (n_runs - n_common)
    names = ["ratio_hit", "rate_hit", "better_hit", "our_winner"]
    return Found(cell, {name: hits.copy() for name in names}, n_common)


def test_a_cell_is_judged_by_the_runs_after_those_that_made_it_look_bad() -> None:
    (low,) = low_cells([made_up(1200, 200, 0.87), made_up(200, 200, 1.0)], "ratio_hit")
    assert low["runs"] == 1000
    assert low["cover"] == pytest.approx(0.87)
    assert low["p_under_90"] == pytest.approx(stats.binom.cdf(870, 1000, 0.9))
    assert low_cells([made_up(1200, 200, 0.5, traps=2)], "ratio_hit") == []


def test_rows_are_means_over_cells_of_their_common_runs() -> None:
    found = [made_up(400, 100, 0.0), made_up(100, 100, 1.0, mean=40)]
    found[1].runs["ratio_hit"][:50] = 0
    rows = coverage_rows(found, ["mean"])
    assert [row["ratio_cover"] for row in rows] == [0.75, 1.0, 0.5]
    assert rows[0]["runs"] == 200


@pytest.mark.parametrize(("share", "n_lines"), [(0.92, 1), (0.94, 0), (0.98, 1)])
def test_a_row_that_misses_its_goal_is_named(share: float, n_lines: int) -> None:
    one = made_up(100, 100, 1.0)
    one.runs["our_winner"][:] = 0
    one.runs["ratio_hit"][:] = np.arange(100) < 100 * share
    for name in ("rate_hit", "better_hit"):
        one.runs[name][:] = np.arange(100) < 95
    result = {"coverage": coverage_rows([one], ["traps"])[1:], "effects": [], "low_cells": []}
    assert len(misses(result)) == n_lines
    one.runs["our_winner"][:6] = WRONG
    result["coverage"] = coverage_rows([one], ["traps"])[1:]
    assert len(misses(result)) == n_lines + 1


def test_a_chance_of_being_best_is_set_beside_what_it_came_to() -> None:
    columns = {
        f"{prior}_{name}": np.array(values)
        for prior in ("shrinking", "independent")
        for name, values in (("chance", [0.85, 0.82, 0.99]), ("right", [1.0, 0.0, 1.0]),
                             ("brier", [0.1, 0.9, 0.0]))
    }  # fmt: skip
    rows = best_rows([Found(cells_of("best")[0], columns, 3)])
    (eighty,) = [one for one in rows[0]["bins"] if one["from"] == 0.8]
    assert (eighty["runs"], eighty["came_true"]) == (2, 0.5)
    assert eighty["said"] == pytest.approx(0.835)
    assert rows[0]["brier"] == pytest.approx(1 / 3)


def test_a_report_is_short_and_its_file_is_plain_json(tmp_path: Path) -> None:
    for part in PARTS:
        run(tmp_path, part, 2, 2)
    words = write_report(tmp_path, tmp_path / "results")
    assert len(words.splitlines()) <= 60
    text = (tmp_path / "results" / "verdict_study.json").read_text("utf-8")
    known = json.loads(text, parse_constant=pytest.fail)
    assert known["cells"] == dict.fromkeys(PARTS, 2)
    assert (tmp_path / "results" / "verdict_study.txt").read_text("utf-8") == words
    pictures = {path.stem for path in tmp_path.glob("*.png")}
    assert pictures == {"coverage", "false_winners", "calibration", "best"}

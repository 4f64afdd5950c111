"""The table of the study in plain words, as the help page shows it."""

from collections.abc import Sequence
from typing import Any, Final

from tests.studies.study_goals import miss_lines, row_text

Row = dict[str, Any]

MOST_LINES: Final = 60
_ANIMALS: Final = {"escaped": "escape", "kept": "stay", "stopped": "stay out"}
_EFFECT_ROWS: Final = ("plan", "place_sd", "baits")
_TITLES: Final = {"mean": "means", "poisson": "Poiss.", "quasi": "quasi", "nb": "NB",
                  "t": "t test"}  # fmt: skip


def plain_table(result: Row) -> str:
    """Return the result as at most 60 lines of text."""
    lines = [
        "Is the verdict right as often as it says? Simulated trials, the truth known.",
        "Of 95 % intervals, 95 in 100 should hold the truth. A false winner is a winner named",
        "among baits that are equal. Others name one when its estimate differs from each other",
        f"bait's at 5 %; means name the highest. {result['n_runs']:,} trials, {result['date']}.",
    ]
    if result["coverage"]:
        lines += ["", "One round, every trap on its own place; in % of trials:"]
        shown = [row for row in result["coverage"] if row["row"] != "k"]
        lines += _rows(shown, ("mean", "poisson", "quasi", "nb", "t"))
        lines += _width_lines(result["coverage"])
    if result["effects"]:
        shown = [row for row in result["effects"] if row["row"] in _EFFECT_ROWS]
        lines += ["Three or four rounds; rounds differ by 0.4, places as said (sd of logs):"]
        lines += _rows(shown, ("poisson", "nb"))
    if result["special"]:
        lines += _special_lines(result["special"])
    if result["best"]:
        lines += _best_lines(result["best"])
    if result["calibration"]:
        lines += _calibration_lines(result["calibration"])
    lines += ["", *miss_lines(result, MOST_LINES - len(lines) - 1)]
    return "\n".join(lines) + "\n"


def _rows(rows: Sequence[Row], others: Sequence[str]) -> list[str]:
    lines = [
        f"{'':22} ratio held:   rate held:  | false winners:",
        f"{'where k is':22}  <15  >=15    <15  >=15  |  ours"
        + "".join(f"{_TITLES[m]:>7}" for m in others),
    ]
    for row in rows:
        cover = [row[f"{what}_cover_{k}"] for what in ("ratio", "rate") for k in ("patchy", "even")]
        false = [row["false_winners"]["our"], *(row["false_winners"][m] for m in others)]
        if row["row"] == "ratio" and row["value"] > 1:
            false = []
        lines.append(f"{row_text(row):21}{''.join(percent(share, 6) for share in cover[:2])} "
                     f"{''.join(percent(share, 6) for share in cover[2:])}  |"
                     f"{''.join(percent(share, 7) for share in false)}".rstrip())  # fmt: skip
    return lines


def percent(share: float | None, width: int) -> str:
    return f"{'-':>{width}}" if share is None else f"{100 * share:{width}.1f}"


def _width_lines(rows: Sequence[Row]) -> list[str]:
    chosen = [row for row in rows if row["row"] == "traps"]
    traps = ", ".join(str(row["value"]) for row in chosen)
    shares = ", ".join(f"{row['width_share']:.3f}" for row in chosen)
    return [f"Median width over that of quasi-Poisson, {traps} traps a bait: {shares}."]


def mean_false(rows: Sequence[Row]) -> float:
    """Return the share of false winners in the cells whose baits are equal."""
    equal = [row["our_winner"]["wrong"] for row in rows if row["ratio"] == 1]
    return sum(equal) / len(equal) if equal else 0.0


def _special_lines(rows: Sequence[Row]) -> list[str]:
    def mean(name: str, chosen: Sequence[Row]) -> float:
        return float(sum(row[name] for row in chosen) / len(chosen))

    lines = []
    controls = [row for row in rows if row["kind"] == "control"]
    if controls:
        ratio, rate = mean("ratio_hit", controls), mean("control_hit", controls)
        lines.append(f"Controls that catch 1/20: ratio held in {ratio:.1%}, rate in {rate:.1%}.")
    unequal = [row for row in rows if row["kind"] == "unequal k"]
    if unequal:
        worst = min(row["ratio_hit"] for row in unequal)
        lines.append("One bait with k 0.5, one with 4: "
                     f"ratio held in {mean('ratio_hit', unequal):.1%}, worst "
                     f"cell {worst:.1%}; false winners {mean_false(unequal):.1%}.")  # fmt: skip
    disturbed = [row for row in rows if row["kind"] == "disturbed"]
    if disturbed:
        lines.append(
            "35 % of bait 1's traps disturbed, 5 % of bait 2's; ratio 1 comes out as (held in)"
        )
    for treatment in ("left out", "half a soak"):
        ratios = [
            f"{row['median_ratio']:.2f} if they {_ANIMALS[row['animals']]} ({row['ratio_hit']:.0%})"
            for row in disturbed
            if row["treatment"] == treatment
        ]
        if ratios:
            lines.append(f"  {treatment}: {', '.join(ratios)}")
    return lines


def _best_lines(rows: Sequence[Row]) -> list[str]:
    lines = ["Where the chance of being best said 80 to 90 %, that bait was the best in"]
    for prior in ("shrinking", "independent"):
        parts = []
        for row in rows:
            found = [one for one in row["bins"] if one["from"] == 0.8 and row["prior"] == prior]
            if found and row["spread"] != "all":
                parts.append(f"{found[0]['came_true']:.0%} (spread {row['spread']})")
        (both,) = [row for row in rows if row["spread"] == "all" and row["prior"] == prior]
        lines.append(f"  {prior} prior: {', '.join(parts)}; Brier score {both['brier']:.3f}")
    return lines


def _calibration_lines(rows: Sequence[Row]) -> list[str]:
    low = [row for row in rows if min(row["chi_square_p"], row["ks_p"]) < 0.05 / (2 * len(rows))]
    least = min(min(row["chi_square_p"], row["ks_p"]) for row in rows)
    inside = sum(row["in_95"] for row in rows) / len(rows)
    return [
        f"Truths drawn from the priors: ranks even in {len(rows) - len(low)} of {len(rows)} tests "
        f"(least p {least:.2g}), 95 % held in {inside:.1%}.",
    ]

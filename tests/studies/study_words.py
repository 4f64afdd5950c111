"""The table of the study in plain words, as the help page shows it."""

from collections.abc import Sequence
from typing import Any, Final

Row = dict[str, Any]

LOW, HIGH, HIGH_EVEN = 0.93, 0.97, 0.99
MOST_FALSE: Final = 0.05
MOST_LINES: Final = 60
_COVER_ROWS: Final = frozenset({"traps", "baits", "mean", "ratio", "plan", "place_sd"})
_TITLES: Final = {"mean": "means", "poisson": "Poisson", "quasi": "quasi-P", "nb": "NB",
                  "t": "t test"}  # fmt: skip
WIDTH_GOALS: Final = {2: 0.75, 6: 1.0}
_NAMES: Final = {"all": "all", "traps": "traps a bait", "baits": "baits", "mean": "mean catch",
                 "ratio": "true ratio", "k": "dispersion k", "plan": "baits are",
                 "place_sd": "places differ by", "rounds": "rounds"}  # fmt: skip


def plain_table(result: Row) -> str:
    """Return the result as at most 60 lines of text."""
    lines = [
        "Is the verdict right as often as it says? Simulated trials, the truth known.",
        "Of 95 % intervals, 95 in 100 should hold the truth. A false winner is a winner named",
        f"among baits that are equal. {result['n_runs']:,} trials in all, {result['date']}.",
    ]
    if result["coverage"]:
        lines += ["", "One round, every trap on its own place; in % of trials:"]
        lines += _rows(result["coverage"], ("mean", "poisson", "quasi", "nb", "t"))
        lines += _width_lines(result["coverage"])
    if result["effects"]:
        shown = [row for row in result["effects"] if row["row"] not in ("rounds", "k")]
        lines += ["", "Three or four rounds; rounds differ by 0.4 and places as said (sd of logs):"]
        lines += _rows(shown, ("poisson", "nb"))
    if result["special"]:
        lines += _special_lines(result["special"])
    if result["best"]:
        lines += _best_lines(result["best"])
    if result["calibration"]:
        lines += _calibration_lines(result["calibration"])
    missed = _miss_lines(result)
    room = MOST_LINES - len(lines) - 1
    if len(missed) > room:
        rest = len(missed) - room + 1
        missed = [*missed[: room - 1], f"- and {rest} more, in verdict_study.json"]
    return "\n".join([*lines, "", *missed]) + "\n"


def _rows(rows: Sequence[Row], others: Sequence[str]) -> list[str]:
    head = f"{'':23}truth held:     false winners:\n{'':23}ratio   rate    ours"
    lines = [head + "".join(f"{_TITLES[m]:>8}" for m in others)]
    for row in rows:
        name = f"{_NAMES[row['row']]} {value_text(row['value'])}".strip()
        shares = [row["ratio_cover"], row["rate_cover"], row["false_winners"]["our"]]
        shares += [row["false_winners"][m] for m in others]
        if row["row"] == "ratio" and row["value"] > 1:
            shares = shares[:2]
        lines.append(f"{name:20}" + "".join(percent(share) for share in shares))
    return "\n".join(lines).split("\n")


def percent(share: float | None) -> str:
    return f"{'-':>8}" if share is None else f"{100 * share:8.1f}"


def value_text(value: object) -> str:
    if isinstance(value, float):
        return "no limit" if value == float("inf") else f"{value:g}"
    return str(value)


def _width_lines(rows: Sequence[Row]) -> list[str]:
    shares = [
        f"{row['width_share']:.2f} at {row['value']} traps" for row in rows if row["row"] == "traps"
    ]
    return [f"Median width of our interval over that of quasi-Poisson: {', '.join(shares)}."]


def _special_lines(rows: Sequence[Row]) -> list[str]:
    def mean(name: str, chosen: Sequence[Row]) -> float:
        return float(sum(row[name] for row in chosen) / len(chosen))

    lines = [""]
    controls = [row for row in rows if row["kind"] == "control"]
    if controls:
        lines.append(f"Traps without bait that catch 1/20: ratio {mean('ratio_hit', controls):.1%}"
                     f", rate {mean('control_hit', controls):.1%} covered.")  # fmt: skip
    unequal = [row for row in rows if row["kind"] == "unequal k"]
    if unequal:
        worst = min(row["ratio_hit"] for row in unequal)
        lines.append("One bait patchy (k 0.5), the other not (k 4): "
                     f"{mean('ratio_hit', unequal):.1%} covered, worst {worst:.1%}.")  # fmt: skip
    for treatment in ("left out", "half a soak"):
        chosen = [row for row in rows if row.get("treatment") == treatment]
        if chosen:
            ratios = ", ".join(
                f"{row['median_ratio']:.2f} ({row['animals']}, {row['ratio_hit']:.0%} covered)"
                for row in chosen
            )
            lines.append(f"35 % of bait 1 disturbed, 5 % of bait 2, {treatment}: ratio {ratios}.")
    return lines


def _best_lines(rows: Sequence[Row]) -> list[str]:
    lines = ["", "Where the chance of being best said 80 to 90 %, the bait was the best in:"]
    for prior in ("shrinking", "independent"):
        parts = []
        for row in rows:
            found = [one for one in row["bins"] if one["from"] == 0.8 and row["prior"] == prior]
            if found and row["spread"] != "all":
                parts.append(f"{found[0]['came_true']:.0%} (baits' spread {row['spread']})")
        (both,) = [row for row in rows if row["spread"] == "all" and row["prior"] == prior]
        lines.append(f"  {prior} prior: {', '.join(parts)}; Brier score {both['brier']:.3f}")
    return lines


def _calibration_lines(rows: Sequence[Row]) -> list[str]:
    low = [row for row in rows if min(row["chi_square_p"], row["ks_p"]) < 0.05 / (2 * len(rows))]
    least = min(min(row["chi_square_p"], row["ks_p"]) for row in rows)
    inside = sum(row["in_95"] for row in rows) / len(rows)
    return [
        "",
        f"Truths drawn from the priors: ranks are even in {len(rows) - len(low)} of {len(rows)} "
        f"tests (least p {least:.2g});",
        f"the middle 95 % of the posterior held the truth in {inside:.1%}.",
    ]


def _miss_lines(result: Row) -> list[str]:
    found = misses(result)
    if not found:
        return ["All goals are met."]
    return ["What misses its goal:", *(f"- {line}" for line in found)]


def misses(result: Row) -> list[str]:
    """Return a line for each goal that is missed.

    Goals: rows cover 93 to 97 % (up to 99 % where k is 15 or more); false winners at most
    5 % in every row; median width at most .75 of quasi-Poisson with t at two traps a bait and
    1.0 at six; no cell with three traps a bait or more that is surely under 90 %.
    """
    lines = []
    for part in ("coverage", "effects"):
        for row in result[part]:
            name = f"{part}, {_NAMES[row['row']]} {value_text(row['value'])}".strip()
            for what in ("ratio", "rate") if row["row"] in _COVER_ROWS else ():
                for kind, most in (("patchy", HIGH), ("even", HIGH_EVEN)):
                    share = row[f"{what}_cover_{kind}"]
                    if share is not None and not LOW <= share <= most:
                        where = "k under 15" if kind == "patchy" else "k 15 or more"
                        lines.append(f"{name}: {what} covered {share:.1%} ({where})")
            false = row["false_winners"]["our"]
            if false is not None and false > MOST_FALSE:
                lines.append(f"{name}: {false:.1%} false winners")
            goal = WIDTH_GOALS.get(row["value"]) if row["row"] == "traps" else None
            if goal and row.get("width_share", 0) > goal:
                lines.append(f"{name}: width {row['width_share']:.2f} of quasi-Poisson")
    sure = [row for row in result["low_cells"] if row["p_under_90"] < 0.05]
    lines += [f"cell {cell_text(row)}: {row['cover']:.1%} in {row['runs']} runs" for row in sure]
    return lines


def cell_text(row: Row) -> str:
    shown = {k: v for k, v in row.items() if k not in ("runs", "cover", "p_under_90")}
    return ", ".join(f"{name} {value_text(value)}" for name, value in shown.items())

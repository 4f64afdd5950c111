"""What the study is held against: the goals, which rows and cells miss them, and why."""

import textwrap
from collections.abc import Iterator, Sequence
from typing import Any, Final

Row = dict[str, Any]

LOW, HIGH, HIGH_EVEN = 0.93, 0.97, 0.99
MOST_FALSE: Final = 0.05
WIDTH_GOALS: Final = {2: 0.75, 6: 1.0}
_COVER_ROWS: Final = frozenset({"traps", "baits", "mean", "ratio", "plan", "place_sd"})
_SURE: Final = 0.05
_BREAKS_THE_MODEL: Final = frozenset({"unequal k", "disturbed"})
_NAMES: Final = {"all": "all", "traps": "traps a bait", "baits": "baits", "mean": "mean catch",
                 "ratio": "true ratio", "k": "dispersion k", "plan": "baits are",
                 "place_sd": "places differ by", "rounds": "rounds"}  # fmt: skip
_PARTS: Final = {"coverage": "one round", "effects": "rounds and places"}
_INTERVALS: Final = {"ratio": "ratio", "rate": "a reference's rate",
                     "better": "the better bait's rate"}  # fmt: skip


def row_text(row: Row) -> str:
    """Return what a row is about."""
    return f"{_NAMES[row['row']]} {value_text(row['value'])}".strip()


def value_text(value: object) -> str:
    if isinstance(value, float):
        return "none" if value == float("inf") else f"{value:g}"
    return str(value)


def miss_lines(result: Row, room: int) -> list[str]:
    """Return what misses its goal, with reasons in the numbers, in at most `room` lines."""
    found = misses(result)
    if not found:
        return ["All goals are met."]
    why = reasons(result)
    lines: list[str] = []
    for line in found:
        lines += textwrap.wrap(line, 96, initial_indent="- ", subsequent_indent="  ")
    room -= 1 + len(why)
    if len(lines) > room:
        lines = [*lines[: max(room - 1, 0)], "- and more, in verdict_study.json"]
    return ["Goals that are missed:", *lines, *why]


def misses(result: Row) -> list[str]:
    """Return a line for each goal that is missed.

    Goals: rows cover 93 to 97 % (up to 99 % where k is 15 or more); false winners at most
    5 % in every row; median width at most .75 of quasi-Poisson with t at two traps a bait and
    1.0 at six; no cell with three traps a bait or more that is surely under 90 %.
    """
    lines: dict[str, list[str]] = {}
    for part, words in _PARTS.items():
        for row in result[part]:
            for goal, share in _missed_by(row):
                lines.setdefault(f"{words}, {goal}", []).append(f"{row_text(row)} {share}")
    found = [f"{goal}: {', '.join(rows)}" for goal, rows in lines.items()]
    return found + _surely_low(result["low_cells"])


def _missed_by(row: Row) -> Iterator[tuple[str, str]]:
    """Yield each goal that a row misses, and by how much."""
    for what in ("ratio", "rate") if row["row"] in _COVER_ROWS else ():
        for kind, most, where in (("patchy", HIGH, "<15"), ("even", HIGH_EVEN, ">=15")):
            share = row[f"{what}_cover_{kind}"]
            if share is not None and not LOW <= share <= most:
                over_all = f"{row[f'{what}_cover']:.1%}"
                yield f"{what} held where k {where} (over all k)", f"{share:.1%} ({over_all})"
    false = row["false_winners"]["our"]
    if false is not None and false > MOST_FALSE:
        yield "false winners", f"{false:.1%}"
    most_width = WIDTH_GOALS.get(row["value"], 0) if row["row"] == "traps" else 0
    if most_width and row.get("width_share", 0) > most_width:
        yield "width over that of quasi-Poisson", f"{row['width_share']:.3f}"


def _surely_low(low_cells: Sequence[Row]) -> list[str]:
    """Return the cells that are surely low, those apart where the truth breaks the model."""
    sure = [row for row in low_cells if row["p_under_90"] < _SURE]
    broken = [row for row in sure if row.get("kind") in _BREAKS_THE_MODEL]
    lines = []
    for interval, words in _INTERVALS.items():
        cells = [row for row in sure if row["interval"] == interval and row not in broken]
        if cells:
            lines.append(f"{words} held in surely under 90 %: {_counted(cells)}")
    if broken:
        lines.append(
            f"the same where k differs by bait or traps were disturbed: {_counted(broken)}"
        )
    return lines


def _counted(cells: Sequence[Row]) -> str:
    """Return how many cells there are and which is the worst."""
    worst = min(cells, key=lambda row: float(row["cover"]))
    names = ("kind", "plan", "traps", "baits", "mean", "k", "ratio")
    about = ", ".join(f"{name} {value_text(worst[name])}" for name in names if name in worst)
    plural = "cell" if len(cells) == 1 else "cells"
    return f"{len(cells)} {plural}, least {worst['cover']:.1%} ({about})"


def reasons(result: Row) -> list[str]:
    """Return why rates are held too seldom and where intervals are wide, from the numbers."""
    rows = {(row["traps"], row["k"]): row for row in result["by_k"] if "traps" in row}
    if not {(2, 0.5), (3, 0.5), (12, 0.5), (2, float("inf")), (6, float("inf"))} <= rows.keys():
        return []
    better = [rows[traps, 0.5]["better_rate_cover"] for traps in (2, 3, 12)]
    even = [rows[traps, float("inf")]["width_share"] for traps in (2, 6)]
    patchy = [rows[traps, 0.5]["width_share"] for traps in (2, 6)]
    return [
        "Why: few traps of uneven catch seldom show how uneven it is; the prior of a rate stands",
        "about the catch of the same traps: at k 0.5 the better bait's rate is held in "
        f"{better[0]:.0%}, {better[1]:.0%}, {better[2]:.0%}",
        "at 2, 3, 12 traps. Intervals keep room for uneven catch: at 2 and 6 traps they are "
        f"{even[0]:.2f} and",
        f"{even[1]:.2f} of quasi-Poisson's where k has no limit, {patchy[0]:.2f} and "
        f"{patchy[1]:.2f} at k 0.5.",
    ]

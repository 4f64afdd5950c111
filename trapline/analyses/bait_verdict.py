"""The words of a comparison of baits: what may be concluded, what not, what would settle it."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from trapline.science.intervals import Interval
from trapline.science.permutation import PermutationResult

Word = Literal[
    "winner", "leads", "no clear difference", "no other bait", "nothing caught", "nothing counted"
]
LEAD_CHANCE: Final = 0.80
_USUAL_P: Final = 0.05
_MANY_TRAPS: Final = 60
# An interval that would just leave out 1 does so in half of such trials; for four in five
# it must be ((1.96 + 0.84) / 1.96)^2 times as much work (normal quantiles).
_SURE_ENOUGH: Final = ((1.959964 + 0.841621) / 1.959964) ** 2


@dataclass(frozen=True)
class Evidence:
    """What the verdict is made from; baits are those with rows that count.

    `beats(a, b)` is a chance, `ratio(a, b)` an interval; `n_sets` how many trap sets of a
    bait count. `next_trip(a, b)` is the chance that a beats b on a trip to come, where trips
    are compared. `are_kept` says that each bait stayed on its places over several rounds.
    `prior_words` and `settle_words` are whole sentences, empty while nobody asked.
    """

    baits: tuple[str, ...]
    controls: tuple[str, ...]
    uncounted: tuple[str, ...]
    any_catch: bool
    beats: Callable[[str, str], float]
    ratio: Callable[[str, str], Interval]
    n_sets: dict[str, int]
    permutation: PermutationResult | None
    winner_chance: float
    n_rounds: int = 1
    n_trips: int = 1
    are_kept: bool = False
    next_trip: Callable[[str, str], float] | None = None
    prior_words: str = ""
    settle_words: str = ""

    @property
    def rivals(self) -> tuple[str, ...]:
        """The baits that can be best: all but the controls."""
        return tuple(bait for bait in self.baits if bait not in self.controls)


@dataclass(frozen=True, slots=True)
class Finding:
    """What a verdict comes down to: one word, the bait it is about, and its chance.

    `chance` is that of beating the strongest rival, `runner_up`.
    """

    word: Word
    bait: str = ""
    runner_up: str = ""
    chance: float = math.nan


def find(evidence: Evidence) -> Finding:
    """Return what may be concluded about the baits among themselves.

    A winner beats each rival with at least the winner's chance, so that the interval of
    every ratio leaves out 1; the largest chance of being best is no such rule, for with
    two equal baits it reaches 90 % in one trial of five.

    Parameters
    ----------
    evidence : Evidence
        Chances and ratios of the baits with rows that count.

    References
    ----------
    A rule of our own; its false winners are counted in
    tests/analyses/test_bait_comparison.py.
    """
    rivals = evidence.rivals
    if not evidence.baits:
        return Finding("nothing counted")
    if not evidence.any_catch:
        return Finding("nothing caught")
    if len(rivals) < 2:
        return Finding("no other bait", "".join(rivals))
    weakest = {
        bait: min((evidence.beats(bait, other), other) for other in rivals if other != bait)
        for bait in rivals
    }
    # By name where two are level, so that the order of the rows changes nothing.
    bait = max(sorted(rivals), key=lambda name: weakest[name][0])
    chance, runner_up = weakest[bait]
    word: Word = "no clear difference"
    if chance >= evidence.winner_chance:
        word = "winner"
    elif chance >= LEAD_CHANCE:
        word = "leads"
    return Finding(word, bait, runner_up, chance)


def differ(now: Finding, other: Finding) -> bool:
    """Return whether two findings say something else; which bait is ahead by nothing does not."""
    if now.word == other.word == "no clear difference":
        return False
    return (now.word, now.bait) != (other.word, other.bait)


def verdict(evidence: Evidence, finding: Finding) -> str:
    """Return the verdict, a few plain sentences; the first is about no bait, if there is one.

    Parameters
    ----------
    evidence : Evidence
        What was found.
    finding : Finding
        What it comes down to.

    References
    ----------
    Wasserstein & Lazar (2016), The ASA statement on p-values, Am. Stat. 70, 129-133: no
    conclusion from whether a p-value passes a threshold, no "no effect".
    """
    before, why, after = _sentences(evidence, finding)
    return _joined([*before, *why, *after])


def verdict_in_two(evidence: Evidence, finding: Finding) -> tuple[str, str]:
    """Return the verdict in short, and what else belongs to it: why it is no surer than that.

    What would settle it begins a line of its own.

    Parameters
    ----------
    evidence, finding
        As for `verdict`.

    References
    ----------
    As for `verdict`: the same sentences.
    """
    before, why, after = _sentences(evidence, finding)
    found, settling = _joined(before), _joined(after)
    return f"{found}\n{settling}".strip(), _joined(why)


def _sentences(
    evidence: Evidence, finding: Finding
) -> tuple[Sequence[str], Sequence[str], Sequence[str]]:
    """Return the sentences in their order; those in the middle are not read at a glance."""
    before = (
        _about_control(evidence) if evidence.any_catch else "",
        _about_baits(evidence, finding),
        _about_last(evidence, finding),
        _about_next_trip(evidence, finding),
        _rests_on(evidence),
    )
    why = (
        *_about_chance(evidence, finding),
        _about_places(evidence),
        evidence.prior_words if evidence.any_catch else "",
    )
    is_open = finding.word in ("leads", "no clear difference")
    after = (_what_would_settle(evidence, finding), evidence.settle_words if is_open else "")
    return before, why, after


def _joined(sentences: Sequence[str]) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _about_control(evidence: Evidence) -> str:
    if not evidence.controls or not evidence.rivals:
        return ""
    chances = {
        bait: min(evidence.beats(bait, control) for control in evidence.controls)
        for bait in evidence.rivals
    }
    sure = [bait for bait, chance in chances.items() if chance >= evidence.winner_chance]
    if sure:
        verb = "catches" if len(sure) == 1 else "catch"
        least = at_least(min(chances[bait] for bait in sure))
        names = sentence_case(listed(map(called, sure)))
        return f"{names} {verb} more than a trap without bait ({least} sure)."
    best = max(chances, key=lambda bait: chances[bait])
    if chances[best] >= LEAD_CHANCE:
        return (
            f"{sentence_case(called(best))} seems to catch more than a trap without bait "
            f"({percent(chances[best])}), not settled."
        )
    return "No bait is shown to catch more than a trap without bait."


def _about_baits(evidence: Evidence, finding: Finding) -> str:
    if finding.word == "nothing counted":
        return "Nothing can be compared: no trap has a valid count."
    if finding.word == "nothing caught":
        return "Nothing was caught, so the baits cannot be told apart."
    if finding.word == "no other bait":
        if not finding.bait:
            return "Only traps without bait were counted: there is no bait to compare."
        return f"{sentence_case(called(finding.bait))} has no other bait to be compared with."
    ratio = evidence.ratio(finding.bait, finding.runner_up)
    bait, nearest = called(finding.bait), called(finding.runner_up)
    between = f"{times(ratio.low)} to {times(ratio.high)} times as much as {nearest}"
    if finding.word == "winner":
        others = listed([called(rival) for rival in evidence.rivals if rival != finding.bait])
        text = (
            f"{sentence_case(bait)} is the winner: it beats {others} "
            f"({at_least(finding.chance)} sure). It catches {times(ratio.median)} times "
            f"as much as {nearest}, the nearest ({times(ratio.low)} to "
            f"{times(ratio.high)}). That holds for this water and season only."
        )
    elif finding.word == "leads":
        text = (
            f"{sentence_case(bait)} leads, not settled: with a chance of "
            f"{percent(finding.chance)} it beats {nearest}, the next best. It may catch "
            f"{between}."
        )
    else:
        text = (
            "No clear difference between the baits. That does not make them equal: "
            f"{bait} may catch {between}."
        )
    if evidence.uncounted:
        text += f" Nothing can be said of {listed(map(called, evidence.uncounted))}."
    return text


def _about_last(evidence: Evidence, finding: Finding) -> str:
    """Name a bait that every other one beats, by the rule of the winner turned round."""
    rivals = evidence.rivals
    if finding.word not in ("leads", "no clear difference") or len(rivals) < 3:
        return ""
    for bait in rivals:
        least = min(evidence.beats(other, bait) for other in rivals if other != bait)
        if least >= evidence.winner_chance:
            name = sentence_case(called(bait))
            return f"{name} is behind every other bait ({at_least(least)} sure)."
    return ""


def _about_chance(evidence: Evidence, finding: Finding) -> list[str]:
    test = evidence.permutation
    if test is None:
        return []
    if test.exact:
        ways = f"in {test.n_as_extreme:,} of {test.n_arrangements:,} ways to deal them out"
    else:
        n = test.n_as_extreme
        often = f"about {n:,} times" if n > 1 else "about once" if n else "not once"
        ways = f"{often} in {test.n_arrangements:,} random deals"
    said = [
        "If all baits drew alike, differences among them as large as these would come up "
        f"{ways} ({p(test.p)})."
    ]
    if test.p_min > _USUAL_P:
        said.append(f"No test on this layout can fall below {p(test.p_min)}.")
    elif finding.word == "winner" and test.p > _USUAL_P:
        said.append("That test alone would not settle it.")
    if finding.word in ("leads", "no clear difference") and len(evidence.baits) > 2:
        # A bait far behind makes p small, however near to each other the best ones are.
        said.append("The test is about all baits together and does not say which is best.")
    return said


def _about_next_trip(evidence: Evidence, finding: Finding) -> str:
    if evidence.next_trip is None or finding.word not in ("winner", "leads", "no clear difference"):
        return ""
    chance = evidence.next_trip(finding.bait, finding.runner_up)
    return (
        f"On the next trip like these {called(finding.bait)} beats {called(finding.runner_up)} "
        f"with a chance of {percent(chance)}."
    )


def _rests_on(evidence: Evidence) -> str:
    """Say how many traps and nights are behind it all."""
    if not evidence.baits:
        return ""
    total = sum(evidence.n_sets.values())
    sets = "1 counted trap set" if total == 1 else f"{total} counted trap sets"
    rounds = "1 round" if evidence.n_rounds == 1 else f"{evidence.n_rounds} rounds"
    trips = f" of {evidence.n_trips} trips" if evidence.n_trips > 1 else ""
    each = listed([f"{called(bait)} {evidence.n_sets[bait]}" for bait in evidence.baits])
    return f"This rests on {sets} in {rounds}{trips}: {each}."


def _about_places(evidence: Evidence) -> str:
    if not evidence.any_catch or not evidence.are_kept or len(evidence.baits) < 2:
        return ""
    return (
        "Each bait kept its places: good spots and good baits are hard to tell apart until the "
        "baits change places."
    )


def _what_would_settle(evidence: Evidence, finding: Finding) -> str:
    if finding.word == "nothing caught":
        return "Longer soaks or another spot may."
    if finding.word not in ("leads", "no clear difference"):
        return ""
    move = " Move the baits to other places between rounds." if evidence.are_kept else ""
    ratio = evidence.ratio(finding.bait, finding.runner_up)
    half_width = math.log(ratio.high / ratio.low) / 2
    now = (evidence.n_sets[finding.bait] + evidence.n_sets[finding.runner_up]) / 2
    size = abs(math.log(ratio.median))
    wanted = _SURE_ENOUGH * now * (half_width / size) ** 2 if size > 0 else math.inf
    if wanted > _MANY_TRAPS:
        return (
            f"To settle a difference as small as this one takes more than {_MANY_TRAPS} "
            f"trap sets a bait.{move}"
        )
    return (
        f"If the difference is as large as it looks, about {math.ceil(wanted)} trap sets a bait "
        f"would settle it; now there are {now:.0f}.{move}"
    )


def called(bait: str) -> str:
    """Return a bait as a sentence calls it: in quotes where a comma or an "and" would mislead."""
    return f"“{bait}”" if "," in bait or " and " in bait else bait


def listed(words: Iterable[str]) -> str:
    """Return names as a sentence lists them."""
    names = list(words)
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def sentence_case(text: str) -> str:
    """Return a text with its first letter as sentences begin."""
    return text[:1].upper() + text[1:]


def percent(chance: float) -> str:
    """Return a chance in whole percent, rounded down so that it never promises more."""
    if chance >= 0.995:
        return "more than 99 %"
    return f"{math.floor(100 * chance + 1e-9)} %"


def at_least(chance: float) -> str:
    """Return the lowest of several chances in words."""
    return percent(chance) if chance >= 0.995 else f"at least {percent(chance)}"


def times(ratio: float) -> str:
    """Return a ratio in two digits, or in more near 1, where they decide its side."""
    if ratio > 100:
        return "more than 100"
    if ratio < 0.01:
        return "less than 0.01"
    if 0.995 < ratio < 1.005:
        return f"{ratio:.4f}"
    if 0.9 < ratio < 1.1:
        return f"{ratio:.3g}" if ratio < 1 else f"{ratio:.2f}"
    return f"{ratio:.0f}" if ratio >= 10 else f"{ratio:.1f}" if ratio >= 1 else f"{ratio:.2g}"


def p(value: float) -> str:
    """Return a p-value as papers write it."""
    return f"p = {value:.2g}" if value >= 0.001 else "p < 0.001"

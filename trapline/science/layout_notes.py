"""What the user is told of a drawn layout."""

import numpy as np

from trapline.science.layout_scheme import BaitArray, RoundRules, Scheme, as_rows
from trapline.science.layout_table import task_of


def notes_on_scheme(scheme: Scheme) -> tuple[str, ...]:
    """Return sentences about what the numbers of the scheme do not allow."""
    rules = RoundRules(scheme)
    notes = [
        f"Bait {bait + 1} is on {rules.limits[bait]} of the places in a round; "
        "it may come anywhere along the line."
        for bait in rules.wandering
    ]
    n_blocked, n_left = divmod(rules.n_free_places, len(rules.free))
    if not n_blocked:
        notes.append(f"Every round leaves out {len(rules.free) - n_left} of the baits.")
    elif n_left and rules.in_blocks:
        notes.append(f"The last block is short: it holds {n_left} of {len(rules.free)} baits.")
    elif n_left:
        notes.append("In a round some baits are on one place more than others.")
    return tuple(notes)


def what_is_uneven(scheme: Scheme, layout: BaitArray) -> str:
    """Return a sentence on the worst place, or on the totals where the places are even."""
    task = task_of(scheme, as_rows(layout))
    counts = task.fished_counts()
    off = np.maximum(np.array(task.least) - counts, counts - np.array(task.most))
    if off.max() > 0:
        place, bait = np.unravel_index(int(np.argmax(off)), off.shape)
        n_rounds = int(counts[place, bait])
        wished = " to ".join(map(str, dict.fromkeys((task.least[bait], task.most[bait]))))
        return (
            f"Places that get a bait too often or too seldom: {int((off > 0).any(axis=1).sum())}; "
            f"the worst is place {place + 1}, with bait {bait + 1} in {n_rounds} rounds "
            f"instead of {wished}."
        )
    totals = ", ".join(map(str, counts.sum(axis=0)))
    return f"Over the trip the baits are used {totals} times."

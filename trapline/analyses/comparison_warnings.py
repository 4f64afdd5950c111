"""What to be careful about in one table of lifts, each in one sentence."""

from collections.abc import Iterator, Sequence

from trapline.analyses.bait_verdict import called, listed, sentence_case
from trapline.analyses.counted_lifts import Counted, CountedLifts, place_keys
from trapline.science.exact_intervals import poisson_limits

_ONE_TRAP_HOLDS = 0.5
# Of one bait's catch; our judgement, as is the least catch for which a share says anything.
_ONE_TRAP_OF_A_BAIT_HOLDS = 0.4
_LEAST_CATCH = 10


def warnings_of(lifts: CountedLifts, comparable: bool) -> tuple[str, ...]:
    """Return the warnings about a table of lifts, in words.

    Parameters
    ----------
    lifts : CountedLifts
        The rows that count and those that do not.
    comparable : bool
        Whether there are two baits and a catch to compare.

    References
    ----------
    Common practice, no source.
    """
    return (
        *_about_baits(lifts, comparable),
        *_about_rows(lifts),
        *_about_blocks(lifts, comparable),
        *lifts.spellings,
    )


def _about_baits(lifts: CountedLifts, comparable: bool) -> Iterator[str]:
    known = [bait for bait in lifts.baits if lifts.of(bait)]
    unknown = [bait for bait in lifts.baits if bait not in known]
    if not comparable:
        if not known:
            why = "no trap has a valid count"
        elif len(known) == 1:
            why = f"only one bait ({known[0]}) was counted"
        else:
            why = "nothing was caught"
        yield f"No ratios and no test: {why}."
    elif len({lift.catch / lift.exposure_days for lift in lifts.counted}) == 1:
        yield "No test: every trap caught at the same rate."
    if unknown:
        names = listed(map(called, unknown))
        yield f"No trap with {names} has a valid count: no rate and no chance for it."
    for bait in known:
        rows = lifts.of(bait)
        if len(rows) == 1:
            yield (
                f"{sentence_case(called(bait))} was counted in one trap only: "
                "the spot cannot be told from the bait."
            )
        elif comparable and not any(row.catch for row in rows):
            days = sum(row.exposure_days for row in rows)
            yield (
                f"{sentence_case(called(bait))} caught nothing in {len(rows)} traps: its rate is "
                "low, but how low cannot be told. If animals came one by one it might still be "
                f"{poisson_limits(0).high / days:.2g} per 24 h."
            )
        elif comparable:
            yield from _about_one_trap(bait, rows)


def _about_one_trap(bait: str, rows: Sequence[Counted]) -> Iterator[str]:
    total = sum(lift.catch for lift in rows)
    most = max(rows, key=lambda lift: lift.catch)
    if len(rows) < 4 or total < _LEAST_CATCH or most.catch < _ONE_TRAP_OF_A_BAIT_HOLDS * total:
        return
    yield (
        f"Row {most.row.row} holds {most.catch} of the {total} animals of {called(bait)}: "
        "the verdict may hang on it."
    )


def _about_rows(lifts: CountedLifts) -> Iterator[str]:
    counted = lifts.counted
    if not counted:
        return
    places = place_keys([lift.row for lift in counted])
    if any(lift.row.place for lift in counted) and places is None:
        yield "Some rows name no place, so places were not used."
    n_rounds = len({(lift.row.trip, lift.row.round) for lift in counted})
    if n_rounds > 1 and places is None:
        yield (
            f"There are {n_rounds} rounds and no places: whether baits were moved between "
            "rounds is not known, and the rows may be fewer independent trials than they look."
        )
    total = sum(lift.catch for lift in counted)
    most = max(counted, key=lambda lift: lift.catch)
    if len(counted) >= 6 and most.catch > _ONE_TRAP_HOLDS * total:
        yield f"Row {most.row.row} holds {most.catch} of all {total} animals: check that count."
    halved = [lift for lift in counted if lift.soak_h != lift.row.soak_h]
    if halved:
        traps = "trap counts with half its" if len(halved) == 1 else "traps count with half their"
        yield f"{len(halved)} disturbed {traps} soak."


def _about_blocks(lifts: CountedLifts, comparable: bool) -> Iterator[str]:
    """Say which block, or round, holds one bait only and so compares none."""
    if not comparable:
        return
    by_block: dict[tuple[str, str, str], set[str]] = {}
    for lift in lifts.counted:
        row = lift.row
        by_block.setdefault((row.trip, row.round, row.block), set()).add(lift.bait)
    alone = [key for key, baits in by_block.items() if len(baits) == 1]
    if len(by_block) < 2 or not alone:
        return
    what = "block" if any(key[2] for key in by_block) else "round"
    which = "1 " + what if len(alone) == 1 else f"{len(alone)} {what}s"
    verb = "holds" if len(alone) == 1 else "hold"
    yield (
        f"{which} {verb} counts of one bait only: baits cannot be compared within "
        f"{'it' if len(alone) == 1 else 'them'}, and little is learnt there."
    )

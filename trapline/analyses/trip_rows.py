"""The lifts of chosen rounds as the rows of a comparison, and what is to count among them."""

from collections.abc import Sequence
from dataclasses import dataclass

from trapline.analyses.counted_lifts import CompareOptions
from trapline.analyses.lifts import LiftRow
from trapline.analyses.plume_check import check_plumes
from trapline.analyses.trip_lifts import TripLift
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot
from trapline.science.bait_model import Soak


@dataclass(frozen=True, kw_only=True, slots=True)
class CompareChoice:
    """What is compared, and what counts. Robbed traps count by what was left in them."""

    round_ids: tuple[str, ...]
    species_id: str | None = None
    reference_bait_id: str | None = None
    disturbed: bool = False
    half_soak: bool = False
    robbed: bool = False
    old_bait: bool = False
    without_dropped_back: bool = False
    linear_soak: bool = False
    saturating_soak: bool = False
    factor: float = 2.0


@dataclass(frozen=True)
class TripTable:
    """The lifts that became rows, in step, and the trap sets without a bait."""

    lifts: tuple[TripLift, ...]
    rows: tuple[LiftRow, ...]
    nameless: tuple[TripLift, ...]


def label_of(lift: TripLift) -> str:
    """Return where and when a trap set was: ``P3, round 2``."""
    return f"{lift.place or 'a place without a name'}, round {lift.round.number}"


def table_of(lifts: Sequence[TripLift], choice: CompareChoice) -> TripTable:
    """Return the trap sets that were set with a bait as rows, and those without a bait.

    Parameters
    ----------
    lifts : sequence of TripLift
        All trap sets of the rounds.
    choice : CompareChoice
        What counts.

    References
    ----------
    None: rows of our own.
    """
    set_ones = [lift for lift in lifts if lift.condition != "planned"]
    named = tuple(lift for lift in set_ones if lift.bait is not None)
    rows = tuple(_row(lift, number, choice) for number, lift in enumerate(named, 1))
    return TripTable(named, rows, tuple(lift for lift in set_ones if lift.bait is None))


def _row(lift: TripLift, number: int, choice: CompareChoice) -> LiftRow:
    condition, soak_h = lift.condition, lift.soak_h
    caught = lift.caught if lift.trap_set.counted else None
    if lift.is_known_when_disturbed and choice.disturbed:
        # Its hours of fishing are known: nothing is left to halve.
        condition, soak_h = "fished", lift.fished_h
    elif condition == "robbed" and choice.robbed and lift.caught is not None:
        condition, caught = "fished", lift.caught
    if caught is not None and choice.without_dropped_back:
        caught -= lift.dropped_back
    row = lift.trap_set
    return LiftRow(
        bait=lift.bait_name,
        catch=caught,
        soak_h=soak_h,
        row=number,
        trap=lift.trap,
        place=row.place_id or "",
        round=lift.round.id,
        block="" if row.block is None else str(row.block),
        trip=lift.trip.id,
        condition=condition,
        fraction_counted=row.fraction_counted,
        old_bait=is_old(lift),
    )


def is_old(lift: TripLift) -> bool:
    """Return whether a soak began on bait that hung already."""
    return lift.trap_set.bait_action == "left as it was"


def options_of(
    snapshot: Snapshot, choice: CompareChoice, lifts: Sequence[TripLift]
) -> CompareOptions:
    """Return what counts in the comparison, from the choice and from the trips.

    Parameters
    ----------
    snapshot : Snapshot
        The project.
    choice : CompareChoice
        What counts.
    lifts : sequence of TripLift
        All trap sets of the rounds.

    References
    ----------
    None: the user's own choices.
    """
    usual = CompareOptions()
    reference = snapshot.get(Bait, choice.reference_bait_id)
    # As a bait of its own a soak on old bait has another name.
    hung = {
        lift.bait.id
        for lift in lifts
        if lift.bait and lift.condition != "planned" and not is_old(lift)
    }
    trips = {lift.trip.id: lift.trip for lift in lifts}
    return CompareOptions(
        reference=reference.name if reference and reference.id in hung else "",
        control_names=(
            *usual.control_names,
            *(bait.name for bait in snapshot.all(Bait) if bait.is_control),
        ),
        include_disturbed=choice.disturbed,
        half_soak_for_disturbed=choice.disturbed and choice.half_soak,
        include_old_bait=choice.old_bait,
        soak=soak_of(choice),
        factor=choice.factor,
        all_scents_meet=any(check_plumes(snapshot, one).all_meet for one in choice.round_ids),
        winner_chance=max((trip.winner_threshold for trip in trips.values()), default=0.975),
        seed=next((t.layout_seed for t in trips.values() if t.layout_seed is not None), 0),
    )


def soak_of(choice: CompareChoice) -> Soak:
    """Return how catch is taken to grow with the soak."""
    if choice.saturating_soak:
        return "saturating"
    return "linear" if choice.linear_soak else "power"

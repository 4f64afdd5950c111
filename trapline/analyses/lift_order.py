"""Which traps are lifted in which order: along the line from either end, leftovers with them."""

from collections.abc import Sequence
from dataclasses import dataclass

from trapline.analyses.trip_lifts import caught_of
from trapline.model.catch import Catch
from trapline.model.line import Place
from trapline.model.snapshot import Snapshot
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round


@dataclass(frozen=True, slots=True)
class Stop:
    """One trap on the way along the line; `earlier_round` is its round when it was left over."""

    trap_set: TrapSet
    place: str
    trap: str
    earlier_round: int | None = None

    @property
    def id(self) -> str:
        """The id of the trap set."""
        return self.trap_set.id


def lift_order(snapshot: Snapshot, round_id: str | None) -> tuple[Stop, ...]:
    """Return the traps of a round in the order in which they are lifted.

    A trap that still stands in the water from an earlier round of the trip is there too:
    in the place of the trap that is only planned where it stands, else beside it.

    Parameters
    ----------
    round_id : str or None
        The round; its `lift_from` says at which end the way begins.

    References
    ----------
    Common practice, no source: lifted in the order of setting, so that soaks match.

    Examples
    --------
    >>> lift_order(Snapshot({}), None)
    ()
    """
    fished = snapshot.get(Round, round_id)
    if fished is None:
        return ()
    found = list(snapshot.sets(fished.id))
    numbers: dict[str, int] = {}
    for earlier, row in snapshot.sets_of_trip(fished.trip_id or ""):
        if earlier.number < fished.number and row.is_in_water:
            numbers[row.id] = earlier.number
            here = [one for one in found if one.place_id == row.place_id and one.state == "planned"]
            for one in here:
                found.remove(one)
            found.append(row)
    places = {key: snapshot.get(Place, key) for key in {row.place_id for row in found}}

    def along(row: TrapSet) -> tuple[str, int, int]:
        place = places[row.place_id]
        late = numbers.get(row.id, fished.number)
        return (place.line_id or "", place.ordinal, late) if place else ("", 0, late)

    found.sort(key=along, reverse=fished.lift_from == "last place")
    return tuple(
        Stop(row, snapshot.place_label(row), snapshot.trap_label(row), numbers.get(row.id))
        for row in found
    )


def next_in_water(stops: Sequence[Stop], after_id: str | None) -> Stop | None:
    """Return the next trap that stands in the water after a stop; what was passed over comes last.

    Parameters
    ----------
    stops : sequence of Stop
        In the order of lifting.
    after_id : str or None
        The stop to go on from; None begins at the start.

    References
    ----------
    None: an order.

    Examples
    --------
    >>> next_in_water((), None) is None
    True
    """
    at = next((n for n, stop in enumerate(stops) if stop.id == after_id), -1)
    order = [*stops[at + 1 :], *stops[: at + 1]]
    return next((stop for stop in order if stop.trap_set.is_in_water), None)


def outcome_words(stop: Stop, catches: Sequence[Catch], target_id: str | None) -> str:
    """Return in a word or a number what is known of a trap: 0, not counted and lost are three.

    Parameters
    ----------
    catches : sequence of Catch
        Those of this trap set.
    target_id : str or None
        The species that is counted.

    References
    ----------
    Common practice, no source: zero is data, blank is not.

    Examples
    --------
    >>> outcome_words(Stop(TrapSet(state="lifted", condition="lost"), "P1", "1"), (), None)
    'lost'
    """
    row = stop.trap_set
    if row.state == "planned":
        return "not set"
    if row.is_in_water:
        since = f", round {stop.earlier_round}" if stop.earlier_round else ""
        return f"in water{since}"
    if row.condition in ("lost", "robbed"):
        return row.condition
    if not row.counted:
        return "not counted"
    own = [one for one in catches if one.species_id == target_id]
    caught = caught_of(own)
    if caught is None:
        # Without any entry it was another species that was counted, before the target changed.
        return "weighed or measured" if own else "not counted"
    total = str(caught)
    return f"{total}, disturbed" if row.condition == "disturbed" else total

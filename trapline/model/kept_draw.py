"""The draw of a trip: which bait was dealt to which place in which round, and from which set."""

import json
from dataclasses import dataclass
from typing import Any

from trapline.errors import InvalidValue
from trapline.model.trip import SCHEMES, Trip


@dataclass(frozen=True, slots=True)
class KeptDraw:
    """The draw of a trip as it is kept: rows of `rounds` are its rounds in order, columns places.

    `before` are rounds of an earlier trip that the draw went on from; the rounds of the
    scheme count them. The first `n_given` rounds were fished before the draw was made: it
    went on from them, and a test that draws again leaves them as they are. The last
    `n_dealt_before` of those had their baits from an earlier draw of the trip: they were
    dealt by chance too, from a set of layouts that is no longer kept.
    """

    scheme: dict[str, Any]
    seed: int
    bait_ids: tuple[str, ...]
    place_ids: tuple[str, ...]
    rounds: tuple[tuple[int, ...], ...]
    before: tuple[tuple[int, ...], ...] = ()
    notes: tuple[str, ...] = ()
    n_given: int = 0
    n_dealt_before: int = 0

    def as_json(self) -> str:
        """Return the text that the trip keeps."""
        return json.dumps(
            {
                "scheme": self.scheme,
                "seed": self.seed,
                "baits": self.bait_ids,
                "places": self.place_ids,
                "rounds": self.rounds,
                "before": self.before,
                "notes": self.notes,
                "n_given": self.n_given,
                "n_dealt_before": self.n_dealt_before,
            },
            separators=(",", ":"),
        )


def kept_draw(trip: Trip) -> KeptDraw | None:
    """Return the draw that a trip keeps, or None when its baits were chosen by hand.

    Raises
    ------
    InvalidValue
        Another program wrote something that is no draw.
    """
    if not trip.layout_draw:
        return None
    try:
        kept = json.loads(trip.layout_draw)
        draw = KeptDraw(
            scheme=dict(kept["scheme"]),
            seed=int(kept["seed"]),
            bait_ids=tuple(kept["baits"]),
            place_ids=tuple(kept["places"]),
            rounds=tuple(tuple(row) for row in kept["rounds"]),
            before=tuple(tuple(row) for row in kept["before"]),
            notes=tuple(str(note) for note in kept["notes"]),
            n_given=int(kept.get("n_given", 0)),
            n_dealt_before=int(kept.get("n_dealt_before", 0)),
        )
        for row in (*draw.rounds, *draw.before):
            if len(row) != len(draw.place_ids) or not all(_is_bait(draw, bait) for bait in row):
                raise ValueError(row)
        if draw.scheme["kind"] not in SCHEMES or len(draw.scheme["at_most"]) not in (
            0, len(draw.bait_ids),
        ):  # fmt: skip
            raise ValueError(draw.scheme)
        if not isinstance(draw.scheme.get("even_succession", False), bool):
            raise TypeError(draw.scheme)
        if not 0 <= draw.n_dealt_before <= draw.n_given <= len(draw.rounds):
            raise ValueError(draw.n_given)
        if draw.seed < 0:
            raise ValueError(draw.seed)
        return draw
    except (ValueError, KeyError, TypeError) as problem:
        raise InvalidValue(
            "The draw of the trip cannot be read.", trip.name, "Draw the fair order again."
        ) from problem


def _is_bait(draw: KeptDraw, bait: object) -> bool:
    return isinstance(bait, int) and -1 <= bait < len(draw.bait_ids)


def planned_baits(kept: KeptDraw, nth: int) -> dict[str, str]:
    """Return the bait id at each place id in the nth round of the trip; empty past the draw.

    The first round is 1, whatever number it has: a trip from paper may begin with round 2.
    """
    if not 1 <= nth <= len(kept.rounds):
        return {}
    row = kept.rounds[nth - 1]
    return {
        place: kept.bait_ids[bait]
        for place, bait in zip(kept.place_ids, row, strict=True)
        if bait >= 0
    }


def block_of(kept: KeptDraw, place_id: str) -> int | None:
    """Return the stretch of the line, from 1, that a place lay in when it was drawn for."""
    if kept.scheme["kind"] != "blocks" or place_id not in kept.place_ids:
        return None
    if any(limit is not None for limit in kept.scheme["at_most"]):
        return None  # a control stands anywhere, and the stretches close up about it
    return kept.place_ids.index(place_id) // len(kept.bait_ids) + 1

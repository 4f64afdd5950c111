"""Counts of the trap that is shown: taps and typed ones, improbable ones asked about once."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from trapline.actions.counting import Key, tap, type_count
from trapline.analyses.improbable import is_improbable
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.amount import AmountDialog
from trapline.ui.dialogs.question import ask

if TYPE_CHECKING:
    from trapline.ui.pages.lift_page import LiftPage


class LiftCounting:
    """Writes counts down; each tap is a step of its own."""

    def __init__(self, page: "LiftPage") -> None:
        self.page = page
        self._said_right: set[tuple[str, str, int]] = set()

    def typed(self) -> dict[Key, int | None]:
        """Return the count that is being typed, if any."""
        counter = self.page.counter
        return {counter.key: int(counter.typed)} if counter.typed else {}

    def tap(self, species_id: str, fate: str, by: int) -> None:
        """Count one more, or take one back."""
        row = self.page.row
        if row is None:
            return
        total = self.page.counter.total_of(species_id) + by
        is_known = any(key[:2] == (row.id, species_id) for key in self._said_right)
        if by < 0 or is_known or self._is_right(row, species_id, total):
            self.page.session.do(tap, row.id, species_id, fate, by)

    def write_typed(self, row: TrapSet, key: Key, count: int) -> None:
        """Write down a count as typed."""
        if self.may_be(row, {key: count}):
            self.page.session.do(type_count, row.id, *key, count)

    def write_amount(self) -> None:
        """Ask for a weight or a number of buckets of the chosen species."""
        row, counter = self.page.row, self.page.counter
        if row is not None and row.state != "planned" and counter.species_id:
            AmountDialog.ask(self.page.session, row.id, counter.key, self.page)

    def may_be(self, row: TrapSet, counts: Mapping[Key, int | None]) -> bool:
        """Whether typed counts are probable, or the user says that they are right."""
        counter = self.page.counter
        return all(
            self._is_right(
                row,
                species_id,
                counter.total_of(species_id)
                - counter.counts.get((species_id, fate), 0)
                + (count or 0),
            )
            for (species_id, fate), count in counts.items()
        )

    def _is_right(self, row: TrapSet, species_id: str, total: int) -> bool:
        sentence = is_improbable(self.page.session.snapshot, row.id, total, species_id)
        key = (row.id, species_id, total)
        if not sentence or key in self._said_right:
            return True
        if ask(self.page, f"{sentence} Is it right?", "It is right"):
            self._said_right.add(key)
            return True
        return False

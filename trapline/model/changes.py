"""What one action, undo or redo changed: views decide for themselves whether to redraw."""

from dataclasses import dataclass

from trapline.model.fields import Noun


@dataclass(frozen=True, slots=True)
class RowChange:
    """One row before and after; None where it did not exist."""

    table: str
    id: str
    before: Noun | None
    after: Noun | None


@dataclass(frozen=True, slots=True)
class Changes:
    """All rows that one step touched, in order, with the step's label."""

    label: str
    rows: tuple[RowChange, ...] = ()

    @property
    def tables(self) -> frozenset[str]:
        """The tables that were touched."""
        return frozenset(row.table for row in self.rows)

    def ids(self, table: str) -> frozenset[str]:
        """The ids of the touched rows of one table."""
        return frozenset(row.id for row in self.rows if row.table == table)

    def __bool__(self) -> bool:
        return bool(self.rows)

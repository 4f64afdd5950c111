"""The rows of a past trip as they are typed or pasted, each with what was understood of it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QWidget

from trapline.errors import InvalidValue
from trapline.exchange.past_rows import (
    COLUMNS,
    PaperRules,
    PastRow,
    column_order,
    is_bare_time,
    understand,
)
from trapline.ui.pages.trap_card import hours_words
from trapline.ui.tables.grid import Column, GridView

_BLANK_ROWS = 30
_SPARE_ROWS = 5
_TIMES = (COLUMNS.index("Set"), COLUMNS.index("Lift"))


@dataclass
class PaperLine:
    """One line of the table: its cells, and what they say or why they do not."""

    cells: list[str] = field(default_factory=lambda: [""] * len(COLUMNS))
    found: PastRow | None = None
    problem: InvalidValue | None = None

    @property
    def words(self) -> str:
        """What was understood, in a few words."""
        if self.problem is not None:
            return f"{self.problem.where}: {self.problem.error} {self.problem.what_to_do}".strip()
        row = self.found
        if row is None:
            return ""
        soak = hours_words(row.set_utc, row.lift_utc) or "soak not known"
        if row.condition in ("lost", "robbed"):
            catch = row.condition
        else:
            catch = "not counted" if row.count is None else str(row.count)
            catch += ", disturbed" if row.condition == "disturbed" else ""
        others = "".join(f", {n} {name}" for name, n in row.by_catch)
        return f"round {row.round}, {soak}: {catch}{others}"


class PastTable(GridView):
    """Signals: `changed` when a cell was typed or lines were pasted."""

    changed = Signal()

    def __init__(self, rules: Callable[[], PaperRules], parent: QWidget | None = None) -> None:
        self.rules = rules
        self.lines = [PaperLine() for _ in range(_BLANK_ROWS)]
        columns = [self._column(number, title) for number, title in enumerate(COLUMNS)]
        columns.append(
            Column(
                "Understood",
                lambda line: line.words,
                mark=lambda line: "error" if line.problem else "",
                tip=lambda line: line.words,
                stretch=True,
            )
        )
        super().__init__(columns, "Rows of the past trip", parent)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setTabKeyNavigation(True)
        self.setMinimumSize(1240, 280)
        self.pasted.connect(self.paste)
        self.delete_pressed.connect(self.clear_selected)
        self.understand_all()

    def _column(self, number: int, title: str) -> Column:
        def write(line: PaperLine, text: str) -> None:
            line.cells[number] = text
            self.understand_all()

        return Column(
            title,
            lambda line: line.cells[number],
            write,
            mark=lambda line: "error" if line.problem and line.problem.where == title else "",
        )

    def understand_all(self) -> None:
        """Read every line anew: a blank round is that of the line before."""
        rules, before = self.rules(), 1
        for number, line in enumerate(self.lines, start=1):
            try:
                line.found = understand(line.cells, rules, row=number, round_before=before)
                line.problem = None
            except InvalidValue as problem:
                line.found, line.problem = None, problem
            if line.found is not None:
                before = line.found.round
        filled = [n for n, line in enumerate(self.lines) if any(line.cells)]
        wanted = max(_BLANK_ROWS, (filled[-1] if filled else 0) + 1 + _SPARE_ROWS)
        self.lines += [PaperLine() for _ in range(wanted - len(self.lines))]
        self.show_rows(self.lines)
        self.changed.emit()

    def paste(self, row: int, column: int, lines: Sequence[Sequence[str]]) -> None:
        """Put pasted lines into the table; a header among them says what stands where."""
        order = column_order(lines[0])
        targets = [COLUMNS.index(name) if name else -1 for name in order] if order else None
        body = lines[1:] if order else lines
        missing = row + len(body) - len(self.lines)
        self.lines += [PaperLine() for _ in range(missing)]
        for line, cells in zip(self.lines[row:], body, strict=False):
            for n, text in enumerate(cells):
                at = (targets[n] if n < len(targets) else -1) if targets else column + n
                if 0 <= at < len(COLUMNS):
                    line.cells[at] = text.strip()
        self.understand_all()

    def clear_selected(self) -> None:
        """Empty the selected cells."""
        for index in self.selectedIndexes():
            if index.column() < len(COLUMNS):
                self.lines[index.row()].cells[index.column()] = ""
        self.understand_all()

    def needs_day(self) -> bool:
        """Whether the first day has to be known: a time has no date, or there is no time."""
        times = [line.cells[at] for line in self.lines for at in _TIMES if line.found is not None]
        return any(map(is_bare_time, times)) or not any(times)

    def found(self) -> list[PastRow]:
        """The rows that were understood."""
        return [line.found for line in self.lines if line.found is not None]

    def problems(self) -> list[tuple[int, InvalidValue]]:
        """What was not understood, with the number of its row."""
        return [(n, line.problem) for n, line in enumerate(self.lines, 1) if line.problem]

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == QAbstractItemView.State.EditingState:
            event.accept()  # the editor's: Enter ends it
            return
        super().keyPressEvent(event)

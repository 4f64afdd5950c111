"""Counting one trap: a numeral to read in sunlight, species and fates as large buttons."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.counting import Key
from trapline.drawing.theme import set_role
from trapline.model.catch import FATES
from trapline.model.species import Species
from trapline.ui.pages.numeral import Numeral
from trapline.ui.pages.short_words import ShortLabel
from trapline.ui.pages.species_buttons import SpeciesButtons, large_button

DROPPED = "dropped back at the lift"
# Those that a button chooses; dropping back at the lift has a key of its own.
CHOSEN_FATES = tuple(fate for fate in FATES if fate != DROPPED)
_MOST_DIGITS = 6
_FATES_IN_A_ROW = 4
_SPECIES_HINT = "Species  (← →)"


class Counter(QFrame):
    """Shows what is counted and asks for changes; what is typed is kept until it is taken.

    Signals
    -------
    tapped(species_id, fate, by) : one more, or one back
    before_change() : what is typed is to be written down before something else is shown
    add_asked() : there is no species to count yet
    """

    tapped = Signal(object, object, object)
    before_change = Signal()
    add_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        self.species: tuple[Species, ...] = ()
        self.counts: dict[Key, int] = {}
        self.species_id = ""
        self.typed = ""
        self._fates: dict[str, str] = {}
        self.heading = ShortLabel(cut=Qt.TextElideMode.ElideMiddle)
        set_role(self.heading, "title")
        self.numeral = Numeral()
        self.breakdown = QLabel()
        self.breakdown.setTextFormat(Qt.TextFormat.PlainText)
        self.breakdown.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.breakdown.setWordWrap(True)
        set_role(self.breakdown, "note")
        self.hint = QLabel()
        self.hint.setTextFormat(Qt.TextFormat.PlainText)
        self.minus = large_button("−1  (−)")
        self.plus = large_button("+1  (+, Space)")
        self.dropped = large_button("Dropped back  (D)")
        self.dropped.setToolTip("Count one that dropped back at the lift")
        self.minus.clicked.connect(lambda: self.tap(-1))
        self.plus.clicked.connect(lambda: self.tap(1))
        self.dropped.clicked.connect(lambda: self.tap(1, DROPPED))
        self.fate_group = QButtonGroup(self)
        self.buttons = SpeciesButtons()
        self.buttons.species_clicked.connect(self._on_species_clicked)
        self.buttons.species_chosen.connect(self._turn_to)
        self.buttons.add_asked.connect(self.add_asked)
        self._arrange()

    def _arrange(self) -> None:
        number = QHBoxLayout()
        for widget, share in ((self.minus, 2), (self.numeral, 4), (self.plus, 2)):
            number.addWidget(widget, share)
        for button in (self.minus, self.plus):
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
            button.setMaximumHeight(130)
        fates = QVBoxLayout()
        fates.setSpacing(6)
        # Rows of their own, not a grid: long words stand over short ones and leave room.
        rows = [QHBoxLayout(), QHBoxLayout()]
        for row in rows:
            row.setSpacing(6)
            fates.addLayout(row)
        for n, fate in enumerate(CHOSEN_FATES):
            button = large_button(fate.capitalize())
            button.setCheckable(True)
            self.fate_group.addButton(button, n)
            rows[n // _FATES_IN_A_ROW].addWidget(button, 1)
        rows[-1].addWidget(self.dropped, 2)
        self.fate_group.idClicked.connect(lambda n: self.choose_fate(CHOSEN_FATES[n]))
        fate_label = QLabel("Fate  (F)")
        set_role(fate_label, "note")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(16, 8, 16, 10)
        layout.setSpacing(4)
        layout.addWidget(self.heading)
        layout.addLayout(number, 1)
        below = QHBoxLayout()
        below.addWidget(self.hint)
        below.addWidget(self.breakdown, 1)
        layout.addLayout(below)
        layout.addWidget(self.buttons)
        layout.addWidget(fate_label)
        layout.addLayout(fates)
        self.say("")

    # Showing

    def set_species(self, species: Sequence[Species]) -> None:
        """Offer species, the target first."""
        self.species = tuple(species)
        self.buttons.set_species(species)
        if self.species_id not in {one.id for one in self.species}:
            self.species_id = self.species[0].id if self.species else ""

    def say(self, hint: str) -> None:
        """Say what is missing before the trap can be closed; nothing says how to count."""
        self.hint.setText(hint or _SPECIES_HINT)
        set_role(self.hint, "warning" if hint else "note")

    def show_counts(self, counts: dict[Key, int]) -> None:
        """Show what is written down of the trap."""
        self.counts = dict(counts)
        self._redraw()

    def start_afresh(self) -> None:
        """Turn to another trap: the target and its usual fate, nothing typed, no hint."""
        self.typed = ""
        self.say("")
        self._fates = {}
        self.species_id = self.species[0].id if self.species else ""
        self._redraw()

    @property
    def fate(self) -> str:
        """The fate that counts go to: by-catch goes back unless something else is chosen."""
        species = next((one for one in self.species if one.id == self.species_id), None)
        usual = "put back" if species is not None and species.role == "by-catch" else "kept"
        return self._fates.get(self.species_id, usual)

    @property
    def key(self) -> Key:
        """The species and fate that counts go to."""
        return self.species_id, self.fate

    def total_of(self, species_id: str) -> int:
        """What is counted of a species, all fates together."""
        return sum(count for (one, _), count in self.counts.items() if one == species_id)

    # Counting

    def tap(self, by: int, fate: str = "") -> None:
        """Count one more of the chosen species, or take one back; of its own fate or another."""
        self.before_change.emit()
        self.say("")
        if self.species_id:
            self.tapped.emit(self.species_id, fate or self.fate, by)

    def type_digit(self, digit: str) -> None:
        """Add a digit to the count that is being typed."""
        if self.species_id and len(self.typed) < _MOST_DIGITS:
            self.typed += digit
            self.say("")
            self._redraw()

    def erase(self) -> None:
        """Take back the last digit; with none typed, the last one counted."""
        if self.typed:
            self.typed = self.typed[:-1]
            self._redraw()
        else:
            self.tap(-1)

    def take_typed(self) -> int | None:
        """Return what is typed, which is then no longer; None when nothing is."""
        typed, self.typed = self.typed, ""
        return int(typed) if typed else None

    def forget_typed(self) -> None:
        """Drop what is typed."""
        self.typed = ""
        self.say("")
        self._redraw()

    def choose_species(self, step: int) -> None:
        """Turn to the next species (1) or the one before (−1)."""
        ids = [one.id for one in self.species]
        if ids:
            self.before_change.emit()
            at = ids.index(self.species_id) if self.species_id in ids else 0
            self.species_id = ids[(at + step) % len(ids)]
            self._redraw()

    def choose_fate(self, fate: str) -> None:
        """Let counts of the chosen species go to a fate."""
        self.before_change.emit()
        self._fates[self.species_id] = fate
        self._redraw()

    def next_fate(self) -> None:
        """Turn to the next fate."""
        at = CHOSEN_FATES.index(self.fate)
        self.choose_fate(CHOSEN_FATES[(at + 1) % len(CHOSEN_FATES)])

    # Inside

    def _on_species_clicked(self, species_id: str) -> None:
        self._turn_to(species_id)
        self.tap(1)
        self._redraw()

    def _turn_to(self, species_id: str) -> None:
        if species_id != self.species_id:
            self.before_change.emit()
            self.species_id = species_id
        self._redraw()

    def _redraw(self) -> None:
        species = next((one for one in self.species if one.id == self.species_id), None)
        self.heading.setText(
            f"{species.name}, {self.fate}" if species else "No species to count yet"
        )
        count = self.counts.get(self.key)
        shown = self.typed or ("–" if count is None else str(count))
        self.numeral.setText(shown)
        words = "nothing counted yet" if shown == "–" else shown
        self.numeral.setAccessibleName(f"{self.heading.text()}: {words}")
        self.breakdown.setText(breakdown(self.counts, self.species_id))
        counted = {key for key, _ in self.counts}
        self.buttons.show_counts(self.species_id, {key: self.total_of(key) for key in counted})
        self.fate_group.button(CHOSEN_FATES.index(self.fate)).setChecked(True)


def breakdown(counts: Mapping[Key, int], species_id: str) -> str:
    """Return what was counted of a species, fate by fate."""
    own = [(fate, n) for (key, fate), n in counts.items() if key == species_id]
    own.sort(key=lambda one: FATES.index(one[0]))
    parts = ", ".join(f"{n} {fate}" for fate, n in own)
    return parts if len(own) <= 1 else f"{sum(n for _, n in own)} in all: {parts}"

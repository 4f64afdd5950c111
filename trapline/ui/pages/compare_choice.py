"""Beside the comparison: which rounds and trips, which reference, and what counts."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QLabel,
    QTreeWidget,
    QTreeWidgetItem,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.model.bait import Bait
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Trip

if TYPE_CHECKING:
    from trapline.analyses.trip_comparison import Switch

_KEY = Qt.ItemDataRole.UserRole
COUNTED = {
    "disturbed": ("&Disturbed traps", "Traps that were found disturbed"),
    "half_soak": ("…with half their &soak", "Where the moment is not known, half the soak counts"),
    "robbed": ("Rob&bed traps", "By what was left in them, which is too low"),
    "old_bait": ("Soaks on old ba&it", "As baits of their own, never pooled with fresh ones"),
}
LEFT_OUT = {
    "without_dropped_back": ("Dropped bac&k at the lift", "Animals that were seen to escape"),
}

# How the catch is taken to grow with the soak, by the switch that says so.
SOAKS = {
    "": "As usual, less than in step",
    "linear_soak": "In step with the soak",
    "saturating_soak": "Levels off",
}
_IN_STEP_NAMES = {"": "As usual", "linear_soak": "In step", "saturating_soak": "Levelling off"}
USUAL_FACTOR = 2.0


@dataclass(frozen=True)
class Ticked:
    """What is chosen: rounds, reference, and the switches by the names of `CompareChoice`."""

    round_ids: tuple[str, ...]
    reference_bait_id: str | None
    switches: dict[str, Any]


class CompareChoicePanel(QWidget):
    """Signals: `changed`, after the user chose something else."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._known: set[str] = set()
        self._trip_id: str | None = None
        self.rounds = QTreeWidget()
        self.rounds.setHeaderHidden(True)
        self.rounds.setAccessibleName("Rounds and trips that are compared")
        self.rounds.setMinimumHeight(84)
        self.reference = QComboBox()
        self.reference.setAccessibleName("Reference bait")
        self.soak = QComboBox()
        self.soak.setAccessibleName("How the catch grows with the soak")
        for name, text in SOAKS.items():
            self.soak.addItem(text, name)
        self.factor = QDoubleSpinBox()
        self.factor.setAccessibleName("Times as much as the reference")
        self.factor.setToolTip(
            "The table tells the chance that a bait catches so many times as much"
        )
        self.factor.setRange(1.1, 20.0)
        self.factor.setDecimals(1)
        self.factor.setSingleStep(0.5)
        self.factor.setSuffix(" times")
        self.factor.lineEdit().setTextMargins(6, 0, 0, 0)
        self.factor.setKeyboardTracking(False)  # not with every digit that is typed
        self.factor.setValue(USUAL_FACTOR)
        self.boxes: dict[str, QCheckBox] = {}
        self.notes: dict[str, QLabel] = {}
        self._arrange()
        self.rounds.itemChanged.connect(self._on_item_changed)
        self.reference.activated.connect(lambda _: self.changed.emit())
        self.soak.activated.connect(lambda _: self.changed.emit())
        self.factor.valueChanged.connect(lambda _: self.changed.emit())

    def _arrange(self) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(12, 8, 8, 10)
        layout.setSpacing(3)
        layout.addWidget(_heading("&Compared", self.rounds))
        layout.addWidget(self.rounds, 1)
        layout.addSpacing(4)
        layout.addWidget(_heading("Reference b&ait", self.reference))
        layout.addWidget(self.reference)
        layout.addWidget(_heading("Chance to beat it b&y", self.factor))
        layout.addWidget(self.factor)
        layout.addSpacing(4)
        for heading, switches in (("Count as well", COUNTED), ("Leave out", LEFT_OUT)):
            layout.addWidget(_heading(heading, None))
            for name, (text, tip) in switches.items():
                self._add_switch(layout, name, text, tip)
        layout.addSpacing(4)
        layout.addWidget(_heading("Catch &grows with the soak", self.soak))
        layout.addWidget(self.soak)
        self.notes["soak"] = _note(indent=0)
        layout.addWidget(self.notes["soak"])
        never = QLabel("Lost, not lifted and not counted traps never count.")
        never.setWordWrap(True)
        set_role(never, "note")
        layout.addWidget(never)

    def _add_switch(self, layout: QVBoxLayout, name: str, text: str, tip: str) -> None:
        box = QCheckBox(text)
        box.setToolTip(tip)
        note = _note(indent=22)
        box.toggled.connect(self._on_switched)
        self.boxes[name], self.notes[name] = box, note
        layout.addWidget(box)
        layout.addWidget(note)

    def show_project(self, snapshot: Snapshot, trip: Trip) -> None:
        """List what can be compared; another trip begins with its own rounds and the usual."""
        is_new = trip.id != self._trip_id
        kept = set() if is_new else set(self.round_ids())
        own = {row.id for row in snapshot.rounds(trip.id)}
        checked = own if is_new else kept | (own - self._known)
        self._trip_id = trip.id
        self._fill_rounds(snapshot, trip, checked)
        reference = trip.reference_bait_id if is_new else self.reference.currentData()
        self._fill_reference(snapshot, reference)
        if is_new:
            for box in self.boxes.values():
                box.blockSignals(True)
                box.setChecked(False)
                box.blockSignals(False)
            self.soak.setCurrentIndex(0)
            self.factor.blockSignals(True)
            self.factor.setValue(USUAL_FACTOR)
            self.factor.blockSignals(False)
        self._enable()

    def ticked(self) -> Ticked:
        """Return what is chosen."""
        switches: dict[str, Any] = {name: box.isChecked() for name, box in self.boxes.items()}
        if self.soak.currentData():
            switches[self.soak.currentData()] = True
        switches["factor"] = self.factor.value()
        return Ticked(self.round_ids(), self.reference.currentData(), switches)

    def round_ids(self) -> tuple[str, ...]:
        """Return the ticked rounds, the earliest trip first."""
        found: list[str] = []
        for at in reversed(range(self.rounds.topLevelItemCount())):
            trip = self.rounds.topLevelItem(at)
            for number in range(trip.childCount() if trip else 0):
                row = trip.child(number) if trip else None
                if row is not None and row.checkState(0) == Qt.CheckState.Checked:
                    found.append(row.data(0, _KEY))
        return tuple(found)

    def show_switches(self, switches: "Iterable[Switch]") -> None:
        """Write under each switch whether the verdict depends on it."""
        soaks = []
        for switch in switches:
            if switch.name in SOAKS:
                soaks.append(switch)
                continue
            about = f"{switch.n_sets} trap sets: " if switch.n_sets > 1 else (
                "1 trap set: " if switch.n_sets else "")  # fmt: skip
            self._say(switch.name, self.boxes[switch.name], about + switch.words, switch.changes)
        if soaks:
            # Where one of them is chosen, turning it over is what is usual.
            matter = [one for one in soaks if one.n_sets]
            texts = [
                f"{_IN_STEP_NAMES['' if one.is_on else one.name]}: {one.words}" for one in matter
            ] or [soaks[0].words]
            self._say("soak", self.soak, "\n".join(texts), any(one.changes for one in matter))

    def show_unknown(self, words: str) -> None:
        """Write under each switch that it is not known yet whether the verdict depends on it."""
        for name, box in (*self.boxes.items(), ("soak", self.soak)):
            self._say(name, box, words, None)

    def _say(self, name: str, box: QWidget, text: str, changes: bool | None) -> None:
        note = self.notes[name]
        note.setText(text)
        set_role(note, "warning" if changes else "note")
        box.setAccessibleDescription(text)

    def _fill_rounds(self, snapshot: Snapshot, shown: Trip, checked: set[str]) -> None:
        tree = self.rounds
        tree.blockSignals(True)
        tree.clear()
        self._known = set()
        for trip in snapshot.trips():
            item = QTreeWidgetItem(tree, [trip.name])
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsAutoTristate
                          | Qt.ItemFlag.ItemIsUserCheckable)  # fmt: skip
            for fished in snapshot.rounds(trip.id):
                day = f", {fished.set_on}" if fished.set_on else ""
                row = QTreeWidgetItem(item, [f"Round {fished.number}{day}"])
                row.setData(0, _KEY, fished.id)
                is_on = fished.id in checked
                row.setCheckState(0, Qt.CheckState.Checked if is_on else Qt.CheckState.Unchecked)
                self._known.add(fished.id)
            item.setExpanded(trip.id == shown.id)
        tree.blockSignals(False)

    def _fill_reference(self, snapshot: Snapshot, chosen: str | None) -> None:
        box = self.reference
        box.blockSignals(True)
        box.clear()
        box.addItem("No bait, else the first", None)
        for bait in snapshot.all(Bait):
            box.addItem(bait.name, bait.id)
        box.setCurrentIndex(max(0, box.findData(chosen)))
        box.blockSignals(False)

    def _enable(self) -> None:
        self.boxes["half_soak"].setEnabled(self.boxes["disturbed"].isChecked())

    def _on_switched(self) -> None:
        self._enable()
        self.changed.emit()

    def _on_item_changed(self, item: QTreeWidgetItem) -> None:
        # A trip's own tick follows those of its rounds: only theirs are listened to.
        if item.parent() is not None:
            self.changed.emit()


def _note(indent: int) -> QLabel:
    note = QLabel()
    note.setTextFormat(Qt.TextFormat.PlainText)
    note.setWordWrap(True)
    note.setIndent(indent)
    set_role(note, "note")
    return note


def _heading(text: str, buddy: QWidget | None) -> QLabel:
    label = QLabel(text)
    set_role(label, "heading")
    if buddy is not None:
        label.setBuddy(buddy)
    return label

"""One throw: the first trap at a time, the rest every n minutes."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.setting import times_in_sequence
from trapline.drawing.theme import set_role
from trapline.errors import InvalidValue, TraplineError
from trapline.model.instants import local_text, now_utc, parse_local
from trapline.model.trapset import TrapSet
from trapline.ui.dialogs.which_time import today, typed_instant
from trapline.ui.session import Session


@dataclass(frozen=True, slots=True)
class Throw:
    """Which trap sets in which order, when the first was set, and the minutes between two."""

    set_ids: tuple[str, ...]
    first_utc: str
    every_min: float


class OneThrow(QDialog):
    """Asks for a time and the minutes, and says what will come of it."""

    def __init__(
        self, session: Session, rows: Sequence[TrapSet], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("One throw")
        self.session, self.rows = session, list(rows)
        self.zone = session.trip.zone if session.trip else "UTC"
        self.day = session.round.set_on if session.round else None
        self.throw: Throw | None = None
        self.first = QLineEdit(local_text(now_utc(), self.zone))
        self.first.setAccessibleName("First trap set at")
        self.every = QLineEdit("2")
        self.every.setAccessibleName("Minutes from trap to trap")
        self.backwards = QCheckBox("&Begin at the last place")
        self.outcome = QLabel()
        self.outcome.setWordWrap(True)
        self.outcome.setMinimumWidth(360)
        form = QFormLayout()
        form.addRow("&First trap set at", self.first)
        form.addRow("The rest every … &minutes", self.every)
        form.addRow("", self.backwards)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.button = buttons.addButton(
            f"Set {len(self.rows)} traps", QDialogButtonBox.ButtonRole.AcceptRole
        )
        set_role(self.button, "primary")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addLayout(form)
        layout.addWidget(self.outcome)
        layout.addWidget(buttons)
        self.first.textEdited.connect(self._foretell)
        self.every.textEdited.connect(self._foretell)
        self.backwards.toggled.connect(self._foretell)
        self._foretell()
        self.every.setFocus()
        self.every.selectAll()

    @classmethod
    def ask(
        cls, session: Session, rows: Sequence[TrapSet], parent: QWidget | None = None
    ) -> Throw | None:
        """Return what the user chose, or None."""
        dialog = cls(session, rows, parent)
        taken = dialog.exec() == QDialog.DialogCode.Accepted
        dialog.deleteLater()
        return dialog.throw if taken else None

    def _read(self, *, asks: bool) -> Throw:
        rows = self.rows[::-1] if self.backwards.isChecked() else self.rows
        text = self.every.text().strip().replace(",", ".")
        try:
            every_min = float(text)
        except ValueError as problem:
            raise InvalidValue(
                f"'{text}' is not a number of minutes.", "Every", "Type minutes, like 2 or 0.5."
            ) from problem
        if asks:
            first_utc = typed_instant(self, self.first.text(), self.zone, self.day)
        else:
            day = self.day or today(self.zone)
            first_utc = parse_local(self.first.text(), self.zone, day, later=False)
        return Throw(tuple(row.id for row in rows), first_utc, every_min)

    def _foretell(self) -> None:
        try:
            throw = self._read(asks=False)
            times = times_in_sequence(throw.set_ids, throw.first_utc, throw.every_min)
        except TraplineError as problem:
            self._say(str(problem), "bad")
            self.button.setEnabled(False)
            return
        snapshot = self.session.snapshot
        by_id = {row.id: row for row in self.rows}
        ends = [throw.set_ids[0], throw.set_ids[-1]]
        first, last = (
            f"{snapshot.place_label(by_id[key])} at {local_text(times[key], self.zone, '%H:%M')}"
            for key in ends
        )
        self._say(f"From {first} to {last}.", "note")
        self.button.setEnabled(True)

    def _say(self, text: str, role: str) -> None:
        self.outcome.setText(text)
        set_role(self.outcome, role)

    # Qt overrides

    def accept(self) -> None:
        try:
            self.throw = self._read(asks=True)
        except TraplineError as problem:
            self._say(str(problem), "bad")
            return
        super().accept()

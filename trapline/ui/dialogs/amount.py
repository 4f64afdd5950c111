"""A weight, or a number of buckets, where nobody counts one by one."""

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.counting import Key, type_amount
from trapline.drawing.theme import set_role
from trapline.errors import InvalidValue, TraplineError
from trapline.model.species import Species
from trapline.ui.session import Session


class AmountDialog(QDialog):
    """Writes down what was typed; empty lines are not known."""

    def __init__(
        self, session: Session, set_id: str, key: Key, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.session, self.set_id, self.key = session, set_id, key
        species = session.snapshot.need(Species, key[0])
        self.setWindowTitle("Weight or measure")
        heading = QLabel(f"{species.name}, {key[1]}".replace("&", "&&"))
        set_role(heading, "heading")
        self.weight, self.n, self.name = QLineEdit(), QLineEdit(), QLineEdit()
        self.name.setPlaceholderText("bucket")
        form = QFormLayout()
        for words, line in (
            ("&Weight (kg)", self.weight),
            ("&Number of measures", self.n),
            ("&What measures", self.name),
        ):
            line.setAccessibleName(words.replace("&", ""))
            form.addRow(words, line)
        for one in session.snapshot.catches(set_id):
            if (one.species_id, one.fate) == key and one.count is None:
                self.weight.setText("" if one.weight_kg is None else f"{one.weight_kg:g}")
                self.n.setText("" if one.measure_n is None else f"{one.measure_n:g}")
                self.name.setText(one.measure_name)
        self.problem = QLabel()
        self.problem.setWordWrap(True)
        set_role(self.problem, "bad")
        note = QLabel(
            "Weights and measures give rates and charts; a comparison of baits needs counts."
        )
        note.setWordWrap(True)
        set_role(note, "note")
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        write = buttons.addButton("Write it down", QDialogButtonBox.ButtonRole.AcceptRole)
        set_role(write, "primary")
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(heading)
        layout.addLayout(form)
        layout.addWidget(note)
        layout.addWidget(self.problem)
        layout.addWidget(buttons)

    @classmethod
    def ask(cls, session: Session, set_id: str, key: Key, parent: QWidget | None = None) -> None:
        """Show the dialog; what is accepted is one step."""
        dialog = cls(session, set_id, key, parent)
        dialog.exec()
        dialog.deleteLater()

    # Qt overrides

    def accept(self) -> None:
        try:
            n = _number(self.n.text(), "Number of measures")
            self.session.do_or_raise(
                type_amount, self.set_id, *self.key,
                weight_kg=_number(self.weight.text(), "Weight"), measure_n=n,
                measure_name=(self.name.text().strip() or "bucket") if n is not None else "",
            )  # fmt: skip
        except TraplineError as problem:
            self.problem.setText(str(problem))
            return
        super().accept()


def _number(text: str, name: str) -> float | None:
    if not text.strip():
        return None
    try:
        return float(text.strip().replace(",", "."))
    except ValueError as problem:
        raise InvalidValue(f"'{text}' is not a number.", name, "Type a number.") from problem

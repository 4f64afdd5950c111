"""How a trap came up: condition, bait left, the part counted, when, by whom, and a note."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFormLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.errors import InvalidValue, TraplineError
from trapline.model.trapset import BAIT_LEFT
from trapline.ui.pages.species_buttons import large_button

CONDITION_KEYS = {"fished": "", "disturbed": "X", "robbed": "R", "lost": "L"}
_BAIT_SIGNS = {"none": "none", "a quarter": "¼", "half": "½", "three quarters": "¾", "all": "all"}


@dataclass(frozen=True, slots=True)
class Draft:
    """What is said of a lift, times and the part as typed; empty texts mean the usual."""

    condition: str = "fished"
    bait_left: str = ""
    disturbed_text: str = ""
    part_text: str = ""
    lift_text: str = ""
    by: str = ""
    notes: str = ""


def parse_part(text: str) -> float:
    """Return the part that was counted of a text like ``1/2``, ``0.5`` or ``50 %``; empty is 1.

    Raises
    ------
    InvalidValue
        Not a part above 0 and at most 1.
    """
    words = text.strip().replace(",", ".")
    try:
        if not words:
            part = 1.0
        elif "/" in words:
            over, under = words.split("/")
            part = float(over) / float(under)
        elif words.endswith("%"):
            part = float(words[:-1]) / 100.0
        else:
            part = float(words)
    except (ValueError, ZeroDivisionError):
        part = math.nan
    if not 0.0 < part <= 1.0:
        raise InvalidValue(
            f"'{text}' is not a part of a catch.", "Part counted", "Type a part like 1/2 or 0.25."
        )
    return part


class Line(QLineEdit):
    """A line to type in, which gives the keys back to the page with Enter or Esc."""

    left = Signal()

    def __init__(self, name: str, placeholder: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(placeholder)

    # Qt overrides

    def minimumSizeHint(self) -> QSize:
        # A whole moment can be read, however large the letters are.
        whole = self.fontMetrics().horizontalAdvance("2026-08-30 20:08")
        return QSize(whole + 20, super().minimumSizeHint().height())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape):
            self.left.emit()
            return
        super().keyPressEvent(event)


class Note(QPlainTextEdit):
    """A few lines to type in; Enter or Esc gives the keys back, Shift+Enter begins a line."""

    left = Signal()
    finished = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("Note")
        self.setTabChangesFocus(True)
        self.setMinimumHeight(self.fontMetrics().lineSpacing() * 2 + 14)

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        is_new_line = is_enter and event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if event.key() == Qt.Key.Key_Escape or (is_enter and not is_new_line):
            self.left.emit()
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.finished.emit()


class ConditionPanel(QFrame):
    """What is said of a lift.

    Signals
    -------
    edited() : a button was chosen, or a text was finished
    left() : the keys go back to the page
    """

    edited = Signal()
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        self.conditions, condition_buttons = _choices(
            [f"{word.capitalize()}{f'  ({key})' if key else ''}"
             for word, key in CONDITION_KEYS.items()], self
        )  # fmt: skip
        self.baits, bait_buttons = _choices(list(_BAIT_SIGNS.values()), self)
        # No bait noted is a state of its own: a second click takes the choice back.
        self.baits.setExclusive(False)
        self.disturbed = Line("Disturbed at", "not known")
        self.lifted = Line("Lifted at", "now")
        self.part = Line("Part counted", "all of it")
        self.by = Line("Lifted by")
        self.notes = Note()
        self.notes.left.connect(self.left)
        self.notes.finished.connect(self.edited)
        self.problem = QLabel()
        self.problem.setTextFormat(Qt.TextFormat.PlainText)
        self.problem.setWordWrap(True)
        set_role(self.problem, "bad")
        self.problem.hide()
        for line in self._lines():
            line.editingFinished.connect(self.edited)
            line.left.connect(self.left)
        self.conditions.idClicked.connect(self._on_condition_clicked)
        self.baits.idClicked.connect(self._on_bait_clicked)
        grid = QGridLayout()
        grid.setSpacing(6)
        for n, button in enumerate(condition_buttons):
            grid.addWidget(button, n // 2, n % 2)
        bait_row = QHBoxLayout()
        bait_row.setSpacing(4)
        for button in bait_buttons:
            bait_row.addWidget(button)
        self.form = QFormLayout()
        self.form.setVerticalSpacing(6)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, line in zip(
            ("Disturbed at", "Lifted at  (T)", "Part counted", "Lifted by"),
            self._lines(),
            strict=True,
        ):
            self.form.addRow(words, line)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 8, 14, 10)
        layout.setSpacing(6)
        layout.addWidget(_heading("Condition"))
        layout.addLayout(grid)
        layout.addWidget(_heading("Bait left  (B)"))
        layout.addLayout(bait_row)
        layout.addSpacing(4)
        layout.addLayout(self.form)
        note_label = QLabel("Note  (M)")
        note_label.setBuddy(self.notes)
        layout.addWidget(note_label)
        layout.addWidget(self.notes, 1)
        layout.addWidget(self.problem)
        self._draft = Draft()
        self.show_draft(self._draft)

    def _lines(self) -> tuple[Line, ...]:
        return self.disturbed, self.lifted, self.part, self.by

    def show_draft(self, draft: Draft) -> None:
        """Show what is said of a trap."""
        self._draft = draft
        words = list(CONDITION_KEYS)
        if draft.condition in words:
            self.conditions.button(words.index(draft.condition)).setChecked(True)
        for n, word in enumerate(_BAIT_SIGNS):
            self.baits.button(n).setChecked(word == draft.bait_left)
        texts = (draft.disturbed_text, draft.lift_text, draft.part_text, draft.by)
        for line, text in zip(self._lines(), texts, strict=True):
            if line.text() != text:
                line.setText(text)
        if self.notes.toPlainText() != draft.notes:
            self.notes.setPlainText(draft.notes)
        self.disturbed.setEnabled(draft.condition == "disturbed")
        self.show_problem(None)

    def show_problem(self, problem: TraplineError | None) -> None:
        """Mark the line that was not taken and say why; None clears that."""
        places = {
            "Lifted": self.lifted, "Lifted at": self.lifted, "Disturbed at": self.disturbed,
            "Part counted": self.part,
        }  # fmt: skip
        wrong = places.get(problem.where) if problem else None
        for line in self._lines():
            is_wrong = line is wrong
            if line.property("invalid") != is_wrong:
                line.setProperty("invalid", is_wrong)
                set_role(line, "")
            if is_wrong:
                line.setFocus()
                line.selectAll()
        self.problem.setText(f"{problem.error} {problem.what_to_do}".strip() if problem else "")
        self.problem.setVisible(problem is not None)

    def draft(self) -> Draft:
        """Return what the panel shows."""
        return replace(
            self._draft,
            disturbed_text=self.disturbed.text().strip(),
            lift_text=self.lifted.text().strip(),
            part_text=self.part.text().strip(),
            by=self.by.text().strip(),
            notes=self.notes.toPlainText().strip(),
        )

    def toggle_condition(self, condition: str) -> None:
        """Choose a condition; the one that is chosen already turns back to fished."""
        now = self.draft()
        chosen = "fished" if now.condition == condition else condition
        self.show_draft(replace(now, condition=chosen))
        self.edited.emit()

    def next_bait_left(self) -> None:
        """Turn to the next amount of bait left."""
        now = self.draft()
        at = (BAIT_LEFT.index(now.bait_left) + 1) % len(BAIT_LEFT)
        self.show_draft(replace(now, bait_left=BAIT_LEFT[at]))
        self.edited.emit()

    def _on_condition_clicked(self, number: int) -> None:
        self.show_draft(replace(self.draft(), condition=list(CONDITION_KEYS)[number]))
        self.edited.emit()

    def _on_bait_clicked(self, number: int) -> None:
        word = list(_BAIT_SIGNS)[number]
        now = self.draft()
        self.show_draft(replace(now, bait_left="" if now.bait_left == word else word))
        self.edited.emit()


def _heading(words: str) -> QLabel:
    label = QLabel(words)
    set_role(label, "heading")
    return label


def _choices(words: Sequence[str], parent: QObject) -> tuple[QButtonGroup, list[QPushButton]]:
    group, buttons = QButtonGroup(parent), []
    for n, text in enumerate(words):
        button = large_button(text)
        button.setCheckable(True)
        group.addButton(button, n)
        buttons.append(button)
    return group, buttons

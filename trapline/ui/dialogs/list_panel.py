"""One list to edit: the table, its buttons, and the rest of the chosen row below.

Everything typed is kept at once, as one step each; what cannot be is said and stays typed.
"""

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.editing import add, delete, edit, write
from trapline.drawing.icons import mark_icon
from trapline.drawing.theme import Theme
from trapline.errors import InvalidValue, TraplineError
from trapline.model.bait import COLOURS, MARKS
from trapline.model.changes import Changes
from trapline.model.fields import Noun
from trapline.model.snapshot import Snapshot
from trapline.ui.dialogs.card_dialog import Card, plain_label, push_button
from trapline.ui.dialogs.list_kinds import COLOUR_NAMES, ListKind, Section
from trapline.ui.dialogs.noun_form import NounForm
from trapline.ui.session import Session
from trapline.ui.tables.grid import GridView
from trapline.ui.tables.noun_columns import cell_value, make_columns


class ListPanel(QWidget):
    """A table of one noun with Add and Delete, and below it the fields that have no column.

    Signals
    -------
    failed : TraplineError, of a cell or a field that was not taken
    settled : something was taken; what failed before is over
    """

    failed = Signal(object)
    settled = Signal()

    def __init__(self, session: Session, kind: ListKind, theme: Theme) -> None:
        super().__init__()
        self.session = session
        self.kind = kind
        self.theme = theme
        self._shown: Noun | None = None
        self._showing = False
        columns = make_columns(
            kind.noun, kind.columns(theme.name), lambda: session.snapshot, self._write_field
        )
        self._names = [column.field for column in kind.columns(theme.name)]
        self.table = GridView(columns, kind.title, self)
        self.table.setIconSize(QSize(24, 24))
        self.empty = plain_label(kind.empty, "heading")
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.add_button = push_button(f"&Add {kind.one}")
        self.delete_button = push_button("&Delete", "danger")
        self.bar = QHBoxLayout()
        self.forms: list[NounForm] = []
        self.cards: dict[str, Card] = {}
        self.details = QWidget()
        self._arrange()
        self._connect()
        self.refresh()
        if self.table.grid.rows:
            self.table.selectRow(0)

    # Showing

    def refresh(self) -> None:
        """Show the list as it is now, keeping the chosen row."""
        kept = self._shown.id if self._shown else None
        rows = self.session.snapshot.all(self.kind.noun)
        self._showing = True
        self.table.show_rows(rows)
        self.table.setVisible(bool(rows))
        self.empty.setVisible(not rows)
        self.details.setVisible(bool(rows))
        self._showing = False
        numbers = [n for n, row in enumerate(rows) if row.id == kept]
        if self.table.selected_rows() != numbers and len(self.table.selected_rows()) < 2:
            self.table.select_rows(numbers)
        self._show_details()

    def select(self, row_id: str) -> None:
        """Choose a row by its id and begin to type its name."""
        for number, row in enumerate(self.table.grid.rows):
            if row.id == row_id:
                self.table.select_rows([number])
                self.table.setFocus()
                self.table.edit(self.table.grid.index(number, 0))

    def chosen(self) -> list[Noun]:
        """The selected rows."""
        return [self.table.grid.rows[number] for number in self.table.selected_rows()]

    def _show_details(self) -> None:
        rows = self.chosen()
        self._shown = rows[0] if len(rows) == 1 else None
        self.delete_button.setEnabled(bool(rows))
        self.details.setEnabled(self._shown is not None)
        self._showing = True
        for form in self.forms:
            if self._shown is not None:
                form.show_row(self._shown)
        self._showing = False

    # Doing

    def add_rows(self, rows: Sequence[Noun], label: str = "") -> None:
        """Add rows in one step and choose the first of them."""
        if self._do(add, *rows, label=label):
            self.select(rows[0].id)

    def delete_chosen(self) -> None:
        """Delete the selected rows, unless something refers to them."""
        rows = self.chosen()
        if rows:
            many = f"Delete {len(rows)} {self.kind.title.lower()}" if len(rows) > 1 else ""
            self._do(delete, self.kind.noun, [row.id for row in rows], many)

    def commit(self) -> bool:
        """Keep what is typed below the table; False when it was refused."""
        if self._shown is None or self._showing:
            return True
        self._mark(None)
        typed: dict[str, Any] = {}
        for form in self.forms:
            try:
                typed |= form.values()
            except InvalidValue as problem:
                editor = form.focusWidget()  # the form put the focus there
                self._mark(editor)
                where = problem.where or (editor.accessibleName() if editor else "")
                self.failed.emit(InvalidValue(problem.error, where, problem.what_to_do))
                return False
        row = self.session.snapshot.get(self.kind.noun, self._shown.id)
        changed = {key: value for key, value in typed.items() if getattr(row, key) != value}
        if row is None or not changed:
            self.settled.emit()
            return True
        return self._do(edit, self.kind.noun, row.id, **changed)

    def _mark(self, wrong: QWidget | None) -> None:
        """Draw a red line round the editor of what was refused, and round no other."""
        for form in self.forms:
            for editor in form.editors.values():
                if editor.property("invalid") or editor is wrong:
                    editor.setProperty("invalid", editor is wrong)
                    editor.style().unpolish(editor)
                    editor.style().polish(editor)

    def _do(self, action: Any, *args: Any, **values: Any) -> bool:
        try:
            self.session.do_or_raise(action, *args, **values)
        except TraplineError as problem:
            self.failed.emit(problem)
            return False
        self.settled.emit()
        return True

    def _write_field(self, row: Noun, name: str, value: Any) -> None:
        self.session.do_or_raise(edit, self.kind.noun, row.id, **{name: value})
        self.settled.emit()

    def _on_pasted(self, row: int, column: int, lines: Sequence[Sequence[str]]) -> None:
        """Write a pasted block in one step; lines past the end become new rows."""
        rows: list[Noun] = []
        snapshot = self.session.snapshot
        titles = [one.title for one in self.table.grid.columns[column:]]
        if list(lines[0]) == titles[: len(lines[0])]:
            lines = lines[1:]  # copied from here, headers and all
        try:
            for number, cells in enumerate(lines):
                here = row + number
                _refuse_wider(cells, titles)
                old = (
                    self.table.grid.rows[here]
                    if here < len(self.table.grid.rows)
                    else _begun(self.kind, snapshot.with_rows(rows), cells, column)
                )
                values = {}
                for name, text in zip(self._names[column:], cells, strict=False):
                    values[name] = cell_value(snapshot, self.kind.noun, name, text)
                rows.append(old.with_(**values))
        except InvalidValue as problem:
            where = f"line {len(rows) + 1} of what was pasted"
            self.failed.emit(InvalidValue(problem.error, where, problem.what_to_do))
            return
        if rows:
            self._do(write, rows, f"Paste {self.kind.title.lower()}")

    # Making

    def _arrange(self) -> None:
        for button in (self.add_button, self.delete_button):
            self.bar.addWidget(button)
        self.bar.addStretch(1)
        self.table.setMinimumSize(760, 170)
        below = QHBoxLayout(self.details)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(12)
        for section in self.kind.sections:
            below.addWidget(self._card(section), 2 if section.note else 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 10, 10, 10)
        layout.setSpacing(10)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.empty, 1)
        layout.addLayout(self.bar)
        layout.addWidget(self.details)

    def _card(self, section: Section) -> Card:
        card = Card(section.heading, columns=1)
        card.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        if section.note:
            card.body.insertWidget(1, plain_label(section.note, "note"))
        choices = {}
        if "colour" in section.fields:
            choices["colour"] = list(zip(COLOUR_NAMES, COLOURS, strict=True))
        form = NounForm(self.kind.noun, section.fields, choices=choices, labels=section.labels)
        card.body.insertWidget(card.body.count() - 1, form)
        card.body.addStretch(1)
        self.forms.append(form)
        self.cards[section.heading] = card
        self._paint_choices(form)
        for editor in form.editors.values():
            if isinstance(editor, QLineEdit):
                editor.editingFinished.connect(self.commit)
            elif isinstance(editor, QComboBox):
                editor.activated.connect(lambda _: self.commit())
            elif isinstance(editor, QCheckBox):
                editor.clicked.connect(lambda _: self.commit())
            elif isinstance(editor, QPlainTextEdit):
                editor.installEventFilter(self)
        return card

    def _paint_choices(self, form: NounForm) -> None:
        """Show colours and marks as they look on the map."""
        icons = {
            "colour": [mark_icon("square", word, self.theme.name) for word in COLOURS],
            "mark": [mark_icon(word, COLOURS[0], self.theme.name) for word in MARKS],
        }
        for name, pictures in icons.items():
            box = form.editors.get(name)
            if isinstance(box, QComboBox):
                box.setIconSize(QSize(24, 24))
                for number, picture in enumerate(pictures):
                    box.setItemIcon(number, picture)

    def _connect(self) -> None:
        self.add_button.clicked.connect(
            lambda: self.add_rows([self.kind.new(self.session.snapshot)])
        )
        self.delete_button.clicked.connect(self.delete_chosen)
        self.table.delete_pressed.connect(self.delete_chosen)
        self.table.pasted.connect(self._on_pasted)
        self.table.grid.refused.connect(self.failed)
        self.table.selectionModel().selectionChanged.connect(self._on_selection_changed)
        self.session.changed.connect(self._on_changed)

    def _on_add(self) -> None:
        self.add_rows([self.kind.new(self.session.snapshot)])

    def _on_selection_changed(self, *_: object) -> None:
        if not self._showing:
            self._show_details()

    def _on_changed(self, changes: Changes) -> None:
        if not changes or changes.tables & {self.kind.noun.table, "water"}:
            self.refresh()

    # Qt overrides

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FocusOut:
            self.commit()
        return super().eventFilter(watched, event)


def _refuse_wider(cells: Sequence[str], titles: Sequence[str]) -> None:
    if len(cells) > len(titles):
        raise InvalidValue(
            f"It has {len(cells)} cells, and from here there are {len(titles)} columns.",
            "",
            "Start further to the left, or copy fewer columns.",
        )


def _begun(kind: ListKind, snapshot: Snapshot, cells: Sequence[str], column: int) -> Noun:
    """Return the row that a pasted line past the end of a list begins as."""
    if column > 0 or not cells or not cells[0].strip():
        raise InvalidValue(
            "There are fewer rows in the list than lines in what was pasted.",
            "",
            "Paste from the first column to add rows, or add them first.",
        )
    return (kind.pasted or kind.new)(snapshot)


def extra_button(panel: ListPanel, text: str) -> QPushButton:
    """Return one more button in the bar of a panel, before Delete."""
    button = push_button(text)
    panel.bar.insertWidget(panel.bar.indexOf(panel.delete_button), button)
    return button

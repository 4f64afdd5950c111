"""What the dialogs share: cards of fields, errors at the field, one button that says what it does.

A dialog stays open when its action is refused: nothing that was typed is lost.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from PySide6.QtCore import QCoreApplication, QEvent, QSize, Qt
from PySide6.QtGui import QGuiApplication, QShowEvent
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import LIGHT, Theme, set_role
from trapline.errors import InvalidValue, TraplineError
from trapline.ui.session import Session


def plain_label(text: str = "", role: str = "") -> QLabel:
    """Return a label that wraps and shows its text as it is."""
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    if role:
        set_role(label, role)
    return label


def theme_of(widget: QWidget | None) -> Theme:
    """Return the theme of the window that a widget belongs to: for what it paints itself."""
    while widget is not None:
        theme = getattr(widget, "theme", None)
        if isinstance(theme, Theme):
            return theme
        widget = widget.parentWidget()
    return LIGHT


@contextmanager
def at(where: str) -> Iterator[None]:
    """Let an error raised inside say which field it is about."""
    try:
        yield
    except InvalidValue as problem:
        raise InvalidValue(problem.error, where, problem.what_to_do) from problem


def push_button(text: str, role: str = "") -> QPushButton:
    """Return a button that is never pressed by Enter unless it has the focus."""
    button = QPushButton(text)
    button.setAutoDefault(False)
    if role:
        set_role(button, role)
    return button


class Field(QWidget):
    """A caption, the editor under it, and room for a hint and for what is wrong with it.

    Attributes
    ----------
    key : str
        What errors call the field in their `where`.
    """

    def __init__(self, caption: str, editor: QWidget, *, key: str = "", hint: str = "") -> None:
        super().__init__()
        self.editor = editor
        self.key = (key or caption).replace("&", "").casefold()
        self.caption = QLabel(caption)
        self.caption.setBuddy(editor)
        if not editor.accessibleName():
            editor.setAccessibleName(caption.replace("&", ""))
        self.hint = plain_label(hint, "note")
        self.hint.setVisible(bool(hint))
        self.wrong = plain_label(role="bad")
        self.wrong.hide()
        if isinstance(editor, QComboBox):
            # As wide as its column, whatever words it offers.
            editor.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            editor.setMinimumContentsLength(12)
        for label in (self.hint, self.wrong):
            # The editor alone says how wide the field is.
            label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(3)
        for widget in (self.caption, editor, self.hint, self.wrong):
            layout.addWidget(widget)
        layout.addStretch(1)
        self._clear_when_edited(editor)

    def say(self, hint: str) -> None:
        """Write the hint under the field."""
        self.hint.setText(hint)
        self.hint.setVisible(bool(hint))

    def fail(self, problem: TraplineError) -> None:
        """Say at the field what is wrong with it, and put the focus there."""
        self.wrong.setText(f"{problem.error} {problem.what_to_do}".strip())
        self.wrong.show()
        self.editor.setAccessibleDescription(self.wrong.text())
        self._mark(wrong=True)
        self.editor.setFocus()

    def clear(self) -> None:
        """Forget what was wrong."""
        if not self.wrong.isHidden():
            self.wrong.hide()
            self.editor.setAccessibleDescription("")
            self._mark(wrong=False)

    def _mark(self, *, wrong: bool) -> None:
        self.editor.setProperty("invalid", wrong)
        self.editor.style().unpolish(self.editor)
        self.editor.style().polish(self.editor)

    def _clear_when_edited(self, editor: QWidget) -> None:
        if isinstance(editor, QLineEdit):
            editor.textEdited.connect(self.clear)
        elif isinstance(editor, QPlainTextEdit):
            editor.textChanged.connect(self.clear)
        elif isinstance(editor, QComboBox):
            editor.currentTextChanged.connect(self.clear)


class Card(QFrame):
    """A group of fields under a heading, `columns` beside one another."""

    def __init__(self, heading: str, columns: int = 2) -> None:
        super().__init__()
        set_role(self, "card")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.columns = columns
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(16, 12, 16, 14)
        self.body.setSpacing(8)
        if heading:
            self.heading = plain_label(heading, "heading")
            self.body.addWidget(self.heading)
        self.grid = QGridLayout()
        self.grid.setHorizontalSpacing(14)
        self.grid.setVerticalSpacing(8)
        for column in range(columns):
            self.grid.setColumnStretch(column, 1)
        self.body.addLayout(self.grid)
        self._cell = 0

    def add(self, widget: QWidget, span: int = 1) -> None:
        """Put a field, or anything, into the next free cells; `span` columns wide."""
        if self._cell % self.columns + span > self.columns:
            self._cell += self.columns - self._cell % self.columns
        row, column = divmod(self._cell, self.columns)
        self.grid.addWidget(widget, row, column, 1, span)
        self._cell += span


class _Roll(QScrollArea):
    """A scroll area as large as what is in it, as long as the screen has room."""

    def __init__(self, inside: QWidget) -> None:
        super().__init__()
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.inside = inside
        self.setWidget(inside)

    # Qt overrides

    def sizeHint(self) -> QSize:
        hint = self.inside.sizeHint()
        width = max(hint.width(), self.viewport().width() if self.isVisible() else 0)
        if self.inside.hasHeightForWidth():
            hint.setHeight(self.inside.heightForWidth(width))
        return hint

    def minimumSizeHint(self) -> QSize:
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self.inside.minimumSizeHint().width() + bar, 120)


class CardDialog(QDialog):
    """Cards in columns, a line for what is wrong, and a button with a verb.

    A dialog overrides :meth:`perform`, which does what the button says or raises.
    """

    def __init__(self, session: Session, title: str, verb: str, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.session = session
        self.theme = theme_of(parent)
        self.setWindowTitle(title)
        self.setModal(True)
        self.fields: list[Field] = []
        inside = QWidget()
        self._row = QHBoxLayout(inside)
        self._row.setContentsMargins(14, 14, 14, 6)
        self._row.setSpacing(12)
        self.problem = plain_label(role="bad")
        self.problem.hide()
        self.buttons = QDialogButtonBox()
        self.verb = self.buttons.addButton(verb, QDialogButtonBox.ButtonRole.AcceptRole)
        self.cancel = self.buttons.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        self.cancel.setAutoDefault(False)
        set_role(self.verb, "primary")
        self.verb.setDefault(True)
        self.buttons.accepted.connect(self._on_accepted)
        self.buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 12)
        layout.setSpacing(6)
        self.roll = _Roll(inside)
        layout.addWidget(self.roll, 1)
        self.foot = QVBoxLayout()
        self.foot.setContentsMargins(16, 0, 16, 0)
        self.foot.addWidget(self.problem)
        self.foot.addWidget(self.buttons)
        layout.addLayout(self.foot)

    def perform(self) -> None:
        """Do what the button says.

        Raises
        ------
        TraplineError
            It was refused: said at its field, and the dialog stays open.
        """

    def column(self, *cards: QWidget | QLayout, stretch: int = 1) -> None:
        """Add a column of cards; a table takes the height that is left."""
        column = QVBoxLayout()
        column.setSpacing(12)
        for card in cards:
            if isinstance(card, QLayout):
                column.addLayout(card)
            else:
                grows = card.sizePolicy().verticalPolicy() == QSizePolicy.Policy.Expanding
                column.addWidget(card, 1 if grows else 0)
        if not any(
            isinstance(card, QWidget)
            and card.sizePolicy().verticalPolicy() == QSizePolicy.Policy.Expanding
            for card in cards
        ):
            column.addStretch(1)
        self._row.addLayout(column, stretch)

    def field(self, caption: str, editor: QWidget, *, key: str = "", hint: str = "") -> Field:
        """Return a field whose errors the dialog can find."""
        made = Field(caption, editor, key=key, hint=hint)
        self.fields.append(made)
        return made

    def say(self, problem: TraplineError) -> None:
        """Show what is wrong, at its field where that can be found."""
        self.clear()
        where = problem.where.casefold()
        for field in self.fields:
            if where and field.key == where and not field.isHidden():
                field.fail(problem)
                self.fit()
                return
        self.problem.setText(str(problem))
        self.problem.show()
        self.fit()

    def fit(self) -> None:
        """Grow so that all can be seen, as far as the screen has room."""
        # What was shown or hidden asks its parents for room by such events, level by level.
        QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)
        self.roll.updateGeometry()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.LayoutRequest)
        room = (self.screen() or QGuiApplication.primaryScreen()).availableGeometry().size() * 0.96
        self.resize(self.sizeHint().expandedTo(self.size()).boundedTo(room))

    def clear(self) -> None:
        """Forget what was wrong."""
        self.problem.hide()
        for field in self.fields:
            field.clear()

    def _on_accepted(self) -> None:
        try:
            self.perform()
        except TraplineError as problem:
            self.say(problem)
            return
        self.accept()

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        self.fit()
        super().showEvent(event)


def choose(box: QComboBox, items: Sequence[tuple[str, object]], chosen: object = None) -> None:
    """Fill a combo box with (text, data) pairs and choose the one with the data."""
    box.blockSignals(True)
    box.clear()
    for text, data in items:
        box.addItem(text, data)
    box.setCurrentIndex(max(0, next((n for n, one in enumerate(items) if one[1] == chosen), 0)))
    box.blockSignals(False)

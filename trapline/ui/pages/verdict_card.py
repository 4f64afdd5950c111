"""The verdict at the top of the comparison: a headline, plain sentences, and what is still due."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.ui.pages.short_words import ShortLabel

_OPEN, _FOLDED = "&Why, and how sure ▾", "&Why, and how sure ▸"
_PARTS = 1000  # of the progress bar


class VerdictCard(QFrame):
    """Signals: `cancelled` and `go_on_asked`, for the work that is still due."""

    cancelled = Signal()
    go_on_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "card")
        # Its end says whether anything is settled.
        self.headline = ShortLabel(cut=Qt.TextElideMode.ElideMiddle)
        set_role(self.headline, "title")
        self.next_button = QPushButton("Trip summary")
        set_role(self.next_button, "primary")
        self.next_button.setDefault(True)
        self.verdict = _sentences()
        self.why_button = _quiet(_FOLDED)
        self.why_button.setCheckable(True)
        self.why = _sentences()
        self.why.hide()
        self.status = QLabel()
        self.status.setTextFormat(Qt.TextFormat.PlainText)
        set_role(self.status, "note")
        self.bar = QProgressBar()
        self.bar.setRange(0, _PARTS)
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(150, 8)
        self.cancel_button = _quiet("Ca&ncel")
        self.go_on_button = _quiet("Go &on")
        self._arrange()
        self.why_button.toggled.connect(self._on_why_toggled)
        self.cancel_button.clicked.connect(self.cancelled)
        self.go_on_button.clicked.connect(self.go_on_asked)
        self.show_done()

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 14, 6)
        column.setSpacing(3)
        top = QHBoxLayout()
        top.addWidget(self.headline, 1)
        top.addWidget(self.next_button)
        column.addLayout(top)
        column.addWidget(self.verdict)
        column.addWidget(self.why)
        below = QHBoxLayout()
        below.setSpacing(8)
        # What is folded begins where the sentences do.
        below.setContentsMargins(0, 0, 0, 0)
        below.addWidget(self.why_button)
        below.addStretch(1)
        for part in (self.status, self.bar, self.cancel_button, self.go_on_button):
            below.addWidget(part)
        column.addLayout(below)

    def show_verdict(self, title: str, in_short: str, why: str) -> None:
        """Show another verdict; `why` is folded until it is asked for."""
        self.headline.setText(title)
        self.verdict.setText(in_short)
        self.why.setText(why)
        self.why_button.setEnabled(bool(why))
        self.why.setVisible(self.why_button.isChecked() and bool(why))

    def show_running(self, words: str, share: float = 0.0) -> None:
        """Show that something is being worked out, and how much of it is done, 0 to 1."""
        self._show_status(words, is_running=True)
        self.bar.setValue(round(_PARTS * share))
        self.bar.setAccessibleName(words)

    def show_stopped(self, words: str) -> None:
        """Show that something was not worked out, and let the user go on with it."""
        self._show_status(words, is_running=False)

    def show_done(self) -> None:
        """Show that nothing is due any more."""
        had_focus = self.cancel_button.hasFocus() or self.go_on_button.hasFocus()
        for part in (self.status, self.bar, self.cancel_button, self.go_on_button):
            part.hide()
        if had_focus:
            self.why_button.setFocus()

    def _show_status(self, words: str, *, is_running: bool) -> None:
        had_focus = self.cancel_button.hasFocus() or self.go_on_button.hasFocus()
        self.status.setText(words)
        self.status.show()
        self.bar.setVisible(is_running)
        self.cancel_button.setVisible(is_running)
        self.go_on_button.setVisible(not is_running)
        if had_focus:
            (self.cancel_button if is_running else self.go_on_button).setFocus()

    def _on_why_toggled(self, is_open: bool) -> None:
        self.why_button.setText(_OPEN if is_open else _FOLDED)
        self.why.setVisible(is_open and bool(self.why.text()))


def _sentences() -> QLabel:
    label = QLabel()
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label


def _quiet(text: str) -> QPushButton:
    button = QPushButton(text)
    set_role(button, "quiet")
    button.setAutoDefault(False)
    return button

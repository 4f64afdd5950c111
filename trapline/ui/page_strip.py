"""The five pages along the top, each with a count of what still asks for attention."""

import html

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import (
    QAbstractButton,
    QButtonGroup,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.ui.session import Session

# Left and right of a page's word, as the style sheet has it, and a little air.
_PADDING_PX = 21
# The name of the trip leaves the pages their room.
_NAME_PX = 280


class PageStrip(QFrame):
    """Buttons for the pages, and the round that they show.

    Signals
    -------
    page_chosen : number of the page, from 0
    next_round_asked : the button beside the round
    """

    page_chosen = Signal(int)
    next_round_asked = Signal()

    def __init__(self, session: Session, titles: list[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "strip")
        self.session = session
        self.titles = titles
        layout = QHBoxLayout(self)
        layout.setContentsMargins(10, 0, 10, 0)
        layout.setSpacing(0)
        self.group = QButtonGroup(self)
        for number, title in enumerate(titles):
            button = QPushButton(title)
            button.setCheckable(True)
            button.setAutoDefault(False)
            set_role(button, "page")
            button.setToolTip(f"{title} (Ctrl+{number + 1})")
            self.group.addButton(button, number)
            button.setMinimumWidth(self._width(button))
            layout.addWidget(button)
        self.group.button(0).setChecked(True)
        self.group.idClicked.connect(self.page_chosen)
        layout.addStretch(1)
        self.trip_label = QLabel()
        self.trip_label.setTextFormat(Qt.TextFormat.PlainText)
        set_role(self.trip_label, "heading")
        layout.addWidget(self.trip_label)
        layout.addSpacing(12)
        label = self.round_label = QLabel("&Round")
        self.round_box = QComboBox()
        self.round_box.setAccessibleName("Round")
        self.round_box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        label.setBuddy(self.round_box)
        self.round_box.activated.connect(self._on_round_activated)
        layout.addWidget(label)
        layout.addSpacing(6)
        layout.addWidget(self.round_box)
        layout.addSpacing(6)
        self.next_button = QPushButton("Next round")
        self.next_button.setAutoDefault(False)
        self.next_button.clicked.connect(self.next_round_asked)
        layout.addWidget(self.next_button)
        for signal in (session.project_opened, session.trip_chosen, session.round_chosen):
            signal.connect(self._on_session_moved)
        session.changed.connect(self._on_session_moved)

    def show_current(self, number: int) -> None:
        """Mark the button of the page that is shown."""
        self.group.button(number).setChecked(True)

    def show_attention(self, counts: list[int]) -> None:
        """Write beside each page how many things on it ask for attention."""
        for number, (title, count) in enumerate(zip(self.titles, counts, strict=True)):
            button = self.group.button(number)
            button.setText(f"{title}  {count}" if count else title)
            button.setMinimumWidth(self._width(button))
            words = f"{title}, {count} to attend to" if count else title
            button.setAccessibleName(words)
            button.setToolTip(f"{words} (Ctrl+{number + 1})")

    def _width(self, button: QAbstractButton) -> int:
        """The button's width with bold letters, which the shown page has: nothing jumps."""
        font = button.font()
        font.setBold(True)
        return QFontMetrics(font).horizontalAdvance(button.text()) + 2 * _PADDING_PX

    def _on_round_activated(self, number: int) -> None:
        self.session.choose_round(self.round_box.itemData(number))

    def _on_session_moved(self, _: object) -> None:
        session = self.session
        rounds = session.snapshot.rounds(session.trip_id) if session.trip_id else ()
        self.round_box.clear()
        for row in rounds:
            day = f", {row.set_on}" if row.set_on else ""
            self.round_box.addItem(f"{row.number}{day}", row.id)
        self.round_box.setCurrentIndex(self.round_box.findData(session.round_id))
        name = session.trip.name if session.trip else ""
        shown = self.trip_label.fontMetrics().elidedText(
            name, Qt.TextElideMode.ElideRight, _NAME_PX
        )
        self.trip_label.setText(shown)
        self.trip_label.setToolTip(f"<p>{html.escape(name)}</p>" if shown != name else "")
        for widget in (self.round_label, self.round_box, self.next_button):
            widget.setVisible(bool(rounds))
        # A round that was only planned comes first: there is nothing to go on from.
        is_begun = bool(rounds) and any(
            row.state != "planned" for row in session.snapshot.sets(rounds[-1].id)
        )
        self.next_button.setEnabled(is_begun and not session.is_read_only)

"""The trips of the project, newest first, with what still stands in the water in red."""

import html
from collections import Counter

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QResizeEvent
from PySide6.QtWidgets import (
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trapline.drawing.theme import set_role
from trapline.model.changes import Changes
from trapline.model.trapset import TrapSet
from trapline.model.trip import Round, Trip
from trapline.ui.dialogs.card_dialog import theme_of
from trapline.ui.session import Session
from trapline.ui.tables.marked import MarkedDelegate

# What the style leaves beside the text of an item, and with the margins of the sidebar.
_IN_ITEM_PX = 26
_AROUND_PX = 52


class Sidebar(QWidget):
    """A narrow list of trips; choosing one shows it on every page."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sidebar")
        self.session = session
        title = QLabel("Trips")
        title.setObjectName("sidebar_title")
        set_role(title, "heading")
        self.list = QListWidget()
        self.list.setAccessibleName("Trips")
        self.list.setItemDelegate(MarkedDelegate(self.list))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentItemChanged.connect(self._on_item_chosen)
        self.in_water = QLabel()
        self.in_water.setObjectName("in_water")
        self.in_water.setTextFormat(Qt.TextFormat.PlainText)
        self.in_water.setWordWrap(True)
        set_role(self.in_water, "bad")
        self.new_button = QPushButton("New trip…")
        self.new_button.setAutoDefault(False)
        self._width = 0
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 10, 10, 10)
        layout.addWidget(title)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.in_water)
        layout.addWidget(self.new_button)
        session.project_opened.connect(self._on_session_opened)
        session.changed.connect(self._on_session_changed)
        session.trip_chosen.connect(self._on_session_opened)

    def refresh(self) -> None:
        """List the trips anew, keeping the chosen one."""
        snapshot = self.session.snapshot
        # One pass over all trap sets, whatever the number of trips.
        sets = Counter((row.round_id, row.state) for row in snapshot.all(TrapSet))
        standing = Counter(row.round_id for row in snapshot.all(TrapSet) if row.is_in_water)
        rounds: dict[str | None, list[Round]] = {}
        for fished in snapshot.all(Round):
            rounds.setdefault(fished.trip_id, []).append(fished)
        red = QColor(theme_of(self).bad)
        self.setMinimumWidth(
            self.list.fontMetrics().horizontalAdvance("10 of 10 lifted") + _AROUND_PX
        )
        self.list.blockSignals(True)
        self.list.clear()
        for trip in snapshot.trips() if self.session.project else ():
            n_standing = sum(standing[row.id] for row in rounds.get(trip.id, ()))
            lines = self._lines(trip, rounds.get(trip.id, []), sets, n_standing)
            item = self._item(lines)
            item.setData(Qt.ItemDataRole.UserRole, trip.id)
            if n_standing:
                item.setForeground(red)
            self.list.addItem(item)
            if trip.id == self.session.trip_id:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        total = sum(standing.values())
        self.in_water.setText(f"{total} trap{'s' if total > 1 else ''} still in the water")
        self.in_water.setVisible(total > 0)
        self.new_button.setEnabled(not self.session.is_read_only)

    def _lines(
        self,
        trip: Trip,
        rounds: list[Round],
        sets: Counter[tuple[str | None, str]],
        n_standing: int,
    ) -> list[str]:
        water = self.session.snapshot.water_of(trip)
        lines = [trip.name]
        if trip.started_on:
            lines.append(trip.started_on)
        if water is not None:
            lines.append(water.name)
        if rounds:
            last = max(rounds, key=lambda row: row.number)
            n = sum(count for (round_id, _), count in sets.items() if round_id == last.id)
            lines.append(f"round {last.number}: {sets[last.id, 'lifted']} of {n} lifted")
        if n_standing:
            lines.append(f"{n_standing} in the water")
        return lines

    def _item(self, lines: list[str]) -> QListWidgetItem:
        metrics = self.list.fontMetrics()
        width = max(100, self.list.viewport().width() - _IN_ITEM_PX)
        # How far the round has come nobody can guess: rather in two lines than cut off.
        parts = [
            part
            for line in lines
            for part in (
                line.split(": ", 1)
                if line.startswith("round ") and metrics.horizontalAdvance(line) > width
                else [line]
            )
        ]
        shown = [metrics.elidedText(part, Qt.TextElideMode.ElideRight, width) for part in parts]
        item = QListWidgetItem("\n".join(shown))
        item.setData(Qt.ItemDataRole.AccessibleTextRole, ", ".join(lines))
        item.setSizeHint(QSize(0, metrics.lineSpacing() * len(shown) + 22))
        if shown != parts:
            item.setToolTip("<br>".join(html.escape(line) for line in lines))
        return item

    def _on_item_chosen(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self.session.choose_trip(item.data(Qt.ItemDataRole.UserRole))

    def _on_session_opened(self, _: object) -> None:
        self.refresh()

    def _on_session_changed(self, changes: Changes) -> None:
        if not changes or changes.tables & {"trip", "round", "trap_set", "water"}:
            self.refresh()

    # Qt overrides

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != self._width:
            self._width = event.size().width()
            self.refresh()

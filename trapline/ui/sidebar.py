"""The trips of the project, newest first, with what still stands in the water in red."""

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

from trapline.model.changes import Changes
from trapline.model.trip import Trip
from trapline.ui.session import Session


class Sidebar(QWidget):
    """A narrow list of trips; choosing one shows it on every page."""

    red = QColor("#B00020")

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sidebar")
        self.session = session
        title = QLabel("Trips")
        title.setObjectName("sidebar_title")
        self.list = QListWidget()
        self.list.setAccessibleName("Trips")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentItemChanged.connect(self._on_item_chosen)
        self.in_water = QLabel()
        self.in_water.setObjectName("in_water")
        self.in_water.setTextFormat(Qt.TextFormat.PlainText)
        self.in_water.setWordWrap(True)
        self.new_button = QPushButton("New trip…")
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
        self.list.blockSignals(True)
        self.list.clear()
        standing = 0
        for trip in snapshot.trips() if self.session.project else ():
            text, in_water = self._describe(trip)
            standing += in_water
            item = QListWidgetItem(text)
            item.setData(Qt.ItemDataRole.UserRole, trip.id)
            height = self.list.fontMetrics().lineSpacing() * (text.count("\n") + 1) + 22
            item.setSizeHint(QSize(0, height))
            if in_water:
                item.setForeground(self.red)
            self.list.addItem(item)
            if trip.id == self.session.trip_id:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        self.in_water.setText(
            f"{standing} trap{'s' if standing > 1 else ''} still in the water" if standing else ""
        )
        self.in_water.setVisible(standing > 0)
        self.new_button.setEnabled(
            self.session.project is not None and not self.session.project.read_only
        )

    def _describe(self, trip: Trip) -> tuple[str, int]:
        snapshot = self.session.snapshot
        water = snapshot.water_of(trip)
        rounds = snapshot.rounds(trip.id)
        standing = sum(row.is_in_water for _, row in snapshot.sets_of_trip(trip.id))
        lines = [trip.name]
        if trip.started_on:
            lines.append(trip.started_on)
        if water is not None:
            lines.append(water.name)
        if rounds:
            sets = snapshot.sets(rounds[-1].id)
            lifted = sum(row.state == "lifted" for row in sets)
            lines.append(f"round {rounds[-1].number}: {lifted} of {len(sets)} lifted")
        if standing:
            lines.append(f"{standing} in the water")
        width = max(100, self.list.viewport().width() - 26)
        metrics = self.list.fontMetrics()
        shown = [metrics.elidedText(line, Qt.TextElideMode.ElideRight, width) for line in lines]
        return "\n".join(shown), standing

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
        self.refresh()

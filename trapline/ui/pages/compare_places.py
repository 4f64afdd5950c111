"""The catch on the map, and the best places as a table."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QLabel, QSplitter, QVBoxLayout, QWidget

from trapline.analyses.place_catch import PlaceCatch, PlaceCatches
from trapline.drawing.theme import Theme, set_role
from trapline.model.snapshot import Snapshot
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.tables.grid import Column, GridView


class PlacesPanel(QWidget):
    """The places of the chosen rounds, the best first; map and table go together."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._is_fitted = False
        self.canvas = MapCanvas()
        self.canvas.is_editable = False
        self.table = GridView(
            [
                Column("Place", lambda row: row.place),
                Column("Per 24 h", _rate, is_number=True,
                       tip=lambda _: "Catch per trap and 24 h of soak"),
                Column("Catch", lambda row: str(row.catch) if row.n_counted else "–",
                       is_number=True),
                Column("Hours", lambda row: f"{row.effort_h:.1f}" if row.n_counted else "–",
                       is_number=True),
                Column("Counted", lambda row: f"{row.n_counted} of {row.n_sets}"),
                Column("Baits", _baits, tip=_baits),
            ],
            "Places, the best first",
        )  # fmt: skip
        self.caution = QLabel()
        self.caution.setTextFormat(Qt.TextFormat.PlainText)
        self.caution.setWordWrap(True)
        set_role(self.caution, "note")
        side = QWidget()
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.caution)
        splitter = QSplitter(Qt.Orientation.Horizontal)
        splitter.addWidget(self.canvas)
        splitter.addWidget(side)
        splitter.setStretchFactor(0, 1)
        splitter.setSizes([400, 490])
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 6, 0, 0)
        layout.addWidget(splitter)
        self.canvas.places_selected.connect(self._on_map_selected)
        self.table.selectionModel().selectionChanged.connect(self._on_rows_selected)

    def show_places(self, snapshot: Snapshot, found: PlaceCatches) -> None:
        """Show other places."""
        from trapline.drawing.catch_map import catch_map

        self.table.show_rows(found.places)
        self.canvas.set_content(catch_map(snapshot, found))
        self._is_fitted = False
        if self.isVisible():
            self._fit()
        self.canvas.set_notice("" if found.places else "No trap was set in these rounds.")
        self.caution.setText(found.caution)
        self.caution.setVisible(bool(found.caution))

    def _fit(self) -> None:
        self.canvas.fit()
        self.canvas.zoom(0.8)  # room for the rates beside the outer places
        self._is_fitted = True

    def set_theme(self, theme: Theme) -> None:
        """Take the colours of the map."""
        self.canvas.set_theme(theme)

    def _on_map_selected(self, place_ids: object) -> None:
        chosen = set(place_ids) if isinstance(place_ids, tuple) else set()
        rows = [n for n, row in enumerate(self.table.grid.rows) if row.place_id in chosen]
        self.table.select_rows(rows)

    def _on_rows_selected(self) -> None:
        rows = [self.table.grid.rows[n] for n in self.table.selected_rows()]
        self.canvas.set_selected(tuple(row.place_id for row in rows))

    # Qt overrides

    def showEvent(self, event: QShowEvent) -> None:
        # Behind another tab the map has no size yet that places could be fitted to.
        super().showEvent(event)
        if not self._is_fitted:
            self._fit()


def _baits(row: PlaceCatch) -> str:
    from trapline.analyses.bait_verdict import called

    return ", ".join(map(called, row.baits))


def _rate(row: PlaceCatch) -> str:
    return "no valid count" if row.rate_per_24h is None else f"{row.rate_per_24h:.2f}"

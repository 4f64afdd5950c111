"""The line at the left of the Lift page: each trap with what is known of it, in lifting order."""

from collections.abc import Sequence

from PySide6.QtCore import QItemSelection, Qt, Signal
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QWidget

from trapline.analyses.lift_order import Stop, outcome_words
from trapline.drawing.icons import mark_icon
from trapline.model.catch import Catch
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView

_OWN_KEYS = (Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)


class LiftList(GridView):
    """Signals: `stop_chosen` (trap set id) when the user selects a row."""

    stop_chosen = Signal(object)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        self.session = session
        self.theme_name = "light"
        self.target_id: str | None = None
        self._catches: dict[str, list[Catch]] = {}
        super().__init__(
            [
                Column("Place", lambda stop: stop.place, decoration=self._icon, stretch=True),
                Column("Trap", lambda stop: stop.trap),
                Column("Found", self._outcome, mark=self._mark),
            ],
            "Traps in the order of lifting",
            parent,
        )
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        # A click chooses a trap and leaves the keys with the page.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._showing = False
        self.selectionModel().selectionChanged.connect(self._on_selection_changed)

    def show_stops(
        self, stops: Sequence[Stop], current_id: str | None, target_id: str | None
    ) -> None:
        """Show the way along the line, with the current trap selected."""
        self.target_id = target_id
        self._catches = self.session.snapshot.catches_by_set
        self._showing = True
        self.show_rows(stops)
        self.select_rows([n for n, stop in enumerate(stops) if stop.id == current_id])
        self._showing = False

    def _outcome(self, stop: Stop) -> str:
        return outcome_words(stop, self._catches.get(stop.id, ()), self.target_id)

    @staticmethod
    def _mark(stop: Stop) -> str:
        row = stop.trap_set
        return "error" if row.is_in_water or row.condition == "lost" else ""

    def _icon(self, stop: Stop) -> QIcon | None:
        bait = self.session.snapshot.bait_of(stop.trap_set)
        return mark_icon(bait.mark, bait.colour, self.theme_name) if bait else None

    def _on_selection_changed(self, _new: QItemSelection, _old: QItemSelection) -> None:
        rows = self.selected_rows()
        if rows and not self._showing:
            self.stop_chosen.emit(self.grid.rows[rows[0]].id)

    # Qt overrides

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in _OWN_KEYS or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            super().keyPressEvent(event)
        else:
            event.ignore()  # the page's: up and down too, so that counts are not lost

"""Trips, rounds and places: the commands that open a dialog, and those that need none."""

from concurrent.futures import Future
from pathlib import Path
from typing import TYPE_CHECKING

from trapline.actions.next_fair_round import plan_fair_round, propose_fair_round
from trapline.actions.trips import delete_round, delete_trip, next_round
from trapline.errors import InvalidValue, TraplineError
from trapline.model.kept_draw import KeptDraw
from trapline.ui.background import Background
from trapline.ui.commands.handler import Handler
from trapline.ui.dialogs import question

if TYPE_CHECKING:
    from trapline.ui.window import MainWindow


class TripCommands(Handler):
    """The Trip menu, and what brings places into a trip."""

    def __init__(self, window: "MainWindow") -> None:
        super().__init__(window)
        self._background = Background(window)

    def on_new_trip(self) -> None:
        """Ask where, when and by which rules, and start the trip."""
        from trapline.ui.dialogs.trip_dialog import TripDialog

        if TripDialog.ask(self.session, self.window, new=True):
            self.window.show_page(0)

    def on_new_trip_from(self) -> None:
        """Start a trip like the one that is looked at, the baits rotated."""
        from trapline.ui.dialogs.trip_dialog import NextTripDialog

        if NextTripDialog.ask(self.session, self.window):
            self.window.show_page(0)

    def on_edit_trip(self) -> None:
        """Edit the trip and the round that are looked at."""
        from trapline.ui.dialogs.trip_dialog import TripDialog

        TripDialog.ask(self.session, self.window, new=False)

    def on_next_round(self) -> None:
        """Plan the next round with the baits of the plan, and look at it."""
        if self.session.do(next_round, self.session.trip_id) is None:
            return
        self.session.choose_round(None)
        fished = self.session.round
        if fished is not None:
            day = f" for {fished.set_on}" if fished.set_on else ""
            self.session.informed.emit(f"Round {fished.number} is planned{day}.")

    def on_plan_round(self) -> None:
        """Plan the next round with a fair draw that goes on, and show who goes where."""
        snapshot, trip_id = self.session.snapshot, self.session.trip_id
        if trip_id is None:
            return

        def take(done: "Future[KeptDraw]") -> None:
            try:
                kept = done.result()
            except TraplineError as problem:
                self.session.failed.emit(problem)
                return
            if self.session.trip_id == trip_id:
                self._plan_round(trip_id, kept)

        # A draw over a whole line of many places takes some seconds.
        self._background.run(lambda: propose_fair_round(snapshot, trip_id), take)

    def _plan_round(self, trip_id: str, kept: KeptDraw) -> None:
        done = self.session.do(plan_fair_round, trip_id, kept)
        if done is None:
            return
        self.session.choose_round(None)
        fished = self.session.round
        if fished is not None:
            is_new = "is planned" if done.rows else "was planned already"
            self.session.informed.emit(f"Round {fished.number} {is_new}, by the fair draw.")
        self.window.show_page(1)

    def on_fair_order(self) -> None:
        """Draw which bait hangs where."""
        from trapline.ui.dialogs.fair_order_dialog import FairOrderDialog

        FairOrderDialog.ask(self.session, self.window)

    def on_import_places(self) -> None:
        """Ask for a file of places, preview it and import it."""
        from trapline.ui.dialogs.import_dialog import ImportDialog

        ImportDialog.ask(self.session, self.window)

    def on_add_several(self) -> None:
        """Add several places at once."""
        from trapline.ui.dialogs.add_several import AddSeveralDialog

        AddSeveralDialog.ask(self.session, self.window)

    def on_edit_place(self) -> None:
        """Edit the selected place."""
        from trapline.ui.dialogs.place_dialog import PlaceDialog

        if len(self.session.selection) != 1:
            chosen = f"{len(self.session.selection)} places are" if self.session.selection else (
                "No place is"
            )  # fmt: skip
            self.session.failed.emit(
                InvalidValue(f"{chosen} selected.", "", "Select one, on the map or in the table.")
            )
            return
        PlaceDialog.ask(self.session, self.window, self.session.selection[0])

    def on_delete_round(self) -> None:
        """Delete the last round while it is only planned, after one question."""
        trip = self.session.trip
        if trip is None:
            return
        last = self.session.snapshot.round_numbered(trip.id, None)
        words = f"Delete round {last.number} of “{trip.name}”? Undo brings it back."
        if question.ask(self.window, words, f"Delete round {last.number}"):
            self.session.do(delete_round, last.id)

    def on_delete_trip(self) -> None:
        """Delete the trip while nothing of it was set, after one question."""
        trip = self.session.trip
        if trip is None:
            return
        words = f"Delete the trip “{trip.name}”? Its places stay. Undo brings it back."
        if question.ask(self.window, words, "Delete the trip"):
            self.session.do(delete_trip, trip.id)

    # Handler

    def take_file(self, path: Path) -> None:
        """Preview the places of a file that was dropped on the window."""
        from trapline.ui.dialogs.import_dialog import ImportDialog

        if not self.session.is_read_only:
            ImportDialog.ask(self.session, self.window, path)

"""Field sheet and trip summary: shown as they will print, then printed or saved."""

from concurrent.futures import Future
from typing import TYPE_CHECKING

from trapline.errors import TraplineError
from trapline.ui.background import Background
from trapline.ui.commands.handler import Handler
from trapline.ui.session import known_comparison

if TYPE_CHECKING:
    # The statistics bring scipy along: they are imported when there is something to print.
    from trapline.analyses.trip_summary import TripSummary
    from trapline.ui.window import MainWindow


class PrintCommands(Handler):
    """The lines of the File menu that print."""

    def __init__(self, window: "MainWindow") -> None:
        super().__init__(window)
        self._background = Background(window)

    def on_field_sheet(self) -> None:
        """Show the field sheet of the round."""
        from trapline.reports.field_sheet import field_sheet
        from trapline.ui.dialogs.print_dialog import PrintDialog

        snapshot, round_id = self.session.snapshot, self.session.round_id
        if round_id is not None:
            PrintDialog.ask(
                lambda paper: field_sheet(snapshot, round_id, paper), "Field sheet", self.window
            )

    def on_print_summary(self) -> None:
        """Show the summary of the trip, with what the Compare page has found of it."""
        snapshot, trip_id = self.session.snapshot, self.session.trip_id
        if trip_id is None:
            return
        known = known_comparison(self.session)

        def work() -> "TripSummary":
            from trapline.analyses.trip_summary import trip_summary

            return trip_summary(snapshot, trip_id, known=known)

        def show(done: "Future[TripSummary]") -> None:
            from trapline.reports.trip_summary import trip_summary_report
            from trapline.ui.dialogs.print_dialog import PrintDialog

            try:
                found = done.result()
            except TraplineError as problem:
                self.session.failed.emit(problem)
                return
            if self.session.project is None:
                return  # closed meanwhile
            PrintDialog.ask(
                lambda paper: trip_summary_report(snapshot, found, paper),
                "Trip summary",
                self.window,
            )

        # The baits may still have to be compared, which takes some seconds.
        self._background.run(work, show)

"""Field sheet and trip summary: shown as they will print, then printed or saved."""

from trapline.ui.commands.handler import Handler


class PrintCommands(Handler):
    """The lines of the File menu that print."""

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
        """Show the summary of the trip."""
        from trapline.analyses.trip_summary import trip_summary
        from trapline.reports.trip_summary import trip_summary_report
        from trapline.ui.dialogs.print_dialog import PrintDialog

        snapshot, trip_id = self.session.snapshot, self.session.trip_id
        if trip_id is not None:
            found = trip_summary(snapshot, trip_id)
            PrintDialog.ask(
                lambda paper: trip_summary_report(snapshot, found, paper),
                "Trip summary",
                self.window,
            )

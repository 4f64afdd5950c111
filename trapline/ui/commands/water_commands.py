"""What happened on the water long ago: typed in from paper."""

from trapline.ui.commands.handler import Handler


class WaterCommands(Handler):
    """Past trips."""

    def on_past_trip(self) -> None:
        """Type in a past trip from paper, or paste it from a spreadsheet."""
        from trapline.ui.dialogs.past_trip import PastTripDialog

        if PastTripDialog.ask(self.session, self.window):
            self.window.show_page(2)

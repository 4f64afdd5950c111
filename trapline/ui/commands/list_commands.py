"""The Lists menu: baits, traps, species, waters and lines."""

from trapline.ui.commands.handler import Handler


class ListCommands(Handler):
    """Each opens its list editor."""

    def on_edit_baits(self) -> None:
        """Edit the baits."""
        self._ask("baits")

    def on_edit_traps(self) -> None:
        """Edit the traps."""
        self._ask("traps")

    def on_edit_species(self) -> None:
        """Edit the species."""
        self._ask("species")

    def on_edit_waters(self) -> None:
        """Edit the waters and lines."""
        self._ask("waters")

    def _ask(self, name: str) -> None:
        from trapline.ui.dialogs.list_dialog import ListDialog

        ListDialog.ask(self.session, self.window, name)

"""The list of command groups."""

from typing import TYPE_CHECKING

from trapline.ui.commands.edit_commands import EditCommands
from trapline.ui.commands.file_commands import FileCommands
from trapline.ui.commands.handler import Handler
from trapline.ui.commands.help_commands import HelpCommands
from trapline.ui.commands.list_commands import ListCommands
from trapline.ui.commands.print_commands import PrintCommands
from trapline.ui.commands.trip_commands import TripCommands
from trapline.ui.commands.view_commands import ViewCommands
from trapline.ui.commands.water_commands import WaterCommands

if TYPE_CHECKING:
    from trapline.ui.window import MainWindow


def make_handlers(window: "MainWindow") -> list[Handler]:
    """Return one of each group, made for a window."""
    groups = (
        FileCommands,
        EditCommands,
        TripCommands,
        ListCommands,
        PrintCommands,
        ViewCommands,
        WaterCommands,
        HelpCommands,
    )
    return [group(window) for group in groups]

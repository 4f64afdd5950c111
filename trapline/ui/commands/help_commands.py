"""First steps, cautions, keys, what is new."""

from trapline import __version__
from trapline.folders import shipped_folder
from trapline.ui.commands.handler import Handler
from trapline.ui.dialogs.text_dialog import show_text
from trapline.ui.menu import COMMANDS

FIRST_STEPS = """\
1. File, Open an example: look around in an invented bait trial; nothing can break.
2. File, New project: one file holds your waters, traps, baits and every trip.
3. Trip, New trip: name the water and the kind of line. The minimum gap follows from the
   kind of line and is yours to change.
4. Lay out: add places. File, Import places reads GPX and CSV; "Add on map" takes clicks;
   the table takes typing; "Add several" measures along a line, a rope or a bearing.
   Gaps that are too short are written on the map and listed under it.
5. Trip, Draw fair order: which bait hangs where. Then print the field sheet.
6. Set, Lift: times and counts. Compare: what may be concluded. Summary: print it.

Every step is saved at once. Undo takes it back, also after closing the program.
"""

CAUTIONS = """\
Local rules come first. Seasons, permits, tags, the number and kind of traps, sizes and
what may be kept differ from place to place and from year to year. This program knows none
of them: ask the authority of your water.

Cold water kills faster than it looks. Wear a lifejacket, go with a partner, tell somebody
on land where you are and when you will be back.

By-catch goes back at once where it was caught, with wet hands. Air-breathing animals drown
in a trap: use excluders and escape openings, and lift often.

Check, clean, dry. Crayfish plague and other diseases travel with wet gear and with bait.
Dry everything fully before another water; do not carry bait, water or animals between waters.

Leave nothing behind: line, cans, lost traps. A lost trap goes on fishing.

Food: cook crayfish and crab through, never eat them raw, and heed local advisories on
toxins and contaminants.
"""


class HelpCommands(Handler):
    """The Help menu."""

    def on_first_steps(self) -> None:
        """How a trip goes through the pages."""
        show_text(self.window, "First steps", FIRST_STEPS)

    def on_cautions(self) -> None:
        """Cold water, by-catch, disease, food, local rules."""
        show_text(self.window, "Care and caution", CAUTIONS)

    def on_keys(self) -> None:
        """Every command with its key, from the table of the menus."""
        lines = []
        for command in COMMANDS:
            if command.name:
                key = self.window.actions_by_name[command.name].shortcut().toString()
                if key:
                    lines.append(f"{key:<16}{command.label.replace('&', '').rstrip('…')}")
        lines += [
            "",
            "On the map: + and - zoom, 0 shows all, arrows move the selected place",
            "(with Shift ten times as far), Page Up and Page Down go to the next one, Enter opens",
            "it, Esc gives up a drag, Delete deletes it. Insert adds places by clicks.",
            "In tables: F2, Enter or typing edits a cell, Esc leaves it as it was, Ctrl+C copies",
            "rows, Ctrl+V pastes cells from a spreadsheet as one step.",
            "In the table of places: Insert adds a place, Alt+Up and Alt+Down move it along the",
            "line, Delete deletes it.",
        ]
        show_text(self.window, "Keys", "\n".join(lines), fixed=True)

    def on_changes(self) -> None:
        """The notes of what is new in each version."""
        text = (shipped_folder("resources") / "changes.md").read_text(encoding="utf-8")
        show_text(self.window, "What is new", text)

    def on_about(self) -> None:
        """Version and licence."""
        licence = (shipped_folder("resources") / "LICENSE.txt").read_text(encoding="utf-8")
        show_text(
            self.window,
            "About",
            f"trapline {__version__}\nA log for bait trials with traps.\n\n{licence}",
        )

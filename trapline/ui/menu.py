"""The menus as a table: the window's actions are made from it, and the help lists it."""

from dataclasses import dataclass
from typing import Final

from PySide6.QtGui import QKeySequence

Standard = QKeySequence.StandardKey


@dataclass(frozen=True, slots=True)
class Command:
    """One line of a menu.

    `name` is the window's slot without its ``on_`` and the object name of the QAction;
    `needs` is what must be there, some of: "project", "writable", "trip", "round".
    """

    menu: str
    label: str
    name: str
    key: str | Standard | None = None
    needs: str = ""


SEPARATOR: Final = "-"

COMMANDS: Final[tuple[Command, ...]] = (
    Command("&File", "&New project…", "new_project", Standard.New),
    Command("&File", "&Open project…", "open_project", Standard.Open),
    Command("&File", "Open &example", "open_example"),
    Command("&File", "Open recen&t", "open_recent"),
    Command("&File", SEPARATOR, ""),
    Command("&File", "&Import places…", "import_places", "Ctrl+I", "writable round"),
    Command("&File", "&Field sheet…", "field_sheet", "Ctrl+Shift+P", "round"),
    Command("&File", "Trip &summary…", "print_summary", Standard.Print, "trip"),
    Command("&File", SEPARATOR, ""),
    Command("&File", "Save a cop&y…", "save_copy", Standard.SaveAs, "project"),
    Command("&File", "Open a &backup…", "open_backup", None, "project"),
    Command("&File", "&Project notes…", "project_notes", None, "project"),
    Command("&File", "&Close project", "close_project", Standard.Close, "project"),
    Command("&File", "&Quit", "quit", Standard.Quit),
    Command("&Edit", "&Undo", "undo", Standard.Undo, "writable"),
    Command("&Edit", "&Redo", "redo", Standard.Redo, "writable"),
    Command("&Edit", "&History…", "history", "Ctrl+H", "project"),
    Command("&Edit", SEPARATOR, ""),
    Command("&Edit", "&Place…", "edit_place", "F4", "writable round"),
    Command("&Edit", "Add &several places…", "add_several", "Ctrl+Shift+A", "writable round"),
    Command("&Trip", "&New trip…", "new_trip", "Ctrl+T", "writable"),
    Command("&Trip", "New trip &from this one…", "new_trip_from", None, "writable round"),
    Command("&Trip", "&Edit trip and round…", "edit_trip", "Ctrl+E", "writable round"),
    Command("&Trip", "Next &round", "next_round", "Ctrl+R", "writable round"),
    Command("&Trip", "Next round with &its draw", "plan_round", None, "writable round"),
    Command("&Trip", "&Draw fair order…", "fair_order", "Ctrl+D", "writable round"),
    Command("&Trip", "Type in a past &trip…", "past_trip", None, "writable"),
    Command("&Trip", SEPARATOR, ""),
    Command("&Trip", "De&lete last round", "delete_round", None, "writable round"),
    Command("&Trip", "Delete tri&p", "delete_trip", None, "writable trip"),
    Command("&Lists", "&Baits…", "edit_baits", "Ctrl+B", "writable"),
    Command("&Lists", "&Traps…", "edit_traps", "Ctrl+G", "writable"),
    Command("&Lists", "&Species…", "edit_species", None, "writable"),
    Command("&Lists", "&Waters and lines…", "edit_waters", None, "writable"),
    Command("&View", "&Lay out", "page_1", "Ctrl+1", "project"),
    Command("&View", "&Set", "page_2", "Ctrl+2", "project"),
    Command("&View", "L&ift", "page_3", "Ctrl+3", "project"),
    Command("&View", "&Compare", "page_4", "Ctrl+4", "project"),
    Command("&View", "S&ummary", "page_5", "Ctrl+5", "project"),
    Command("&View", SEPARATOR, ""),
    Command("&View", "&Whole line", "fit_map", "Ctrl+0", "round"),
    Command("&View", "Li&ght", "light"),
    Command("&View", "&Dark", "dark"),
    Command("&View", "Sunlig&ht", "sunlight"),
    Command("&Help", "&First steps", "first_steps", Standard.HelpContents),
    Command("&Help", "&Care and caution", "cautions"),
    Command("&Help", "How far to &trust the verdict", "trust"),
    Command("&Help", "&Keys", "keys"),
    Command("&Help", "What is &new", "changes"),
    Command("&Help", "&About", "about"),
)

"""The mark of a bait as a small icon, for tables and lists."""

from functools import cache

from PySide6.QtGui import QIcon

from trapline.drawing.map_content import MarkStyle
from trapline.drawing.marks import MarkStamps
from trapline.drawing.theme import theme_named

_RADIUS_PX = 6.0


@cache
def mark_icon(mark: str, colour: str, theme_name: str = "light") -> QIcon:
    """Return a bait's mark in its colour, sharp on dense displays too."""
    style = MarkStyle(bait="", colour=colour, mark=mark, state="set")
    stamps, theme = MarkStamps(), theme_named(theme_name)
    icon = QIcon()
    for ratio in (1.0, 2.0):
        icon.addPixmap(stamps.stamp(style, _RADIUS_PX, theme, ratio))
    return icon

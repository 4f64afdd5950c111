"""The mark of a bait as a small icon, for tables and lists."""

from dataclasses import replace
from functools import cache
from typing import Final

from PySide6.QtGui import QIcon

from trapline.drawing.colour import contrast
from trapline.drawing.map_content import MarkStyle
from trapline.drawing.marks import MarkStamps
from trapline.drawing.theme import theme_named

_RADIUS_PX = 6.0
# What the outline of a symbol needs on its ground (WCAG 2.2, success criterion 1.4.11).
_LEAST_CONTRAST: Final = 3.0


@cache
def mark_icon(mark: str, colour: str, theme_name: str = "light") -> QIcon:
    """Return a bait's mark in its colour, sharp on dense displays too.

    In a selected row it keeps its colour, and takes the outline of the letters where its own
    would not stand off; Qt would tint it.
    """
    style = MarkStyle(bait="", colour=colour, mark=mark, state="set")
    stamps, theme = MarkStamps(), theme_named(theme_name)
    icon = QIcon()
    chosen = theme
    if contrast(theme.mark_outline, theme.selection) < _LEAST_CONTRAST:
        outline = theme.selection_text
        chosen = replace(theme, name=f"{theme.name}, selected", mark_outline=outline)
    for ratio in (1.0, 2.0):
        for mode, look in ((QIcon.Mode.Normal, theme), (QIcon.Mode.Selected, chosen)):
            icon.addPixmap(stamps.stamp(style, _RADIUS_PX, look, ratio), mode)
    return icon

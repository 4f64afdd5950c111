"""The looks of the program: palettes of the window, colours of the map, and how to put them on.

A `Theme` holds plain colour texts, so that painters, charts and tests can use it
without an application. The style sheet of the window is in style_sheet.py.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette

from trapline.drawing.colour import GREYED, mixed
from trapline.drawing.style_sheet import style_sheet

if TYPE_CHECKING:
    # Printing needs themes and no widgets.
    from PySide6.QtWidgets import QApplication, QWidget


@dataclass(frozen=True, kw_only=True)
class Theme:
    """Colours as ``#rrggbb`` and a few sizes; every meaning also has a shape, hatch or word."""

    name: str
    is_dark: bool = False
    is_monochrome: bool = False
    # Window
    window: str
    panel: str
    panel_alternate: str
    border: str
    control_border: str
    text: str
    muted: str
    accent: str
    accent_text: str
    accent_soft: str
    selection: str
    selection_text: str
    selection_bad: str
    selection_warning: str
    good: str
    warning: str
    bad: str
    bad_soft: str
    # Map
    water: str
    land: str
    shore: str
    grid: str
    map_text: str
    halo: str
    mark_outline: str
    mark_core: str
    link: str
    short_gap: str
    unsure_gap: str
    wide_gap: str
    current: str
    ring: str
    hatch: str
    # Sizes
    line_scale: float = 1.0
    map_font_pt: float = 9.0
    window_font_pt: float | None = None
    plume_alpha: int = 46
    plume_line_alpha: int = 170


LIGHT: Final = Theme(
    name="light",
    window="#f3f1ea",
    panel="#fffefb",
    panel_alternate="#f8f6f0",
    border="#dcd8cb",
    control_border="#8c8a7f",
    text="#1d2b30",
    muted="#56656a",
    accent="#0e5f66",
    accent_text="#ffffff",
    accent_soft="#dcebe9",
    selection="#bfdcd9",
    selection_text="#10282c",
    selection_bad="#a8261c",
    selection_warning="#8a4b00",
    good="#1d6b3f",
    warning="#8a4b00",
    bad="#a8261c",
    bad_soft="#f8e3de",
    water="#e4eff1",
    land="#f0ebdc",
    shore="#8b8467",
    grid="#cddde1",
    map_text="#1d2b30",
    halo="#f4fafb",
    mark_outline="#17262b",
    mark_core="#ffffff",
    link="#6b8288",
    short_gap="#b3200f",
    unsure_gap="#8a5000",
    wide_gap="#5b4a9c",
    current="#0b5a86",
    ring="#a3126f",
    hatch="#7d1d3a",
)

DARK: Final = Theme(
    name="dark",
    is_dark=True,
    window="#171d20",
    panel="#1f272b",
    panel_alternate="#242d31",
    border="#354146",
    control_border="#78888d",
    text="#e7eded",
    muted="#a3b3b6",
    accent="#63bdb6",
    accent_text="#0b2022",
    accent_soft="#25413f",
    selection="#2f5b59",
    selection_text="#f4fbfb",
    selection_bad="#ffc0b6",
    selection_warning="#ffd9a0",
    good="#7fcf9b",
    warning="#f0b35c",
    bad="#ff9384",
    bad_soft="#46282a",
    water="#12262e",
    land="#2b2a24",
    shore="#8f8768",
    grid="#21404b",
    map_text="#e9f1f2",
    halo="#0d1c22",
    mark_outline="#f1f6f6",
    mark_core="#12262e",
    link="#7b969e",
    short_gap="#ff8a78",
    unsure_gap="#f3b65a",
    wide_gap="#b9a9f5",
    current="#74c3ee",
    ring="#ff9ad5",
    hatch="#ffb3c4",
    plume_alpha=60,
)

# For glare: black on white, lines twice as thick, larger letters, nothing seen through.
SUNLIGHT: Final = Theme(
    name="sunlight",
    window="#ffffff",
    panel="#ffffff",
    panel_alternate="#f2f2f2",
    border="#000000",
    control_border="#000000",
    text="#000000",
    muted="#2b2b2b",
    accent="#00337f",
    accent_text="#ffffff",
    accent_soft="#dbe7ff",
    selection="#00337f",
    selection_text="#ffffff",
    selection_bad="#ffc0b6",
    selection_warning="#ffd9a0",
    good="#00501e",
    warning="#6b3a00",
    bad="#900000",
    bad_soft="#ffe4e0",
    water="#ffffff",
    land="#e6e6e0",
    shore="#000000",
    grid="#c4c4c4",
    map_text="#000000",
    halo="#ffffff",
    mark_outline="#000000",
    mark_core="#ffffff",
    link="#555555",
    short_gap="#900000",
    unsure_gap="#6b3a00",
    wide_gap="#3a1f8f",
    current="#00337f",
    ring="#8a005c",
    hatch="#000000",
    line_scale=2.0,
    map_font_pt=12.0,
    window_font_pt=14.0,
    plume_alpha=0,
    plume_line_alpha=255,
)

PAPER: Final = replace(
    LIGHT,
    name="paper",
    window="#ffffff",
    panel="#ffffff",
    panel_alternate="#f4f4f4",
    water="#f3f9fa",
    grid="#d3dfe2",
    halo="#ffffff",
    map_font_pt=7.5,
)
PAPER_MONOCHROME: Final = replace(
    PAPER,
    name="paper, black and white",
    is_monochrome=True,
    text="#000000",
    muted="#3a3a3a",
    accent="#000000",
    accent_soft="#e8e8e8",
    selection="#d0d0d0",
    selection_bad="#000000",
    selection_warning="#000000",
    good="#000000",
    warning="#000000",
    bad="#000000",
    bad_soft="#eeeeee",
    water="#ffffff",
    land="#ececec",
    shore="#000000",
    grid="#cccccc",
    map_text="#000000",
    mark_outline="#000000",
    link="#6a6a6a",
    short_gap="#000000",
    unsure_gap="#000000",
    wide_gap="#000000",
    current="#000000",
    ring="#000000",
    hatch="#000000",
    plume_alpha=0,
    plume_line_alpha=255,
)

SCREEN_THEMES: Final = {theme.name: theme for theme in (LIGHT, DARK, SUNLIGHT)}
PAPER_THEMES: Final = {theme.name: theme for theme in (PAPER, PAPER_MONOCHROME)}
# What the user may choose; "system" follows the desktop where it says light or dark.
THEME_NAMES: Final = ("system", *SCREEN_THEMES)


def palette(theme: Theme) -> QPalette:
    """Return the Qt palette of a theme, its greyed-out colours included."""
    role = QPalette.ColorRole
    made = QPalette()
    for name, colour in (
        (role.Window, theme.window),
        (role.WindowText, theme.text),
        (role.Base, theme.panel),
        (role.AlternateBase, theme.panel_alternate),
        (role.Text, theme.text),
        (role.PlaceholderText, theme.muted),
        (role.Button, theme.panel),
        (role.ButtonText, theme.text),
        (role.BrightText, theme.bad),
        (role.ToolTipBase, theme.panel),
        (role.ToolTipText, theme.text),
        (role.Highlight, theme.selection),
        (role.HighlightedText, theme.selection_text),
        (role.Link, theme.accent),
        (role.LinkVisited, theme.accent),
        (role.Light, theme.panel),
        (role.Midlight, theme.panel_alternate),
        (role.Mid, theme.border),
        (role.Dark, theme.control_border),
        (role.Shadow, theme.control_border),
    ):
        made.setColor(name, QColor(colour))
    greyed = QColor(mixed(theme.text, theme.window, GREYED))
    for name in (role.WindowText, role.Text, role.ButtonText):
        made.setColor(QPalette.ColorGroup.Disabled, name, greyed)
    return made


def theme_named(name: str) -> Theme:
    """Return the theme of that name; "system" asks the desktop, and is light where it is silent."""
    if name == "system":
        hints = QGuiApplication.styleHints()
        return DARK if hints.colorScheme() == Qt.ColorScheme.Dark else LIGHT
    return SCREEN_THEMES.get(name, LIGHT)


def apply_theme(app: "QApplication", name: str) -> Theme:
    """Put a theme on the whole application and return it for the map and the charts."""
    theme = theme_named(name)
    app.setStyle("Fusion")
    app.setPalette(palette(theme))
    # The desktop's own size, kept at the first call: a theme with large letters must not stick.
    own_pt = app.property("own_font_pt")
    if own_pt is None:
        own_pt = max(app.font().pointSizeF(), 9.0)
        app.setProperty("own_font_pt", own_pt)
    font = app.font()
    font.setPointSizeF(max(own_pt, theme.window_font_pt or 0.0))
    app.setFont(font)
    app.setStyleSheet(style_sheet(theme))
    return theme


def set_role(widget: "QWidget", role: str) -> None:
    """Give a widget one of the roles that style_sheet.py knows, also after it was shown."""
    widget.setProperty("role", role)
    style = widget.style()
    style.unpolish(widget)
    style.polish(widget)

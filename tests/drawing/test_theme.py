"""Contrasts by WCAG 2.2 (success criteria 1.4.3 and 1.4.11): text 4.5, symbols 3."""

import pytest
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication, QPushButton

from trapline.drawing.colour import contrast, mixed
from trapline.drawing.style_sheet import style_sheet
from trapline.drawing.theme import (
    DARK,
    LIGHT,
    PAPER_THEMES,
    SCREEN_THEMES,
    SUNLIGHT,
    Theme,
    apply_theme,
    palette,
    set_role,
    theme_named,
)
from trapline.model.bait import COLOURS

THEMES = (*SCREEN_THEMES.values(), *PAPER_THEMES.values())
TEXTS = (
    ("text", "window"), ("text", "panel"), ("text", "panel_alternate"), ("text", "accent_soft"),
    ("text", "bad_soft"), ("muted", "window"), ("muted", "panel"), ("muted", "panel_alternate"),
    ("accent_text", "accent"), ("accent", "panel"), ("accent", "window"),
    ("selection_text", "selection"), ("selection_bad", "selection"),
    ("selection_warning", "selection"), ("good", "panel"), ("warning", "panel"), ("bad", "panel"),
    ("good", "window"), ("warning", "window"), ("bad", "window"), ("bad", "bad_soft"),
    ("map_text", "water"), ("map_text", "land"), ("map_text", "halo"), ("muted", "halo"),
    ("short_gap", "halo"), ("unsure_gap", "halo"), ("wide_gap", "halo"), ("current", "halo"),
)  # fmt: skip
ON_THE_MAP = (
    "mark_outline", "short_gap", "unsure_gap", "wide_gap", "current", "ring", "hatch", "shore",
    "link",
)  # fmt: skip
SYMBOLS = (
    *((symbol, ground) for symbol in ON_THE_MAP for ground in ("water", "land")),
    ("control_border", "panel"), ("control_border", "window"), ("mark_outline", "mark_core"),
    ("link", "panel"), ("accent", "accent_soft"),
)  # fmt: skip


def test_contrast_is_that_of_the_published_examples():
    # WCAG 2.2, definition of contrast ratio: black on white is 21, equal colours are 1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#336699", "#336699") == 1.0
    # #767676 on white is the well-known lightest grey that still passes (4.54, from memory).
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_greyed_out_words_can_still_be_read(theme: Theme):
    greyed = palette(theme).color(QPalette.ColorGroup.Disabled, QPalette.ColorRole.ButtonText)
    assert contrast(greyed.name(), theme.window) >= 4.5
    assert contrast(greyed.name(), theme.window) < contrast(theme.text, theme.window)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("pair", TEXTS, ids="-on-".join)
def test_text_can_be_read(theme: Theme, pair):
    assert contrast(getattr(theme, pair[0]), getattr(theme, pair[1])) >= 4.5


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("pair", SYMBOLS, ids="-on-".join)
def test_symbols_stand_off(theme: Theme, pair):
    assert contrast(getattr(theme, pair[0]), getattr(theme, pair[1])) >= 3.0


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
@pytest.mark.parametrize("colour", COLOURS)
def test_every_bait_colour_or_its_outline_stands_off_the_water(theme: Theme, colour):
    assert max(contrast(colour, theme.water), contrast(theme.mark_outline, theme.water)) >= 3.0


def test_sunlight_is_black_on_white_thick_and_large():
    assert (SUNLIGHT.text, SUNLIGHT.window) == ("#000000", "#ffffff")
    assert SUNLIGHT.line_scale == 2.0
    assert SUNLIGHT.window_font_pt == 14.0
    assert SUNLIGHT.plume_alpha == 0


def test_a_mixed_colour_lies_between():
    assert mixed("#000000", "#ffffff", 0.0) == "#000000"
    assert mixed("#000000", "#ffffff", 1.0) == "#ffffff"
    assert mixed("#102030", "#304050", 0.5) == "#203040"


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_the_style_sheet_has_no_word_left_to_fill_in(theme: Theme):
    sheet = style_sheet(theme)
    assert "$" not in sheet
    assert sheet.count("{") == sheet.count("}")
    assert theme.accent in sheet


def test_the_palette_greys_what_cannot_be_used():
    made = palette(LIGHT)
    group, role = QPalette.ColorGroup, QPalette.ColorRole
    assert made.color(group.Active, role.Text).name() == LIGHT.text
    assert made.color(group.Disabled, role.Text) != made.color(group.Active, role.Text)


def test_a_theme_goes_on_and_comes_off_again(qapp: QApplication):
    before = qapp.font().pointSizeF()
    try:
        assert apply_theme(qapp, "sunlight") is SUNLIGHT
        assert qapp.font().pointSizeF() == 14.0
        assert qapp.palette().color(QPalette.ColorRole.Window).name() == "#ffffff"
        assert apply_theme(qapp, "dark") is DARK
        assert qapp.palette().color(QPalette.ColorRole.Window).name() == DARK.window
        assert qapp.font().pointSizeF() == max(before, 9.0)
    finally:
        apply_theme(qapp, "light")
        qapp.setStyleSheet("")
        font = qapp.font()
        font.setPointSizeF(before)
        qapp.setFont(font)


def test_an_unknown_theme_is_light_and_the_system_gives_one_of_the_two(qapp: QApplication):
    assert theme_named("no such") is LIGHT
    assert theme_named("system") in (LIGHT, DARK)


def test_a_role_is_kept_on_the_widget(qtbot):
    button = QPushButton("Next")
    qtbot.addWidget(button)
    set_role(button, "primary")
    assert button.property("role") == "primary"

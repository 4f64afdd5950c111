import pytest
from PySide6.QtCore import QSize
from PySide6.QtGui import QIcon, QImage

from trapline.drawing.colour import contrast
from trapline.drawing.icons import mark_icon
from trapline.drawing.theme import SCREEN_THEMES, Theme
from trapline.model.bait import COLOURS

SIDE = 24


def _image(theme: Theme, colour: str, mode: QIcon.Mode) -> QImage:
    icon = mark_icon("circle", colour, theme.name)
    return icon.pixmap(QSize(SIDE, SIDE), 2.0, mode).toImage()


def _middle(image: QImage) -> str:
    return image.pixelColor(image.width() // 2, image.height() // 2).name()


@pytest.mark.parametrize("theme", SCREEN_THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("colour", COLOURS)
def test_a_mark_keeps_its_colour_in_a_selected_row(qapp, theme: Theme, colour: str):
    for mode in (QIcon.Mode.Normal, QIcon.Mode.Selected):
        assert _middle(_image(theme, colour, mode)) == colour.lower()


@pytest.mark.parametrize("theme", SCREEN_THEMES.values(), ids=lambda theme: theme.name)
@pytest.mark.parametrize("colour", COLOURS)
def test_a_mark_stands_off_a_selected_row(qapp, theme: Theme, colour: str):
    image = _image(theme, colour, QIcon.Mode.Selected)
    solid = {
        image.pixelColor(x, y).name()
        for x in range(image.width())
        for y in range(image.height())
        if image.pixelColor(x, y).alpha() == 255
    }
    # WCAG 2.2, success criterion 1.4.11.
    assert max(contrast(one, theme.selection) for one in solid) >= 3.0

"""Shapes and states must be told apart without colour: compared as black-and-white pictures."""

from itertools import combinations

import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.drawing.map_content import STATES, MarkStyle
from trapline.drawing.marks import MarkStamps, paint_mark
from trapline.drawing.theme import LIGHT, PAPER_MONOCHROME
from trapline.model.bait import MARKS


def _pixels(style: MarkStyle, theme=PAPER_MONOCHROME) -> np.ndarray:
    image = QImage(64, 64, QImage.Format.Format_Grayscale8)
    image.fill(QColor("white"))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    paint_mark(painter, 32, 36, 12, style, theme)
    painter.end()
    return np.array(image.constBits()).reshape(64, -1)[:, :64].astype(float) / 255


def _differ(one: MarkStyle, other: MarkStyle) -> float:
    """Return how many whole pixels differ, of some 450 that a mark covers."""
    return float(np.abs(_pixels(one) - _pixels(other)).sum())


@pytest.mark.parametrize(("one", "other"), list(combinations(MARKS, 2)))
def test_two_shapes_differ_without_colour(qapp, one, other):
    for state in ("planned", "set"):
        style = MarkStyle("b", "#123456", one, state), MarkStyle("b", "#123456", other, state)
        assert _differ(*style) > 40


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize(("one", "other"), list(combinations(STATES, 2)))
def test_two_states_differ_without_colour(qapp, mark, one, other):
    styles = MarkStyle("b", "#123456", mark, one), MarkStyle("b", "#123456", mark, other)
    assert _differ(*styles) > 25


def test_a_hollow_circle_is_not_taken_for_a_ring(qapp):
    assert _differ(MarkStyle(mark="circle"), MarkStyle(mark="ring")) > 60
    assert _differ(MarkStyle(mark="circle"), MarkStyle(mark="ring", state="set")) > 60


def test_the_colour_of_the_bait_fills_a_set_trap(qapp):
    stamp = MarkStamps().stamp(MarkStyle("b", "#009e73", "square", "set"), 8.0, LIGHT, 1.0)
    middle = stamp.toImage().pixelColor(stamp.width() // 2, stamp.height() // 2)
    assert middle.name() == "#009e73"


def test_a_stamp_is_painted_once_for_each_look_size_and_density(qapp):
    stamps, style = MarkStamps(), MarkStyle("b", "#009e73", "square", "set")
    first = stamps.stamp(style, 8.0, LIGHT, 1.0)
    assert stamps.stamp(style, 8.0, LIGHT, 1.0) is first
    sharp = stamps.stamp(style, 8.0, LIGHT, 2.0)
    assert sharp is not first
    assert sharp.width() == 2 * first.width()
    assert sharp.deviceIndependentSize() == first.deviceIndependentSize()

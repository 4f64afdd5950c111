"""A map of six places, one of them without position, in a window of 600 × 400."""

import os
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest

from trapline.drawing.map_content import GapLine, MapContent, MarkStyle, PlumeShape, Unplaced
from trapline.ui.map.canvas import MapCanvas

STYLES = (
    MarkStyle("Fish", "#0072B2", "circle", "set"),
    MarkStyle("Corn", "#009E73", "triangle", "planned"),
    MarkStyle("", "#8a9296", "circle", "stake"),
)


def make_content(**changes: Any) -> MapContent:
    """Five places east and north of an anchor on the southern half of the earth."""
    square = np.array([[-6.0, -6.0], [6.0, -6.0], [6.0, 6.0], [-6.0, 6.0]])
    east_m = np.array([-60.0, -20.0, 20.0, 60.0, 0.0])
    north_m = np.array([10.0, -15.0, 12.0, 8.0, 50.0])
    spots = np.column_stack([east_m, north_m])
    fields: dict[str, Any] = {
        "anchor_lon_deg": 151.2,
        "anchor_lat_deg": -33.5,
        "ids": ("a", "b", "c", "d", "stake"),
        "set_ids": ("sa", "sb", "sc", "sd", ""),
        "labels": ("A", "B & <b>bold</b>", "C", "D", "Stake"),
        "east_m": east_m,
        "north_m": north_m,
        "styles": STYLES,
        "style_of": np.array([0, 1, 0, 1, 2]),
        "plumes": tuple(PlumeShape(row, square + spots[row]) for row in (0, 2)),
        "gaps": (GapLine(2, 3, "40.2 m"),),
        "links": (np.arange(4),),
        "unplaced": (Unplaced("loose", "L", STYLES[1], "sloose"),),
    }
    fields.update(changes)
    return MapContent(**fields)


class Hand:
    """The user's hand on a canvas, and what the canvas said."""

    def __init__(self, canvas: MapCanvas) -> None:
        self.canvas = canvas
        self.said: list[tuple[str, tuple[Any, ...]]] = []
        for name in ("places_selected", "dragging", "dragged", "drag_cancelled", "place_added",
                     "place_opened", "delete_pressed", "view_changed"):  # fmt: skip
            getattr(canvas, name).connect(lambda *args, name=name: self.said.append((name, args)))

    def heard(self, name: str) -> list[tuple[Any, ...]]:
        return [args for said, args in self.said if said == name]

    def spot(self, key: str) -> QPoint:
        """Where a place is on the canvas, to the nearest pixel."""
        content = self.canvas.picture.content
        row = content.row(key)
        x, y = self.canvas.picture.view.to_px(
            self.canvas.picture.rect, content.east_m[row], content.north_m[row]
        )
        return QPoint(round(x), round(y))

    def earth(self, at: QPoint) -> tuple[float, float]:
        """East and north in metres under a pixel."""
        rect = self.canvas.picture.rect
        return self.canvas.picture.view.to_plane(rect, at.x(), at.y())

    def drag(self, start: QPoint, *steps: QPoint, release: bool = True) -> None:
        button = Qt.MouseButton.LeftButton
        QTest.mousePress(self.canvas, button, pos=start)
        for step in steps:
            self.move(step)
        if release:
            QTest.mouseRelease(self.canvas, button, pos=steps[-1])

    def move(self, at: QPoint) -> None:
        from PySide6.QtCore import QEvent
        from PySide6.QtGui import QMouseEvent
        from PySide6.QtWidgets import QApplication

        # QTest.mouseMove moves the real cursor, which has no buttons pressed.
        event = QMouseEvent(
            QEvent.Type.MouseMove, QPointF(at), QPointF(self.canvas.mapToGlobal(at)),
            Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
        )  # fmt: skip
        QApplication.sendEvent(self.canvas, event)

    def click(self, at: QPoint, modifier: Any = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.mouseClick(self.canvas, Qt.MouseButton.LeftButton, modifier, at)

    def key(self, key: Qt.Key, modifier: Any = Qt.KeyboardModifier.NoModifier) -> None:
        QTest.keyClick(self.canvas, key, modifier)


@pytest.fixture
def content_with() -> Any:
    return make_content


@pytest.fixture
def hand(qtbot: Any) -> Hand:
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 400)
    canvas.show()
    canvas.set_content(make_content())
    return Hand(canvas)

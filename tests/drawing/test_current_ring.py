import math

import pytest
from PySide6.QtCore import QPointF, QRectF, QSizeF

from trapline.drawing import map_places
from trapline.drawing.map_sheet import Sheet


@pytest.fixture
def painted(monkeypatch: pytest.MonkeyPatch) -> dict[str, list]:
    """The boxes of the labels and the rings of a picture, as they are painted."""
    found: dict[str, list] = {"labels": [], "rings": []}
    write, ring = Sheet.text_with_halo, map_places.paint_ring

    def note_text(sheet: Sheet, x_px: float, baseline_px: float, text: str, colour: str) -> None:
        metrics = sheet.metrics(sheet.painter.font())
        size = QSizeF(metrics.horizontalAdvance(text), metrics.height())
        box = QRectF(QPointF(x_px, baseline_px - metrics.ascent()), size)
        found["labels"].append((text, box))
        write(sheet, x_px, baseline_px, text, colour)

    def note_ring(sheet: Sheet, middle: QPointF, radius: float) -> None:
        found["rings"].append((middle, radius))
        ring(sheet, middle, radius)

    monkeypatch.setattr(Sheet, "text_with_halo", note_text)
    monkeypatch.setattr(map_places, "paint_ring", note_ring)
    return found


def _nearest(middle: QPointF, box: QRectF) -> float:
    """Return how near a box comes to a point."""
    dx = max(box.left() - middle.x(), 0.0, middle.x() - box.right())
    dy = max(box.top() - middle.y(), 0.0, middle.y() - box.bottom())
    return math.hypot(dx, dy)


@pytest.mark.parametrize("size", [(1000, 650), (250, 170)])
@pytest.mark.parametrize("row", range(0, 12, 3))
def test_no_label_lies_under_the_rings_of_the_current_trap(lake, picture, painted, size, row):
    picture(lake, size=size, current=f"set-{row}")
    middle, radius = max(painted["rings"], key=lambda one: one[1])
    own = [(text, box) for text, box in painted["labels"] if text.startswith("T")]
    assert own
    for text, box in own:
        assert _nearest(middle, box) >= radius, text

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QImage, QPainter, QPixmap

from trapline.drawing import map_painter
from trapline.drawing.map_painter import paint_map
from trapline.ui.map import base_picture
from trapline.ui.map.canvas import MapCanvas


def _array(image: QImage) -> np.ndarray:
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    raw = np.array(image.constBits()).reshape(image.height(), image.bytesPerLine() // 4, 4)
    return raw[:, : image.width(), 2::-1].astype(int)


@pytest.fixture
def painted(monkeypatch):
    """Note for each painting of the base picture whether it was the simple one."""
    noted = []
    inner = map_painter.paint_ground_and_places

    def paint(sheet):
        noted.append(sheet.is_simple)
        inner(sheet)

    monkeypatch.setattr(base_picture, "paint_ground_and_places", paint)
    return noted


def _frame(canvas: MapCanvas) -> np.ndarray:
    return _array(canvas.grab().toImage())


def test_a_frame_that_changes_nothing_paints_nothing(hand, painted):
    first = _frame(hand.canvas)
    n_paintings = len(painted)
    assert (first == _frame(hand.canvas)).all()
    assert len(painted) == n_paintings


def test_the_canvas_shows_what_the_painter_paints(hand):
    """The same view painted at once, without a base picture: compared pixel by pixel."""
    hand.canvas.clearFocus()  # its frame is the window's alone
    picture = hand.canvas.picture
    picture.view = picture.view.panned(13, 7)
    picture.forget()
    mine = _frame(hand.canvas)
    image = QImage(600, 400, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint_map(painter, QRectF(0, 0, 600, 400), picture.view, picture.content, picture.theme)
    painter.end()
    differs = np.abs(mine - _array(image)).max(axis=2) > 60
    # Labels keep off the edge of the window, and so may stand elsewhere.
    assert differs.mean() < 0.004


def test_no_label_is_cut_by_the_edge_of_a_window_at_rest(hand, content_with):
    """A place 30 px outside the window, whose label would reach in."""
    picture = hand.canvas.picture
    hand.canvas.clearFocus()
    hand.canvas.set_content(
        content_with(labels=("LONG LABEL",) * 5, plumes=(), gaps=(), links=(), unplaced=())
    )
    at_edge = picture.view.to_plane(picture.rect, -30.0, 300.0)
    picture.view = replace(
        picture.view,
        east_m=picture.view.east_m + (-60.0 - at_edge[0]),
        north_m=picture.view.north_m + (10.0 - at_edge[1]),
    )
    picture.forget()
    first = _frame(hand.canvas)[:, :1]
    hand.canvas.set_content(replace(picture.content, labels=("",) * 5))
    assert (first == _frame(hand.canvas)[:, :1]).all()


def test_panning_inside_the_margin_moves_the_picture_without_painting_it(hand, painted):
    before = _frame(hand.canvas)
    n_paintings = len(painted)
    hand.canvas.picture.view = hand.canvas.picture.view.panned(37, -21)
    hand.canvas._gestures.moved()
    after = _frame(hand.canvas)
    assert len(painted) == n_paintings
    # Between the furniture at the left, top and bottom.
    assert (after[100:300, 300:540] == before[121:321, 263:503]).mean() > 0.999


def test_leaving_the_margin_paints_simply_and_resting_paints_finely(hand, painted, qtbot):
    _frame(hand.canvas)
    hand.canvas.picture.view = hand.canvas.picture.view.panned(400, 0)
    hand.canvas._gestures.moved()
    _frame(hand.canvas)
    assert painted[-1] is True
    with qtbot.waitSignal(hand.canvas.view_changed, timeout=3000):
        pass
    _frame(hand.canvas)
    assert painted[-1] is False


def test_zooming_stretches_the_picture_and_resting_paints_it_anew(hand, painted, qtbot):
    _frame(hand.canvas)
    n_paintings = len(painted)
    hand.canvas._gestures.zoom(1.25, QPointF(300, 200))
    stretched = _frame(hand.canvas)
    assert len(painted) == n_paintings
    with qtbot.waitSignal(hand.canvas.view_changed, timeout=3000):
        pass
    sharp = _frame(hand.canvas)
    assert len(painted) == n_paintings + 1
    # Stretched and painted agree but for sharpness and the sizes of marks and letters.
    assert (np.abs(stretched - sharp).max(axis=2) > 60).mean() < 0.08
    assert (stretched != sharp).any()


def test_zooming_out_leaves_no_edge_without_map(hand, painted):
    _frame(hand.canvas)
    hand.canvas._gestures.zoom(0.2, QPointF(300, 200))
    image = _frame(hand.canvas)
    assert painted[-1] is True
    hand.canvas.picture.is_moving = False
    hand.canvas.picture.forget()
    fine = _frame(hand.canvas)
    assert (np.abs(image - fine).max(axis=2) > 60).mean() < 0.05


def test_the_picture_has_the_density_of_the_device(hand, painted, monkeypatch):
    monkeypatch.setattr(hand.canvas, "devicePixelRatioF", lambda: 2.0)
    target = QPixmap(1200, 800)
    target.setDevicePixelRatio(2.0)
    hand.canvas.render(target)
    assert hand.canvas.picture._base._pixmap.devicePixelRatio() == 2.0
    sharp = _array(target.toImage())
    monkeypatch.undo()
    plain = _frame(hand.canvas)
    assert np.abs(sharp[::2, ::2] - plain).mean() < 8.0


def test_the_moved_place_is_painted_over_the_picture_and_not_into_it(hand, painted):
    from PySide6.QtCore import QPoint, Qt

    start = hand.spot("c")
    hand.drag(start, start + QPoint(20, 0), release=False)
    _frame(hand.canvas)
    n_paintings = len(painted)
    for step in range(30, 90, 10):
        hand.move(start + QPoint(step, step // 2))
        _frame(hand.canvas)
    assert len(painted) == n_paintings
    hand.key(Qt.Key.Key_Escape)

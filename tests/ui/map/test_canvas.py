from dataclasses import replace

import numpy as np
import pytest
from pyproj import Geod
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QAccessible, QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from trapline.drawing.map_content import MapContent
from trapline.drawing.map_furniture import shelf_spots
from trapline.drawing.scale import round_down
from trapline.drawing.theme import DARK, LIGHT
from trapline.ui.map.canvas import MapCanvas
from trapline.ui.map.keys import NUDGE_MS
from trapline.ui.map.live_gaps import LiveGap
from trapline.ui.map.picture import tooltip

GEOD = Geod(ellps="WGS84")
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def _array(image: QImage) -> np.ndarray:
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    raw = np.array(image.constBits()).reshape(image.height(), image.bytesPerLine() // 4, 4)
    return raw[:, : image.width(), 2::-1].astype(int)


def _wheel(canvas: MapCanvas, at: QPoint, steps: int) -> None:
    event = QWheelEvent(
        QPointF(at), QPointF(canvas.mapToGlobal(at)), QPoint(), QPoint(0, 120 * steps),
        Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase,
        False,
    )  # fmt: skip
    QApplication.sendEvent(canvas, event)


# Finding


def test_a_click_on_a_painted_mark_finds_its_place(hand):
    """The mark is looked for in the picture, not where the view would put it."""
    pixels = _array(hand.canvas.grab().toImage())
    rows, columns = np.nonzero(np.abs(pixels - [0x00, 0x72, 0xB2]).max(axis=2) <= 4)
    # Fish hangs at A and C, of which C stands farther to the east; and in the legend, at the left.
    is_c = columns > columns.max() - 20
    rows, columns = rows[is_c], columns[is_c]
    hand.click(QPoint(round(columns.mean()), round(rows.mean())))
    assert hand.heard("places_selected") == [(("c",),)]


def test_a_click_beside_a_mark_finds_it_within_12_pixels_and_not_farther(hand):
    at = hand.spot("b")
    hand.click(at + QPoint(0, 10))
    assert hand.heard("places_selected") == [(("b",),)]
    hand.click(at + QPoint(0, 15))
    assert hand.heard("places_selected")[1:] == [((),)]


def test_of_two_near_marks_the_nearer_is_found(hand, content_with):
    east_m, north_m = np.array([0.0, 3.0, 20.0, 60.0, 0]), np.array([0.0, 0.0, 12.0, 8.0, 50.0])
    hand.canvas.set_content(content_with(east_m=east_m, north_m=north_m))
    hand.click(hand.spot("b") + QPoint(2, 0))
    assert hand.heard("places_selected") == [(("b",),)]
    hand.click(hand.spot("a") - QPoint(2, 0))
    assert hand.heard("places_selected")[1:] == [(("a",),)]


def test_ctrl_click_adds_and_takes_away(hand):
    hand.click(hand.spot("a"))
    hand.click(hand.spot("b"), CTRL)
    hand.click(hand.spot("a"), CTRL)
    assert hand.heard("places_selected") == [(("a",),), (("a", "b"),), (("b",),)]


def test_a_place_without_position_is_selected_on_its_shelf(hand):
    picture = hand.canvas.picture
    (spot,) = shelf_spots(picture.content, picture.rect)
    hand.click(spot.toPoint())
    assert hand.heard("places_selected") == [(("loose",),)]


def test_a_double_click_opens_the_place(hand):
    QTest.mouseDClick(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.spot("d"))
    assert hand.heard("place_opened") == [("d",)]
    assert hand.heard("dragged") == []


def test_selecting_from_outside_takes_either_id_and_sends_no_signal(hand):
    before = _array(hand.canvas.grab().toImage())
    hand.canvas.set_selected(["sb", "nobody"])
    assert hand.canvas.picture.selected == {"b"}
    assert hand.heard("places_selected") == []
    assert (before != _array(hand.canvas.grab().toImage())).any()


# Moving places


def test_a_dragged_place_is_told_with_its_longitude_and_latitude(hand):
    """Outside check: how far and which way it moved, by pyproj's Geod."""
    start, step = hand.spot("c"), QPoint(40, -30)
    content = hand.canvas.picture.content
    before = content.plane.to_earth(20.0, 12.0)
    scale = hand.canvas.picture.view.metres_per_px
    hand.drag(start, start + QPoint(10, 0), start + step)
    ((key, lon_deg, lat_deg),) = hand.heard("dragged")
    assert key == "c"
    bearing_deg, _, moved_m = GEOD.inv(*before, lon_deg, lat_deg)
    assert moved_m == pytest.approx(50.0 * scale, rel=1e-6)
    # 40 to the right and 30 up: north-east by east.
    assert bearing_deg == pytest.approx(np.degrees(np.arctan2(40, 30)), abs=1e-3)
    # A swapped pair would not be on the earth here.
    assert (lon_deg, lat_deg) == pytest.approx((151.2, -33.5), abs=0.01)


def test_the_place_keeps_its_distance_from_the_finger(hand):
    """Gripped 5 px beside its middle it must not jump there."""
    start = hand.spot("c")
    exact = hand.canvas.picture.content.plane.to_earth(20.0, 12.0)
    hand.drag(start + QPoint(5, 3), start + QPoint(25, 3), start + QPoint(5, 3))
    ((_, lon_deg, lat_deg),) = hand.heard("dragged")
    assert GEOD.inv(*exact, lon_deg, lat_deg)[2] == pytest.approx(0.0, abs=1e-6)


def test_while_dragging_the_place_is_told_now_and_then(hand):
    start = hand.spot("c")
    hand.drag(start, *(start + QPoint(k, 0) for k in range(5, 60)), release=False)
    told = hand.heard("dragging")
    assert 1 <= len(told) < 30
    key, east_m, north_m = told[0]
    assert key == "c"
    # The first is told where the drag began, 5 px on.
    scale = hand.canvas.picture.view.metres_per_px
    assert (east_m, north_m) == pytest.approx((20.0 + 5 * scale, 12.0), abs=0.5 * scale)
    hand.key(Qt.Key.Key_Escape)


def test_escape_puts_a_dragged_place_back(hand):
    start = hand.spot("c")
    before = _array(hand.canvas.grab().toImage())
    hand.drag(start, start + QPoint(30, 0), start + QPoint(60, 0), release=False)
    during = _array(hand.canvas.grab().toImage())
    assert (before != during).any()
    hand.key(Qt.Key.Key_Escape)
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=start + QPoint(60, 0))
    assert hand.heard("dragged") == []
    assert hand.heard("drag_cancelled") == [()]
    hand.canvas.set_selected([])
    assert (before == _array(hand.canvas.grab().toImage())).all()


def test_a_tremble_is_a_click_and_no_move(hand):
    start = hand.spot("c")
    hand.drag(start, start + QPoint(1, 1), start)
    assert hand.heard("dragged") == []
    assert hand.heard("places_selected") == [(("c",),)]


def test_let_go_outside_the_map_a_place_goes_back(hand):
    start = hand.spot("c")
    hand.drag(start, start + QPoint(30, 0), QPoint(700, 100))
    assert hand.heard("dragged") == []
    assert hand.heard("drag_cancelled") == [()]


def test_let_go_over_the_shelf_a_place_goes_back(hand):
    start = hand.spot("c")
    hand.drag(start, start + QPoint(0, 30), QPoint(300, 390))
    assert hand.heard("dragged") == []
    assert hand.heard("drag_cancelled") == [()]


def test_a_place_without_position_gets_one_by_being_dragged_onto_the_map(hand):
    picture = hand.canvas.picture
    (spot,) = shelf_spots(picture.content, picture.rect)
    target = QPoint(330, 180)
    hand.drag(spot.toPoint(), spot.toPoint() - QPoint(0, 20), target)
    ((key, lon_deg, lat_deg),) = hand.heard("dragged")
    assert key == "loose"
    grip = spot.toPoint().toPointF() - spot
    wanted = picture.view.to_plane(picture.rect, target.x() - grip.x(), target.y() - grip.y())
    assert picture.content.plane.to_plane(lon_deg, lat_deg) == pytest.approx(wanted, abs=1e-6)


def test_live_gaps_are_asked_for_where_the_place_is_and_drawn(hand):
    asked = []

    def live_gaps(key, lon_deg, lat_deg):
        asked.append((key, lon_deg, lat_deg))
        return [LiveGap("a", 61.2, True), LiveGap("nobody", 1.0, True), LiveGap("d", 40.0, False)]

    start = hand.spot("c")
    hand.drag(start, start + QPoint(20, 0), start + QPoint(20, 10), release=False)
    without = _array(hand.canvas.grab().toImage())
    hand.canvas.live_gaps = live_gaps
    drawn = _array(hand.canvas.grab().toImage())
    key, lon_deg, lat_deg = asked[-1]
    assert key == "c"
    wanted = hand.earth(start + QPoint(20, 10))
    there = hand.canvas.picture.content.plane.to_plane(lon_deg, lat_deg)
    # The mark was gripped at the nearest pixel to its middle.
    assert there == pytest.approx(wanted, abs=0.75 * hand.canvas.picture.view.metres_per_px)
    middle = (hand.spot("a") + start + QPoint(20, 10)) / 2
    changed = (without != drawn).any(axis=2)
    assert changed[middle.y() - 8 : middle.y() + 8, middle.x() - 30 : middle.x() + 30].any()
    hand.key(Qt.Key.Key_Escape)


def test_the_reach_goes_along_with_its_place(hand):
    start = hand.spot("c")
    hand.drag(start, start + QPoint(20, 0), start + QPoint(90, 40), release=False)
    with_reach = _array(hand.canvas.grab().toImage())
    hand.key(Qt.Key.Key_Escape)
    hand.canvas.set_content(replace(hand.canvas.picture.content, plumes=()))
    hand.drag(start, start + QPoint(20, 0), start + QPoint(90, 40), release=False)
    without = _array(hand.canvas.grab().toImage())
    hand.key(Qt.Key.Key_Escape)
    rows, columns = np.nonzero((with_reach != without).any(axis=2))
    # A square of 12 m about the moved place; the other one is that of A, far to the west.
    near = np.hypot(columns - start.x() - 90, rows - start.y() - 40) < 60
    side_px = 12.0 / hand.canvas.picture.view.metres_per_px
    assert near.sum() > 0.5 * side_px**2
    assert np.ptp(columns[near]) == pytest.approx(side_px, abs=3)
    assert np.mean([columns[near].min(), columns[near].max()]) == pytest.approx(
        start.x() + 90, abs=2
    )


def test_a_map_that_cannot_be_edited_pans_where_a_place_would_move(hand):
    hand.canvas.is_editable = False
    start, view = hand.spot("c"), hand.canvas.picture.view
    hand.drag(start, start + QPoint(20, 0), start + QPoint(40, 0))
    assert hand.heard("dragged") == []
    assert hand.canvas.picture.view.east_m == pytest.approx(view.east_m - 40 * view.metres_per_px)


# Keys


def test_arrows_nudge_the_selected_place_and_end_in_one_move(hand, qtbot):
    hand.canvas.set_selected(["c"])
    before = hand.canvas.picture.content.plane.to_earth(20.0, 12.0)
    for _ in range(3):
        hand.key(Qt.Key.Key_Right)
    hand.key(Qt.Key.Key_Up)
    with qtbot.waitSignal(hand.canvas.dragged, timeout=NUDGE_MS + 2000):
        pass
    ((key, lon_deg, lat_deg),) = hand.heard("dragged")
    bearing_deg, _, moved_m = GEOD.inv(*before, lon_deg, lat_deg)
    step_m = round_down(4.0 * hand.canvas.picture.view.metres_per_px)
    assert key == "c"
    assert moved_m == pytest.approx(step_m * np.hypot(3.0, 1.0), rel=1e-6)
    assert bearing_deg == pytest.approx(np.degrees(np.arctan2(3, 1)), abs=1e-3)


def test_shift_nudges_ten_times_as_far(hand):
    hand.canvas.set_selected(["c"])
    hand.key(Qt.Key.Key_Left, SHIFT)
    drag = hand.canvas.picture.drag
    step_m = 10 * round_down(4.0 * hand.canvas.picture.view.metres_per_px)
    assert (drag.east_m, drag.north_m) == pytest.approx((20.0 - step_m, 12.0))
    hand.key(Qt.Key.Key_Escape)
    assert hand.canvas.picture.drag is None
    assert hand.heard("dragged") == []


def test_a_nudge_is_finished_before_another_place_is_touched(hand):
    hand.canvas.set_selected(["c"])
    hand.key(Qt.Key.Key_Left)
    hand.click(hand.spot("a"))
    assert [name for name, _ in hand.said if name in ("dragged", "places_selected")] == [
        "dragged",
        "places_selected",
    ]


def test_arrows_pan_when_no_place_is_selected(hand):
    view = hand.canvas.picture.view
    hand.key(Qt.Key.Key_Right)
    assert hand.canvas.picture.view.east_m > view.east_m
    hand.key(Qt.Key.Key_Up)
    assert hand.canvas.picture.view.north_m > view.north_m


def test_keys_zoom_and_fit(hand):
    view = hand.canvas.picture.view
    hand.key(Qt.Key.Key_Plus)
    assert hand.canvas.picture.view.metres_per_px == pytest.approx(view.metres_per_px / 1.5)
    hand.key(Qt.Key.Key_Minus)
    hand.key(Qt.Key.Key_Minus)
    assert hand.canvas.picture.view.metres_per_px == pytest.approx(view.metres_per_px * 1.5)
    hand.key(Qt.Key.Key_0)
    assert hand.canvas.picture.view == view


def test_page_keys_go_along_the_line_and_enter_opens(hand):
    for _ in range(2):
        hand.key(Qt.Key.Key_PageDown)
    hand.key(Qt.Key.Key_PageUp)
    hand.key(Qt.Key.Key_PageUp)
    assert hand.heard("places_selected") == [(("a",),), (("b",),), (("a",),), (("loose",),)]
    hand.key(Qt.Key.Key_Return)
    assert hand.heard("place_opened") == [("loose",)]
    hand.key(Qt.Key.Key_Delete)
    assert hand.heard("delete_pressed") == [()]


# View


def test_the_wheel_zooms_about_the_cursor(hand):
    at = QPoint(420, 130)
    before, scale = hand.earth(at), hand.canvas.picture.view.metres_per_px
    _wheel(hand.canvas, at, 2)
    assert hand.earth(at) == pytest.approx(before, abs=1e-9)
    assert hand.canvas.picture.view.metres_per_px == pytest.approx(scale / 1.25**2)


def test_dragging_the_water_pans(hand):
    before = hand.earth(QPoint(300, 100))
    hand.drag(QPoint(300, 100), QPoint(320, 110), QPoint(370, 130))
    assert hand.earth(QPoint(370, 130)) == pytest.approx(before)
    assert hand.heard("places_selected") == []


def test_other_content_leaves_the_view_alone(hand, content_with):
    _wheel(hand.canvas, QPoint(300, 200), 3)
    view = hand.canvas.picture.view
    hand.canvas.set_selected(["a", "b"])
    moved = content_with(ids=("x", "b", "c", "d", "stake"))
    hand.canvas.set_content(moved)
    assert hand.canvas.picture.view == view
    assert hand.canvas.picture.selected == {"b"}


def test_other_content_about_another_anchor_shows_the_same_water(hand, content_with):
    old = hand.canvas.picture.content
    seen = old.plane.to_earth(*hand.earth(QPoint(300, 200)))
    hand.canvas.set_content(content_with(anchor_lon_deg=151.21))
    new = hand.canvas.picture.content
    now = new.plane.to_earth(*hand.earth(QPoint(300, 200)))
    assert GEOD.inv(*seen, *now)[2] == pytest.approx(0.0, abs=0.01)


def test_items_are_brought_into_sight(hand):
    for _ in range(12):
        hand.key(Qt.Key.Key_Plus)
    assert not hand.canvas.picture.is_in_sight("a")
    hand.canvas.show_items(["sa"])
    assert hand.canvas.picture.is_in_sight("a")
    hand.canvas.show_items(["a", "d"])
    assert hand.canvas.picture.is_in_sight("a")
    assert hand.canvas.picture.is_in_sight("d")
    view = hand.canvas.picture.view
    hand.canvas.show_items(["nobody", "loose"])
    assert hand.canvas.picture.view == view


def test_a_short_gap_is_zoomed_in_until_its_two_places_are_apart(hand, content_with):
    near = content_with(east_m=np.array([-60.0, 59.5, 20.0, 60.0, 0.0]),
                        north_m=np.array([10.0, 8.0, 12.0, 8.0, 50.0]))  # fmt: skip
    hand.canvas.set_content(near)
    hand.canvas.show_items(["b", "d"])
    assert (hand.spot("d") - hand.spot("b")).x() > 60


def test_the_whole_is_fitted_again_as_long_as_nobody_touched_the_view(hand):
    hand.canvas.resize(900, 700)
    QApplication.processEvents()
    assert all(hand.canvas.picture.is_in_sight(key) for key in "abcd")
    wide = hand.canvas.picture.view.metres_per_px
    hand.key(Qt.Key.Key_Plus)
    hand.canvas.resize(600, 400)
    QApplication.processEvents()
    assert hand.canvas.picture.view.metres_per_px == pytest.approx(wide / 1.5)


# Adding


def test_in_add_mode_a_click_asks_for_a_place_there(hand):
    hand.canvas.set_adding(True)
    at = QPoint(400, 150)
    hand.click(at)
    ((lon_deg, lat_deg),) = hand.heard("place_added")
    there = hand.canvas.picture.content.plane.to_plane(lon_deg, lat_deg)
    assert there == pytest.approx(hand.earth(at), abs=1e-6)
    assert (lon_deg, lat_deg) == pytest.approx((151.2, -33.5), abs=0.01)
    hand.click(hand.spot("a"))
    assert len(hand.heard("place_added")) == 2
    assert hand.heard("places_selected") == []
    assert hand.canvas.cursor().shape() == Qt.CursorShape.CrossCursor


def test_in_add_mode_the_water_can_still_be_panned_and_the_shelf_takes_no_place(hand):
    hand.canvas.set_adding(True)
    hand.drag(QPoint(300, 100), QPoint(320, 110), QPoint(370, 130))
    hand.click(QPoint(300, 390))
    assert hand.heard("place_added") == []
    hand.canvas.set_adding(False)
    assert hand.canvas.cursor().shape() == Qt.CursorShape.ArrowCursor


# Looks


def test_the_tooltip_tells_label_bait_and_nearest_as_plain_text(hand):
    hand.move(hand.spot("b"))
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.spot("b"))
    QTest.mouseMove(hand.canvas, hand.spot("b"))
    content = hand.canvas.picture.content
    _, nearest_m = content.nearest(1)
    words = hand.canvas.picture.words_of("b")
    assert words == f"B & <b>bold</b>\nCorn (planned)\nnearest: A, {nearest_m:.1f} m"
    assert "&amp; &lt;b&gt;bold&lt;/b&gt;" in tooltip(words)
    assert "<b>" not in tooltip(words)
    assert hand.canvas.toolTip() == tooltip(words)
    QTest.mouseMove(hand.canvas, QPoint(300, 320))
    assert hand.canvas.toolTip() == ""
    assert hand.canvas.picture.words_of("loose") == "L\nCorn\nno position"
    assert "not fished" in hand.canvas.picture.words_of("stake")


def test_the_map_can_be_named_and_told_by_a_screen_reader(hand):
    hand.click(hand.spot("a"))
    reader = QAccessible.queryAccessibleInterface(hand.canvas)
    assert reader.text(QAccessible.Text.Name) == "Map of the places"
    assert reader.text(QAccessible.Text.Description).startswith("A, Fish (set), nearest: B & <b>")


def test_the_theme_is_put_on(hand):
    light = _array(hand.canvas.grab().toImage())
    hand.canvas.set_theme(DARK)
    dark = _array(hand.canvas.grab().toImage())
    assert light.mean() > 180
    assert dark.mean() < 90
    hand.canvas.set_theme(LIGHT)
    assert (light == _array(hand.canvas.grab().toImage())).all()


def test_a_notice_is_written_over_an_empty_map(qtbot):
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(600, 400)
    canvas.set_content(MapContent())
    before = _array(canvas.grab().toImage())
    canvas.set_notice("No places yet.")
    after = _array(canvas.grab().toImage())
    assert (before != after)[150:250, 200:400].any()
    canvas.set_notice("")
    assert (before == _array(canvas.grab().toImage())).all()


def test_a_locator_marks_the_current_trap_and_lets_nothing_move(hand):
    hand.canvas.set_locator(True)
    before = _array(hand.canvas.grab().toImage())
    hand.canvas.set_current("sd")
    changed = (before != _array(hand.canvas.grab().toImage())).any(axis=2)
    rows, columns = np.nonzero(changed)
    spot = hand.spot("d")
    # The rings, and the label that makes way for them.
    assert (np.hypot(columns - spot.x(), rows - spot.y()) < 60).all()
    assert changed.sum() > 60
    hand.drag(spot, spot + QPoint(20, 0), spot + QPoint(30, 0))
    hand.click(hand.spot("a"))
    assert hand.heard("dragged") == hand.heard("places_selected") == []
    assert hand.canvas.picture.content.plumes == ()


def test_a_locator_follows_the_current_trap_into_sight(hand):
    hand.canvas.set_locator(True)
    hand.canvas.zoom(30.0)
    assert not hand.canvas.picture.is_in_sight("a")
    hand.canvas.set_current("a")
    assert hand.canvas.picture.is_in_sight("a")


def test_nothing_of_a_gesture_is_left_when_the_map_is_hidden(hand):
    hand.canvas.set_selected(["c"])
    hand.key(Qt.Key.Key_Left)
    hand.canvas.zoom()
    hand.canvas.hide()
    # The nudge was the user's: it counts. Timers that still ran would fail the test at its end.
    assert len(hand.heard("dragged")) == 1
    assert hand.canvas.picture.drag is None


def test_no_mark_of_a_locator_lies_under_the_north_arrow(hand):
    hand.canvas.set_locator(True)
    hand.canvas.resize(252, 170)
    content = hand.canvas.picture.content
    ids = tuple(f"k{n}" for n in range(8))
    along = np.arange(8) * 1.7
    hand.canvas.set_content(
        replace(
            content, ids=ids, set_ids=(), labels=ids, east_m=along, north_m=0.3 * along,
            style_of=np.zeros(8, dtype=np.intp), links=(), plumes=(), gaps=(), unplaced=(),
            meetings=np.empty((0, 2), dtype=np.intp), size_factors=np.empty(0), shorelines=(),
        )
    )  # fmt: skip
    hand.canvas.fit()
    right = hand.canvas.rect().right()
    spots = [hand.spot(key) for key in ids]

    # The corner of the arrow is 44 by 72 pixels; a mark of a locator is some 6 wide about its spot.
    assert all(spot.x() + 6 < right - 44 or spot.y() - 6 > 72 for spot in spots)
    assert max(spot.x() for spot in spots) - min(spot.x() for spot in spots) > 100

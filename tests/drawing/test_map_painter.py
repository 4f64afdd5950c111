from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from trapline.drawing import map_places
from trapline.drawing.map_content import MapContent, MarkStyle, PlumeShape, Unplaced
from trapline.drawing.map_furniture import current_text, shelf_rect, shelf_spots
from trapline.drawing.map_legend import MEETING, REACH, legend_rows
from trapline.drawing.map_painter import fitted_view
from trapline.drawing.map_sheet import DOTS_OVER, PaintCache, Sheet
from trapline.drawing.map_view import MapView
from trapline.drawing.theme import DARK, LIGHT, PAPER_MONOCHROME, SUNLIGHT

RECT = QRectF(0, 0, 1000, 650)


def _array(image: QImage) -> np.ndarray:
    """Return the picture as (height, width, 3) in the order red, green, blue."""
    raw = np.array(image.constBits()).reshape(image.height(), image.bytesPerLine() // 4, 4)
    return raw[:, : image.width(), 2::-1].astype(int)


def _near(image: QImage, colour: str, tolerance: int = 12) -> np.ndarray:
    wanted = np.array(QColor(colour).getRgb()[:3])
    return np.abs(_array(image) - wanted).max(axis=2) <= tolerance


def _words(content: MapContent) -> list[str]:
    return [words for row in legend_rows(content) for words, _ in row.items]


def _sheet(content: MapContent, theme=LIGHT, rect=RECT) -> tuple[Sheet, QPainter, QImage]:
    image = QImage(8, 8, QImage.Format.Format_ARGB32)
    painter = QPainter(image)
    return Sheet(painter, rect, MapView(), content, theme, PaintCache()), painter, image


def _fitted(content: MapContent, rect=RECT) -> MapView:
    sheet, painter, _ = _sheet(content, rect=rect)
    view = fitted_view(sheet)
    painter.end()
    return view


def test_every_mark_stands_where_the_view_puts_it(lake_with, picture):
    content = lake_with(plumes=(), meetings=np.empty(0, np.intp), gaps=(), links=(), unplaced=())
    view = _fitted(content)
    pixels = _array(picture(content, view=view))
    x, y = view.to_px(RECT, content.east_m, content.north_m)
    for row in set(range(12)) - {4, 5}:  # those two stand on each other
        wanted = np.array(QColor(content.style(row).colour).getRgb()[:3])
        assert np.abs(pixels[round(y[row]), round(x[row])] - wanted).max() <= 8, row


def test_north_is_painted_up(picture):
    content = MapContent(
        ids=("a", "b"), labels=("", ""), east_m=np.zeros(2), north_m=np.array([0.0, 50.0]),
        styles=(MarkStyle("x", "#0072B2", "square", "set"), MarkStyle("y", "#D55E00", "square",
                "set")), style_of=np.array([0, 1]),
    )  # fmt: skip
    image = picture(content, view=MapView(0.0, 25.0, 0.25))
    south = np.argwhere(_near(image, "#0072B2"))[:, 0]
    north = np.argwhere(_near(image, "#D55E00"))[:, 0]
    # The legend shows both marks too, within 10 rows of each other: the median is of the map.
    assert np.median(north) < np.median(south) - 100


def test_the_three_themes_and_both_modes_make_different_pictures(lake, picture):
    made = [picture(lake, theme) for theme in (LIGHT, DARK, SUNLIGHT, PAPER_MONOCHROME)]
    made.append(picture(lake, simple=True))
    made.append(picture(lake, selected=["place-2"]))
    made.append(picture(lake, current="set-2"))
    arrays = [_array(image) for image in made]
    for at, one in enumerate(arrays):
        for other in arrays[at + 1 :]:
            assert (one != other).any(axis=2).sum() > 100


def test_black_and_white_has_no_colour_in_it(lake_with, picture):
    """Also where a bait has a loud colour, and with gaps, rings and lost traps."""
    styles = tuple(
        MarkStyle(f"b{k}", colour, mark, state)
        for k, (colour, mark, state) in enumerate(
            [("#D55E00", "star", "lost"), ("#F0E442", "ring", "lifted"),
             ("#009E73", "cross", "planned"), ("#CC79A7", "pentagon", "set")]
        )
    )  # fmt: skip
    content = lake_with(styles=styles)
    pixels = _array(picture(content, PAPER_MONOCHROME, selected=["place-1"], simple=True))
    spread = pixels.max(axis=2) - pixels.min(axis=2)
    # Letters are smoothed by the colours of sub-pixels on some screens; not here.
    assert (spread > 24).mean() < 0.001


def test_nothing_is_painted_outside_the_rectangle(lake, qapp):
    from trapline.drawing.map_painter import paint_map

    image = QImage(500, 400, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(QColor("#ff00ff"))
    painter = QPainter(image)
    paint_map(painter, QRectF(100, 80, 300, 240), None, lake, LIGHT, selected=["place-1"])
    painter.end()
    is_canvas = _near(image, "#ff00ff", 0)
    assert not is_canvas[80:320, 100:400].any()
    is_canvas[80:320, 100:400] = True
    assert is_canvas.all()


@pytest.mark.parametrize("theme", [LIGHT, SUNLIGHT, PAPER_MONOCHROME], ids=lambda t: t.name)
@pytest.mark.parametrize("paper", [False, True])
def test_odd_maps_are_painted_all_the_same(lake_with, picture, theme, paper):
    none = np.empty(0)
    nan = np.full(12, np.nan)
    one = MapContent(
        ids=("a",),
        labels=("A",),
        east_m=np.array([3.0]),
        north_m=np.array([4.0]),
        styles=(MarkStyle(),),
        style_of=np.array([0]),
        links=(np.array([0]),),
    )
    loose = tuple(Unplaced(str(k), f"long label {k}", MarkStyle()) for k in range(300))
    for content in (
        MapContent(),
        one,
        lake_with(east_m=nan, plumes=()),
        lake_with(east_m=nan),
        lake_with(size_factors=np.array([np.nan, 0.0, -1.0, np.inf, *[1.0] * 8])),
        lake_with(plumes=(PlumeShape(0, np.full((4, 2), np.nan)),), meetings=np.empty(0, np.intp)),
        lake_with(shorelines=(np.array([[0.0, 0.0], [np.nan, 1.0]]),)),
        lake_with(east_m=np.full(12, 5.0), north_m=np.full(12, 6.0), plumes=()),
        MapContent(unplaced=loose),
        MapContent(unplaced=loose[:1], shorelines=(none.reshape(0, 2),)),
    ):
        image = picture(content, theme, size=(300, 200), paper=paper)
        assert not _near(image, "#ff00ff", 0).any()


def test_places_without_position_are_drawn_beside_the_map_and_named(lake, picture):
    spots = shelf_spots(lake, RECT)
    pixels = _array(picture(lake))
    assert len(spots) == 3
    for spot, place in zip(spots, lake.unplaced, strict=True):
        # Hollow: planned. Its colour lies halfway between the core and the edge.
        x, y = round(spot.x()), round(spot.y())
        around = pixels[y - 9 : y + 10, x - 9 : x + 10].reshape(-1, 3)
        wanted = np.array(QColor(place.style.colour).getRgb()[:3])
        assert (np.abs(around - wanted).max(axis=1) <= 8).sum() > 10
    assert shelf_rect(lake, RECT).top() < spots[0].y() < RECT.bottom()
    assert shelf_rect(replace(lake, unplaced=()), RECT).isEmpty()


def test_meeting_reaches_of_different_baits_are_hatched(lake_with, picture):
    meets = lake_with()
    alone = lake_with(meetings=np.empty(0, np.intp))
    view = _fitted(meets)
    one, other = _array(picture(meets, view=view)), _array(picture(alone, view=view))
    changed = (one != other).any(axis=2)
    changed[:300, :330] = False  # the legend

    def inside(number: int, widen_px: float) -> np.ndarray:
        # The plumes here are circles.
        x, y = view.to_px(RECT, *meets.plumes[number].outline.T)
        middle, radius = (x.mean(), y.mean()), np.ptp(x) / 2
        rows, columns = np.indices(changed.shape)
        return np.hypot(columns + 0.5 - middle[0], rows + 0.5 - middle[1]) <= radius + widen_px

    shared = [inside(a, 1.5) & inside(b, 1.5) for a, b in meets.meetings]
    assert not (changed & ~shared[0] & ~shared[1]).any()
    for (a, b), both in zip(meets.meetings, shared, strict=True):
        well_inside = inside(a, -2.0) & inside(b, -2.0)
        # A line every 6 px, some of it under marks and labels.
        assert (changed & both).sum() > 0.12 * well_inside.sum() > 5


def test_water_shared_by_several_is_hatched_once(lake_with, picture):
    """Hatches over each other would grow dark, and rings turned the other way make a hole."""
    once = lake_with(meetings=np.array([[0, 1]]))
    around = once.plumes[1].outline[::-1]
    turned = (*once.plumes, PlumeShape(1, around))
    several = replace(once, plumes=turned, meetings=np.array([[0, 1], [0, len(turned) - 1]]))
    bare = replace(once, plumes=turned, meetings=np.array([[0, 1]]))
    difference = np.abs(_array(picture(several)) - _array(picture(bare))).max(axis=2)
    # At the rim the smoothing of two outlines on each other is a shade deeper.
    assert difference.max() < 48
    assert (difference > 0).sum() < 200


def test_the_legend_says_what_is_on_the_map_and_nothing_else(lake_with):
    words = _words(lake_with())
    assert words[:4] == ["Fish heads", "Fish paste", "Corn", "No bait"]
    assert REACH == "assumed reach, set by you: a risk map"
    assert REACH in words
    assert MEETING in words
    bare = _words(lake_with(plumes=(), meetings=np.empty(0, np.intp), gaps=(), unplaced=()))
    assert bare == ["Fish heads", "Fish paste", "Corn", "No bait"]
    assert _words(MapContent()) == []


def test_a_map_without_room_for_a_legend_still_says_what_reaches_are(lake_with, qapp):
    from trapline.drawing.map_legend import legend_box, note_box

    for width, has_legend in ((1000, True), (380, False), (200, False)):
        sheet, painter, _ = _sheet(lake_with(), rect=QRectF(0, 0, width, 300))
        legend, note = legend_box(sheet, legend_rows(sheet.content)), note_box(sheet)
        painter.end()
        assert (not legend.isEmpty()) is has_legend
        assert note.isEmpty() is has_legend
        assert note.right() <= width - 44  # the north arrow
    sheet, painter, _ = _sheet(lake_with(plumes=()), rect=QRectF(0, 0, 380, 300))
    assert note_box(sheet).isEmpty()
    painter.end()


def test_the_current_is_told_as_where_it_flows_towards(lake_with):
    assert current_text(lake_with()) == "current 0.06 m/s towards ESE (112°)"
    assert current_text(lake_with(current_m_s=None)) == ""
    assert current_text(lake_with(current_m_s=0.0)) == ""


def test_the_arrow_of_the_current_points_downstream(lake_with, picture):
    """Towards the east the head of the arrow, its widest part, is at its east end."""
    for towards_deg, is_east in ((90.0, True), (270.0, False)):
        content = lake_with(current_to_deg=towards_deg, shorelines=())
        image = picture(content)
        # Its place: left of the north arrow, 74 px from the right edge.
        box = _near(image, LIGHT.current, 60)[10:64, 905:948]
        tall = box.sum(axis=0)
        head_at = int(np.argmax(tall)) / tall.size
        assert (head_at > 0.5) is is_east


def test_all_is_in_view_and_clear_of_the_legend(lake):
    view = _fitted(lake)
    x, y = view.to_px(RECT, lake.east_m, lake.north_m)
    assert (x > 0).all()
    assert (x < 1000).all()
    assert (y > 0).all()
    assert (y < shelf_rect(lake, RECT).top()).all()
    sheet, painter, _ = _sheet(lake)
    from trapline.drawing.map_legend import legend_box

    box = legend_box(sheet, legend_rows(lake))
    painter.end()
    assert not any(box.contains(a, b) for a, b in zip(x, y, strict=True))


def test_very_many_places_become_dots_of_their_baits_colours(many_places, picture):
    content = many_places(DOTS_OVER + 2000)
    image = picture(content, simple=True)
    for style in content.styles:
        # Fewer than a stamped mark would fill, more than the legend alone.
        assert _near(image, style.colour, 3).sum() > 500
    few = many_places(300)
    assert _near(picture(few), few.styles[0].colour, 3).sum() > 500


def test_larger_factors_make_larger_marks(lake_with, picture):
    plain = lake_with(plumes=(), gaps=(), links=(), meetings=np.empty(0, np.intp))
    view = _fitted(plain)
    large = replace(plain, size_factors=np.full(12, 4.0))
    colour = plain.styles[2].colour

    def covered(content: MapContent) -> int:
        return int(_near(picture(content, view=view), colour, 8)[:, 330:].sum())

    # Four times the factor is four times the area; the outline takes less of a large mark.
    assert 3.4 < covered(large) / covered(plain) < 5.5


def test_a_map_at_twice_the_density_is_the_same_map(lake, picture):
    one = picture(lake)
    two = picture(lake, ratio=2.0)
    assert (two.width(), two.height()) == (2000, 1300)
    smaller = two.scaled(1000, 650).convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)
    assert np.abs(_array(one) - _array(smaller)).mean() < 4.0


def test_the_hidden_place_leaves_its_reach_its_gaps_and_its_legs_out(lake, qapp):
    from trapline.drawing.map_painter import paint_ground_and_places

    view = _fitted(lake)

    def painted(content: MapContent, hidden: int) -> np.ndarray:
        image = QImage(1000, 650, QImage.Format.Format_ARGB32_Premultiplied)
        painter = QPainter(image)
        sheet = Sheet(painter, RECT, view, content, LIGHT, PaintCache(), hidden=hidden)
        paint_ground_and_places(sheet)
        painter.end()
        return _array(image)

    changed = (painted(lake, -1) != painted(lake, 8)).any(axis=2)
    x, y = view.to_px(RECT, lake.east_m, lake.north_m)
    reach = 22.0 / view.metres_per_px
    assert changed[round(y[8] - reach) + 1, round(x[8])]  # the edge of its reach is gone
    assert changed[round(y[8]), round(x[8])]
    assert not changed[round(y[2]), round(x[2])]
    # Without it the line ends on both sides and is not drawn past it.
    bare = replace(lake, plumes=(), meetings=np.empty(0, np.intp), labels=("",) * 12, gaps=())
    alone = replace(bare, links=(np.arange(8), np.arange(9, 12)))
    assert (painted(bare, 8) == painted(alone, 8)).all()


def test_texts_of_gaps_and_labels_do_not_overlap(many_places, qapp, monkeypatch):
    """Every box that is given out on a crowded map, seen where the painter asks for them."""
    from trapline.drawing.map_content import GapLine
    from trapline.drawing.map_painter import paint_ground_and_places

    content = many_places(400)
    content = replace(
        content,
        plumes=(),
        gaps=tuple(GapLine(k, k + 1, f"{k / 10:.2f} m") for k in range(0, 390, 3)),
    )
    given: list[np.ndarray] = []
    inner = map_places.declutter

    def noted(boxes, *args):
        chosen = inner(boxes, *args)
        given.append(boxes[chosen[chosen >= 0], np.flatnonzero(chosen >= 0)])
        return chosen

    monkeypatch.setattr(map_places, "declutter", noted)
    image = QImage(1000, 650, QImage.Format.Format_ARGB32_Premultiplied)
    painter = QPainter(image)
    paint_ground_and_places(
        Sheet(painter, RECT, MapView(120.0, 120.0, 0.4), content, LIGHT, PaintCache())
    )
    painter.end()
    boxes = np.concatenate(given)
    assert [len(one) > 20 for one in given] == [True, True]
    left, top, right, bottom = boxes.T
    meet = (left[:, None] < right) & (left < right[:, None])
    meet &= (top[:, None] < bottom) & (top < bottom[:, None])
    assert np.triu(meet, k=1).sum() == 0

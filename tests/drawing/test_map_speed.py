"""A study of speed, run by name (-m study -s): what one pan step costs, in the same run as a
whole repaint of the same view, from a thousand to a hundred thousand places.

Absolute times move from machine to machine, so what is asserted is their ratio.
"""

import time
from collections.abc import Callable

import pytest
from PySide6.QtGui import QPixmap

from trapline.drawing.map_view import MapView
from trapline.ui.map.canvas import MapCanvas

ROUNDS = 9


def _fastest_ms(step: Callable[[], None]) -> float:
    """Return the least of several times in milliseconds: the rest is other programs."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        step()
        times.append(time.perf_counter() - start)
    return 1000.0 * min(times)


@pytest.mark.study
@pytest.mark.parametrize("n", [1_000, 10_000, 100_000])
@pytest.mark.parametrize("metres_per_px", [0.25, 2.0])
def test_a_pan_step_costs_a_small_part_of_a_repaint(qtbot, many_places, request, n, metres_per_px):
    canvas = MapCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(1200, 800)
    canvas.set_content(many_places(n))
    picture = canvas.picture
    side_m = 12.0 * n**0.5
    picture.view, picture.is_fitted = MapView(side_m / 2, side_m / 2, metres_per_px), False
    target = QPixmap(1200, 800)
    canvas.render(target)
    shift = [7]

    def pan() -> None:
        picture.is_moving = True
        shift[0] = -shift[0]
        picture.view = picture.view.panned(shift[0], 3)
        canvas.render(target)

    def repaint(*, simple: bool) -> None:
        picture.is_moving = simple
        picture.forget()
        canvas.render(target)

    pan_ms = _fastest_ms(pan)
    moving_ms = _fastest_ms(lambda: repaint(simple=True))
    resting_ms = _fastest_ms(lambda: repaint(simple=False))
    west, south, east, north = picture.view.window(picture.rect)
    content = picture.content
    seen = (
        (content.east_m > west) & (content.east_m < east)
        & (content.north_m > south) & (content.north_m < north)
    ).sum()  # fmt: skip
    middle = picture.rect.center()
    finding_ms = _fastest_ms(lambda: picture.hit(middle))
    request.config.get_terminal_writer().line(
        f"\n{n:>7} places, {seen:>6} in view: pan {pan_ms:.2f} ms, repaint while moving"
        f" {moving_ms:.1f} ms, at rest {resting_ms:.1f} ms, finding one {finding_ms:.2f} ms"
    )
    picture.is_moving = False
    assert pan_ms < moving_ms / 3
    assert pan_ms < resting_ms / 5

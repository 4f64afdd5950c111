from matplotlib.figure import Figure
from PySide6.QtGui import QColor

from trapline.drawing.chart_canvas import ChartCanvas
from trapline.drawing.theme import DARK, LIGHT, Theme


def _figure(theme: Theme) -> Figure:
    figure = Figure()
    figure.set_facecolor(theme.panel)
    figure.add_axes((0.4, 0.4, 0.2, 0.2)).set_facecolor("#D55E00")
    return figure


def _canvas(qtbot) -> ChartCanvas:
    canvas = ChartCanvas()
    qtbot.addWidget(canvas)
    canvas.resize(400, 300)
    return canvas


def test_a_chart_is_shown_in_the_theme(qtbot):
    canvas = _canvas(qtbot)
    canvas.set_chart(_figure, "Four baits", 2)
    image = canvas.grab().toImage()
    middle = image.pixelColor(image.width() // 2, image.height() // 2)
    assert middle.name() == "#d55e00"
    assert image.pixelColor(5, 5).name() == LIGHT.panel
    canvas.set_theme(DARK)
    assert canvas.grab().toImage().pixelColor(5, 5).name() == DARK.panel


def test_the_figure_is_made_once_for_a_theme_and_painted_once_for_a_size(qtbot):
    canvas, made = _canvas(qtbot), []

    def make(theme: Theme) -> Figure:
        made.append(theme)
        return _figure(theme)

    canvas.set_chart(make, "words")
    first = canvas.grab().toImage()
    canvas.resize(500, 300)
    assert canvas.grab().toImage().width() > first.width()
    canvas.grab()
    assert made == [LIGHT]
    canvas.set_chart(make, "words")
    canvas.grab()
    assert made == [LIGHT, LIGHT]


def test_without_a_chart_the_widget_is_plain(qtbot):
    canvas = _canvas(qtbot)
    canvas.set_chart(None, "")
    image = canvas.grab().toImage()
    assert image.pixelColor(image.width() // 2, image.height() // 2) == QColor(LIGHT.panel)


def test_a_chart_can_be_heard(qtbot):
    canvas = _canvas(qtbot)
    canvas.set_chart(_figure, "Fish catches 4 times as much as no bait.")
    assert canvas.accessibleName() == "Chart"
    assert canvas.accessibleDescription() == "Fish catches 4 times as much as no bait."

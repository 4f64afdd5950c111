"""The map as a widget. What it shows is a `MapContent`; what is done on it goes out as signals."""

from collections.abc import Iterable

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import (
    QHideEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from trapline.drawing.map_content import MapContent
from trapline.drawing.theme import Theme
from trapline.ui.map.gestures import Gestures
from trapline.ui.map.keys import KEY_FACTOR, MapKeys
from trapline.ui.map.overlay import LiveGaps
from trapline.ui.map.picture import MapPicture


class MapCanvas(QWidget):
    """Shows the places; every change is asked for by a signal and comes back as new content.

    Attributes
    ----------
    is_editable : bool
        Whether places can be moved by mouse and keys.
    live_gaps : callable or None
        Called while a place moves, with its id, lon_deg and lat_deg; returns a `LiveGap` for
        each gap to draw.

    Signals
    -------
    places_selected(tuple of place ids) : by the user; not by `set_selected`
    dragging(id, east_m, north_m) : while a place moves, not more often than every 40 ms
    dragged(id, lon_deg, lat_deg) : at release, once a move
    drag_cancelled()
    place_added(lon_deg, lat_deg) : a click in add mode
    place_opened(id) : a double click, or Enter on the selected place
    delete_pressed() : Del while places can be changed
    view_changed() : when the view has come to rest
    """

    places_selected = Signal(object)
    dragging = Signal(object, object, object)
    dragged = Signal(object, object, object)
    drag_cancelled = Signal()
    place_added = Signal(object, object)
    place_opened = Signal(object)
    delete_pressed = Signal()
    view_changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.picture = MapPicture(lambda: QRectF(self.rect()))
        self.is_editable = True
        self.is_adding = False
        self.live_gaps: LiveGaps | None = None
        self._gestures = Gestures(self)
        self._keys = MapKeys(self, self._gestures)
        self.setAccessibleName("Map of the places")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(160, 120)

    def set_content(self, content: MapContent) -> None:
        """Show other content; view and selection stay, a move on its way is dropped."""
        self._gestures.cancel()
        self.picture.set_content(content)
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Show the map in another theme."""
        self.picture.theme = theme
        self.picture.forget()
        self.update()

    def set_selected(self, keys: Iterable[str]) -> None:
        """Ring places, by their own ids or those of their trap sets; sends no signal."""
        content = self.picture.content
        found = frozenset(key for key in map(content.place_id, keys) if key is not None)
        if found == self.picture.selected:
            return
        self.picture.selected = found
        self.picture.forget()
        words = self.picture.words_of(next(iter(found))) if len(found) == 1 else ""
        self.setAccessibleDescription(words.replace("\n", ", "))
        self.update()

    def set_current(self, key: str) -> None:
        """Mark the trap that is being lifted; in a locator it is brought into sight."""
        self.picture.current = key
        self.picture.forget()
        if self.picture.is_locator and not self.picture.is_in_sight(key):
            self.show_items([key])
        self.update()

    def set_locator(self, is_locator: bool) -> None:
        """Become a small map to look at: nothing can be moved, no reaches, no gaps, no legend."""
        self.picture.is_locator = is_locator
        self.is_editable = not is_locator
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus if is_locator else Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Where the trap stands" if is_locator else "Map of the places")
        self.picture.set_content(self.picture.content)
        self.update()

    def set_adding(self, is_adding: bool) -> None:
        """Switch add mode: a click then asks for a new place instead of selecting."""
        self.is_adding = is_adding
        self._gestures.show_cursor()

    def set_notice(self, notice: str) -> None:
        """Write a sentence over the map, or nothing: what to do while it is empty."""
        self.picture.notice = notice
        self.update()

    def fit(self) -> None:
        """Show everything."""
        self.picture.fit()
        self.update()
        self.view_changed.emit()

    def show_items(self, keys: Iterable[str]) -> None:
        """Bring places or trap sets into view, zoomed so that they can be told apart."""
        self.picture.show_rows(keys)
        self.update()
        self.view_changed.emit()

    def zoom(self, factor: float = KEY_FACTOR) -> None:
        """Zoom about the middle; less than 1 zooms out."""
        self._gestures.zoom(factor, self.picture.rect.center())

    # Qt overrides

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self.picture.paint(
            painter,
            self.devicePixelRatioF(),
            live_gaps=self.live_gaps,
            has_focus=self.hasFocus(),
        )
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        if self.picture.is_fitted:
            self.picture.fit()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._gestures.press(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._gestures.move(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._gestures.release(event)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._gestures.double_click(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        self._gestures.wheel(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._keys.press(event):
            super().keyPressEvent(event)

    def hideEvent(self, event: QHideEvent) -> None:
        self._keys.stop()
        self._gestures.stop()
        super().hideEvent(event)

"""What the mouse does on the map: pan, zoom, select, move and add places. Keys are in keys.py."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QElapsedTimer, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent, QWheelEvent

from trapline.ui.map.overlay import Drag
from trapline.ui.map.picture import Hit, tooltip

if TYPE_CHECKING:
    from trapline.ui.map.canvas import MapCanvas

DRAG_PX: Final = 4.0
WHEEL_FACTOR: Final = 1.25
# At most so often is `dragging` sent: every listener may ask an analysis.
DRAGGING_MS: Final = 40
# The view is taken to rest after so long.
IDLE_MS: Final = 140


class Gestures:
    """The hand on the map. Emits the canvas's signals; changes nothing but view and selection."""

    def __init__(self, canvas: "MapCanvas") -> None:
        self._canvas = canvas
        self._picture = canvas.picture
        self._pressed: Hit | None = None
        self._press_at: QPointF | None = None
        self._pan_from: QPointF | None = None
        self._since_told = QElapsedTimer()
        self._rest = QTimer(canvas, singleShot=True, interval=IDLE_MS)
        self._rest.timeout.connect(self._on_rested)

    # View

    def moved(self) -> None:
        """Paint roughly until the view rests."""
        self._picture.is_moving = True
        self._picture.is_fitted = False
        self._rest.start()
        self._canvas.update()

    def _on_rested(self) -> None:
        self._picture.is_moving = False
        self._canvas.update()
        self._canvas.view_changed.emit()

    def stop(self) -> None:
        """Let nothing go on while the map is hidden; a move by keys is finished first."""
        self.finish()
        self.cancel()
        self._rest.stop()
        self._picture.is_moving = False

    def wheel(self, event: QWheelEvent) -> None:
        """Zoom about the cursor; a wheel to the side pans."""
        steps = event.angleDelta().y() / 120.0
        if not steps:
            self._picture.view = self._picture.view.panned(event.angleDelta().x() / 2.0, 0.0)
            self.moved()
            return
        self.zoom(WHEEL_FACTOR**steps, event.position())

    def zoom(self, factor: float, about: QPointF) -> None:
        """Zoom by a factor with a point kept in place."""
        rect = self._picture.rect
        self._picture.view = self._picture.view.zoomed(factor, rect, about)
        self.moved()

    def choose(self, keys: Iterable[str]) -> None:
        """Select places and tell of it, if that changes anything."""
        before = self._picture.selected
        self._canvas.set_selected(keys)
        if self._picture.selected != before:
            self._canvas.places_selected.emit(tuple(sorted(self._picture.selected)))

    # Mouse

    def press(self, event: QMouseEvent) -> None:
        """Note what was pressed; nothing happens before the mouse moves or lets go."""
        if event.button() == Qt.MouseButton.RightButton:
            self.cancel()
            return
        self.finish()
        self._press_at = event.position()
        self._pressed = None
        if event.button() == Qt.MouseButton.LeftButton and not self._canvas.is_adding:
            self._pressed = self._picture.hit(event.position())

    def move(self, event: QMouseEvent) -> None:
        """Go on with a drag or a pan, or begin one."""
        at = event.position()
        if self._picture.drag is not None and self._press_at is not None:
            self._drag_to(at)
        elif self._pan_from is not None:
            step = at - self._pan_from
            self._pan_from = at
            self._picture.view = self._picture.view.panned(step.x(), step.y())
            self.moved()
        elif self._press_at is not None:
            if (at - self._press_at).manhattanLength() >= DRAG_PX:
                self._begin(at)
        else:
            hit = self._picture.hit(at)
            self._hover(hit)

    def _hover(self, hit: Hit | None) -> None:
        self._canvas.setToolTip(tooltip(self._picture.words(hit)) if hit else "")
        self.show_cursor(is_over_place=hit is not None)

    def show_cursor(self, *, is_over_place: bool = False) -> None:
        """Show by the cursor what a click would do."""
        if self._canvas.is_adding:
            shape = Qt.CursorShape.CrossCursor
        elif is_over_place and not self._picture.is_locator:
            shape = Qt.CursorShape.PointingHandCursor
        else:
            shape = Qt.CursorShape.ArrowCursor
        if self._canvas.cursor().shape() != shape:
            self._canvas.setCursor(shape)

    def _begin(self, at: QPointF) -> None:
        press_at = self._press_at or at
        hit = self._pressed
        if hit is not None and self._canvas.is_editable:
            self.choose([hit.key])
            east_m, north_m = self._picture.view.to_plane(
                self._picture.rect, hit.spot.x(), hit.spot.y()
            )
            self._picture.drag = Drag(
                hit.key, hit.row, hit.shelf_row, east_m, north_m, press_at - hit.spot
            )
            self._picture.forget()
            self._since_told.invalidate()
            self._drag_to(at)
        else:
            self._pan_from = at
            step = at - press_at
            self._picture.view = self._picture.view.panned(step.x(), step.y())
            self._canvas.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.moved()

    def _drag_to(self, at: QPointF) -> None:
        drag = self._picture.drag
        if drag is None:
            return
        spot = at - drag.grip_px
        drag.east_m, drag.north_m = self._picture.view.to_plane(
            self._picture.rect, spot.x(), spot.y()
        )
        self.tell(drag)
        self._canvas.update()

    def tell(self, drag: Drag) -> None:
        """Say where a place on its way is now, not too often."""
        if self._since_told.isValid() and self._since_told.elapsed() < DRAGGING_MS:
            return
        self._since_told.start()
        self._canvas.dragging.emit(drag.key, drag.east_m, drag.north_m)

    def release(self, event: QMouseEvent) -> None:
        """Finish a drag or a pan; without either it was a click."""
        at, press_at = event.position(), self._press_at
        self._press_at = None
        if self._picture.drag is not None:
            self._drag_to(at)
            if self._picture.is_over_shelf(at) or not self._picture.rect.contains(at):
                self.cancel()  # let go outside the map: it goes back
            else:
                self.finish()
        elif self._pan_from is not None:
            self._pan_from = None
            self.show_cursor()
        elif press_at is not None and event.button() == Qt.MouseButton.LeftButton:
            self._click(event)
        self._pressed = None

    def _click(self, event: QMouseEvent) -> None:
        canvas, picture = self._canvas, self._picture
        if canvas.is_adding:
            at = event.position()
            if not picture.is_over_shelf(at):
                place = picture.view.to_plane(picture.rect, at.x(), at.y())
                canvas.place_added.emit(*picture.content.plane.to_earth(*place))
            return
        if picture.is_locator:
            return
        hit = self._pressed
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            if hit is not None:
                self.choose(picture.selected ^ {hit.key})
        else:
            self.choose([hit.key] if hit else [])

    def double_click(self, event: QMouseEvent) -> None:
        """Open the place under the mouse."""
        hit = self._picture.hit(event.position())
        if hit is not None and not self._canvas.is_adding and not self._picture.is_locator:
            self._canvas.place_opened.emit(hit.key)

    # Moves by mouse or keys

    def finish(self) -> None:
        """Let go of the moved place where it is now."""
        drag, self._picture.drag = self._picture.drag, None
        if drag is None:
            return
        self._press_at = None
        self._picture.forget()
        self._canvas.update()
        lon_deg, lat_deg = self._picture.content.plane.to_earth(drag.east_m, drag.north_m)
        self._canvas.dragged.emit(drag.key, lon_deg, lat_deg)

    def cancel(self) -> bool:
        """Put a moved place back; False when none was on its way."""
        self._press_at = self._pan_from = self._pressed = None
        if self._picture.drag is None:
            return False
        self._picture.drag = None
        self._picture.forget()
        self._canvas.update()
        self._canvas.drag_cancelled.emit()
        return True

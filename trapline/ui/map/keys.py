"""What the keys do on the map: zoom, pan, step from place to place, nudge the selected one."""

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, Qt, QTimer
from PySide6.QtGui import QKeyEvent

from trapline.drawing.scale import round_down
from trapline.ui.map.gestures import Gestures
from trapline.ui.map.overlay import Drag

if TYPE_CHECKING:
    from trapline.ui.map.canvas import MapCanvas

KEY_FACTOR: Final = 1.5
PAN_PX: Final = 60.0
# Several nudges are one move: it ends when the keys have rested for so long.
NUDGE_MS: Final = 600
# A round step of about so many pixels, so that it is seen; never under a centimetre.
NUDGE_PX: Final = 4.0
LEAST_NUDGE_M: Final = 0.01
ARROWS: Final = {
    Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, 1), Qt.Key.Key_Down: (0, -1),
}  # fmt: skip
ZOOM_KEYS: Final = {
    Qt.Key.Key_Plus: KEY_FACTOR, Qt.Key.Key_Equal: KEY_FACTOR, Qt.Key.Key_Minus: 1 / KEY_FACTOR,
}  # fmt: skip


class MapKeys:
    """The keyboard on the map."""

    def __init__(self, canvas: "MapCanvas", gestures: Gestures) -> None:
        self._canvas = canvas
        self._picture = canvas.picture
        self._gestures = gestures
        self._nudged = QTimer(canvas, singleShot=True, interval=NUDGE_MS)
        self._nudged.timeout.connect(gestures.finish)

    def stop(self) -> None:
        """Let no timer run on while the map is hidden."""
        self._nudged.stop()

    def press(self, event: QKeyEvent) -> bool:
        """Return whether the key meant something here."""
        key, canvas = Qt.Key(event.key()), self._canvas
        if self._picture.is_locator:
            return False
        if key in ZOOM_KEYS:
            self._gestures.zoom(ZOOM_KEYS[key], self._picture.rect.center())
        elif key == Qt.Key.Key_0:
            canvas.fit()
        elif key == Qt.Key.Key_Escape:
            self._nudged.stop()
            return self._gestures.cancel()
        elif key in ARROWS:
            self._arrow(*ARROWS[key], event.modifiers())
        elif key in (Qt.Key.Key_PageDown, Qt.Key.Key_PageUp):
            self._step(1 if key == Qt.Key.Key_PageDown else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and len(self._picture.selected) == 1:
            canvas.place_opened.emit(next(iter(self._picture.selected)))
        elif key == Qt.Key.Key_Delete and canvas.is_editable:
            self._gestures.cancel()
            canvas.delete_pressed.emit()
        else:
            return False
        return True

    def _arrow(self, east: int, north: int, modifiers: Qt.KeyboardModifier) -> None:
        """Nudge the one selected place; without one, pan."""
        is_far = bool(modifiers & Qt.KeyboardModifier.ShiftModifier)
        drag = self._drag()
        if drag is None:
            view = self._picture.view
            self._picture.view = view.panned(-east * PAN_PX, north * PAN_PX)
            self._gestures.moved()
            return
        step_m = max(round_down(NUDGE_PX * self._picture.view.metres_per_px), LEAST_NUDGE_M)
        drag.east_m += east * step_m * (10 if is_far else 1)
        drag.north_m += north * step_m * (10 if is_far else 1)
        self._gestures.tell(drag)
        self._nudged.start()
        self._canvas.update()

    def _drag(self) -> Drag | None:
        """Return the move on its way, or begin one with the one selected place."""
        picture = self._picture
        if picture.drag is not None:
            return picture.drag
        if not self._canvas.is_editable or len(picture.selected) != 1:
            return None
        (key,) = picture.selected
        content, row = picture.content, picture.content.row(key)
        if row is None or not content.is_drawable[row]:
            return None
        east_m, north_m = float(content.east_m[row]), float(content.north_m[row])
        picture.drag = Drag(key, row, -1, east_m, north_m, QPointF(), is_nudge=True)
        picture.forget()
        return picture.drag

    def _step(self, by: int) -> None:
        """Select the next or the previous place in the order of the line."""
        self._gestures.finish()
        content = self._picture.content
        keys = [*content.ids, *(place.id for place in content.unplaced)]
        if not keys:
            return
        chosen = [keys.index(key) for key in self._picture.selected if key in keys]
        at = (chosen[0] + by) % len(keys) if chosen else (0 if by > 0 else len(keys) - 1)
        self._gestures.choose([keys[at]])
        if not self._picture.is_in_sight(keys[at]):
            self._canvas.show_items([keys[at]])

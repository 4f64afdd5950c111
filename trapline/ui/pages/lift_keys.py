"""The keys of the Lift page; each also stands on its button."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from trapline.ui.pages.counter import DROPPED

if TYPE_CHECKING:
    from trapline.ui.pages.lift_page import LiftPage

_DEEDS = {
    Qt.Key.Key_Return: "lift", Qt.Key.Key_Enter: "lift", Qt.Key.Key_A: "again",
    Qt.Key.Key_O: "out", Qt.Key.Key_V: "move", Qt.Key.Key_W: "leave",
    # As on the Set page: nobody knows. A letter there means something else.
    Qt.Key.Key_Question: "uncounted",
}  # fmt: skip
_SHIFTED = {Qt.Key.Key_A: "again_all", Qt.Key.Key_O: "out_all"}
_CONDITIONS = {
    Qt.Key.Key_X: "disturbed", Qt.Key.Key_R: "robbed", Qt.Key.Key_L: "lost",
}  # fmt: skip
_OTHER = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
_OTHER |= Qt.KeyboardModifier.MetaModifier


def press(page: "LiftPage", event: QKeyEvent) -> bool:
    """Do what a key means on the page; return whether it meant anything."""
    if event.modifiers() & _OTHER:
        return False
    key = Qt.Key(event.key())
    is_shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
    if key in _SHIFTED and is_shifted:
        page.deeds.do(_SHIFTED[key])
    elif key in _DEEDS:
        page.deeds.do(_DEEDS[key])
    elif key in _CONDITIONS:
        page.panel.toggle_condition(_CONDITIONS[key])
    elif event.text().isdecimal() and event.text().isascii() and page.counter.isEnabled():
        page.counter.type_digit(event.text())
    else:
        action = _actions(page).get(key)
        if action is None:
            return False
        action()
    return True


def _actions(page: "LiftPage") -> dict[Qt.Key, Callable[[], object]]:
    counter, panel = page.counter, page.panel
    moves: dict[Qt.Key, Callable[[], object]] = {
        Qt.Key.Key_Up: lambda: page.step(-1),
        Qt.Key.Key_Down: lambda: page.step(1),
        Qt.Key.Key_PageUp: lambda: page.step(-1),
        Qt.Key.Key_PageDown: lambda: page.step(1),
    }
    if counter.isEnabled():
        moves |= {
            Qt.Key.Key_Plus: lambda: counter.tap(1),
            Qt.Key.Key_Equal: lambda: counter.tap(1),
            Qt.Key.Key_Space: lambda: counter.tap(1),
            Qt.Key.Key_Minus: lambda: counter.tap(-1),
            Qt.Key.Key_Backspace: counter.erase,
            Qt.Key.Key_Escape: counter.forget_typed,
            Qt.Key.Key_Left: lambda: counter.choose_species(-1),
            Qt.Key.Key_Right: lambda: counter.choose_species(1),
            Qt.Key.Key_F: counter.next_fate,
            Qt.Key.Key_D: lambda: counter.tap(1, DROPPED),
        }
    if panel.isEnabled():
        moves |= {
            Qt.Key.Key_B: panel.next_bait_left,
            Qt.Key.Key_T: panel.lifted.setFocus,
            Qt.Key.Key_M: panel.notes.setFocus,
            Qt.Key.Key_G: page.bar.next_bait_action,
        }
    return moves

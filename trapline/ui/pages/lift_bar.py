"""What happens to the trap: one row of large buttons, each with its key."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trapline.actions.setting_again import is_waiting
from trapline.drawing.theme import set_role
from trapline.model.trapset import BAIT_ACTIONS, TrapSet
from trapline.ui.pages.species_buttons import large_button

# name of the deed, words on the button
_DEEDS = (
    ("lift", "Lifted  (Enter)"),
    ("again", "Set again  (A)"),
    ("out", "Out of the water  (O)"),
    ("move", "Move…  (V)"),
    ("uncounted", "Not counted  (?)"),
    ("leave", "Looked, left in  (W)"),
)
# Rare ones stand in a menu.
_RARE = (
    ("unlift", "It was not lifted after all"),
    ("amount", "Weight or measure…"),
    ("rest_again", "Lift the rest uncounted and set all again…"),
    ("found", "This lost trap was found…"),
    ("retire", "Give this lost trap up…"),
)


class LiftBar(QWidget):
    """Signals: `asked` (name of a deed: lift, again, out, move, uncounted, leave, …_all)."""

    asked = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.buttons: dict[str, QPushButton] = {}
        deeds = QHBoxLayout()
        deeds.setSpacing(8)
        for name, words in _DEEDS:
            deeds.addWidget(self._button(name, words))
        set_role(self.buttons["lift"], "primary")
        self.buttons["lift"].setDefault(True)
        self.bait = QComboBox()
        self.bait.addItems(BAIT_ACTIONS)
        self.bait.setAccessibleName("Bait when set again")
        self.bait.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        label = QLabel("Bait when set again  (G)")
        label.setBuddy(self.bait)
        rest = QHBoxLayout()
        rest.setSpacing(8)
        rest.addWidget(label)
        rest.addWidget(self.bait)
        rest.addWidget(self._more_button())
        rest.addStretch(1)
        rest.addWidget(self._button("again_all", "Set all again  (Shift+A)"))
        rest.addWidget(self._button("out_all", "All out  (Shift+O)"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        layout.addLayout(deeds)
        layout.addLayout(rest)

    def _button(self, name: str, words: str) -> QPushButton:
        button = large_button(words)
        button.clicked.connect(lambda: self.asked.emit(name))
        self.buttons[name] = button
        return button

    def _more_button(self) -> QPushButton:
        button = large_button("More")
        self.menu = QMenu(button)
        for name, words in _RARE:
            action = self.menu.addAction(words)
            action.setObjectName(name)
            action.triggered.connect(lambda _=False, deed=name: self.asked.emit(deed))
        button.setMenu(self.menu)
        return button

    @property
    def bait_action(self) -> str:
        """With which bait traps are set again."""
        return self.bait.currentText()

    def next_bait_action(self) -> None:
        """Turn to the next kind of bait."""
        self.bait.setCurrentIndex((self.bait.currentIndex() + 1) % self.bait.count())

    def show_trap(self, row: TrapSet, n_waiting: int) -> None:
        """Enable what can be done with a trap, and with those that wait."""
        can_lift, can_go = row.is_in_water, row.is_in_water or is_waiting(row)
        is_lost = row.state == "lifted" and row.condition == "lost"
        self.buttons["leave"].setEnabled(can_lift)
        self.buttons["uncounted"].setEnabled(row.state != "planned" and not is_lost)
        for name in ("again", "out", "move"):
            self.buttons[name].setEnabled(can_go)
        self.buttons["lift"].setText("Lifted  (Enter)" if can_lift else "Next  (Enter)")
        what = f"all {n_waiting}" if n_waiting > 1 else "it"
        self.buttons["again_all"].setText(f"Set {what} again  (Shift+A)")
        self.buttons["out_all"].setText(f"Take {what} out  (Shift+O)")
        for name in ("again_all", "out_all"):
            self.buttons[name].setVisible(n_waiting > 0)
            self.buttons[name].setToolTip(f"{n_waiting} lifted, not yet said what then")
        rare = {"amount": can_go, "unlift": row.state == "lifted" and (is_waiting(row) or is_lost)}
        rare |= {"rest_again": True, "found": is_lost, "retire": is_lost}
        for action in self.menu.actions():
            action.setEnabled(rare[action.objectName()])

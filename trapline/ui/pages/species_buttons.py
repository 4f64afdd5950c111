"""Large buttons for the species, the target first; what does not fit is in a list beside them."""

import html
from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QGridLayout,
    QPushButton,
    QSizePolicy,
    QWidget,
)

from trapline.model.species import Species
from trapline.ui.pages.short_words import ShortButton

IN_A_ROW = 3
_MOST_BUTTONS = 6


def large_button(text: str, parent: QWidget | None = None, *, is_name: bool = False) -> QPushButton:
    """Return a button that leaves the keys with the page when it is clicked.

    One that carries a name is shortened where the name is long; words are always whole.
    """
    kind = ShortButton if is_name else QPushButton
    button = kind(text.replace("&", "&&"), parent)
    button.setAutoDefault(False)
    # Tall for wet fingers, narrow at the sides: the words fit in the large letters for sunlight.
    button.setStyleSheet("min-height: 26px; padding-left: 6px; padding-right: 6px;")
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
    return button


class SpeciesButtons(QWidget):
    """Large buttons that fit without scrolling.

    Signals
    -------
    species_clicked(id) : to count one
    species_chosen(id) : to turn to it
    add_asked() : there is no species yet
    """

    species_clicked = Signal(object)
    species_chosen = Signal(object)
    add_asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.species: tuple[Species, ...] = ()
        self.buttons: dict[str, QPushButton] = {}
        self.group = QButtonGroup(self)
        self.others = QComboBox(self)
        self.others.setAccessibleName("Other species")
        self.others.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.others.hide()
        self.others.activated.connect(self._on_other_chosen)
        self.add_button = large_button("Add the species that you count…")
        self.add_button.clicked.connect(self.add_asked)
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setSpacing(6)
        self.grid.addWidget(self.add_button, 0, 0)

    def set_species(self, species: Sequence[Species]) -> None:
        """Offer species; nothing happens where they are the same."""
        if tuple(species) == self.species:
            return
        self.species = tuple(species)
        for button in self.buttons.values():
            self.group.removeButton(button)
            self.grid.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = {}
        self.add_button.setVisible(not species)
        few = len(self.species) <= _MOST_BUTTONS
        shown = self.species if few else self.species[: _MOST_BUTTONS - 1]
        for n, one in enumerate(shown):
            button = large_button(one.name, is_name=True)
            button.setCheckable(True)
            button.setToolTip(f"<p>Count one {html.escape(one.name)}</p>")
            button.clicked.connect(lambda _=False, key=one.id: self.species_clicked.emit(key))
            self.group.addButton(button)
            self.buttons[one.id] = button
            self.grid.addWidget(button, n // IN_A_ROW, n % IN_A_ROW)
        self.others.clear()
        self.others.setVisible(not few)
        if not few:
            self.others.addItem("Other species…")
            for one in self.species[len(shown) :]:
                self.others.addItem(one.name, one.id)
            self.grid.addWidget(self.others, len(shown) // IN_A_ROW, len(shown) % IN_A_ROW)

    def show_counts(self, current_id: str, totals: Mapping[str, int]) -> None:
        """Write beside each species what is counted of it, and mark the chosen one."""
        for one in self.species:
            button = self.buttons.get(one.id)
            number = f"   {totals[one.id]}" if one.id in totals else ""
            if button is not None:
                button.setText(f"{one.name}{number}".replace("&", "&&"))
                button.setChecked(one.id == current_id)
        at = self.others.findData(current_id) if current_id not in self.buttons else 0
        self.others.setCurrentIndex(max(0, at))

    def _on_other_chosen(self, number: int) -> None:
        if number > 0:
            self.species_chosen.emit(self.others.itemData(number))

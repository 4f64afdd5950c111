"""Edit one place: what it is called, where it is and how that is known, what the bottom is like."""

from typing import Any

from PySide6.QtWidgets import QCheckBox, QComboBox, QLineEdit, QWidget

from trapline.actions.places import edit_place
from trapline.errors import InvalidValue
from trapline.model.current import parse_towards
from trapline.model.fields import field_meta
from trapline.model.line import FIXES, Place
from trapline.science.coordinates import POSITION_EXAMPLE, parse_position, position_text
from trapline.ui.dialogs.card_dialog import Card, CardDialog, at, choose
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.dialogs.trip_cards import notes_box
from trapline.ui.session import Session

_ROPE = "rope and bearing"
_WORDS = {
    "not fixed": "not at all", "GPS": "GPS", "map": "on the map", "typed": "typed",
    _ROPE: "rope and bearing", "along the line": "along the line",
}  # fmt: skip


class PlaceDialog(CardDialog):
    """All fields of a place; whatever is changed is one step."""

    def __init__(self, session: Session, place: Place, parent: QWidget | None = None) -> None:
        super().__init__(session, "Edit place", "Keep the changes", parent)
        self.place = place
        self._shown_position = ""
        if place.lon_deg is not None and place.lat_deg is not None:
            self._shown_position = position_text(place.lon_deg, place.lat_deg, 7)
        self.label = QLineEdit(place.label)
        self.depth_m = QLineEdit(_shown(place.depth_m, " m"))
        self.bottom = QLineEdit(place.bottom)
        self.bottom.setPlaceholderText("stones, mud, weed")
        self.stake = QCheckBox("A &stake: measured from, never fished")
        self.stake.setChecked(place.is_stake)
        self.notes = notes_box(place.notes, 3)
        self.fix = QComboBox()
        choose(self.fix, [(_WORDS[word], word) for word in FIXES], place.fix)
        self.position = QLineEdit(self._shown_position)
        self.position.setPlaceholderText(POSITION_EXAMPLE)
        self.accuracy = QLineEdit(_shown(place.accuracy_m, " m"))
        self.origin, self.rope, self.bearing = QComboBox(), QLineEdit(), QLineEdit()
        self._show_rope()
        self._arrange()
        self.fix.currentIndexChanged.connect(self._show_fix)
        self.position.textEdited.connect(self._on_position_edited)
        self._show_fix(0)
        self.label.setFocus()

    @staticmethod
    def ask(session: Session, parent: QWidget | None, place_id: str) -> bool:
        """Show the dialog for a place; True when it was changed."""
        dialog = PlaceDialog(session, session.snapshot.need(Place, place_id), parent)
        done = dialog.exec() == CardDialog.DialogCode.Accepted
        dialog.deleteLater()
        return done

    def perform(self) -> None:
        """Keep the changes in one step."""
        values = {
            "label": self.label.text().strip(),
            "depth_m": self._typed(self.depth_m, "depth_m"),
            "bottom": self.bottom.text(),
            "is_stake": self.stake.isChecked(),
            "notes": self.notes.toPlainText(),
            **self._fixed(),
        }
        self.session.do_or_raise(edit_place, self.place.id, **values)

    def _fixed(self) -> dict[str, Any]:
        fix = self.fix.currentData()
        if fix == _ROPE:
            if self.origin.currentData() is None:
                raise InvalidValue(
                    "There is no other place with a position.", "Measured from", "Add a stake."
                )
            with at("Bearing"):
                bearing_deg = parse_towards(self.bearing.text())
            rope_m = self._typed(self.rope, "rope_m")
            if rope_m is None:
                raise InvalidValue("The rope has no length.", "Rope", "Type metres.")
            return {
                "fix": fix, "from_place_id": self.origin.currentData(), "rope_m": rope_m,
                "bearing_deg": bearing_deg, "accuracy_m": None,
            }  # fmt: skip
        if fix == "not fixed":
            return {"fix": fix, "lon_deg": None, "lat_deg": None, "accuracy_m": None}
        text = self.position.text().strip()
        if text == self._shown_position:
            # What is shown is rounded; what is kept is not.
            lon_deg, lat_deg = self.place.lon_deg, self.place.lat_deg
        else:
            with at("Position"):
                lon_deg, lat_deg = parse_position(text)
        if lon_deg is None:
            raise InvalidValue(
                "The position is empty.", "Position", "Type one, or choose “not at all”."
            )
        accuracy_m = self._typed(self.accuracy, "accuracy_m")
        return {"fix": fix, "lon_deg": lon_deg, "lat_deg": lat_deg, "accuracy_m": accuracy_m}

    def _typed(self, box: QLineEdit, name: str) -> Any:
        meta = field_meta(Place, name)
        with at(str(meta["label"])):
            return typed_value(box.text(), meta)

    # Making

    def _show_rope(self) -> None:
        snapshot, place = self.session.snapshot, self.place
        others = [
            (row.label, row.id)
            for row in snapshot.places(place.line_id, stakes=True)
            if row.id != place.id and row.has_position
        ]
        choose(self.origin, others or [("no other place has a position", None)],
               place.from_place_id)  # fmt: skip
        self.rope.setText(_shown(place.rope_m, " m"))
        self.bearing.setText(_shown(place.bearing_deg, ""))
        self.bearing.setPlaceholderText("225, or SW")

    def _arrange(self) -> None:
        card = Card("Place", columns=3)
        card.add(self.field("&Name", self.label, key="Place"))
        card.add(self.field("&Depth", self.depth_m))
        card.add(self.field("&Bottom", self.bottom))
        card.add(self.stake, span=3)
        card.add(self.field("N&otes", self.notes, key="Notes"), span=3)
        where = Card("Where it is", columns=3)
        where.add(self.field("&How that is known", self.fix, key="How fixed"))
        self._position_parts = [
            self.field("&Position", self.position),
            self.field("&Accuracy", self.accuracy),
        ]
        self._rope_parts = [
            self.field("&Measured from", self.origin),
            self.field("&Rope", self.rope),
            self.field("B&earing", self.bearing, hint="from true north, clockwise"),
        ]
        for part in (*self._position_parts, *self._rope_parts):
            where.add(part)
        self.column(card, where)
        self.setMinimumWidth(620)

    def _show_fix(self, _: int) -> None:
        fix = self.fix.currentData()
        for part in self._position_parts:
            part.setVisible(fix not in ("not fixed", _ROPE))
        for part in self._rope_parts:
            part.setVisible(fix == _ROPE)
        if self.isVisible():
            self.fit()

    def _on_position_edited(self, _: str) -> None:
        if self.fix.currentData() in ("map", "along the line"):
            self.fix.setCurrentIndex(FIXES.index("typed"))


def _shown(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.10g}{unit}"

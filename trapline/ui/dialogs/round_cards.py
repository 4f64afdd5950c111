"""The cards of one round: its current, and who set and lifted in what weather and tide."""

from typing import Any

from PySide6.QtWidgets import QComboBox, QLineEdit, QWidget

from trapline.errors import InvalidValue
from trapline.model.current import parse_speed, parse_towards, point_of
from trapline.model.fields import field_meta
from trapline.model.instants import local_text
from trapline.model.trip import LIFT_FROM, Round
from trapline.ui.dialogs.card_dialog import Card, choose
from trapline.ui.dialogs.noun_form import typed_value
from trapline.ui.dialogs.trip_cards import MakeField, day_box, day_of, notes_box
from trapline.ui.dialogs.which_time import typed_instant


class CurrentCard(Card):
    """No steady current, or its speed and where it flows towards."""

    def __init__(self, field: MakeField, fished: Round | None) -> None:
        heading = "Current" if fished is None else f"Current in round {fished.number}"
        super().__init__(heading, columns=3)
        steady = fished is not None and fished.has_current
        self.kind = QComboBox()
        choose(self.kind, [("none, or swirling", False), ("steady", True)], steady)
        self.speed, self.towards = QLineEdit(), QLineEdit()
        self.speed.setPlaceholderText("0.2 m/s, 0.4 kn")
        self.towards.setPlaceholderText("NE, or 45")
        if fished is not None and fished.current_m_s is not None:
            self.speed.setText(f"{fished.current_m_s:.6g} m/s")
        if fished is not None and fished.current_to_deg is not None:
            self.towards.setText(f"{fished.current_to_deg:.6g}")
        self.add(field("&Current", self.kind))
        self._parts = [
            field("Sp&eed", self.speed, key="Current speed"),
            field("Flows towar&ds", self.towards, key="Current flows towards"),
        ]
        for part in self._parts:
            self.add(part)
        self._show(0)
        self.kind.currentIndexChanged.connect(self._show)
        self.towards.textChanged.connect(self._explain)
        self._explain("")

    def _show(self, _: int) -> None:
        for part in self._parts:
            part.setEnabled(bool(self.kind.currentData()))

    def _explain(self, _: str) -> None:
        try:
            degrees = parse_towards(self.towards.text())
        except InvalidValue:
            self._parts[1].say("")
            return
        self._parts[1].say(f"{degrees:g}°, {point_of(degrees)}")

    def values(self) -> dict[str, Any]:
        """Return the current of the round."""
        if not self.kind.currentData():
            return {"current_m_s": None, "current_to_deg": None}
        return {
            "current_m_s": parse_speed(self.speed.text()),
            "current_to_deg": parse_towards(self.towards.text()),
        }


class RoundCard(Card):
    """Who, in what weather, at what tide: what is written down about one round."""

    def __init__(self, field: MakeField, fished: Round, zone: str) -> None:
        super().__init__(f"Round {fished.number}", columns=3)
        self.fished = fished
        self.day = day_box(fished.set_on)
        self.texts = {name: QLineEdit(getattr(fished, name))
                      for name in ("crew", "boat", "weather", "tide_state")}  # fmt: skip
        warmth = fished.water_temp_c
        self.warmth = QLineEdit("" if warmth is None else f"{warmth:g}")
        self.high_water = QLineEdit(local_text(fished.high_water_utc, zone))
        self.high_water.setPlaceholderText("14:20")
        self.lift_from = QComboBox()
        choose(self.lift_from, [(word, word) for word in LIFT_FROM], fished.lift_from)
        self.notes = notes_box(fished.notes, 2)
        self.add(field("Set on", self.day))
        self.add(field("Crew", self.texts["crew"]))
        self.add(field("&Boat", self.texts["boat"]))
        self.add(field("Weat&her", self.texts["weather"]))
        self.add(field("W&ater °C", self.warmth, key="Water temperature"))
        self.add(field("Lift from", self.lift_from))
        self.tide: list[QWidget] = [
            field("State of the tide", self.texts["tide_state"]),
            field("High water", self.high_water, key="High water"),
        ]
        for widget in self.tide:
            self.add(widget)
        self.add(field("Notes on the ro&und", self.notes), span=3)

    def show_tide(self, water_kind: str) -> None:
        """Ask for the tide only where there is one."""
        for widget in self.tide:
            widget.setVisible(water_kind == "tidal")

    def values(self, zone: str) -> dict[str, Any]:
        """Return the fields of the round; times are read in the zone of the trip."""
        meta = field_meta(Round, "water_temp_c")
        day = day_of(self.day)
        return {
            "set_on": day,
            "water_temp_c": typed_value(self.warmth.text(), meta),
            "lift_from": self.lift_from.currentData(),
            "high_water_utc": self._high_water(zone, day),
            "notes": self.notes.toPlainText(),
            **{name: box.text() for name, box in self.texts.items()},
        }

    def _high_water(self, zone: str, day: str | None) -> str | None:
        text = self.high_water.text().strip()
        if not text:
            return None
        if text == local_text(self.fished.high_water_utc, zone):
            return self.fished.high_water_utc
        try:
            return typed_instant(self, text, zone, day)
        except InvalidValue as problem:
            raise InvalidValue(problem.error, "High water", problem.what_to_do) from problem

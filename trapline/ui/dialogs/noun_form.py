"""A form made from what a noun declares about its fields: labels, units, ranges, choices."""

from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from trapline.errors import InvalidValue
from trapline.model.fields import Noun, check_value, field_meta
from trapline.units import parse_length

Choices = Mapping[str, Sequence[tuple[str, str | None]]]


class NounForm(QWidget):
    """Editors for some fields of a noun. An empty number means not known.

    `choices` gives, for a field that links to another noun, the (text, id) pairs to choose from.

    Signals
    -------
    edited : whenever anything was changed
    """

    edited = Signal()

    def __init__(
        self,
        noun: type[Noun],
        names: Sequence[str],
        *,
        choices: Choices | None = None,
        labels: Mapping[str, str] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.noun = noun
        self.editors: dict[str, QWidget] = {}
        self._choices = choices or {}
        layout = QFormLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        layout.setLabelAlignment(Qt.AlignmentFlag.AlignRight)
        for name in names:
            meta = field_meta(noun, name)
            editor = self._editor(name, meta)
            editor.setObjectName(name)
            text = (labels or {}).get(name, str(meta["label"]))
            unit = meta.get("unit") or ""
            caption = f"{text} ({unit})" if unit else text
            editor.setAccessibleName(caption)
            if isinstance(editor, QCheckBox):
                editor.setText(caption)
                layout.addRow(editor)
            else:
                label = QLabel(caption.replace("&", "&&"))
                label.setBuddy(editor)
                layout.addRow(label, editor)
            self.editors[name] = editor

    def _editor(self, name: str, meta: Mapping[str, Any]) -> QWidget:
        kind = meta["kind"]
        if name in self._choices:
            box = QComboBox()
            for text, key in self._choices[name]:
                box.addItem(text, key)
            box.currentIndexChanged.connect(self.edited)
            return box
        if kind == "choice":
            box = QComboBox()
            for word in meta["options"]:
                box.addItem(word or "(none)", word)
            box.currentIndexChanged.connect(self.edited)
            return box
        if kind == "flag":
            tick = QCheckBox()
            tick.toggled.connect(self.edited)
            return tick
        if kind == "text" and meta["lines"] > 1:
            area = QPlainTextEdit()
            area.setTabChangesFocus(True)
            area.setFixedHeight(area.fontMetrics().lineSpacing() * min(meta["lines"], 5) + 14)
            area.textChanged.connect(self.edited)
            return area
        line = QLineEdit()
        if kind == "day":
            line.setPlaceholderText("2026-08-01")
        line.textEdited.connect(self.edited)
        return line

    def show_values(self, values: Mapping[str, Any]) -> None:
        """Fill the editors; fields that are not named stay as they are."""
        for name, value in values.items():
            editor = self.editors.get(name)
            if isinstance(editor, QComboBox):
                editor.setCurrentIndex(max(0, editor.findData(value)))
            elif isinstance(editor, QCheckBox):
                editor.setChecked(bool(value))
            elif isinstance(editor, QPlainTextEdit):
                editor.setPlainText(value or "")
            elif isinstance(editor, QLineEdit):
                editor.setText(_shown(value))

    def show_row(self, row: Noun) -> None:
        """Fill the editors from a row."""
        self.show_values({name: getattr(row, name) for name in self.editors})

    def values(self) -> dict[str, Any]:
        """Return the fields as the noun takes them.

        Raises
        ------
        InvalidValue
            A text that the field cannot take; its editor gets the focus.
        """
        found: dict[str, Any] = {}
        for name, editor in self.editors.items():
            try:
                found[name] = self._value(name, editor)
                check_value(found[name], name, field_meta(self.noun, name))
            except InvalidValue:
                editor.setFocus()
                raise
        return found

    def _value(self, name: str, editor: QWidget) -> Any:
        meta = field_meta(self.noun, name)
        if isinstance(editor, QComboBox):
            return editor.currentData()
        if isinstance(editor, QCheckBox):
            return editor.isChecked()
        if isinstance(editor, QPlainTextEdit):
            return editor.toPlainText()
        assert isinstance(editor, QLineEdit)
        return typed_value(editor.text(), meta)


def _shown(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def typed_value(text: str, meta: Mapping[str, Any]) -> Any:
    """Return what a typed text means for a field: None where it is empty.

    Lengths may carry a unit (``33 ft``); numbers take a dot or a comma.

    Raises
    ------
    InvalidValue
        Not a number where one is needed.
    """
    kind, text = meta["kind"], text.strip()
    if kind in ("text", "choice"):
        return text
    if not text:
        return None
    if kind == "number" and meta["unit"] == "m":
        return parse_length(text)
    if kind in ("number", "count"):
        try:
            number = float(text.replace(",", "."))
            return int(number) if kind == "count" and number.is_integer() else number
        except (ValueError, OverflowError) as problem:
            raise InvalidValue(
                f"{meta['label']}: '{text}' is not a number.", str(meta["label"]), "Type a number."
            ) from problem
    return text

"""The warnings of a round, each with *Show* and, where it can help, *Move clear*."""

import re

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from trapline.analyses.spacing_check import Warning as SpacingWarning
from trapline.drawing.theme import set_role
from trapline.ui.plain_text import breakable

# How each kind of warning is marked: a sign beside the colour, which never stands alone.
_SIGNS = {
    "gap": ("▲", "bad"),
    "lonely": ("△", "warning"),
    "different baits": ("≋", "warning"),
    "choice test": ("≋", "warning"),
    "accuracy": ("?", "note"),
    "same bait": ("~", "note"),
}
_MOST_SHOWN = 60
# A number and its unit stay on one line.
_UNIT = re.compile(r"([0-9]) (?=(?:m|ft|yd)\b)")


class WarningList(QWidget):
    """Signals: `show_asked` (tuple of set ids), `move_asked` (set id to move clear)."""

    show_asked = Signal(object)
    move_asked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.heading = QLabel()
        set_role(self.heading, "heading")
        self.inside = QVBoxLayout()
        self.inside.setContentsMargins(4, 4, 4, 4)
        self.inside.setSpacing(2)
        body = QWidget()
        whole = QVBoxLayout(body)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.addLayout(self.inside)
        whole.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(body)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.heading)
        layout.addWidget(area, 1)
        self.texts: list[str] = []
        # The first button of each warning.
        self._buttons: list[QPushButton] = []
        self._shown: tuple[tuple[SpacingWarning, ...], frozenset[str]] | None = None

    def show_warnings(
        self, warnings: tuple[SpacingWarning, ...], movable: frozenset[str] = frozenset()
    ) -> None:
        """List warnings, worst first; where nothing is new, nothing is touched.

        `movable` are the trap sets that stand only on paper and can still be moved clear.
        """
        order = list(_SIGNS)
        ranked = tuple(sorted(warnings, key=lambda one: order.index(one.kind)))
        if (ranked, movable) == self._shown:
            return
        self._shown = (ranked, movable)
        focused = self._focused_row()
        while self.inside.count():
            item = self.inside.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.texts = [one.text for one in ranked]
        serious = sum(one.kind not in ("same bait", "accuracy") for one in ranked)
        notes = len(ranked) - serious
        parts = [f"{serious} warning{'s' if serious != 1 else ''}" if serious else "No warnings"]
        if notes:
            parts.append(f"{notes} note{'s' if notes != 1 else ''}")
        self.heading.setText(", ".join(parts))
        self._buttons = []
        for warning in ranked[:_MOST_SHOWN]:
            self.inside.addWidget(self._row(warning, movable))
        if len(ranked) > _MOST_SHOWN:
            self.inside.addWidget(QLabel(f"and {len(ranked) - _MOST_SHOWN} more"))
        if focused is not None and self._buttons:
            # Who works by keyboard goes on from where they were.
            self._buttons[min(focused, len(self._buttons) - 1)].setFocus()

    def _focused_row(self) -> int | None:
        """The number of the warning one of whose buttons has the focus."""
        focus = QApplication.focusWidget()
        if focus is None or not self.isAncestorOf(focus):
            return None
        row = focus.parentWidget()
        return next((n for n, one in enumerate(self._buttons) if one.parentWidget() is row), None)

    def _row(self, warning: SpacingWarning, movable: frozenset[str]) -> QWidget:
        row = QWidget()
        layout = QHBoxLayout(row)
        layout.setContentsMargins(0, 0, 0, 0)
        sign, role = _SIGNS[warning.kind]
        mark = QLabel(sign)
        set_role(mark, role)
        mark.setFixedWidth(18)
        text = QLabel(breakable(_UNIT.sub("\\1\u00a0", warning.text)))
        text.setTextFormat(Qt.TextFormat.PlainText)
        text.setWordWrap(True)
        text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        layout.addWidget(mark)
        layout.addWidget(text, 1)
        show = self._button("Show", f"Show: {warning.text}")
        show.clicked.connect(lambda: self.show_asked.emit(warning.set_ids))
        layout.addWidget(show)
        self._buttons.append(show)
        later_first = reversed(warning.set_ids)
        moved = next((set_id for set_id in later_first if set_id in movable), None)
        if moved is not None and warning.kind == "gap":
            move = self._button("Move clear", f"Move clear: {warning.text}")
            move.clicked.connect(lambda: self.move_asked.emit(moved))
            layout.addWidget(move)
        return row

    def _button(self, text: str, name: str) -> QPushButton:
        button = QPushButton(text)
        set_role(button, "quiet")
        button.setAutoDefault(False)
        button.setAccessibleName(name)
        return button

"""The style sheet of the window: what palettes cannot say.

A widget gets its look by the property ``role``:

* buttons: ``page`` (the five at the top), ``primary``, ``danger``, ``quiet``;
* frames: ``card``, ``strip`` (the bar of the pages), ``notice`` (something to attend to);
* labels: ``title``, ``heading``, ``note``, ``warning``, ``bad``, ``good``, ``badge``, ``numeral``.
"""

from string import Template
from typing import TYPE_CHECKING

from trapline.drawing.colour import GREYED, mixed
from trapline.folders import shipped_folder

if TYPE_CHECKING:
    from trapline.drawing.theme import Theme

# One template with a colour per word; sizes in px are logical and scale with the display.
_SHEET = Template("""
QWidget { selection-background-color: $selection; selection-color: $selection_text; }
QToolTip { background: $panel; color: $text; border: ${line}px solid $control_border;
  padding: 4px; }
QFrame[role="strip"] { background: $panel; border: none;
  border-bottom: ${line}px solid $border; }
QFrame[role="card"] { background: $panel; border: ${line}px solid $border; border-radius: 8px; }
QFrame[role="notice"] { background: $bad_soft; border: ${line}px solid $bad; border-radius: 8px; }
QLabel[role="title"] { font-size: ${title}pt; font-weight: 600; }
QLabel[role="heading"] { font-weight: 600; }
QLabel[role="note"] { color: $muted; }
QLabel[role="warning"] { color: $warning; font-weight: 600; }
QLabel[role="bad"] { color: $bad; font-weight: 600; }
QLabel[role="good"] { color: $good; font-weight: 600; }
QLabel[role="badge"] { color: $accent_text; background: $accent; border-radius: 8px;
  padding: 1px 7px; font-weight: 600; }
QLabel[role="numeral"] { font-size: ${numeral}pt; font-weight: 700; }

QPushButton { background: $panel; color: $text; border: ${line}px solid $control_border;
  border-radius: 6px; padding: 5px 14px; min-height: 1.2em; }
QPushButton:hover { background: $accent_soft; }
QPushButton:pressed, QPushButton:checked { background: $accent_soft; border-color: $accent; }
QPushButton:disabled { color: $greyed; border-color: $border; background: $window; }
QPushButton:focus { border: 2px solid $accent; padding: ${focus_v}px ${focus_h}px; }
QPushButton[role="primary"] { background: $accent; color: $accent_text;
  border-color: $accent; font-weight: 600; }
QPushButton[role="primary"]:hover { background: $accent_hover; }
QPushButton[role="primary"]:focus { border: 2px solid $text; }
QPushButton[role="primary"]:disabled { background: $window; color: $greyed;
  border-color: $border; }
QPushButton[role="danger"] { color: $bad; border-color: $bad; }
QPushButton[role="danger"]:hover { background: $bad_soft; }
QPushButton[role="danger"]:disabled { color: $greyed; border-color: $border; }
QPushButton[role="quiet"] { background: transparent; border-color: transparent; color: $accent; }
QPushButton[role="quiet"]:hover { background: $accent_soft; }
QPushButton[role="quiet"]:focus { border: 2px solid $accent; }
QPushButton[role="quiet"]:disabled { color: $greyed; }
QPushButton[role="page"] { background: transparent; border: none; border-radius: 0;
  border-bottom: 3px solid transparent; padding: 9px 18px 6px 18px; color: $muted; }
QPushButton[role="page"]:hover { color: $text; background: $accent_soft; }
QPushButton[role="page"]:checked { color: $text; font-weight: 600;
  border-bottom: 3px solid $accent; }
QPushButton[role="page"]:focus { background: $accent_soft; }

QLineEdit, QPlainTextEdit, QTextEdit, QSpinBox, QDoubleSpinBox, QDateEdit, QTimeEdit,
QDateTimeEdit, QComboBox { background: $panel; color: $text;
  border: ${line}px solid $control_border; border-radius: 5px; padding: 3px 6px; }
QLineEdit, QPlainTextEdit, QTextEdit, QComboBox { placeholder-text-color: $muted; }
QComboBox::drop-down, QDateEdit::drop-down { border: none; width: 22px; }
QComboBox::down-arrow, QDateEdit::down-arrow { image: url("$down_arrow"); width: 10px;
  height: 10px; }
QLineEdit:focus, QPlainTextEdit:focus, QTextEdit:focus, QSpinBox:focus, QDoubleSpinBox:focus,
QDateEdit:focus, QTimeEdit:focus, QDateTimeEdit:focus, QComboBox:focus {
  border: 2px solid $accent; padding: 2px 5px; }
QLineEdit[invalid="true"], QPlainTextEdit[invalid="true"], QComboBox[invalid="true"] {
  border: 2px solid $bad; padding: 2px 5px; }
QAbstractSpinBox QLineEdit, QAbstractSpinBox QLineEdit:focus { border: none; padding: 0; }
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button { border: none; background: none;
  width: 22px; }
QAbstractSpinBox::up-arrow { image: url("$up_arrow"); width: 8px; height: 8px; }
QAbstractSpinBox::down-arrow { image: url("$down_arrow"); width: 8px; height: 8px; }
QCheckBox { spacing: 8px; }
QCheckBox::indicator, QTreeView::indicator { width: 14px; height: 14px;
  border: ${line}px solid $control_border; border-radius: 3px; background: $panel; }
QCheckBox::indicator:checked, QTreeView::indicator:checked { background: $accent;
  border-color: $accent; image: url("$tick"); }
QTreeView::indicator:indeterminate { background: $accent_soft; border-color: $accent; }
QCheckBox::indicator:focus { border: 2px solid $accent; }
QCheckBox::indicator:disabled { background: $window; border-color: $greyed; }

QTableView, QListView, QTreeView { background: $panel; alternate-background-color: $panel_alternate;
  border: ${line}px solid $border; border-radius: 6px; padding: 1px; gridline-color: $border;
  outline: 0; }
QTableView:focus, QListView:focus, QTreeView:focus { border: ${focus_line}px solid $accent;
  padding: 0; }
QTableView::item { padding: 3px 6px; }
QTableView::item:selected, QListView::item:selected, QTreeView::item:selected {
  background: $selection; }
QTableView::item:focus { border: 2px solid $accent; }
QTreeView::item { padding: 3px 4px; }
QListView::item { padding: 7px 8px; border-radius: 5px; }
QListView::item:hover { background: $accent_soft; color: $text; }
QHeaderView { background: $panel; }
QHeaderView::section { background: $panel; color: $muted; border: none;
  border-bottom: ${line}px solid $control_border; padding: 5px 9px; font-weight: 600; }
QTableCornerButton::section { background: $panel; border: none; }

QProgressBar { background: $window; border: ${line}px solid $control_border; border-radius: 4px; }
QProgressBar::chunk { background: $accent; border-radius: 3px; }
QSplitter::handle { background: $window; }
QStatusBar { background: $window; color: $muted; }
QStatusBar::item { border: none; }
QMenu { background: $panel; border: ${line}px solid $border; padding: 4px; }
QMenu::item { padding: 5px 24px 5px 20px; border-radius: 4px; }
QMenu::item:selected { background: $selection; color: $selection_text; }
QMenu::item:disabled { color: $greyed; }
QMenu::separator { height: 1px; background: $border; margin: 4px 8px; }
""")


def style_sheet(theme: "Theme") -> str:
    """Return the style sheet in the colours of a `Theme`."""
    line = round(theme.line_scale)
    pictures = shipped_folder("resources")
    letters = theme.window_font_pt or 10.0
    words = {name: value for name, value in vars(theme).items() if isinstance(value, str)}
    return _SHEET.substitute(
        words,
        line=line,
        focus_line=line + 1,
        focus_v=4 + line - 1,
        focus_h=13 + line - 1,
        title=round(letters * 1.4),
        numeral=round(letters * 3.2),
        greyed=mixed(theme.text, theme.window, GREYED),
        # Pictures by path, as a style sheet takes no others; the arrow's grey suits every theme.
        up_arrow=(pictures / "up_arrow.svg").as_posix(),
        down_arrow=(pictures / "down_arrow.svg").as_posix(),
        tick=(pictures / ("tick_dark.svg" if theme.is_dark else "tick_light.svg")).as_posix(),
        accent_hover=mixed(theme.accent, theme.text, 0.2),
    )

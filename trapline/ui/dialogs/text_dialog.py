"""A page of plain text to read."""

from PySide6.QtGui import QFontDatabase
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QVBoxLayout, QWidget


class TextDialog(QDialog):
    """Plain text, never rendered as anything else."""

    def __init__(self, parent: QWidget | None, title: str, text: str, *, fixed: bool) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(860 if fixed else 680, 560 if fixed else 480)
        self.view = QPlainTextEdit(text)
        self.view.setReadOnly(True)
        self.view.setAccessibleName(title)
        if fixed:
            self.view.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
            self.view.setFont(QFontDatabase.systemFont(QFontDatabase.SystemFont.FixedFont))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        layout = QVBoxLayout(self)
        layout.addWidget(self.view)
        layout.addWidget(buttons)


def show_text(parent: QWidget | None, title: str, text: str, *, fixed: bool = False) -> None:
    """Show a text until it is closed; `fixed` for columns that line up."""
    TextDialog(parent, title, text, fixed=fixed).exec()

"""Questions and notes in boxes of plain text: what comes from files is never rendered."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget


def ask(parent: QWidget | None, question: str, verb: str) -> bool:
    """Return whether the user chose the button that says `verb`; Esc is no."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Question)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setWindowTitle("Bait trial log")
    box.setText(question)
    yes = box.addButton(verb, QMessageBox.ButtonRole.AcceptRole)
    no = box.addButton("Leave it", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(no)
    box.setEscapeButton(no)
    box.exec()
    return box.clickedButton() is yes

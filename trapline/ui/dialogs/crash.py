"""What is shown when the program itself is wrong."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget


def show_crash(parent: QWidget | None, details: str) -> None:
    """Say what is safe and show the details, to be copied into a report."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Critical)
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setWindowTitle("Bait trial log")
    box.setText("Something in the program went wrong. What you did before is saved.")
    box.setInformativeText(
        "Close the program and open it again to be on the safe side, and report the details below."
    )
    box.setDetailedText(details)
    box.exec()

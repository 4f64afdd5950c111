"""Reports measure letters, which needs an application."""

import pytest
from PySide6.QtWidgets import QApplication


@pytest.fixture(autouse=True)
def application(qapp: QApplication) -> QApplication:
    return qapp

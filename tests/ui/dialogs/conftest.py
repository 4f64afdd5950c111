"""A session on the bench of the actions, for dialogs without the window round them."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from tests.actions.bench import Bench, fill
from trapline.drawing.theme import apply_theme
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
from trapline.ui.session import Session


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("bench") / "filled.gpkg"
    with Project.create(path, ProjectInfo(name="Bench")) as project:
        fill(project)
    return path


class Desk(Bench):
    """The bench with the session that a dialog is given."""

    def __init__(self, project: Project, qtbot: QtBot) -> None:
        super().__init__(project)
        self.qtbot = qtbot
        self.session = Session()
        self.session.open_project(project)
        self._kept: list[QWidget] = []

    def keep(self, dialog: QWidget) -> None:
        """Hold a dialog until it was closed: collected as garbage while it is shown, it crashes."""
        self.qtbot.addWidget(dialog)
        self._kept.append(dialog)

    def steps(self) -> int:
        return len(self.project.history())


@pytest.fixture
def desk(tmp_path: Path, filled: Path, qtbot: QtBot, qapp: QApplication) -> Iterator[Desk]:
    apply_theme(qapp, "light")
    path = tmp_path / "desk.gpkg"
    shutil.copyfile(filled, path)
    made = Desk(Project.open(path), qtbot)
    yield made
    made.session.close_project()

"""The name and the notes of the project."""

from pathlib import Path

import pytest
from PySide6.QtWidgets import QDialog

from tests.ui.dialogs.conftest import Desk
from trapline.store.project import Project
from trapline.ui.dialogs.row_dialog import ProjectDialog, edit_project_info
from trapline.ui.session import Session


def test_name_and_notes_are_kept_in_one_step(desk: Desk) -> None:
    steps, dialog = desk.steps(), ProjectDialog(desk.session)
    desk.keep(dialog)
    dialog.name.setText(" Mill pond trials ")
    dialog.notes.setPlainText("Begun\nin the rain")
    dialog.verb.click()
    info = desk.snapshot.project
    assert (info.name, info.notes) == ("Mill pond trials", "Begun\nin the rain")
    assert desk.steps() == steps + 1


def test_a_project_without_a_name_is_refused(desk: Desk) -> None:
    dialog = ProjectDialog(desk.session)
    desk.keep(dialog)
    dialog.show()
    dialog.name.setText("")
    dialog.verb.click()
    assert [field.key for field in dialog.fields if field.wrong.isVisible()] == ["name"]


def test_a_project_that_is_only_read_is_only_shown(desk: Desk, tmp_path: Path) -> None:
    session = Session()
    session.open_project(Project.open(desk.project.path, read_only=True))
    dialog = ProjectDialog(session)
    desk.keep(dialog)
    assert dialog.name.isReadOnly()
    assert not dialog.verb.isEnabled()
    session.close_project()


def test_asking_shows_it(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = []
    monkeypatch.setattr(QDialog, "exec", lambda self: shown.append(self.windowTitle()))
    edit_project_info(desk.session, None)
    assert shown == ["Project notes"]
    edit_project_info(Session(), None)
    assert shown == ["Project notes"]

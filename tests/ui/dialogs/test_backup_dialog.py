"""Backups listed, and one opened as a file of its own."""

from pathlib import Path

import pytest
from PySide6.QtWidgets import QDialog, QFileDialog, QLabel

from tests.ui.dialogs.conftest import Desk
from trapline.actions.editing import add
from trapline.model.species import Species
from trapline.store.backups import make_backup
from trapline.store.project import Project
from trapline.ui.dialogs.backup_dialog import BackupDialog, open_backup


def opened(desk: Desk) -> BackupDialog:
    dialog = BackupDialog(desk.session)
    desk.keep(dialog)
    dialog.show()
    return dialog


def test_a_backup_opens_as_a_new_file_and_the_project_stays(desk: Desk) -> None:
    assert make_backup(desk.project) == ""
    desk.session.do(add, Species(name="Perch"))
    before = desk.snapshot
    dialog = opened(desk)
    assert len(dialog.table.grid.rows) == 1
    target = Path(dialog.target.text())
    assert target.parent == desk.project.path.parent
    assert target.stem.startswith("desk of 20")
    dialog.verb.click()
    assert dialog.opened == target
    with Project.open(target) as copy:
        assert copy.snapshot().all(Species) == ()
    assert desk.snapshot == before


def test_a_file_that_is_there_is_never_overwritten(desk: Desk, tmp_path: Path) -> None:
    make_backup(desk.project)
    first = opened(desk)
    first.verb.click()
    second = opened(desk)
    assert second.target.text() != first.target.text()
    mine = tmp_path / "mine.gpkg"
    mine.write_bytes(b"mine")
    second.target.setText(str(mine))
    second.verb.click()
    assert second.isVisible()
    assert "exists already" in second.problem.text()
    assert mine.read_bytes() == b"mine"
    assert second.opened is None


def test_no_name_is_said_at_its_field(desk: Desk) -> None:
    make_backup(desk.project)
    dialog = opened(desk)
    dialog.target.setText(" ")
    dialog.verb.click()
    assert [field.key for field in dialog.fields if field.wrong.isVisible()] == ["open it as"]


def test_a_typed_name_stays_when_another_backup_is_chosen(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    make_backup(desk.project)
    desk.session.do(add, Species(name="Perch"))
    make_backup(desk.project)
    dialog = opened(desk)
    assert len(dialog.table.grid.rows) == 2
    chosen = str(tmp_path / "chosen.gpkg")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (chosen, ""))
    dialog.choose.click()
    dialog.table.selectRow(1)
    assert dialog.target.text() == chosen
    dialog.verb.click()
    with Project.open(Path(chosen)) as copy:
        assert copy.snapshot().all(Species) == ()


def test_without_a_backup_the_next_step_is_said(desk: Desk) -> None:
    dialog = opened(desk)
    assert any("There is no backup yet" in label.text() for label in dialog.findChildren(QLabel))
    assert not dialog.verb.isEnabled()


def test_giving_up_opens_nothing(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    make_backup(desk.project)
    monkeypatch.setattr(QDialog, "exec", lambda self: self.reject())
    assert open_backup(desk.session, None) is None
    monkeypatch.setattr(QDialog, "exec", lambda self: self.verb.click())
    path = open_backup(desk.session, None)
    assert path is not None
    assert path.exists()

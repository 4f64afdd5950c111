import sys
from pathlib import Path

import pytest

from trapline import folders
from trapline.errors import EnvironmentProblem
from trapline.folders import documents_folder, shipped_folder


def test_what_is_shipped_lies_in_the_checkout() -> None:
    checkout = Path(__file__).resolve().parents[1]
    for name in ("resources", "sample_projects"):
        assert shipped_folder(name) == checkout / name


def test_what_is_shipped_beside_the_modules_comes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("trapline/resources", "resources", "sample_projects"):
        (tmp_path / folder).mkdir(parents=True)
    monkeypatch.setattr(folders, "__file__", str(tmp_path / "trapline" / "folders.py"))
    assert shipped_folder("resources") == tmp_path / "trapline" / "resources"
    assert shipped_folder("sample_projects") == tmp_path / "sample_projects"


def test_a_folder_that_was_lost_is_said() -> None:
    with pytest.raises(EnvironmentProblem, match="cellar"):
        shipped_folder("cellar")


def test_the_documents_can_be_put_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TRAPLINE_DOCUMENTS", str(tmp_path / "new"))
    assert documents_folder() == tmp_path / "new" / "trapline"
    assert documents_folder().is_dir()


def test_documents_that_cannot_be_made_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("TRAPLINE_DOCUMENTS", str(tmp_path / "file"))
    with pytest.raises(EnvironmentProblem) as caught:
        documents_folder()
    assert "TRAPLINE_DOCUMENTS" in caught.value.what_to_do


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the file is the desktop's own")
def test_the_desktop_says_where_the_documents_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("TRAPLINE_DOCUMENTS")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert documents_folder() == tmp_path / "Documents" / "trapline"
    (tmp_path / "user-dirs.dirs").write_text('# set\nXDG_DOCUMENTS_DIR="$HOME/Papiere"\n')
    assert documents_folder() == tmp_path / "Papiere" / "trapline"
    (tmp_path / "user-dirs.dirs").write_text(f'XDG_DOCUMENTS_DIR="{tmp_path}/shared"\n')
    assert documents_folder() == tmp_path / "shared" / "trapline"

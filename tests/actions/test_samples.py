import os
from pathlib import Path

import pytest

from trapline.actions import samples
from trapline.actions.samples import copy_sample, list_samples
from trapline.errors import EnvironmentProblem, InvalidValue


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "shipped"
    folder.mkdir()
    for name in ("lake.gpkg", "lake.gpx", "lake_lifts.csv", "lake_long.gpkg", "lake_long.gpx"):
        (folder / name).write_bytes(name.encode())
        (folder / name).chmod(0o444)
    monkeypatch.setattr(samples, "shipped_folder", lambda _: folder)
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_samples_are_the_projects_by_name(shipped: Path) -> None:
    assert list_samples() == ["lake", "lake_long"]


def test_a_copy_goes_into_the_documents_with_what_belongs_to_it(shipped: Path) -> None:
    before = contents(shipped)
    path = copy_sample("lake")
    folder = Path(os.environ["TRAPLINE_DOCUMENTS"]) / "trapline"
    assert path == folder / "lake.gpkg"
    assert contents(folder) == {
        "lake.gpkg": b"lake.gpkg",
        "lake.gpx": b"lake.gpx",
        "lake_lifts.csv": b"lake_lifts.csv",
    }
    assert contents(shipped) == before


def test_a_copy_can_be_written_though_its_sample_cannot(shipped: Path) -> None:
    assert os.stat(copy_sample("lake")).st_mode & 0o200


def test_the_next_copy_has_a_fresh_name_and_the_first_stays(shipped: Path) -> None:
    first = copy_sample("lake_long")
    first.write_bytes(b"changed by the user")
    second = copy_sample("lake_long")
    assert second.name == "lake_long 2.gpkg"
    assert (second.parent / "lake_long 2.gpx").exists()
    assert first.read_bytes() == b"changed by the user"


def test_a_name_is_fresh_only_if_nothing_that_goes_with_it_is_there(
    shipped: Path, tmp_path: Path
) -> None:
    (tmp_path / "lake_lifts.csv").write_text("mine")
    assert copy_sample("lake", tmp_path).name == "lake 2.gpkg"
    assert (tmp_path / "lake_lifts.csv").read_text() == "mine"


def test_a_file_that_appears_in_the_meantime_is_not_overwritten(
    shipped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "lake.gpkg").write_text("mine")
    monkeypatch.setattr(samples, "_fresh_stem", lambda *_: "lake")
    with pytest.raises(EnvironmentProblem):
        copy_sample("lake", tmp_path)
    assert (tmp_path / "lake.gpkg").read_text() == "mine"


def test_an_unknown_sample_is_refused_with_those_that_are_there(shipped: Path) -> None:
    with pytest.raises(InvalidValue) as caught:
        copy_sample("../lake")
    assert caught.value.what_to_do == "Use one of: lake, lake_long."


def test_a_folder_that_is_not_there_is_said(shipped: Path, tmp_path: Path) -> None:
    with pytest.raises(EnvironmentProblem) as caught:
        copy_sample("lake", tmp_path / "nowhere")
    assert caught.value.where.endswith("nowhere")
    assert not (tmp_path / "nowhere").exists()

"""What the tests of the actions share."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.actions.bench import Bench, fill
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project


@pytest.fixture(scope="session")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("bench") / "filled.gpkg"
    with Project.create(path, ProjectInfo(name="Bench")) as project:
        fill(project)
    return path


@pytest.fixture
def bench(tmp_path: Path, filled: Path) -> Iterator[Bench]:
    path = tmp_path / "bench.gpkg"
    shutil.copyfile(filled, path)
    with Project.open(path) as project:
        yield Bench(project)

"""The program finds what is shipped with it as a wheel, as an editable install, and in place."""

import json
import os
import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path
from typing import Final

import pytest

CHECKOUT: Final = Path(__file__).resolve().parents[2]

PROBE: Final = """
import json, sys
from pathlib import Path
import trapline
from trapline.actions.samples import list_samples
from trapline.folders import shipped_folder
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
import trapline.ui.app
with Project.create(Path(sys.argv[1]) / "new.gpkg", ProjectInfo(name="New")):
    print(json.dumps({
        "module": trapline.__file__,
        "licence": (shipped_folder("resources") / "LICENSE.txt").read_text("utf-8"),
        "samples": list_samples(),
    }))
"""


def run(*words: str | Path, cwd: Path) -> str:
    """Return what a command prints, in an environment that leads to no checkout."""
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run(
        [*map(str, words)], cwd=cwd, env=environment, capture_output=True, encoding="utf-8"
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(
        sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, CHECKOUT,
        cwd=folder,
    )  # fmt: skip
    (built,) = folder.glob("*.whl")
    return built


def environment_with(package: list[str | Path], folder: Path) -> Path:
    """Make a virtual environment with the package alone; its libraries are borrowed from ours."""
    builder = venv.EnvBuilder(with_pip=False, symlinks=os.name != "nt")
    builder.create(folder)
    (site,) = (
        (folder / "lib").rglob("site-packages")
        if os.name != "nt"
        else [folder / "Lib/site-packages"]
    )
    # A path file that is named in another one is not followed: our own editable install stays out.
    (site / "borrowed.pth").write_text(sysconfig.get_path("purelib"))
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    run(
        sys.executable, "-m", "pip", "--quiet", "--python", scripts / "python", "install",
        "--no-index", "--no-deps", "--no-build-isolation", *package,
        cwd=folder,
    )  # fmt: skip
    return scripts


def check(scripts: Path, tmp_path: Path, module: Path) -> None:
    """Run the installed program from a folder where nothing of it lies."""
    answer = json.loads(run(scripts / "python", "-c", PROBE, tmp_path, cwd=tmp_path))
    assert Path(answer["module"]) == module
    assert answer["licence"] == (CHECKOUT / "resources" / "LICENSE.txt").read_text("utf-8")
    samples = sorted(path.stem for path in (CHECKOUT / "sample_projects").glob("*.gpkg"))
    assert answer["samples"] == samples
    assert samples
    copy = run(scripts / "trapline", "samples", "copy", samples[0], cwd=tmp_path).strip()
    assert "steps" in json.loads(run(scripts / "trapline", "history", copy, "--json", cwd=tmp_path))
    assert list(scripts.glob("trapline-window*"))


def test_a_wheel_works_in_an_empty_environment(wheel: Path, tmp_path: Path) -> None:
    scripts = environment_with([wheel], tmp_path / "venv")
    (site,) = (path for path in (tmp_path / "venv").rglob("site-packages") if path.is_dir())
    check(scripts, tmp_path, site / "trapline" / "__init__.py")


def test_a_wheel_carries_every_module_and_no_tests(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    modules = {
        path.relative_to(CHECKOUT).as_posix()
        for pattern in ("*.py", "*.sql")
        for path in (CHECKOUT / "trapline").rglob(pattern)
    }
    assert modules - names == set()
    assert {name.split("/")[0] for name in names if ".dist-info" not in name} == {"trapline"}


def test_an_editable_install_works(tmp_path: Path) -> None:
    scripts = environment_with(["--editable", CHECKOUT], tmp_path / "venv")
    check(scripts, tmp_path, CHECKOUT / "trapline" / "__init__.py")


def test_the_program_runs_in_place(tmp_path: Path) -> None:
    answer = run(sys.executable, "-m", "trapline", "samples", "--json", cwd=CHECKOUT)
    samples = {path.stem for path in (CHECKOUT / "sample_projects").glob("*.gpkg")}
    assert set(json.loads(answer)["samples"]) == samples

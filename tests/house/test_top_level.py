"""The top level of the project is short and stays so."""

import subprocess
from fnmatch import fnmatch
from pathlib import Path
from typing import Final

CHECKOUT: Final = Path(__file__).resolve().parents[2]
ALLOWED: Final = frozenset(
    {
        "README.md", "DEVELOPERS.md", "pyproject.toml",
        "trapline", "resources", "tests", "sample_projects",
    }
)  # fmt: skip
SETUP_FILES: Final = ("setup.py", "setup.cfg", "tox.ini", "pytest.ini", "mypy.ini", "ruff.toml")


def kept_files(checkout: Path) -> list[str]:
    """Return the files under version control; without git, those that are not ignored."""
    try:
        listing = subprocess.run(
            ["git", "ls-files", "-z"], cwd=checkout, capture_output=True, check=True, timeout=30
        )
    except (OSError, subprocess.SubprocessError):
        return listed_files(checkout)
    return [name for name in listing.stdout.decode().split("\0") if name]


def listed_files(checkout: Path) -> list[str]:
    """Return the files of a checkout that its own list of ignored names does not name."""
    ignored = [line.rstrip("/") for line in (checkout / ".gitignore").read_text().split()]

    def is_kept(path: Path) -> bool:
        return not any(fnmatch(path.name, pattern) for pattern in ignored) and path.name != ".git"

    found, folders = [], [checkout]
    while folders:
        for path in filter(is_kept, folders.pop().iterdir()):
            if path.is_dir():
                folders.append(path)
            else:
                found.append(path.relative_to(checkout).as_posix())
    return sorted(found)


def strangers(names: list[str]) -> set[str]:
    """Return what stands at the top and is neither allowed nor a dot file."""
    tops = {name.split("/")[0] for name in names}
    return {top for top in tops if top not in ALLOWED and not top.startswith(".")}


def test_the_top_level_holds_only_what_was_agreed() -> None:
    names = kept_files(CHECKOUT)
    assert strangers(names) == set()
    assert {name.split("/")[0] for name in names} >= ALLOWED - {"sample_projects"}


def test_a_stranger_at_the_top_is_found() -> None:
    assert strangers(["README.md", "docs/index.md", "setup.py", ".ci/run"]) == {"docs", "setup.py"}


def test_the_listing_without_git_leaves_out_what_is_ignored(tmp_path: Path) -> None:
    (tmp_path / ".gitignore").write_text(".venv/\n*.pyc\n")
    for name in (".venv/bin/python", "trapline/errors.py", "trapline/errors.pyc", ".git/HEAD"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    assert listed_files(tmp_path) == [".gitignore", "trapline/errors.py"]


def test_pyproject_is_the_only_configuration_file() -> None:
    names = {name.rpartition("/")[2] for name in kept_files(CHECKOUT)}
    assert names & set(SETUP_FILES) == set()
    assert "[tool.pytest.ini_options]" in (CHECKOUT / "pyproject.toml").read_text("utf-8")


def test_tests_stand_in_folders_called_like_the_rooms() -> None:
    rooms = {path.name for path in (CHECKOUT / "trapline").iterdir() if path.is_dir()}
    folders = {name.split("/")[1] for name in kept_files(CHECKOUT) if name.startswith("tests/")}
    folders = {name for name in folders if "." not in name}
    assert folders <= rooms | {"house", "reference", "journeys", "studies"}

"""Where files are: those that travel with the program, and those of the user."""

import os
import re
import sys
from pathlib import Path

from trapline.errors import EnvironmentProblem


def shipped_folder(name: str) -> Path:
    """Return a folder that is shipped with the program: ``resources`` or ``sample_projects``.

    In a wheel it lies beside the package's modules; in a checkout (and an
    editable install) beside ``trapline/``.

    Raises
    ------
    EnvironmentProblem
        When the installation lost it.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise EnvironmentProblem(
        f"The folder '{name}' that comes with the program is missing.",
        str(package),
        "Install trapline again.",
    )


def documents_folder() -> Path:
    """Return the folder for the user's own projects, ``trapline`` in their documents; made here.

    ``TRAPLINE_DOCUMENTS`` in the environment replaces the documents folder. On Linux the
    desktop's own word for it is read (freedesktop.org, xdg-user-dirs).

    Raises
    ------
    EnvironmentProblem
        It cannot be made.
    """
    folder = _documents() / "trapline"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise EnvironmentProblem(
            f"The folder for your projects cannot be made ({problem.strerror}).",
            str(folder),
            "Set TRAPLINE_DOCUMENTS to a folder of yours.",
        ) from problem
    return folder


def _documents() -> Path:
    named = os.environ.get("TRAPLINE_DOCUMENTS")
    if named:
        return Path(named)
    home = Path.home()
    if sys.platform.startswith("linux"):
        settings = Path(os.environ.get("XDG_CONFIG_HOME") or home / ".config")
        try:
            words = (settings / "user-dirs.dirs").read_text("utf-8", errors="replace")
        except OSError:
            words = ""
        found = re.search(r'^XDG_DOCUMENTS_DIR="(\$HOME)?(/[^"\n]*)"', words, re.MULTILINE)
        if found:
            return Path(f"{home if found[1] else ''}{found[2]}")
    return home / "Documents"

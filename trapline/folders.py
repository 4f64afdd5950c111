"""Where the files that travel with the program are: resources and samples."""

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

"""What the lines of the history did, to be looked at."""

from trapline.model.changes import Changes
from trapline.store import history
from trapline.store.connection import plain_errors
from trapline.store.project import Project


def changes_of(project: Project, step_number: int) -> Changes:
    """Return what one line of the history did, row by row.

    Raises
    ------
    Conflict
        There is no such line.
    """
    with plain_errors(project.path):
        return history.changes_of(project.connection(), step_number)

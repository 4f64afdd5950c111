"""The error family: what happened, where, what is safe, what to do.

Three families, split by whose fault it is:

* :class:`EnvironmentProblem`: disk full, file busy, newer format. One sentence and a way out.
* :class:`InputProblem`: what the user typed or a file contains. Shown at the cell or row.
* anything else (a plain Python exception) is a bug and goes to the crash dialog.

No user-facing text is ever built from anything but these fields.
"""


class TraplineError(Exception):
    """A failure that the user can be told about in plain words.

    Parameters
    ----------
    error : str
        What is wrong, one sentence, with the offending value in it.
    where : str
        The file, row, byte, cell or noun it is about; may be empty.
    what_to_do : str
        One thing the user can do next.
    """

    def __init__(self, error: str, where: str = "", what_to_do: str = "") -> None:
        super().__init__(error)
        self.error = error
        self.where = where
        self.what_to_do = what_to_do

    def __str__(self) -> str:
        parts = [f"{self.where}: {self.error}" if self.where else self.error]
        if self.what_to_do:
            parts.append(self.what_to_do)
        return " ".join(parts)

    def as_dict(self) -> dict[str, str]:
        """Return the three fields as the command line prints them with ``--json``."""
        return {"error": self.error, "where": self.where, "what_to_do": self.what_to_do}


class EnvironmentProblem(TraplineError):
    """Disk full, file busy or not writable, display missing: not the user's data."""


class NewerFormat(EnvironmentProblem):
    """The project was written by a newer version of the program."""


class ReadOnlyProject(EnvironmentProblem):
    """The project cannot be written to (read-only medium, folder or format)."""


class NotAProject(EnvironmentProblem):
    """The file is not a trapline project: empty, truncated, or something else."""


class InputProblem(TraplineError):
    """A value that cannot be: typed, pasted, or read from a file."""


class InvalidValue(InputProblem, ValueError):
    """A number or text outside its valid range; names the offending index or field."""


class Conflict(TraplineError):
    """A change, undo or redo that no longer fits what is in the project."""

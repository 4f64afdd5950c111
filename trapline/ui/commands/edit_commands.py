"""Undo, redo, history."""

from contextlib import suppress

from PySide6.QtGui import QAction

from trapline.errors import TraplineError
from trapline.model.instants import computer_zone, local_text
from trapline.store.project import EarlierSitting
from trapline.ui.commands.handler import Handler
from trapline.ui.dialogs.question import ask


class EditCommands(Handler):
    """The Edit menu."""

    def on_undo(self) -> None:
        """Take back the latest step; ask before going into an earlier sitting."""
        # What is being typed in a cell is a step of its own: taken first, then undone.
        if not self.window.stack.commit():
            return
        try:
            self.session.undo()
        except EarlierSitting as problem:
            if ask(self.window, self._earlier(problem), "Undo it"):
                self.session.undo(into_earlier_sitting=True)

    def on_redo(self) -> None:
        """Do again what was undone last."""
        if self.window.stack.commit():
            self.session.redo()

    def on_history(self) -> None:
        """Show what was done, when and by whom."""
        from trapline.ui.dialogs.history import HistoryDialog

        HistoryDialog.ask(self.session, self.window)

    def _earlier(self, problem: EarlierSitting) -> str:
        """Ask about a step of an earlier sitting, with its time as clocks here show it."""
        step = self.session.project.next_undo() if self.session.project else None
        if step is None:
            return f"{problem.error} Undo it all the same?"
        zone = self.session.trip.zone if self.session.trip else computer_zone()
        when = local_text(step.at_utc, zone)
        return f"“{step.label}” was done in an earlier sitting, {when}. Undo it all the same?"

    # Handler

    def update(self, actions: dict[str, QAction]) -> None:
        """Name the step that would be undone or redone."""
        project = None if self.session.is_read_only else self.session.project
        for name, verb in (("undo", "&Undo"), ("redo", "&Redo")):
            step = None
            if project is not None:
                with suppress(TraplineError):  # the file is gone or busy: said when it is used
                    step = project.next_undo() if name == "undo" else project.next_redo()
            label = f"{verb} {_in_sentence(step.label).replace('&', '&&')}" if step else verb
            actions[name].setText(label)
            actions[name].setEnabled(step is not None)


def _in_sentence(label: str) -> str:
    """Return a step's label as it reads after a verb; names in it keep their capitals."""
    return label[:1].lower() + label[1:]

"""Undo, redo, history."""

from PySide6.QtGui import QAction

from trapline.store.project import EarlierSitting
from trapline.ui.commands.handler import Handler
from trapline.ui.dialogs.question import ask


class EditCommands(Handler):
    """The Edit menu."""

    def on_undo(self) -> None:
        """Take back the latest step; ask before going into an earlier sitting."""
        try:
            self.session.undo()
        except EarlierSitting as problem:
            if ask(
                self.window,
                f"{problem.error} Undo it all the same?",
                "Undo it",
            ):
                self.session.undo(into_earlier_sitting=True)

    def on_redo(self) -> None:
        """Do again what was undone last."""
        self.session.redo()

    def on_history(self) -> None:
        """Show what was done, when and by whom."""
        from trapline.ui.dialogs.history import HistoryDialog

        HistoryDialog(self.session, self.window).exec()

    # Handler

    def update(self, actions: dict[str, QAction]) -> None:
        """Name the step that would be undone or redone."""
        project = self.session.project
        for name, verb in (("undo", "&Undo"), ("redo", "&Redo")):
            step = None
            if project is not None and not project.read_only:
                step = project.next_undo() if name == "undo" else project.next_redo()
            label = f"{verb} {step.label.lower().replace('&', '&&')}" if step else verb
            actions[name].setText(label)
            actions[name].setEnabled(step is not None)

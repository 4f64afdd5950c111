"""A dialog for the few fields of one row: the name and the notes of the project."""

from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from trapline.actions.editing import edit
from trapline.model.project_info import ProjectInfo
from trapline.ui.dialogs.card_dialog import Card, CardDialog
from trapline.ui.session import Session


class ProjectDialog(CardDialog):
    """What the project is called and what there is to say about it."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Project notes", "Keep the changes", parent)
        self.info = session.snapshot.project
        self.name = QLineEdit(self.info.name)
        self.notes = QPlainTextEdit(self.info.notes)
        self.notes.setTabChangesFocus(True)
        self.notes.setMinimumSize(480, 220)
        card = Card("", columns=1)
        card.add(self.field("&Name", self.name))
        card.add(self.field("N&otes", self.notes, key="Notes"))
        self.column(card)
        is_read_only = session.project is None or session.project.read_only
        self.name.setReadOnly(is_read_only)
        self.notes.setReadOnly(is_read_only)
        self.verb.setEnabled(not is_read_only)
        self.notes.setFocus()

    def perform(self) -> None:
        """Keep name and notes in one step."""
        self.session.do_or_raise(
            edit,
            ProjectInfo,
            self.info.id,
            "Edit project notes",
            name=self.name.text().strip(),
            notes=self.notes.toPlainText(),
        )


def edit_project_info(session: Session, parent: QWidget | None) -> None:
    """Show name and notes of the project, to be changed."""
    if session.project is None:
        return
    dialog = ProjectDialog(session, parent)
    dialog.exec()
    dialog.deleteLater()

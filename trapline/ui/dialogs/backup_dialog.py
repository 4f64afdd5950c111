"""The backups of the project: one of them can be opened as a new file beside it."""

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QLineEdit, QSizePolicy, QWidget

from trapline.errors import InvalidValue
from trapline.model.instants import computer_zone, local_text
from trapline.store.backups import Backup, list_backups, restore
from trapline.ui.dialogs.card_dialog import Card, CardDialog, plain_label, push_button
from trapline.ui.session import Session
from trapline.ui.tables.grid import Column, GridView


class BackupDialog(CardDialog):
    """Choose a backup and the name of its copy; the project itself stays as it is.

    Attributes
    ----------
    opened : Path or None
        The new file, once it was made.
    """

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(session, "Open a backup", "Open the backup", parent)
        assert session.project is not None
        self.path: Path = session.project.path
        self.opened: Path | None = None
        self.zone = session.trip.zone if session.trip else computer_zone()
        columns = [
            Column("State of", lambda row: local_text(row.made_utc, self.zone), stretch=True),
            Column("Size", _size, is_number=True),
        ]
        self.table = GridView(columns, "Backups, newest first", self)
        self.table.setMinimumSize(420, 180)
        self.table.show_rows(list_backups(self.path))
        self.target = QLineEdit()
        self._typed = False
        self._arrange()
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._propose())
        self.target.textEdited.connect(self._on_target_edited)
        if self.table.grid.rows:
            self.table.selectRow(0)
        self.verb.setEnabled(bool(self.table.grid.rows))

    def perform(self) -> None:
        """Copy the chosen backup to its new file."""
        rows = self.table.selected_rows()
        if len(rows) != 1:
            raise InvalidValue("No backup is chosen.", "", "Choose one of the list.")
        if not self.target.text().strip():
            raise InvalidValue("The new file has no name.", "Open it as", "Type one.")
        backup: Backup = self.table.grid.rows[rows[0]]
        self.opened = restore(backup.path, Path(self.target.text().strip()))

    def _arrange(self) -> None:
        card = Card("", columns=1)
        card.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        some = bool(self.table.grid.rows)
        card.add(
            plain_label(
                "Each time the project is opened after a change, its state of then is kept aside."
                " A backup opens as a file of its own; the project itself stays as it is."
                if some
                else "There is no backup yet. One is made each time the project is opened after a"
                " change: close it and open it again, and it will stand here."
            )
        )
        card.body.addWidget(self.table, 1)
        self.table.setVisible(some)
        row = QHBoxLayout()
        field = self.field("Open it &as", self.target, key="Open it as")
        field.setVisible(some)
        self.choose = push_button("Choose…")
        self.choose.setVisible(some)
        self.choose.clicked.connect(self._on_choose)
        row.addWidget(field, 1)
        row.addWidget(self.choose, 0, Qt.AlignmentFlag.AlignBottom)
        card.body.addLayout(row)
        self.column(card)

    def _propose(self) -> None:
        """Propose a name with the day of the state, unless one was typed."""
        rows = self.table.selected_rows()
        if self._typed or not rows:
            return
        made = local_text(self.table.grid.rows[rows[0]].made_utc, self.zone, "%Y-%m-%d %H%M")
        stem = f"{self.path.stem} of {made}"
        name, number = stem, 1
        while (target := self.path.with_name(f"{name}.gpkg")).exists():
            number += 1
            name = f"{stem} ({number})"
        self.target.setText(str(target))

    def _on_target_edited(self, _: str) -> None:
        self._typed = True

    def _on_choose(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, "Open the backup as", self.target.text(), "Project (*.gpkg)"
        )
        if name:
            self._typed = True
            self.target.setText(name)


def open_backup(session: Session, parent: QWidget | None) -> Path | None:
    """Show the backups of the project; return the new file that one was copied to, or None."""
    if session.project is None:
        return None
    dialog = BackupDialog(session, parent)
    dialog.exec()
    dialog.deleteLater()
    return dialog.opened


def _size(backup: Backup) -> str:
    try:
        return f"{backup.path.stat().st_size / 1000:.0f} kB"
    except OSError:
        return "gone"

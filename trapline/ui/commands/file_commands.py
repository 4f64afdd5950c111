"""Opening, copying and closing projects."""

from pathlib import Path

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QFileDialog, QInputDialog, QMenu

from trapline.actions.samples import copy_sample, list_samples
from trapline.errors import TraplineError
from trapline.folders import documents_folder
from trapline.model.project_info import ProjectInfo
from trapline.store.project import Project
from trapline.ui.commands.handler import Handler
from trapline.ui.plain_text import plain_tip

_FILTER = "Project (*.gpkg)"
_MOST_RECENT = 8
# The most letters of a path in the menu.
_WIDEST = 70


class FileCommands(Handler):
    """The File menu, as far as it is about whole projects."""

    def on_new_project(self) -> None:
        """Ask where, make the project and offer the first trip."""
        name, _ = QFileDialog.getSaveFileName(
            self.window, "New project", str(documents_folder() / "bait trials.gpkg"), _FILTER,
            # A project is never written over, so there is no use in offering it.
            options=QFileDialog.Option.DontConfirmOverwrite,
        )  # fmt: skip
        if name:
            self.create(Path(name))

    def create(self, path: Path) -> None:
        """Make a project at a path and open it."""
        path = path if path.suffix.lower() == ".gpkg" else path.with_name(path.name + ".gpkg")
        try:
            project = Project.create(path, ProjectInfo(name=path.stem))
        except TraplineError as problem:
            self.session.failed.emit(problem)
            return
        self.session.open_project(project)
        self._remember(path)

    def on_open_project(self) -> None:
        """Ask for a project file and open it."""
        name, _ = QFileDialog.getOpenFileName(
            self.window, "Open project", str(documents_folder()), f"{_FILTER};;All files (*)"
        )
        if name:
            self.open(Path(name))

    def open(self, path: Path) -> None:
        """Open a project, after a backup of it was made."""
        if self.session.open_path(path):
            self._remember(path)
            self._back_up()

    def _back_up(self) -> None:
        """Copy the project aside before anything is changed; say so when that fails."""
        from trapline.store.backups import make_backup

        if self.session.project is not None:
            problem = make_backup(self.session.project)
            if problem:
                self.window.banner.show_notice(problem)

    def open_sample(self, name: str) -> None:
        """Open a fresh copy of an example; the example itself is never written to."""
        try:
            path = copy_sample(name)
        except TraplineError as problem:
            self.session.failed.emit(problem)
            return
        if self.session.open_path(path):
            self._remember(path)
            self.session.informed.emit(f"This is your own copy of an invented example: {path}")

    def on_save_copy(self) -> None:
        """Write a copy of the project to another file."""
        from trapline.store.backups import save_copy

        project = self.session.project
        assert project is not None
        target, _ = QFileDialog.getSaveFileName(
            self.window, "Save a copy", str(project.path.with_stem(project.path.stem + " copy"))
        )
        if not target:
            return
        try:
            # The dialog has asked already whether a file of that name may go.
            written = save_copy(project, Path(target), replace=True)
        except TraplineError as problem:
            self.session.failed.emit(problem)
            return
        self.session.informed.emit(f"A copy was saved: {written}")

    def on_open_backup(self) -> None:
        """Choose a backup and open it as a new file beside the others."""
        from trapline.ui.dialogs.backup_dialog import open_backup

        path = open_backup(self.session, self.window)
        if path is not None:
            self.open(path)

    def on_project_notes(self) -> None:
        """Edit the name and the notes of the project."""
        from trapline.ui.dialogs.row_dialog import edit_project_info

        edit_project_info(self.session, self.window)

    def on_close_project(self) -> None:
        """Close the project; everything is saved already."""
        self.session.close_project()

    def on_quit(self) -> None:
        """Close the window."""
        self.window.close()

    def on_open_example(self) -> None:
        """Ask which example; reached by the start page."""
        names = list(list_samples())
        name, taken = QInputDialog.getItem(
            self.window, "Open an example", "An invented example:", names, 0, False
        )
        if taken:
            self.open_sample(name)

    # Handler

    def prepare(self, actions: dict[str, QAction]) -> None:
        """Give the recent projects their own menu, filled when it is opened."""
        menu = QMenu(self.window)
        menu.setToolTipsVisible(True)
        menu.aboutToShow.connect(lambda: self._fill_recent(menu))
        actions["open_recent"].setMenu(menu)

    def _fill_recent(self, menu: QMenu) -> None:
        menu.clear()
        for path in self.recent():
            action = menu.addAction(_shortened(path).replace("&", "&&"))
            action.setToolTip(plain_tip(str(path)))
            action.setEnabled(path.exists())
            action.triggered.connect(lambda _=False, chosen=path: self.open(chosen))
        if menu.isEmpty():
            menu.addAction("No project yet").setEnabled(False)

    def recent(self) -> list[Path]:
        """The projects that were opened before, the latest first."""
        kept = self.window.settings.value("recent", [], type=list)
        return [Path(str(name)) for name in kept] if isinstance(kept, list) else []

    def _remember(self, path: Path) -> None:
        path = path.absolute()
        paths = [path, *(other for other in self.recent() if other != path)][:_MOST_RECENT]
        self.window.settings.setValue("recent", [str(one) for one in paths])


def _shortened(path: Path) -> str:
    """Return a path that leaves a menu its width: its end tells most."""
    text = str(path)
    return text if len(text) <= _WIDEST else f"…{text[-_WIDEST:]}"

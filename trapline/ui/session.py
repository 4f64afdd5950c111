"""What the window is looking at: one project, one trip, one round, one selection.

Every change of the window goes through :meth:`Session.do`, and every view listens
to :attr:`Session.changed` and decides for itself whether to redraw.
"""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from trapline.errors import InvalidValue, TraplineError
from trapline.model.changes import Changes
from trapline.model.line import Line, Place
from trapline.model.snapshot import Snapshot
from trapline.model.trip import Round, Trip
from trapline.store.project import EarlierSitting, Project

if TYPE_CHECKING:
    # They bring numpy: the window stands before it is needed.
    from trapline.analyses.plume_check import PlumeCheck
    from trapline.analyses.spacing_check import SpacingCheck
    from trapline.analyses.trip_comparison import TripComparison

EMPTY = Snapshot({})


class Session(QObject):
    """The open project as the window sees it.

    Signals
    -------
    project_opened : Project or None
    closing : before the project is closed or another one opened: commit what is being typed
    changed : Changes, after an action, an undo, a redo, or a change by another program
    trip_chosen, round_chosen : id or None
    place_selected : tuple of place ids, in step on the map and in the table
    failed : TraplineError, to be shown in plain words
    informed : str, one sentence of good news
    """

    project_opened = Signal(object)
    closing = Signal()
    changed = Signal(object)
    trip_chosen = Signal(object)
    round_chosen = Signal(object)
    place_selected = Signal(object)
    failed = Signal(object)
    informed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.project: Project | None = None
        self.snapshot: Snapshot = EMPTY
        self.trip_id: str | None = None
        self.round_id: str | None = None
        self.selection: tuple[str, ...] = ()
        # What was compared last, and in which snapshot: it is printed as it was shown.
        self.compared: tuple[Snapshot, TripComparison] | None = None
        self._checks: tuple[Snapshot, str, SpacingCheck, PlumeCheck] | None = None

    # Opening

    def open_project(self, project: Project) -> None:
        """Show a project; one that was open is closed first."""
        self.close_project()
        self.project = project
        self.snapshot = project.snapshot()
        self.project_opened.emit(project)
        trips = self.snapshot.trips()
        kept = project.view_state("trip")
        wanted = next((trip.id for trip in trips if trip.id == kept), None)
        self.choose_trip(wanted or (trips[0].id if trips else None))

    def open_path(self, path: Path) -> bool:
        """Open the project file at a path; False when it could not be, which has been said."""
        try:
            project = Project.open(path)
        except TraplineError as problem:
            self.failed.emit(problem)
            return False
        self.open_project(project)
        return True

    def close_project(self) -> None:
        """Close the project; everything is saved already."""
        if self.project is None:
            return
        self.closing.emit()
        project, self.project = self.project, None
        try:
            if self.trip_id:
                project.keep_view_state("trip", self.trip_id)
        except TraplineError:
            pass  # where the user was looking is not worth a message at closing time
        finally:
            project.close()
        self.snapshot, self.trip_id, self.round_id, self.selection = EMPTY, None, None, ()
        self.compared = None
        self._checks = None
        self.project_opened.emit(None)

    # Changing

    def do(self, action: Callable[..., Any], *args: Any, **values: Any) -> Changes | None:
        """Run an action on the project and tell every view; None when it was refused."""
        if self.project is None:
            return None
        try:
            return self.do_or_raise(action, *args, **values)
        except TraplineError as problem:
            self.failed.emit(problem)
            return None

    def do_or_raise(self, action: Callable[..., Any], *args: Any, **values: Any) -> Changes:
        """Run an action like :meth:`do`, but let the caller show its error (at a cell).

        Raises
        ------
        TraplineError
            The action was refused; nothing was changed.
        """
        assert self.project is not None
        changes = action(self.project, *args, **values)
        self._publish(changes)
        return changes if isinstance(changes, Changes) else Changes("")

    def undo(self, *, into_earlier_sitting: bool = False) -> None:
        """Take back the latest step; EarlierSitting is for the window to ask about."""
        if self.project is None:
            return
        try:
            changes = self.project.undo(into_earlier_sitting=into_earlier_sitting)
        except EarlierSitting:
            raise
        except TraplineError as problem:
            self.failed.emit(problem)
            return
        self._publish(changes)
        self.informed.emit(f"Undone: {changes.label}")

    def redo(self) -> None:
        """Do the step again that was undone last."""
        if self.project is None:
            return
        try:
            changes = self.project.redo()
        except TraplineError as problem:
            self.failed.emit(problem)
            return
        self._publish(changes)
        self.informed.emit(f"Done again: {changes.label}")

    def look_again(self) -> None:
        """Take over what another program (or the command line) wrote to the file."""
        if self.project is None:
            return
        try:
            snapshot = self.project.snapshot()
        except TraplineError as problem:
            self.failed.emit(problem)
            return
        if snapshot is not self.snapshot:
            self._publish(Changes("Changed by another program"))

    def _publish(self, changes: object) -> None:
        assert self.project is not None
        self.snapshot = self.project.snapshot()
        changes = changes if isinstance(changes, Changes) else Changes("")
        new = [row.id for row in changes.rows if row.table == "trip" and row.before is None]
        trips = self.snapshot.trips()
        if any(trip.id in new for trip in trips):
            # Started, or brought back by undo or redo: that is what the user looks for.
            self.choose_trip(new[-1])
        elif self.trip is None and (self.trip_id or trips):
            self.choose_trip(trips[0].id if trips else None)
        elif self.trip and self.round is None:
            self.choose_round(None)
        self._drop_lost_places()
        self.changed.emit(changes)

    def _drop_lost_places(self) -> None:
        kept = tuple(key for key in self.selection if self.snapshot.get(Place, key))
        self.select(kept)

    @property
    def is_read_only(self) -> bool:
        """Whether nothing can be changed: no project, or one that cannot be written to."""
        return self.project is None or self.project.read_only

    # Looking

    def choose_trip(self, trip_id: str | None) -> None:
        """Look at a trip, at its latest round."""
        self.trip_id = trip_id
        self.selection = ()
        rounds = self.snapshot.rounds(trip_id) if trip_id else ()
        self.round_id = rounds[-1].id if rounds else None
        self.trip_chosen.emit(trip_id)
        self.round_chosen.emit(self.round_id)

    def choose_round(self, round_id: str | None) -> None:
        """Look at a round of the trip; with None at its latest."""
        rounds = self.snapshot.rounds(self.trip_id) if self.trip_id else ()
        self.round_id = round_id or (rounds[-1].id if rounds else None)
        self.round_chosen.emit(self.round_id)

    def select(self, place_ids: tuple[str, ...]) -> None:
        """Select places, on the map and in every table."""
        if place_ids != self.selection:
            self.selection = place_ids
            self.place_selected.emit(place_ids)

    @property
    def trip(self) -> Trip | None:
        """The trip that is looked at."""
        return self.snapshot.get(Trip, self.trip_id)

    @property
    def round(self) -> Round | None:
        """The round that is looked at."""
        return self.snapshot.get(Round, self.round_id)

    @property
    def line(self) -> Line | None:
        """The line to which new places of the trip are added."""
        return self.snapshot.get(Line, self.trip.line_id) if self.trip else None

    def line_for_places(self) -> Line | None:
        """The line to which new places are added; without one, None, and that is said."""
        line = self.line
        if line is None:
            self.failed.emit(
                InvalidValue(
                    "The trip has no line to add a place to.",
                    self.trip.name if self.trip else "",
                    "Start a trip on a line under Trip, New trip.",
                )
            )
        return line

    def checks(self) -> "tuple[SpacingCheck, PlumeCheck] | None":
        """The gaps and plumes of the round that is looked at, worked out once a change."""
        if self.round_id is None or self.round is None:
            return None
        kept = self._checks
        if kept is None or kept[0] is not self.snapshot or kept[1] != self.round_id:
            from trapline.analyses.plume_check import check_plumes
            from trapline.analyses.spacing_check import check_spacing

            spacing = check_spacing(self.snapshot, self.round_id)
            plumes = check_plumes(self.snapshot, self.round_id)
            self._checks = kept = (self.snapshot, self.round_id, spacing, plumes)
        return kept[2], kept[3]


def known_comparison(session: Session) -> "TripComparison | None":
    """Return what the Compare page found last, if the project is still as it was."""
    kept = session.compared
    return kept[1] if kept is not None and kept[0] is session.snapshot else None

"""What the hand on the map, the warnings and the buttons of the Lay out page do."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trapline.actions.places import add_places, leave_out, move_place, next_label, take_in
from trapline.analyses.move_clear import clear_position
from trapline.errors import InvalidValue
from trapline.model.line import Place
from trapline.model.trapset import TrapSet

if TYPE_CHECKING:
    from trapline.ui.pages.layout_page import LayoutPage


class LayoutDeeds:
    """Each is one action of the page's session, or none."""

    def __init__(self, page: "LayoutPage") -> None:
        self.page = page
        self.session = page.session

    def add_place(self, lon_deg: float, lat_deg: float) -> None:
        """Add a place where the map was clicked, and select it."""
        session, line = self.session, self.session.line_for_places()
        if line is None:
            return
        label = next_label(session.snapshot, line.id)
        place = Place(label=label, lon_deg=lon_deg, lat_deg=lat_deg, fix="map")
        if session.do(add_places, line.id, [place], round_id=session.round_id) is not None:
            session.select((place.id,))

    def move_place(self, place_id: str, lon_deg: float, lat_deg: float) -> None:
        """Move a place to where it was let go; where that is refused, put it back."""
        if self.session.do(move_place, place_id, lon_deg, lat_deg) is None:
            self.page.refresh()
            return
        sets = self.session.snapshot.sets(self.session.round_id or "")
        here = next((row for row in sets if row.place_id == place_id), None)
        if here is not None and here.state != "planned" and here.lon_deg is not None:
            # What was set stays on record; otherwise the mark would seem not to obey.
            self.session.informed.emit(
                "The place was moved for later rounds. In this round the trap stays where it was"
                " set."
            )

    def show(self, set_ids: Sequence[str]) -> None:
        """Select the places of trap sets and bring them into sight."""
        sets = [self.session.snapshot.get(TrapSet, set_id) for set_id in set_ids]
        ids = tuple(row.place_id for row in sets if row is not None and row.place_id)
        self.session.select(ids)
        self.page.canvas.show_items(ids)

    def move_clear(self, set_id: str) -> None:
        """Move the place of a trap set to the nearest spot that is far enough from all others."""
        position = clear_position(self.session.snapshot, set_id)
        trap_set = self.session.snapshot.need(TrapSet, set_id)
        if position is None:
            self.session.failed.emit(
                InvalidValue("There is no clear spot near by.", "", "Drag the trap yourself.")
            )
            return
        if self.session.do(move_place, trap_set.place_id or "", *position) is not None:
            self.show((set_id,))

    def turn_round(self) -> None:
        """Leave the selected places out of the round, or take those in that are out."""
        table = self.page.table
        rows = [table.grid.rows[number] for number in table.selected_rows()]
        outside = [row.place.id for row in rows if row.trap_set is None and not row.place.is_stake]
        if outside:
            self.session.do(take_in, self.session.round_id, outside)
        else:
            self.session.do(leave_out, [row.trap_set.id for row in rows if row.trap_set])
